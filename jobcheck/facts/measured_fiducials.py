"""Why measured fiducials do not fit the described ones: one cause for each set."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Frames
from jobcheck.facts.layout import LARGEST_MM
from jobcheck.facts.rows import point
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.planar import Fit, fit_affine, fit_rigid, fit_similarity, is_mirrored
from jobcheck.trade.plane import Point
from jobcheck.trade.units import MM_PER_UNIT
from jobcheck.wording import listed

Cause = Literal["mirrored", "unit", "one", "stretched", "sheared", "scatter", "seat"]
"""Why a measured set does not fit; `one`: one fiducial is wrong."""

_UNIT_WITHIN = 0.02
"""A scale this near to that of two units is a mix-up of units: common practice, no published
source."""

_PLAUSIBLE_STRETCH = 0.01
"""A board does not stretch by more, so it is another fiducial: laminates move by less than a
thousandth (from memory of laminate makers' sheets), prints and other moulds by more."""


class MeasuredSet(NamedTuple):
    """The measured fiducials of one job that are described too; points in the machine, mm."""

    job: str
    names: tuple[str, ...]
    nominal: tuple[Point, ...]
    seen: tuple[Point, ...]

    @property
    def path(self) -> Path:
        """Where the measured fiducials are described."""
        return ("jobs", self.job, "seat", "measured")

    def without(self, at: int) -> MeasuredSet:
        """Return the set without one fiducial."""
        kept = [i for i in range(len(self.names)) if i != at]
        return MeasuredSet(
            self.job,
            tuple(self.names[i] for i in kept),
            tuple(self.nominal[i] for i in kept),
            tuple(self.seen[i] for i in kept),
        )

    def fits(self, within: float) -> bool:
        """Whether they are among each other as described."""
        return (fit_rigid(self.nominal, self.seen).worst_mm or 0.0) <= within

    def shown(self) -> str:
        """Write where they were found, and where they are by the seat."""
        rows = zip(self.names, self.seen, self.nominal, strict=True)
        return listed(
            [f"{name} at {point(*s)}, by the seat {point(*rounded(n))}" for name, s, n in rows], 3
        )


class Verdict(NamedTuple):
    """Why a set does not fit: the cause, the map that shows it, and the fiducial at fault."""

    cause: Cause
    fiducials: MeasuredSet
    fit: Fit
    name: str = ""
    units: tuple[str, str] = ("", "")


def rounded(at: Point) -> Point:
    """Round a position to the um, for people."""
    return round(at[0], 3), round(at[1], 3)


def measured_sets(facts: Facts) -> Iterator[MeasuredSet]:
    """Yield the measured fiducials of each job with two or more of them in different places."""
    for name in sorted(facts.shop.jobs, key=natural):
        job = facts.shop.jobs[name]
        if not job.seat.measured or not facts.shop.understood(("jobs", name)):
            continue
        frames = Frames(job)
        described = {mark: frames.mark(mark) for mark in sorted(job.seat.measured, key=natural)}
        known = {mark: frames.on_seat(at) for mark, at in described.items() if at is not None}
        seen = tuple((job.seat.measured[m].x, job.seat.measured[m].y) for m in known)
        is_sane = all(abs(x) + abs(y) <= LARGEST_MM for x, y in (*seen, *known.values()))
        if is_sane and len(set(known.values())) == len(known) > 1 and len(set(seen)) > 1:
            yield MeasuredSet(name, tuple(known), tuple(known.values()), seen)


def judge(facts: Facts, marks: MeasuredSet) -> Verdict | None:
    """Return why a set does not fit; None where it fits the seat and the described fiducials."""
    within = facts.shop.limits.mark_error_mm
    similar = fit_similarity(marks.nominal, marks.seen)
    if is_mirrored(marks.nominal, marks.seen, within):
        return Verdict("mirrored", marks, similar)
    units = _units(similar.scale_x)
    if units:
        return Verdict("unit", marks, similar, units=units)
    if marks.fits(within):
        return _seat(facts, marks)
    if (similar.worst_mm or 0.0) <= within:
        if len(marks.names) > 2 or abs(similar.scale_x - 1) <= _PLAUSIBLE_STRETCH:
            return Verdict("stretched", marks, similar)
        return Verdict("one", marks, similar)
    return _uneven(marks, within, similar)


def _units(scale: float) -> tuple[str, str] | None:
    """Return the units of measured and described fiducials if their scale is that of two units."""
    for unit, mm in MM_PER_UNIT.items():
        if mm != 1.0 and abs(scale * mm - 1) <= _UNIT_WITHIN:
            return unit, "mm"
        if mm != 1.0 and abs(scale / mm - 1) <= _UNIT_WITHIN:
            return "mm", unit
    return None


def _uneven(marks: MeasuredSet, within: float, similar: Fit) -> Verdict:
    """Return why three or more do not fit that no move, turn and single scale explain."""
    try:
        affine = fit_affine(marks.nominal, marks.seen)
    except ValueError:  # in one line
        affine = None
    few = len(marks.names) == 3
    if affine and few and _is_plausible(affine):
        return _stretch(marks, affine)
    without = [at for at in range(len(marks.names)) if marks.without(at).fits(within)]
    if len(without) == 1:
        return Verdict("one", marks, similar, marks.names[without[0]])
    if affine and not few and (affine.worst_mm or 0.0) <= within and _is_plausible(affine):
        return _stretch(marks, affine)
    return Verdict("scatter", marks, similar)


def _is_plausible(fit: Fit) -> bool:
    lean = math.tan(math.radians(fit.shear))
    return max(abs(fit.scale_x - 1), abs(fit.scale_y - 1), abs(lean)) <= _PLAUSIBLE_STRETCH


def _stretch(marks: MeasuredSet, fit: Fit) -> Verdict:
    lean = abs(math.tan(math.radians(fit.shear)))
    stretch = max(abs(fit.scale_x - 1), abs(fit.scale_y - 1))
    return Verdict("sheared" if lean > stretch else "stretched", marks, fit)


def _seat(facts: Facts, marks: MeasuredSet) -> Verdict | None:
    """Return the seat as cause where fiducials that fit each other are not where it says."""
    moved = fit_rigid(marks.nominal, marks.seen)
    if max(map(math.dist, marks.nominal, marks.seen)) <= facts.shop.limits.seat_error_mm:
        return None
    return Verdict("seat", marks, moved)
