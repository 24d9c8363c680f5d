"""Rules about placements: where they are on their board, and how they are turned."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from typing import Literal, NamedTuple

from jobcheck.facts.list_changes import (
    Frame,
    fiducials_of_list,
    frame_change,
    positions_that_fit,
    rotation_change,
)
from jobcheck.facts.rows import point
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Job
from jobcheck.shop.paths import Path, natural, show
from jobcheck.trade.bodies import box_of
from jobcheck.trade.units import MM_PER_UNIT
from jobcheck.wording import count, listed, number

Suspect = Literal["unit", "mirrored", "origin", "single"]
"""Why placements are outside the board: one cause for all, or each its own."""

_FEW = 3
"""Fewer placements than this do not show a common cause."""

_TINY = 1 / 20
"""All placements within this share of the board, from its corner, look like another unit."""

_COVERS = 1 / 4
"""Share of the board's width or height that a list must cover in its true unit.

This, `_TINY` and `_FEW`: common practice, no published source.
"""


class Spread(NamedTuple):
    """How far the placements of a job reach, mm."""

    placed: int
    left: float
    right: float
    low: float
    high: float

    def scaled(self, by: float) -> Spread:
        """Return the same placements in another unit."""
        return Spread(self.placed, self.left * by, self.right * by, self.low * by, self.high * by)

    def moved_to_corner(self) -> Spread:
        """Return the same placements moved so that they begin at the board's corner."""
        return Spread(self.placed, 0, self.right - self.left, 0, self.high - self.low)

    def turned_over(self, x: bool, y: bool) -> Spread:
        """Return the same placements with the sign of x, y or both changed."""
        left, right = (-self.right, -self.left) if x else (self.left, self.right)
        low, high = (-self.high, -self.low) if y else (self.low, self.high)
        return Spread(self.placed, left, right, low, high)

    def fits(self, size: list[float], margin: float) -> bool:
        """Whether all are on a board, or outside it by `margin` at most."""
        return (
            self.left >= -margin
            and self.low >= -margin
            and self.right <= size[0] + margin
            and self.high <= size[1] + margin
        )

    def covers(self, size: list[float]) -> float:
        """Share of the board's width or height that they reach, the larger."""
        return max(self.right / size[0], self.high / size[1])


class _Verdict(NamedTuple):
    """Why placements are outside the board, and which."""

    suspect: Suspect
    spread: Spread
    outside: list[str]
    unit: str = ""


def _judge(look: Inspection, name: str) -> _Verdict | None:
    """Return why placements are outside the board; None if all are as they should be."""
    job, placed = look.shop.jobs[name], look.facts.usage.placed[name]
    if name not in look.facts.usage.extents:
        return None
    spread = Spread(len(placed.references), *look.facts.usage.extents[name])
    size, margin = job.board.size_mm, look.limits.outside_board_mm
    if spread.fits(size, margin):
        unit = _larger_unit(job, spread, margin)
        return _Verdict("unit", spread, [], unit) if unit else None
    outside = [
        reference
        for reference, x, y in zip(placed.references, placed.xs, placed.ys, strict=True)
        if not (-margin <= x <= size[0] + margin and -margin <= y <= size[1] + margin)
    ]
    outside = sorted(set(outside) - _overhanging(look, name, outside), key=natural)
    if not outside:
        return None
    if spread.placed < _FEW or 2 * len(outside) <= spread.placed:
        return _Verdict("single", spread, outside)
    unit = _unit(job, spread, margin, smaller=True)
    if unit:
        return _Verdict("unit", spread, outside, unit)
    if any(spread.turned_over(*signs).fits(size, margin) for signs in _SIGNS):
        return _Verdict("mirrored", spread, outside)
    fits = spread.moved_to_corner().fits(size, margin)
    return _Verdict("origin" if fits else "single", spread, outside)


