"""What happened to a placement list as a whole: one cause for all of its rows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from jobcheck.facts.frames import Frames
from jobcheck.schema.job import BottomPositions
from jobcheck.trade.plane import Point, wrap
from jobcheck.trade.units import MM_PER_UNIT
from jobcheck.wording import count, number

if TYPE_CHECKING:
    from jobcheck.schema.job import Job, Placement
    from jobcheck.shop.shop import Shop

_LEAST_ROWS = 3
"""Fewer rows have no common cause: common practice, no published source."""

_WITHIN_MM = 0.03
"""Positions of a list that was exported again differ by its rounding: four digits of an inch."""

_FIDUCIAL_WITHIN_MM = 0.05
"""A row is on a described fiducial within this: common practice, no published source."""

_LEAST_LENGTH_MM = 1.0
"""Rows that reach less far do not show a scale."""

AxisMap = tuple[float, float]
"""Factor and offset, mm: new = factor × old + offset."""


class Frame(NamedTuple):
    """How all positions of a list changed: the map of x and that of y."""

    x: AxisMap
    y: AxisMap

    @property
    def kind(self) -> Literal["unit", "mirrored", "moved"]:
        """The common cause."""
        if abs(abs(self.x[0]) - 1) > 1e-9:
            return "unit"
        return "mirrored" if self.x[0] < 0 or self.y[0] < 0 else "moved"

    def says(self) -> str:
        """Write it after `all rows are`: `moved by (5, 3) mm`."""
        if self.kind == "moved":
            return f"moved by ({_mm(self.x[1])}, {_mm(self.y[1])}) mm"
        axes = " and ".join(axis for axis, (by, _) in zip("xy", self, strict=True) if by < 0)
        if self.kind == "mirrored":
            return f"mirrored in {axes}"
        mirrored = f" and mirrored in {axes}" if axes else ""
        return f"scaled by {number(float(f'{abs(self.x[0]):.5g}'))}{mirrored}"

    def takes(self, olds: Iterable[Point], news: Iterable[Point]) -> bool:
        """Whether the same map takes other points to where they are now."""
        return all(
            abs(by * before[axis] + off - after[axis]) <= _FIDUCIAL_WITHIN_MM
            for before, after in zip(olds, news, strict=True)
            for axis, (by, off) in enumerate(self)
        )


def _mm(value: float) -> str:
    return number(round(value, 3))


_FACTORS = sorted(
    {sign * by for sign in (1.0, -1.0) for mm in MM_PER_UNIT.values() for by in (mm, 1 / mm)}
)
"""What one unit or sign taken for another multiplies positions by."""


def _axis(olds: Sequence[float], news: Sequence[float]) -> AxisMap | None:
    """Return the map of one axis; None where none of the factors explains every row."""
    low, high = olds.index(min(olds)), olds.index(max(olds))
    length = olds[high] - olds[low]
    if length < _LEAST_LENGTH_MM:
        return None
    slope = (news[high] - news[low]) / length
    by = min(_FACTORS, key=lambda factor: abs(factor - slope) / abs(factor))
    off = news[low] - by * olds[low]
    within = _WITHIN_MM * max(1.0, abs(by))
    fits = all(abs(by * a + off - b) <= within for a, b in zip(olds, news, strict=True))
    return (by, off) if fits else None


def _together(old: Job, new: Job) -> list[tuple[Placement, Placement]]:
    """Return the rows that both lists have, with the same part and side."""
    before = old.placements.by_reference
    rows = [
        (before[reference], row)
        for reference, row in new.placements.by_reference.items()
        if reference in before
    ]
    return [pair for pair in rows if (pair[0].part, pair[0].side) == (pair[1].part, pair[1].side)]


def frame_change(old: Job, new: Job) -> Frame | None:
    """Return how all positions changed alike; None where they did not, or only single ones.

    Fiducials that moved along show that the board was drawn in another frame, which is not a fault.
    """
    rows = _together(old, new)
    if len(rows) < _LEAST_ROWS:
        return None
    if all(before.x == after.x and before.y == after.y for before, after in rows):
        return None
    x = _axis([before.x for before, _ in rows], [after.x for _, after in rows])
    y = _axis([before.y for before, _ in rows], [after.y for _, after in rows])
    if x is None or y is None or abs(abs(x[0]) - abs(y[0])) > 1e-9:
        return None
    frame = Frame(x, y)
    is_same = frame.kind == "moved" and max(abs(x[1]), abs(y[1])) <= _WITHIN_MM
    return None if is_same or _follows(frame, old, new) else frame


def _follows(frame: Frame, old: Job, new: Job) -> bool:
    marks = old.board.fiducials.keys() & new.board.fiducials.keys()
    points = [
        [(job.board.fiducials[name].x, job.board.fiducials[name].y) for name in sorted(marks)]
        for job in (old, new)
    ]
    return bool(marks) and frame.takes(*points)


def rotation_change(old: Job, new: Job) -> str:
    """Write how all rotations changed alike: `negated`, `turned by 90 degrees`; empty for not."""
    turns = [(before.rotation, after.rotation) for before, after in _together(old, new)]
    if len(turns) < _LEAST_ROWS or all(_same(before, after) for before, after in turns):
        return ""
    by = wrap(turns[0][1] - turns[0][0])
    if all(_same(before + by, after) for before, after in turns):
        return f"turned by {number(round(by, 3))} degrees"
    is_negated = all(_same(-before, after) for before, after in turns)
    return "negated" if is_negated else ""


def _same(one: float, other: float) -> bool:
    return abs(wrap(one - other)) <= 0.01


class Cut(NamedTuple):
    """Rows that a list has lost: how many of how many, and the first; `end` if all after it."""

    lost: int
    of: int
    first: str
    row: int
    end: bool

    def says(self) -> str:
        """Write it: `the last 41 of 84 rows are missing, from R12 on`."""
        if self.lost == self.of:
            return f"all {count(self.of, 'row')} are missing"
        if self.end:
            return f"the last {self.lost} of {self.of} rows are missing, from {self.first} on"
        return f"{self.lost} of {self.of} rows are missing, such as {self.first}"


def rows_lost(old: Job, new: Job) -> Cut | None:
    """Return the rows lost where a list was cut off or halved; None where single rows went."""
    before, after = list(old.placements.by_reference), new.placements.by_reference
    lost = [at for at, reference in enumerate(before) if reference not in after]
    if not lost or len(before) - len(lost) != len(after):
        return None
    is_end = lost[0] == len(before) - len(lost)
    if 2 * len(lost) < len(before) and not (is_end and len(lost) >= _LEAST_ROWS):
        return None
    return Cut(len(lost), len(before), before[lost[0]], lost[0] + 1, is_end)


def fiducials_of_list(shop: Shop, name: str) -> Frame | None:
    """Return how a list's fiducial rows are off from the described fiducials; None if they fit.

    The map takes the described ones to the listed rows, both seen from the side being placed. None
    also where no single map does.
    """
    job = shop.jobs[name]
    frames, seen = Frames(job), _listed_points(shop, name)
    seen = [frames.on_board(frames.through_top(point)) for point in seen]
    known = [(mark.x, mark.y) for mark in job.board.fiducials.values()]
    if len(seen) < 2 or len(known) < len(seen) or _covers(Frame((1, 0), (1, 0)), known, seen):
        return None
    fits = [frame for frame in _candidates(known, seen) if _covers(frame, known, seen)]
    return min(fits, key=lambda frame: _oddness(frame, job.board.size_mm), default=None)


def positions_that_fit(shop: Shop, name: str) -> tuple[str, ...]:
    """Return the conventions for positions on the bottom under which the fiducial rows fit."""
    job, seen = shop.jobs[name], _listed_points(shop, name)
    known = [(mark.x, mark.y) for mark in job.board.fiducials.values()]
    found = []
    for positions in get_args(BottomPositions) if seen and job.side == "bottom" else ():
        counted = job.placements.model_copy(update={"bottom_positions": positions})
        frames = Frames(job.model_copy(update={"placements": counted}))
        points = [frames.on_board(frames.through_top(point)) for point in seen]
        if _covers(Frame((1, 0), (1, 0)), known, points):
            found.append(positions)
    return tuple(found)


def _listed_points(shop: Shop, name: str) -> list[Point]:
    """Return where a list has fiducials of the side that the job builds, as listed, mm."""
    side = shop.jobs[name].side
    return [
        (row["x"], row["y"])
        for row in shop.listed_fiducials.get(name, {}).values()
        if row.get("side", side) == side and {"x", "y"} <= row.keys()
    ]


def _oddness(frame: Frame, size: Sequence[float]) -> int:
    """Count the axes counted from elsewhere than an edge: two fiducials fit in several ways."""
    at_edge = (
        min(abs(off), abs(abs(off) - length * abs(by))) <= _FIDUCIAL_WITHIN_MM
        for (by, off), length in zip(frame, size, strict=True)
    )
    return 2 - sum(at_edge)


def _candidates(known: Sequence[Point], seen: Sequence[Point]) -> Iterator[Frame]:
    scales = sorted({abs(by) for by in _FACTORS}, key=lambda by: (by != 1.0, by))
    for scale, right, up in product(scales, (1, -1), (1, -1)):
        for x, y in known:
            yield Frame(
                (right * scale, seen[0][0] - right * scale * x),
                (up * scale, seen[0][1] - up * scale * y),
            )


def _covers(frame: Frame, known: Sequence[Point], seen: Sequence[Point]) -> bool:
    """Whether every row is on a described fiducial, taken through the map."""
    return all(any(frame.takes([point], [at]) for point in known) for at in seen)
