"""Rules about measured fiducials: a set that does not fit the described ones, by its cause."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from jobcheck.facts.frames import Frames
from jobcheck.facts.measured_fiducials import Verdict, judge, measured_sets, rounded
from jobcheck.facts.rows import point
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.planar import fit_rigid
from jobcheck.trade.plane import wrap
from jobcheck.wording import count, listed, number

_HALF_TURN_FROM_DEG = 45.0
"""A seat that is turned by more is turned by a quarter or a half."""


def _percent(scale: float) -> str:
    return f"{number(round(100 * (scale - 1), 3))} %"


def _apart(verdict: Verdict) -> str:
    """Write how far the first and the last fiducial are apart, as measured and as described."""
    found = verdict.fiducials
    seen, described = (math.dist(p[0], p[-1]) for p in (found.seen, found.nominal))
    return (
        f"{found.names[0]} and {found.names[-1]} measured {number(round(seen, 3))} mm apart, "
        f"described {number(round(described, 3))} mm"
    )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.6, y: 132}
    """,
    passes="""
    jobs.first-board.seat.measured.m1: {x: 154, y: 114}
    jobs.first-board.seat.measured.m2: {x: 186.1, y: 132}
    """,
)
def measured_fiducials_do_not_fit(look: Inspection) -> Iterator[Problem]:
    """Measured fiducials do not fit the described ones, their names, or the seat.

    The finding names the cause that explains them. An unknown name, the mirror image, another unit,
    one fiducial mistaken for something else and a seat turned by a quarter or a half are errors; a
    stretched or sheared board, scatter and a shifted seat are warnings.

    On the machine: the board is found shifted, turned or of another size, or not at all, and parts
    are placed off their pads.

    To do: look at the fiducials and measure them again, always from the same side; correct the
    described ones or the seat if the measured ones are right. `2-3-m1` is m1 of cell 2-3.

    Source: residuals of least-squares fits, S. Umeyama, IEEE PAMI 13(4), 1991; shear of an affine
    fit, NIST/SEMATECH e-Handbook 4.4.3; three fiducials for scale and shear, IPC-7351 3.4.4; no
    board is stretched by more than 1 %, and `limits.seat_error_mm`: common practice, no published
    source.
    """
    yield from _unknown(look)
    for verdict in filter(None, (judge(look.facts, one) for one in measured_sets(look.facts))):
        message, observed, consequence, remedy = _EXPLAINED[verdict.cause](look, verdict)
        found = verdict.fiducials
        is_seat = verdict.cause == "seat"
        is_error = _is_turned(verdict) if is_seat else verdict.cause in ("mirrored", "unit", "one")
        measured = (*found.path, verdict.name) if verdict.name else found.path
        described: Path = ("jobs", found.job, "board", "fiducials")
        yield Problem(
            path=("jobs", found.job, "seat") if is_seat else measured,
            related=(measured if is_seat else described,),
            message=message,
            observed=observed,
            consequence=consequence,
            remedy=(remedy,),
            level=None if is_error else Level.WARNING,
        )


def _unknown(look: Inspection) -> Iterator[Problem]:
    """Yield the measured positions that have the name of no fiducial."""
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        if not look.shop.understood(("jobs", name)):
            continue
        frames = Frames(job)
        unknown = [m for m in sorted(job.seat.measured, key=natural) if frames.mark(m) is None]
        known = {**job.board.fiducials, **(job.panel.fiducials if job.panel else {})}
        if unknown:
            path = ("jobs", name, "seat", "measured")
            yield Problem(
                path=(*path, unknown[0]),
                related=tuple((*path, other) for other in unknown[1:5]),
                message=f"{name} has no fiducial {listed(unknown, 4)}, but its position was "
                "measured.",
                observed=f"fiducials: {listed(sorted(known, key=natural)) or 'none'}",
                consequence="It would not be used; the board is only as exact as its seat.",
                remedy=("Write the fiducial's name; in a panel 2-3-m1 is m1 of cell 2-3.",),
            )


_Words = tuple[str, str, str, str]
"""Message, observed, consequence and remedy of a cause."""

_OFF = "The board would be found shifted or turned, and parts placed off their pads."


def _mirrored(look: Inspection, verdict: Verdict) -> _Words:
    found = verdict.fiducials
    return (
        f"the measured fiducials of {found.job} are the mirror image of the described ones.",
        f"{found.shown()}; side {look.shop.jobs[found.job].side}",
        "Either the other side of the board is up, or all parts would be placed mirrored.",
        "Look which side is up. Fiducials are described as seen from the side being placed.",
    )