def _overhanging(look: Inspection, name: str, outside: list[str]) -> set[str]:
    """Return those outside that may be so far beyond the edge by their outline's `overhang_mm`."""
    layout, wanted = look.facts.layouts[name], set(outside)
    found = set()
    for at, reference in enumerate(layout.references):
        shape = layout.shapes[at]
        overhang = look.shop.outlines[shape.outline].overhang_mm
        if overhang is not None and reference in wanted:
            (left, lower, right, upper), (width, height) = box_of(layout.bodies[at]), layout.board
            beyond = max(-left, -lower, right - width, upper - height)
            if beyond <= overhang + 1e-9:
                found.add(reference)
    return found


_SIGNS = ((True, False), (False, True), (True, True))


def share_a_cause(look: Inspection, name: str) -> bool:
    """Return whether all placements of a job share one fault: unit, mirrored or origin."""
    verdict = _judge(look, name)
    if verdict is not None and verdict.suspect != "single":
        return True
    recorded = frame_since_record(look, name)
    return recorded is not None and recorded.kind != "moved"


def _declared(job: Job) -> str:
    """Return the unit that positions are taken in; those in the job itself are mm."""
    return (job.placements.units or "mm") if job.placements.file else "mm"


def _larger_unit(job: Job, spread: Spread, margin: float) -> str:
    size = job.board.size_mm
    tiny = spread.right <= size[0] * _TINY and spread.high <= size[1] * _TINY
    if not tiny or spread.placed <= _FEW or spread.covers(size) <= 0:
        return ""
    return _unit(job, spread, margin, smaller=False)


def _unit(job: Job, spread: Spread, margin: float, *, smaller: bool) -> str:
    """Return the unit in which all placements would lie on the board; empty for none."""
    declared = MM_PER_UNIT[_declared(job)]
    for unit, mm in MM_PER_UNIT.items():
        if (mm < declared) is smaller and mm != declared:
            meant = spread.scaled(mm / declared)
            if meant.fits(job.board.size_mm, margin) and meant.covers(job.board.size_mm) >= _COVERS:
                return unit
    return ""


def _board(job: Job) -> str:
    return f"{number(job.board.size_mm[0])} × {number(job.board.size_mm[1])} mm"


def _extent(spread: Spread) -> str:
    return (
        f"x {number(spread.left)} to {number(spread.right)}, "
        f"y {number(spread.low)} to {number(spread.high)}"
    )


def _size(name: str) -> Path:
    return ("jobs", name, "board", "size_mm")


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.R3.x: 160",
    passes="jobs.first-board.placements.R3.x: 39.2",
)
def placement_outside_board(look: Inspection) -> Iterator[Problem]:
    """A placement's centre is outside the board.

    A warning if all of these parts reach onto the board: they may be connectors that overhang.

    On the machine: the part is placed beside the board, onto the seat, a clamp or the next cell.

    To do: correct the position, or the size of the board. If a connector overhangs, describe
    `overhang_mm` of its outline.

    Source: `limits.outside_board_mm`: common practice, no published source.
    """
    for name in sorted(look.shop.jobs, key=natural):
        job, verdict = look.shop.jobs[name], _judge(look, name)
        if verdict is None or verdict.suspect != "single":
            continue
        listing = job.placements.by_reference
        shown = [
            f"{reference} at {point(listing[reference].x, listing[reference].y)}"
            for reference in verdict.outside
        ]
        one = len(shown) == 1
        reach = _reaching(look, name) >= set(verdict.outside)
        yield Problem(
            path=_outlier(name, job, verdict.outside[0], look.limits.outside_board_mm),
            related=(
                _size(name),
                *(("jobs", name, "placements", other) for other in verdict.outside[1:5]),
            ),
            message=f"{verdict.outside[0]} is outside the board of {name}."
            if one
            else f"{count(len(shown), 'placement')} are outside the board of {name}.",
            observed=f"{listed(shown, 4)}; the board is {_board(job)}",
            consequence=f"If {'it does' if one else 'they do'} not overhang on purpose, "
            f"{'it' if one else 'they'} would be placed off the pads."
            if reach
            else f"{'It' if one else 'They'} would be placed beside the board, onto the "
            "seat or the next cell.",
            remedy=(
                "Correct the position. If it is a connector that overhangs, describe the "
                "outline's overhang_mm.",
            ),
            level=Level.WARNING if reach else None,
        )


