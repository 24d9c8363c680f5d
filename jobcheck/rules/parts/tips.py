"""Rules about the tips of nozzles: bore, outer diameter and eccentricity."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from jobcheck.facts.reach import needed_parts
from jobcheck.facts.shifts import allowed_shift_mm, termination_mm
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, at_level, rule
from jobcheck.rules.parts.nozzles import fitting, narrowest
from jobcheck.schema.machine import Machine, Nozzle
from jobcheck.shop.paths import Path, natural
from jobcheck.wording import listed, number

_MOST_SHOWN = 4
"""Most related places of a finding."""


def _bore_wider_than_tip(look: Inspection) -> Iterator[Problem]:
    machine = look.shop.machine
    for name in sorted(machine.nozzles, key=natural) if machine else ():
        assert machine
        nozzle = machine.nozzles[name]
        if nozzle.bore_mm >= nozzle.tip_outer_mm:
            yield Problem(
                path=("nozzles", name, "bore_mm"),
                related=(("nozzles", name, "tip_outer_mm"),),
                message=f"nozzle {name} has a bore of {number(nozzle.bore_mm)} mm in a tip of "
                f"{number(nozzle.tip_outer_mm)} mm.",
                observed=f"bore_mm {number(nozzle.bore_mm)}, "
                f"tip_outer_mm {number(nozzle.tip_outer_mm)}",
                consequence="The holding force and the cover of the bore are computed wrongly.",
                remedy=("Measure both, or exchange them.",),
            )


@rule(
    Level.NOTE,
    Level.WARNING,
    Level.ERROR,
    fails="nozzles.bore-0-4.tip_outer_mm: 0.9",
    passes="nozzles.bore-0-4.tip_outer_mm: 0.8",
)
def nozzle_tip_unsuitable(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A nozzle's tip is too wide for its part, has an impossible bore, or is too eccentric.

    Errors: a bore that the part does not cover, and a bore as wide as its tip. Warnings: a bore
    covered by less than `limits.bore_cover_mm` all round, and a tip whose half turn moves a part
    further than its narrowest terminal allows. A note: only the outer diameter is wider.
    For the half turn it is assumed that the part turns by half after its picture, that the
    controller does not correct the circle, and that the land is as wide as the terminal.

    On the machine: an open bore holds nothing. A wide rim can touch paste and neighbours. An
    eccentric tip places parts beside their pads, in another direction at each rotation.

    To do: name a narrower nozzle, straighten the tip, or correct the sizes.

    Source: a bore holds by the area that is covered; a tube has a wall; limits.bore_cover_mm
    (common practice, no published source). A point on a circle moves by twice its radius in half
    a turn, arithmetic; side overhang, IPC-A-610F 8.3.2.1.
    """
    yield from _tip_too_wide(look)
    yield from at_level(Level.ERROR, _bore_wider_than_tip(look))
    yield from at_level(Level.WARNING, _tip_eccentricity_exceeds_shift(look))


def _tip_too_wide(look: Inspection) -> Iterator[Problem]:
    machine = look.shop.machine
    wide: dict[tuple[Level, str], dict[str, Path]] = defaultdict(dict)
    for name, outline in look.shop.outlines.items() if machine else ():
        room = narrowest(outline)[1]
        for index, nozzle in enumerate(outline.nozzles):
            tip = machine.nozzles.get(nozzle) if machine else None
            level = _level(tip, room, look.limits.bore_cover_mm) if tip else None
            if level:
                wide[level, nozzle].setdefault(name, ("outlines", name, "nozzles", str(index)))
    for (level, nozzle), outlines in wide.items():
        assert machine
        yield _too_wide(look, machine, level, nozzle, outlines)


def _level(nozzle: Nozzle, room: float, cover: float) -> Level | None:
    """Return how wrong a nozzle is on a width in mm; None if it fits or is described wrongly."""
    if nozzle.bore_mm >= nozzle.tip_outer_mm:
        return None
    if nozzle.bore_mm >= room:
        return Level.ERROR
    if nozzle.bore_mm + 2 * cover > room + 1e-9:
        return Level.WARNING
    return Level.NOTE if nozzle.tip_outer_mm > room else None