def _other_unit(look: Inspection, verdict: Verdict) -> _Words:
    measured, described = verdict.units
    return (
        f"the measured fiducials of {verdict.fiducials.job} look like {measured}, the described "
        f"ones like {described}.",
        f"{_apart(verdict)}; scale {number(round(verdict.fit.scale_x, 5))}",
        "All parts would be placed on a board of another size.",
        "Write the positions of fiducials and measurements in mm.",
    )


def _one_off(look: Inspection, verdict: Verdict) -> _Words:
    found = verdict.fiducials
    if verdict.name:
        at = found.names.index(verdict.name)
        others = found.without(at)
        expected = fit_rigid(others.nominal, others.seen).at(found.nominal[at])
        off = math.dist(expected, found.seen[at])
        says = f"fiducial {verdict.name} of {found.job} was found {number(round(off, 3))} mm off."
        now = (
            f"by {count(len(others.names), 'other fiducial')} it is at {point(*rounded(expected))}"
        )
    else:
        off = abs(math.dist(*found.seen) - math.dist(*found.nominal))
        says = f"{listed(list(found.names))} of {found.job} were found {number(round(off, 3))} mm "
        says += "too far apart." if verdict.fit.scale_x > 1 else "too close together."
        now = _apart(verdict)
    again = "Look at it and measure it again: it may have been a pad or a hole."
    return says, now, _OFF, again


def _stretched(look: Inspection, verdict: Verdict) -> _Words:
    fit, job = verdict.fit, verdict.fiducials.job
    along = f" along x, {_percent(fit.scale_y)} across," if fit.kind == "affine" else ""
    return (
        f"the board of {job} measures {_percent(fit.scale_x)}{along} more than described.",
        _apart(verdict),
        "If the scale is not corrected, parts at its ends would be placed off by as much.",
        "Compare the axes' steps with a ruler. If they are right, correct the described fiducials.",
    )


def _sheared(look: Inspection, verdict: Verdict) -> _Words:
    found = verdict.fiducials
    known = look.shop.machine.squareness_deg if look.shop.machine else None
    squareness = "not described" if known is None else f"{number(known)} degrees"
    return (
        f"the board of {found.job} leans by {number(round(verdict.fit.shear, 3))} degrees as "
        "measured.",
        f"{found.shown()}; squareness of the axes {squareness}",
        "Parts at its far corner would be placed off, however the board is turned.",
        "Measure the squareness of the axes with another board or a square.",
    )


def _scattered(look: Inspection, verdict: Verdict) -> _Words:
    found = verdict.fiducials
    off = [
        f"{name} {number(round(math.hypot(*residual), 3))} mm"
        for name, residual in zip(found.names, verdict.fit.residuals_mm or (), strict=True)
    ]
    return (
        f"the {len(found.names)} measured fiducials of {found.job} do not fit the described ones.",
        f"left after move, turn and scale: {listed(off)}; limit "
        f"{number(look.limits.mark_error_mm)} mm",
        _OFF,
        "Check whether several were taken for others, and measure them again from the same side.",
    )


def _turn(verdict: Verdict) -> float:
    return wrap(round(verdict.fit.rotation, 1))


def _is_turned(verdict: Verdict) -> bool:
    return abs(_turn(verdict)) > _HALF_TURN_FROM_DEG


def _seat(look: Inspection, verdict: Verdict) -> _Words:
    found, seat = verdict.fiducials, look.shop.jobs[verdict.fiducials.job].seat
    off = max(map(math.dist, found.nominal, found.seen))
    is_turned = _is_turned(verdict)
    return (
        f"the board of {found.job} was found "
        + (
            f"turned by {number(_turn(verdict))} degrees against its seat."
            if is_turned
            else f"{number(round(off, 2))} mm from its seat."
        ),
        f"{found.shown()}; seat {point(seat.x, seat.y)}, rotation {number(seat.rotation)}",
        "All parts would be placed turned, unless the board is turned on purpose."
        if is_turned
        else "The fiducials would not be found within their search radius.",
        "Look at the board in the machine; correct the seat, or measure again.",
    )


_EXPLAINED: dict[str, Callable[[Inspection, Verdict], _Words]] = {
    "mirrored": _mirrored,
    "unit": _other_unit,
    "one": _one_off,
    "stretched": _stretched,
    "sheared": _sheared,
    "scatter": _scattered,
    "seat": _seat,
}