def _reaching(look: Inspection, name: str) -> set[str]:
    """Return the references whose bodies are over the board, if only in part."""
    layout = look.facts.layouts[name]
    width, height = layout.board
    boxes = zip(layout.references, map(box_of, layout.bodies), strict=True)
    return {
        reference
        for reference, (left, lower, right, upper) in boxes
        if left < width and right > 0 and lower < height and upper > 0
    }


def _outlier(name: str, job: Job, reference: str, margin: float) -> Path:
    """Return the path of the coordinate that is outside."""
    x = job.placements.by_reference[reference].x
    is_x = not -margin <= x <= job.board.size_mm[0] + margin
    return ("jobs", name, "placements", reference, "x" if is_x else "y")


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.units: inch",
    passes="""
    jobs.first-board.board.size_mm: [230, 180]
    jobs.first-board.board.fiducials.m2: {x: 220, y: 165, diameter_mm: 1.0}
    """,
)
def list_frame_wrong(look: Inspection) -> Iterator[Problem]:
    """A placement list as a whole has another unit, mirror side, origin or turn.

    Three things can show it: the extents against the board, the list's own fiducial rows against
    the described fiducials, and the positions in the last known-good record. It is an error where
    most placements are outside the board, the fiducial rows contradict, or two of them agree. All
    rotations negated or turned alike since the record are a warning, unless `zero` or `bottom` was
    declared anew.

    On the machine: nearly every part is placed beside its pads or the board, or turned on them.

    To do: find out in which unit, from which origin and from which side the list was exported;
    declare it (`units`, `origin_mm`, `bottom_positions`), or export again from the lower left
    corner, seen from the top.

    Source: 1 inch = 25.4 mm = 1000 mil, exactly (ISO 80000-3, from memory). A list is taken for
    one in another unit if it then fits the board and covers a quarter of it: common practice, no
    published source.
    """
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        if not look.shop.understood(("jobs", name)):
            continue
        verdict = _judge(look, name)
        verdict = verdict if verdict and verdict.suspect != "single" else None
        rows, recorded = fiducials_of_list(look.shop, name), frame_since_record(look, name)
        if verdict or rows or recorded:
            fits = positions_that_fit(look.shop, name) if rows else ()
            yield _wrong_frame(name, job, verdict, rows, recorded, fits)
        elif good := look.good.jobs.get(name) if look.good else None:
            yield from _rotations_changed(name, good, job)


def _rotations_changed(name: str, good: Job, job: Job) -> Iterator[Problem]:
    """Yield that all rotations changed alike, unless the list declares its conventions anew."""
    says, old, new = rotation_change(good, job), good.placements, job.placements
    if not says or (old.zero, old.bottom) != (new.zero, new.bottom):
        return
    path: Path = ("jobs", name, "placements")
    was, now = old.by_reference, new.by_reference
    changed = min(
        (ref for ref in now.keys() & was.keys() if now[ref].rotation != was[ref].rotation),
        key=natural,
    )
    yield Problem(
        path=path,
        related=((*path, changed, "rotation"),),
        message=f"all rotations in the list of {name} are {says} since the record.",
        observed=f"{changed} {number(now[changed].rotation)}",
        expected=f"{changed} {number(was[changed].rotation)}, by the record",
        consequence="If the list was exported another way, polarised parts would be turned on "
        "their pads.",
        remedy=(
            "Find out how the list was exported. If nothing was meant to change, put it back:",
            command("restore", show(path)),
        ),
        level=Level.WARNING,
    )