def _too_wide(
    look: Inspection, machine: Machine, level: Level, nozzle: str, outlines: Mapping[str, Path]
) -> Problem:
    tip = machine.nozzles[nozzle]
    field, width = ("tip_outer_mm", tip.tip_outer_mm)
    if level is not Level.NOTE:
        field, width = ("bore_mm", tip.bore_mm)
    names = sorted(outlines, key=natural)
    rooms = {name: narrowest(look.shop.outlines[name]) for name in names}
    tightest = min(names, key=lambda name: rooms[name][1])
    tip_path = ("nozzles", nozzle, field)
    sizes = [(*outlines[name][:2], rooms[name][0]) for name in names]
    was = look.good.plain_at(tip_path) if look.good else width
    is_tip_at_fault = len(names) > 1 or was != width
    fits = fitting(machine, rooms[tightest][1])
    what = "tip" if level is Level.NOTE else "bore"
    than = {
        Level.ERROR: "which is not covered by",
        Level.WARNING: f"which is covered by less than {number(look.limits.bore_cover_mm)} mm by",
        Level.NOTE: "which is wider than",
    }[level]
    so = {
        Level.ERROR: f"The nozzle cannot hold {tightest}: its bore stays open.",
        Level.WARNING: f"If {tightest} is picked off its centre, the bore is open and may drop it.",
        Level.NOTE: "The rim may touch paste or neighbours, and is seen beside the part.",
    }[level]
    return Problem(
        path=tip_path if is_tip_at_fault else outlines[names[0]],
        related=tuple(sizes[: _MOST_SHOWN - 1]) if is_tip_at_fault else (tip_path, *sizes),
        message=f"nozzle {nozzle} has a {what} of {number(width)} mm, {than} {listed(names)}.",
        observed=f"{field} {number(width)}; {rooms[tightest][0]} of {tightest} "
        f"{number(rooms[tightest][1])}",
        consequence=so,
        remedy=(
            f"Name a narrower nozzle: {fits} fits; or correct the size that is wrong."
            if fits and fits != nozzle
            else "Name a narrower nozzle, or correct the size that is wrong.",
        ),
        level=level,
    )


def _most_eccentric(machine: Machine) -> tuple[str, float] | None:
    """Return the spindle whose tip draws the largest circle, and its radius in mm."""
    known = [
        (spindle.tip_eccentricity_mm, name)
        for name in sorted(machine.spindles, key=natural)
        if (spindle := machine.spindles[name]).tip_eccentricity_mm
    ]
    radius, name = max(known, key=lambda entry: entry[0] or 0.0, default=(None, ""))
    return (name, radius) if radius else None


def _tip_eccentricity_exceeds_shift(look: Inspection) -> Iterator[Problem]:
    machine = look.shop.machine
    worst = _most_eccentric(machine) if machine else None
    if worst is None:
        return
    spindle, radius = worst
    used = dict.fromkeys(look.shop.parts[part].outline for part in needed_parts(look.facts))
    allowed = {
        name: shift
        for name in used
        if (outline := look.shop.outlines.get(name))
        and (shift := allowed_shift_mm(outline, look.limits)) is not None
        and 2 * radius > shift + 1e-9
    }
    if allowed:
        yield _too_eccentric(look, spindle, radius, allowed)


def _too_eccentric(
    look: Inspection, spindle: str, radius: float, allowed: dict[str, float]
) -> Problem:
    tightest = min(allowed, key=lambda name: allowed[name])
    outline = look.shop.outlines[tightest]
    terminal = termination_mm(outline) or 0.0
    more = f" and {len(allowed) - 1} more allow" if len(allowed) > 1 else " allows"
    return Problem(
        path=("spindles", spindle, "tip_eccentricity_mm"),
        related=(("outlines", tightest, "terminal_mm" if outline.terminal_mm else "body_mm"),),
        message=f"the tip of spindle {spindle} moves {number(round(2 * radius, 4))} mm in half a "
        f"turn, more than {tightest}{more}.",
        observed=f"eccentricity {number(radius)} mm; a terminal of {number(terminal)} mm allows "
        f"{number(round(allowed[tightest], 4))} mm in class {look.limits.ipc_class}",
        consequence="If the part turns by half after its picture and the controller does not "
        "correct the circle, it is placed beside its pads.",
        remedy=("Straighten the tip, or measure the circle that it draws again.",),
    )
