"""Rules about the tips of nozzles: what shows beyond a part, and what their eccentricity does."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.reach import needed_parts
from jobcheck.facts.shifts import allowed_shift_mm, termination_mm
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.wording import listed, number

_MOST_SHOWN = 4
"""Places that a finding shows; the count tells of the rest."""


@rule(
    Level.ERROR,
    fails="nozzles.bore-0-4.bore_mm: 0.7",
    passes="nozzles.bore-0-4.bore_mm: 0.65",
)
def bore_wider_than_tip(look: Inspection) -> Iterator[Problem]:
    """The bore of a nozzle is as wide as its tip, or wider.

    On the machine: nothing; but what it can hold, and which bodies cover it, is reckoned with the
    wrong diameter.

    To do: measure both; exchanged values are the usual cause.

    Source: a tube has a wall.
    """
    machine = look.shop.machine
    for name in sorted(machine.nozzles, key=natural) if machine else ():
        assert machine
        nozzle = machine.nozzles[name]
        if nozzle.bore_mm >= nozzle.tip_outer_mm:
            yield Problem(
                path=("nozzles", name, "bore_mm"),
                related=(("nozzles", name, "tip_outer_mm"),),
                message=f"the bore of {name} is {number(nozzle.bore_mm)} mm wide, its whole tip only "
                f"{number(nozzle.tip_outer_mm)} mm.",
                observed=f"bore_mm {number(nozzle.bore_mm)}, tip_outer_mm {number(nozzle.tip_outer_mm)}",
                consequence="What it can hold, and which bodies cover it, would be reckoned wrongly.",
                remedy=("Measure both; exchange them where they are exchanged.",),
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


@rule(
    Level.WARNING,
    fails="nozzles.bore-0-4.tip_outer_mm: 0.76",
    passes="nozzles.bore-0-4.tip_outer_mm: 0.74",
)
def tip_shows_beyond_body(look: Inspection) -> Iterator[Problem]:
    """A tip, off its axis by its eccentricity, reaches beyond the part that a camera measures.

    The spindle whose tip draws the largest circle is taken. A tip that is wider than the body is
    left to the rule about that.

    On the machine: the rim of the tip shows beside the part in the picture from below, and the
    part is measured too large and off its place.

    To do: take a narrower nozzle, or set the spindle's tip straight.

    Source: half the tip + eccentricity against half the body, arithmetic; the rest is common
    practice, no published source.
    """
    machine = look.shop.machine
    worst = _most_eccentric(machine) if machine else None
    if machine is None or worst is None:
        return
    spindle, radius = worst
    seen: dict[str, list[str]] = defaultdict(list)
    for name in sorted(look.shop.outlines, key=natural):
        outline = look.shop.outlines[name]
        room = min(outline.body_mm)
        for nozzle in outline.nozzles if outline.recognition else ():
            tip = machine.nozzles.get(nozzle)
            if tip and tip.tip_outer_mm <= room < tip.tip_outer_mm + 2 * radius - 1e-9:
                seen[nozzle].append(name)
    for nozzle, names in seen.items():
        tip_mm = machine.nozzles[nozzle].tip_outer_mm
        room = min(min(look.shop.outlines[name].body_mm) for name in names)
        yield Problem(
            path=("nozzles", nozzle, "tip_outer_mm"),
            related=(
                ("spindles", spindle, "tip_eccentricity_mm"),
                *(("outlines", name, "body_mm") for name in names[:_MOST_SHOWN]),
            ),
            message=f"the tip of {nozzle} reaches {number(round(tip_mm / 2 + radius, 4))} mm from the "
            f"axis of spindle {spindle}, beyond the body of {listed(names)}.",
            observed=f"tip {number(tip_mm)} mm, eccentricity {number(radius)} mm; half a body "
            f"{number(room / 2)} mm",
            consequence="The rim of the tip would show beside the part, which is measured off its place.",
            remedy=("Take a narrower nozzle, or set the tip straight.",),
        )


@rule(
    Level.WARNING,
    fails="spindles.a.tip_eccentricity_mm: 0.055\nnozzles.bore-0-4.tip_outer_mm: 0.68",
    passes="spindles.a.tip_eccentricity_mm: 0.052\nnozzles.bore-0-4.tip_outer_mm: 0.68",
)
def tip_eccentricity_exceeds_shift(look: Inspection) -> Iterator[Problem]:
    """A tip that turns by half moves further than a part's narrowest terminal allows it to.

    Twice the eccentricity is set against `limits.eccentricity_percent` of the allowed shift. The
    land is taken to be as wide as the terminal; that the turn is not corrected is assumed.

    On the machine: parts land beside their pads by as much, each rotation to another side.

    To do: set the tip straight or change the spindle's collet; or measure the circle again.

    Source: a point on a circle moves by twice its radius in half a turn, arithmetic; side
    overhang, IPC-A-610F 8.3.2.1.
    """
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
        and 2 * radius > shift * look.limits.eccentricity_percent / 100 + 1e-9
    }
    if allowed:
        yield _too_eccentric(look, spindle, radius, allowed)


def _too_eccentric(
    look: Inspection, spindle: str, radius: float, allowed: dict[str, float]
) -> Problem:
    tightest = min(allowed, key=lambda name: allowed[name])
    terminal = termination_mm(look.shop.outlines[tightest]) or 0.0
    more = f" and {len(allowed) - 1} more allow" if len(allowed) > 1 else " allows"
    share = look.limits.eccentricity_percent
    field = "terminal_mm" if look.shop.outlines[tightest].terminal_mm else "body_mm"
    told: Path = ("outlines", tightest, field)
    return Problem(
        path=("spindles", spindle, "tip_eccentricity_mm"),
        related=(told,),
        message=f"the tip of spindle {spindle} moves {number(round(2 * radius, 4))} mm in half a turn,"
        f" more than {number(share)} % of what {tightest}{more}.",
        observed=f"eccentricity {number(radius)} mm; terminal {number(terminal)} mm allows "
        f"{number(round(allowed[tightest], 4))} mm in class {look.limits.ipc_class}, its land "
        "taken as wide and the turn not corrected",
        consequence="It would land beside its pads by as much, each rotation to another side.",
        remedy=("Set the tip straight, or measure the circle that it draws again.",),
        suppresses=(("tip-shows-beyond-body", ("nozzles",)),),
    )
