"""Rules about placements: where they lie on their board, and how they are turned."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from typing import Literal, NamedTuple

from jobcheck.facts.rows import point
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Job
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.bodies import box_of
from jobcheck.trade.units import MM_PER_UNIT
from jobcheck.wording import count, listed, number

Suspect = Literal["unit", "mirrored", "origin", "single"]
"""What may be behind placements that lie wrong: one cause for all, or each its own."""

_FEW = 3
"""Fewer placements than this say nothing about a common cause."""

_TINY = 1 / 20
"""All placements within this share of the board, from its corner, look like another unit."""

_COVERS = 1 / 4
"""Share of the board's width or height that a list must cover in the unit it is meant in.

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
        """Whether all lie on a board, as far outside it as `margin` at most."""
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
    """What is behind placements that lie wrong, and those that lie outside the board."""

    suspect: Suspect
    spread: Spread
    outside: list[str]
    unit: str = ""


def _judge(look: Inspection, name: str) -> _Verdict | None:
    """Say what is behind placements that lie wrong; None where all lie as they should."""
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
    """Tell whether the placements of a job lie wrong together: unit, mirrored or origin."""
    verdict = _judge(look, name)
    return verdict is not None and verdict.suspect != "single"


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


def _suspects(look: Inspection, suspect: Suspect) -> Iterator[tuple[str, Job, _Verdict]]:
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        verdict = _judge(look, name)
        if verdict is not None and verdict.suspect == suspect:
            yield name, job, verdict


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
    fails="jobs.first-board.placements.R3.x: 160",
    passes="jobs.first-board.placements.R3.x: 39.2",
)
def placement_outside_board(look: Inspection) -> Iterator[Problem]:
    """A placement's centre lies outside the board.

    On the machine: the part is placed beside the board, onto the seat, a clamp or the next cell.

    To do: correct the position, or the size of the board; where a connector overhangs, raise
    `limits.outside_board_mm`.

    Source: `limits.outside_board_mm`: common practice, no published source.
    """
    for name, job, verdict in _suspects(look, "single"):
        listing = job.placements.by_reference
        shown = [
            f"{reference} at {point(listing[reference].x, listing[reference].y)}"
            for reference in verdict.outside
        ]
        one = len(shown) == 1
        yield Problem(
            path=_outlier(name, job, verdict.outside[0], look.limits.outside_board_mm),
            related=(
                _size(name),
                *(("jobs", name, "placements", other) for other in verdict.outside[1:5]),
            ),
            message=f"{verdict.outside[0]} lies outside the board of {name}."
            if one
            else f"{count(len(shown), 'placement')} lie outside the board of {name}.",
            observed=f"{listed(shown, 4)}; the board is {_board(job)}",
            consequence=f"{'It' if one else 'They'} would be placed beside the board, onto the seat or the "
            "next cell.",
            remedy=(
                "Correct the position. Where a connector overhangs: raise limits.outside_board_mm.",
            ),
        )