def frame_since_record(look: Inspection, name: str) -> Frame | None:
    """Return how all positions of a list changed since the last known-good record, if alike."""
    good = look.good.jobs.get(name) if look.good else None
    return frame_change(good, look.shop.jobs[name]) if good else None


def _wrong_frame(
    name: str,
    job: Job,
    verdict: _Verdict | None,
    rows: Frame | None,
    recorded: Frame | None,
    fits: tuple[str, ...],
) -> Problem:
    path: Path = ("jobs", name, "placements")
    says, consequence = _explained(name, job, verdict, rows, recorded)
    witnesses = []
    if verdict:
        inside = f"{len(verdict.outside)} of {verdict.spread.placed} are outside"
        witnesses.append(
            f"positions from {_extent(verdict.spread)} mm on a board of {_board(job)}, "
            + (inside if verdict.outside else f"all {verdict.spread.placed} in its corner")
        )
    if rows:
        witnesses.append(f"fiducial rows {rows.says()} against the described fiducials")
    if recorded:
        witnesses.append(f"all rows {recorded.says()} since the record")
    is_sure = bool((verdict and verdict.outside) or rows or len(witnesses) > 1)
    is_unit = verdict is not None and verdict.suspect == "unit" and job.placements.file is not None
    return Problem(
        path=(*path, "units") if is_unit else path,
        related=(_size(name), *((*path, ref) for ref in (verdict.outside[:1] if verdict else ()))),
        message=says,
        observed="; ".join(witnesses),
        consequence=consequence,
        remedy=(
            *_frame_remedy(job, verdict, rows, fits),
            *(("If it was not meant, put the recorded list back:",) if recorded else ()),
            *((command("restore", show(path)),) if recorded else ()),
        ),
        suppresses=tuple(
            (other, path)
            for other in (
                *("placement-outside-board", "body-beyond-edge"),
                *("list-turned-from-pads", "placement-turned-from-pads"),
            )
        ),
        level=None if is_sure else Level.WARNING,
    )


def _explained(
    name: str, job: Job, verdict: _Verdict | None, rows: Frame | None, recorded: Frame | None
) -> tuple[str, str]:
    """Return the message and the consequence: the explanation that is known best comes first."""
    subject = f"the placements of {name}"
    beside = "Parts would be placed beside their pads."
    if recorded:
        since = f"all {len(job.placements.by_reference)} rows of {name} are {recorded.says()}"
        return f"{since} since the record.", beside if rows or verdict else (
            "If the board was not redrawn, all parts would be placed beside their pads."
        )
    if verdict is None:
        assert rows is not None
        return f"{subject} are {rows.says()} against the described fiducials.", beside
    off_board = (
        f"{len(verdict.outside)} of {verdict.spread.placed} would be placed beside the board."
    )
    if verdict.suspect == "unit":
        return f"{subject} look like {verdict.unit}, not {_declared(job)}.", (
            off_board if verdict.outside else "All parts would be placed on one heap."
        )
    if verdict.suspect == "mirrored":
        axes = _negative(verdict.spread)
        verb = "are" if len(axes) > 1 else "is"
        shown = " and ".join(axes) or "x or y"
        return (
            f"{subject} look mirrored: {shown} of all {verdict.spread.placed} {verb} negative.",
            (off_board),
        )
    return f"{subject} are counted from another origin than the board's corner.", off_board


def _negative(spread: Spread) -> list[str]:
    return [axis for axis, high in (("x", spread.right), ("y", spread.high)) if high <= 0]


