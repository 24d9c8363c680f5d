"""Rules about measured fiducials: a set that does not fit the described marks, by its cause."""

from __future__ import annotations

import math
from collections.abc import Iterator

from jobcheck.facts.frames import Frames
from jobcheck.facts.marks import Cause, Verdict, judge, measured_sets, rounded
from jobcheck.facts.rows import point
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import natural
from jobcheck.trade.planar import fit_rigid
from jobcheck.trade.plane import wrap
from jobcheck.wording import count, listed, number

_HALF_TURN_FROM_DEG = 45.0
"""A seat that is off by more is turned by a quarter or a half."""


def _verdicts(look: Inspection, cause: Cause) -> Iterator[Verdict]:
    for marks in measured_sets(look.facts):
        verdict = judge(look.facts, marks)
        if verdict is not None and verdict.cause == cause:
            yield verdict


def _percent(scale: float) -> str:
    return f"{number(round(100 * (scale - 1), 3))} %"


def _apart(verdict: Verdict) -> str:
    """Write how far the first and the last mark are apart, as measured and as described."""
    marks = verdict.marks
    seen, described = (math.dist(p[0], p[-1]) for p in (marks.seen, marks.nominal))
    return (
        f"{marks.names[0]} and {marks.names[-1]} measured {number(round(seen, 3))} mm apart, "
        f"described {number(round(described, 3))} mm"
    )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m7: {x: 186, y: 132}
    """,
    passes="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186, y: 132}
    """,
)
def measured_mark_unknown(look: Inspection) -> Iterator[Problem]:
    """A measured position names a mark that neither board nor panel has.

    On the machine: the measurement is not used, so the board is placed as the seat alone has it.

    To do: write the mark's name as the board or panel has it; `2-3-m1` is m1 of cell 2-3.

    Source: none needed: the name points nowhere.
    """
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        if not look.shop.understood(("jobs", name)):
            continue
        frames = Frames(job)
        unknown = [m for m in sorted(job.seat.measured, key=natural) if frames.mark(m) is None]
        known = sorted({**job.board.fiducials, **(job.panel.fiducials if job.panel else {})})
        if unknown:
            path = ("jobs", name, "seat", "measured")
            yield Problem(
                path=(*path, unknown[0]),
                related=tuple((*path, other) for other in unknown[1:5]),
                message=f"{listed(unknown, 4)} {'was' if len(unknown) == 1 else 'were'} measured, but "
                f"{name} has no such mark.",
                observed=f"marks: {listed(sorted(known, key=natural)) or 'none'}",
                consequence="The measurement would not be used; the board lies only as exactly as the seat.",
                remedy=("Write the mark's name; in a panel 2-3-m1 is m1 of cell 2-3.",),
            )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.board.fiducials.m3: {x: 4, y: 26, diameter_mm: 1.0}
    jobs.first-board.seat.measured.m1: {x: 186, y: 114}
    jobs.first-board.seat.measured.m2: {x: 154, y: 132}
    jobs.first-board.seat.measured.m3: {x: 186, y: 136}
    """,
    passes="""
    jobs.first-board.board.fiducials.m3: {x: 4, y: 26, diameter_mm: 1.0}
    jobs.first-board.seat.measured.m1: {x: 154.05, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186, y: 132}
    jobs.first-board.seat.measured.m3: {x: 154, y: 136}
    """,
)
def measured_marks_mirrored(look: Inspection) -> Iterator[Problem]:
    """The measured marks are the mirror image of the described ones.

    On the machine: all parts are placed mirrored; no turn of the board mends it.

    To do: look which side of the board is up, and from which side the marks are described.

    Source: residuals of two least-squares fits, the second to the mirrored marks; S. Umeyama, IEEE
    PAMI 13(4), 1991.
    """
    for verdict in _verdicts(look, "mirrored"):
        job = verdict.marks.job
        side = look.shop.jobs[job].side
        yield Problem(
            path=verdict.marks.path,
            related=(("jobs", job, "side"), ("jobs", job, "board", "fiducials")),
            message=f"the measured marks of {job} are the mirror image of those described.",
            observed=f"{verdict.marks.shown()}; side {side}",
            consequence="The board would lie with its other side up, or all parts be placed mirrored.",
            remedy=(
                "Look which side is up. Marks are described as seen from the side being placed.",
            ),
        )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.seat.measured.m1: {x: 6.063, y: 4.488}
    jobs.first-board.seat.measured.m2: {x: 7.323, y: 5.197}
    """,
    passes="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.05, y: 132}
    """,
)
def measured_marks_in_other_unit(look: Inspection) -> Iterator[Problem]:
    """The measured marks lie as far apart as described only in another unit.

    On the machine: the whole board is shrunk or blown up, and parts come to lie anywhere.

    To do: write positions in mm; measured ones as the machine counts.

    Source: 1 inch = 25.4 mm = 1000 mil, exactly (ISO 80000-3, from memory).
    """
    for verdict in _verdicts(look, "unit"):
        measured, described = verdict.units
        yield Problem(
            path=verdict.marks.path,
            related=(("jobs", verdict.marks.job, "board", "fiducials"),),
            message=f"the measured marks of {verdict.marks.job} look like {measured}, the described "
            f"ones like {described}.",
            observed=f"{_apart(verdict)}; scale {number(round(verdict.fit.scale_x, 5))}",
            consequence="All parts would be placed on a board of another size.",
            remedy=("Look in which unit marks and measurements were read; write both in mm.",),
        )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.6, y: 132}
    """,
    passes="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.1, y: 132}
    """,
)
def measured_mark_wrong(look: Inspection) -> Iterator[Problem]:
    """One measured mark lies elsewhere than the others have it: something else was taken for it.

    With two marks only their distance tells, so it may be either.

    On the machine: the board is found turned or shifted, and parts come to lie off their pads.

    To do: measure that mark again, and look for a pad or hole beside it.

    Source: distance and residuals of a least-squares fit; beyond 1 % no board is stretched (common
    practice, no published source).
    """
    for verdict in _verdicts(look, "mark"):
        marks = verdict.marks
        if verdict.name:
            others = marks.without(marks.names.index(verdict.name))
            at = fit_rigid(others.nominal, others.seen).at(
                marks.nominal[marks.names.index(verdict.name)]
            )
            off = math.dist(at, marks.seen[marks.names.index(verdict.name)])
            says = f"mark {verdict.name} of {marks.job} was found {number(round(off, 3))} mm off."
            now = f"{count(len(others.names), 'other mark')} have it at {point(*rounded(at))}"
        else:
            off = abs(math.dist(*marks.seen) - math.dist(*marks.nominal))
            says = f"{listed(list(marks.names))} of {marks.job} were found {number(round(off, 3))} "
            says += "mm too far apart." if verdict.fit.scale_x > 1 else "mm too close together."
            now = _apart(verdict)
        yield Problem(
            path=(*marks.path, verdict.name) if verdict.name else marks.path,
            related=(("jobs", marks.job, "board", "fiducials"),),
            message=says,
            observed=now,
            consequence="The board would be found shifted or turned, and parts placed off their pads.",
            remedy=(
                "Look at the mark and measure it again: a pad or hole may have been taken for it.",
            ),
        )


@rule(
    Level.WARNING,
    fails="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.25, y: 132.14}
    """,
    passes="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.15, y: 132.08}
    """,
)
def measured_board_stretched(look: Inspection) -> Iterator[Problem]:
    """The measured marks lie evenly further apart, or closer, than described.

    On the machine: parts at the far end are placed off by as much, where only two marks are used.

    To do: compare a ruler with the machine's steps; else correct the described marks.

    Source: scale of a least-squares fit, S. Umeyama, IEEE PAMI 13(4), 1991; three marks for scale,
    IPC-7351 3.4.4.
    """
    for verdict in _verdicts(look, "stretched"):
        fit, marks = verdict.fit, verdict.marks
        uneven = f"; across {_percent(fit.scale_y)}" if fit.kind == "affine" else ""
        yield Problem(
            path=marks.path,
            related=(("jobs", marks.job, "board", "fiducials"),),
            message=f"the board of {marks.job} measures {_percent(fit.scale_x)} along x{uneven} more "
            "than described."
            if uneven
            else f"the board of {marks.job} measures {_percent(fit.scale_x)} more than described.",
            observed=_apart(verdict),
            consequence="Parts at its ends would be placed off by as much, where no scale is corrected.",
            remedy=(
                "Look whether the axes' steps or the board are stretched: compare with a ruler. "
                "Otherwise correct the described marks.",
            ),
        )


@rule(
    Level.WARNING,
    fails="""
    jobs.first-board.board.size_mm: [60, 60]
    jobs.first-board.board.fiducials.m2: {x: 56, y: 50, diameter_mm: 1.0}
    jobs.first-board.board.fiducials.m3: {x: 4, y: 56, diameter_mm: 1.0}
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 206.3, y: 160}
    jobs.first-board.seat.measured.m3: {x: 154.33, y: 166}
    """,
    passes="""
    jobs.first-board.board.size_mm: [60, 60]
    jobs.first-board.board.fiducials.m2: {x: 56, y: 50, diameter_mm: 1.0}
    jobs.first-board.board.fiducials.m3: {x: 4, y: 56, diameter_mm: 1.0}
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 206.15, y: 160}
    jobs.first-board.seat.measured.m3: {x: 154.16, y: 166}
    """,
)
def measured_board_sheared(look: Inspection) -> Iterator[Problem]:
    """The measured marks lean: the board's corner is no right angle as the machine sees it.

    On the machine: the far corner is off by as much; a turn corrects only half of it.

    To do: measure the squareness of the axes; another board tells whether it is this one.

    Source: shear of an affine fit, NIST/SEMATECH e-Handbook 4.4.3; three marks for shear, IPC-7351
    3.4.4.
    """
    for verdict in _verdicts(look, "sheared"):
        marks = verdict.marks
        known = look.shop.machine.squareness_deg if look.shop.machine else None
        squareness = "not described" if known is None else f"{number(known)} degrees"
        yield Problem(
            path=marks.path,
            related=(("squareness_deg",),) if known is not None else (),
            message=f"the board of {marks.job} leans by {number(round(verdict.fit.shear, 3))} degrees "
            "as measured.",
            observed=f"{marks.shown()}; squareness of the axes {squareness}",
            consequence="Parts at its far corner would be placed off, whichever way the board is turned.",
            remedy=("Look at the squareness of the axes with another board or a square.",),
        )


@rule(
    Level.WARNING,
    fails="""
    jobs.first-board.board.fiducials.m3: {x: 4, y: 26, diameter_mm: 1.0}
    jobs.first-board.seat.measured.m1: {x: 153.2, y: 115.4}
    jobs.first-board.seat.measured.m2: {x: 187.7, y: 131.2}
    jobs.first-board.seat.measured.m3: {x: 154.9, y: 138.3}
    """,
    passes="""
    jobs.first-board.board.fiducials.m3: {x: 4, y: 26, diameter_mm: 1.0}
    jobs.first-board.seat.measured.m1: {x: 153.96, y: 114.04}
    jobs.first-board.seat.measured.m2: {x: 186.03, y: 131.97}
    jobs.first-board.seat.measured.m3: {x: 154.04, y: 136.04}
    """,
)
def measured_marks_scatter(look: Inspection) -> Iterator[Problem]:
    """The measured marks fit the described ones by no move, turn, scale or shear.

    On the machine: the board is found somewhere between them, and parts come to lie off their pads.

    To do: measure the marks again, always coming from the same side.

    Source: residuals of a least-squares fit, NIST/SEMATECH e-Handbook 4.4.3.
    """
    for verdict in _verdicts(look, "scatter"):
        marks = verdict.marks
        residuals = verdict.fit.residuals_mm or ()
        off = [
            f"{name} {number(round(math.hypot(*residual), 3))} mm"
            for name, residual in zip(marks.names, residuals, strict=True)
        ]
        yield Problem(
            path=marks.path,
            related=(("jobs", marks.job, "board", "fiducials"),),
            message=f"the {len(marks.names)} measured marks of {marks.job} do not fit those "
            "described.",
            observed=f"left after move, turn and scale: {listed(off)}; "
            f"{number(look.limits.mark_error_mm)} mm is usual at most",
            consequence="The board would be found somewhere between, and parts placed off their pads.",
            remedy=(
                "Look whether several marks were taken for others, and measure them again, always "
                "coming from the same side.",
            ),
        )


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="""
    jobs.first-board.seat.measured.m1: {x: 159.1, y: 114}
    jobs.first-board.seat.measured.m2: {x: 191.1, y: 132}
    """,
    passes="""
    jobs.first-board.seat.measured.m1: {x: 158.9, y: 114}
    jobs.first-board.seat.measured.m2: {x: 190.9, y: 132}
    """,
)
def seat_contradicts_marks(look: Inspection) -> Iterator[Problem]:
    """The measured marks lie elsewhere than the seat has them, or the board lies turned.

    Turned by a quarter or half is an error: then the board lies the other way round.

    On the machine: the marks are not found within their search radius; without them parts come to
    lie beside the board.

    To do: correct the seat, or measure the marks of this seat.

    Source: least-squares move and turn, S. Umeyama, IEEE PAMI 13(4), 1991; `limits.seat_error_mm`:
    common practice, no published source.
    """
    for verdict in _verdicts(look, "seat"):
        marks, turn = verdict.marks, wrap(round(verdict.fit.rotation, 1))
        off = max(map(math.dist, marks.nominal, marks.seen))
        seat = look.shop.jobs[marks.job].seat
        is_turned = abs(turn) > _HALF_TURN_FROM_DEG
        yield Problem(
            path=("jobs", marks.job, "seat"),
            related=(marks.path,),
            message=f"the board of {marks.job} was found "
            + (
                f"turned by {number(turn)} degrees against its seat."
                if is_turned
                else f"{number(round(off, 2))} mm from where its seat has it."
            ),
            observed=f"{marks.shown()}; seat {point(seat.x, seat.y)}, rotation {number(seat.rotation)}",
            consequence="All parts would be placed turned, unless that is how the board is to lie."
            if is_turned
            else "The marks would not be found near where they are looked for.",
            remedy=("Look how the board lies in the machine; correct the seat, or measure again.",),
            level=Level.ERROR if is_turned else None,
        )