def _outlier(name: str, job: Job, reference: str, margin: float) -> Path:
    """Return the path of the coordinate that lies outside."""
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
def placements_in_other_unit(look: Inspection) -> Iterator[Problem]:
    """The placements fit the board only when their numbers are taken in another unit.

    On the machine: nearly every part is placed beside the board, or all of them in one corner.

    To do: look which unit the list was exported in, and declare it under `units`.

    Source: 1 inch = 25.4 mm = 1000 mil, exactly (ISO 80000-3, from memory). A list counts as meant
    in another unit where it then lies on the board and covers a quarter of it: common practice,
    no published source.
    """
    for name, job, verdict in _suspects(look, "unit"):
        declared = _declared(job)
        is_list = job.placements.file is not None
        where = (
            f"{len(verdict.outside)} of {verdict.spread.placed} lie outside it"
            if verdict.outside
            else f"all {verdict.spread.placed} lie in its corner"
        )
        yield Problem(
            path=("jobs", name, "placements", *(["units"] if is_list else [])),
            related=(_size(name),),
            message=f"the placements of {name} look like {verdict.unit}, not {declared}.",
            observed=f"taken as {declared} they reach from {_extent(verdict.spread)} mm on a board of "
            f"{_board(job)}; {where}",
            consequence="Parts would be placed beside the board."
            if verdict.outside
            else "All parts would be placed on one heap.",
            remedy=(
                f"Look which unit the list was exported in; {verdict.unit} would fit the board. "
                + ("Correct units." if is_list else "Write the positions in mm."),
            ),
            level=None if verdict.outside else Level.WARNING,
        )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.placements: {zero: A, bottom: as-placed}
    jobs.first-board.placements.R1: {part: 10k-0603, x: -10, y: 8}
    jobs.first-board.placements.R2: {part: 10k-0603, x: -10, y: 11}
    jobs.first-board.placements.R3: {part: 10k-0603, x: -16, y: 8}
    jobs.first-board.placements.C1: {part: 100n-0805, x: -22, y: 9}
    jobs.first-board.placements.C2: {part: 100n-0805, x: -28, y: 9}
    jobs.first-board.placements.D1: {part: diode-sod123, x: -12, y: 20}
    jobs.first-board.placements.D2: {part: diode-sod123, x: -12, y: 24}
    jobs.first-board.placements.U1: {part: timer-soic8, x: -24, y: 20}
    """,
    passes="jobs.first-board.placements.R1.x: 1.2",
)
def placements_mirrored(look: Inspection) -> Iterator[Problem]:
    """The placements have negative x or y throughout, as when they are seen from the other side.

    On the machine: everything is placed beside the board; moved onto it, left and right or top
    and bottom would be exchanged.

    To do: export the list with x to the right and y upwards from the lower left corner, seen from
    the top; of the bottom, declare in `bottom_positions` how the list counts.

    Source: common practice, no published source. A list mirrored as width - x cannot be told
    from its positions alone.
    """
    for name, job, verdict in _suspects(look, "mirrored"):
        spread = verdict.spread
        axes = [axis for axis, high in (("x", spread.right), ("y", spread.high)) if high <= 0]
        negative = " and ".join(axes) or "x or y"
        yield Problem(
            path=("jobs", name, "placements"),
            related=(_size(name), ("jobs", name, "placements", verdict.outside[0])),
            message=f"the placements of {name} look mirrored: {negative} of all {spread.placed} "
            f"{'are' if len(axes) > 1 else 'is'} negative.",
            observed=f"they reach from {_extent(spread)} mm; the board is {_board(job)}",
            consequence=f"{len(verdict.outside)} of {spread.placed} would be placed beside the board.",
            remedy=(_unmirrored(job, axes),),
        )


def _unmirrored(job: Job, axes: list[str]) -> str:
    """Say how a mirrored list is put right; on the bottom it may only count another way."""
    if job.side == "bottom" and axes == ["x"] and job.placements.bottom_positions is None:
        return (
            "If the list counts the bottom through the top with x negated, write "
            "bottom_positions: x-negated. If not, export it again, seen through the top."
        )
    seen = "through the top" if job.side == "bottom" else "from the side being placed"
    return (
        f"Export the list seen {seen}, from the lower left corner. If only the origin is at "
        "another corner, move it."
    )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.placements: {zero: A, bottom: as-placed}
    jobs.first-board.placements.R1: {part: 10k-0603, x: 110, y: 88}
    jobs.first-board.placements.R2: {part: 10k-0603, x: 110, y: 91}
    jobs.first-board.placements.R3: {part: 10k-0603, x: 116, y: 88}
    jobs.first-board.placements.C1: {part: 100n-0805, x: 122, y: 89}
    jobs.first-board.placements.C2: {part: 100n-0805, x: 128, y: 89}
    jobs.first-board.placements.D1: {part: diode-sod123, x: 112, y: 100}
    jobs.first-board.placements.D2: {part: diode-sod123, x: 112, y: 104}
    jobs.first-board.placements.U1: {part: timer-soic8, x: 124, y: 100}
    """,
    passes="jobs.first-board.placements.C2.x: 38.6\njobs.first-board.placements.D2.y: 28.7",
)
def placements_origin_elsewhere(look: Inspection) -> Iterator[Problem]:
    """The placements would fit the board if all of them were moved: another origin was meant.

    On the machine: everything is placed beside the board.

    To do: export the list with its origin at the lower left corner of the board.

    Source: common practice, no published source.
    """
    for name, job, verdict in _suspects(look, "origin"):
        spread = verdict.spread
        yield Problem(
            path=("jobs", name, "placements"),
            related=(_size(name), ("jobs", name, "placements", verdict.outside[0])),
            message=f"the placements of {name} are counted from another origin than the board's "
            "corner.",
            observed=f"they reach from {_extent(spread)} mm, but the board is {_board(job)}; they "
            f"take {number(spread.right - spread.left)} × {number(spread.high - spread.low)} mm",
            consequence=f"{len(verdict.outside)} of {spread.placed} would be placed beside the board.",
            remedy=("Export the list with its origin at the lower left corner of the board.",),
        )


@rule(
    Level.NOTE,
    fails="jobs.first-board.placements.U1.rotation: 91",
    passes="jobs.first-board.placements.U1.rotation: 45",
)
def rotation_unusual(look: Inspection) -> Iterator[Problem]:
    """A placement is turned by an angle that is no multiple of 45 degrees.

    On the machine: the part is placed just so; where the angle is a slip it lies beside its pads.

    To do: compare the angles with the board's drawing.

    Source: common practice, no published source.
    """
    for name in sorted(look.shop.jobs, key=natural):
        placed = look.facts.usage.placed[name]
        odd = {angle for angle in set(placed.rotations) if abs(math.remainder(angle, 45)) > 0.01}
        if not odd:
            continue
        turned: dict[float, list[str]] = defaultdict(list)
        for reference, angle in zip(placed.references, placed.rotations, strict=True):
            if angle in odd:
                turned[angle].append(reference)
        yield _unusual(name, dict(sorted(turned.items())))


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
        message=f"{count(len(references), 'placement')} of {name} {'is' if one else 'are'} turned by "
        "no multiple of 45 degrees.",
        observed=listed(shown),
        consequence="Where that is a slip, the part would lie turned on its pads.",
        remedy=("Compare with the board's drawing.",),
    )