def _frame_remedy(
    job: Job, verdict: _Verdict | None, rows: Frame | None, fits: tuple[str, ...]
) -> tuple[str, ...]:
    if fits:
        return (f"The fiducial rows fit bottom_positions {' or '.join(fits)}: look, and write it.",)
    if rows and job.side == "top" and rows.kind == "mirrored" and rows.y[0] > 0:
        return ("Look which side the list is of. If it is the bottom, correct the job's side.",)
    if verdict and verdict.suspect == "unit":
        declare = "correct units" if job.placements.file else "write the positions in mm"
        return (f"If the list was exported in {verdict.unit}, which fits the board, {declare}.",)
    is_bottom = job.side == "bottom"
    is_x = verdict is not None and verdict.suspect == "mirrored" and _negative(verdict.spread)
    if is_bottom and is_x == ["x"] and job.placements.bottom_positions is None:
        return (
            "If the list counts the bottom through the top with x negated, write "
            "bottom_positions: x-negated. If not, export it again, seen through the top.",
        )
    seen = "through the top" if is_bottom else "from the side being placed"
    return (
        f"Export the list seen {seen}, from the lower left corner. If only its origin is at "
        "another corner, declare placements.origin_mm.",
    )


@rule(
    Level.NOTE,
    Level.WARNING,
    fails="jobs.first-board.placements.U1.rotation: 91",
    passes="jobs.first-board.placements.U1.rotation: 45",
)
def rotation_doubtful(look: Inspection) -> Iterator[Problem]:
    """A placement has no rotation, or one that is not a multiple of 45 degrees.

    A missing rotation is a warning where other rows of the list have one; parts that look the same
    at every quarter turn are left out. An unusual one is a note.

    On the machine: the part is placed at 0, or at that angle; if it is a slip, it is beside its
    pads.

    To do: look at the board's drawing, and write the rotation; 0 is written too.

    Source: common practice, no published source.
    """
    for name in sorted(look.shop.jobs, key=natural):
        yield from _without_rotation(look, name)
        placed = look.facts.usage.placed[name]
        odd = {angle for angle in set(placed.rotations) if abs(math.remainder(angle, 45)) > 0.01}
        if not odd:
            continue
        turned: dict[float, list[str]] = defaultdict(list)
        for reference, angle in zip(placed.references, placed.rotations, strict=True):
            if angle in odd:
                turned[angle].append(reference)
        yield _unusual(name, dict(sorted(turned.items())))


def _without_rotation(look: Inspection, name: str) -> Iterator[Problem]:
    """Yield the rows of a list without a rotation, where others have one."""
    if look.shop.jobs[name].placements.file is None:
        return
    stated = {
        reference: "rotation" in placement.model_fields_set
        for reference, placement in look.shop.placed(name)
        if (outline := look.shop.outline_of(placement.part)) and outline.symmetry != 90
    }
    without = sorted((ref for ref, is_stated in stated.items() if not is_stated), key=natural)
    if without and any(stated.values()):
        paths = [("jobs", name, "placements", ref, "rotation") for ref in without[:6]]
        yield Problem(
            path=paths[0],
            related=tuple(paths[1:]),
            message=f"{listed(without)} of {name} {'has' if len(without) == 1 else 'have'} no "
            "rotation.",
            observed=f"rotation missing in {len(without)} of {len(stated)} rows",
            consequence="It would be placed at 0, which may be wrong."
            if len(without) == 1
            else "They would be placed at 0, which may be wrong.",
            remedy=("Look at the board's drawing, and write the rotation, also where it is 0.",),
            level=Level.WARNING,
        )


def _unusual(name: str, turned: dict[float, list[str]]) -> Problem:
    references = sorted((ref for refs in turned.values() for ref in refs), key=natural)
    shown = [
        f"{number(angle)} ({listed(sorted(refs, key=natural), 4)})"
        for angle, refs in turned.items()
    ]
    one = len(references) == 1
    return Problem(
        path=("jobs", name, "placements", references[0], "rotation"),
        related=tuple(("jobs", name, "placements", other, "rotation") for other in references[1:6]),
        message=f"{count(len(references), 'placement')} of {name} {'is' if one else 'are'} turned "
        "by an unusual angle.",
        observed=listed(shown),
        consequence="If that is a slip, the part would be turned on its pads.",
        remedy=("Compare with the board's drawing.",),
    )
