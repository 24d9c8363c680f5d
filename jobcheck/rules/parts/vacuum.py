"""Rules about holding: forces, pressures and their thresholds.

Forces are estimates to the pessimistic side: the pressure while holding is taken to be no deeper
than the threshold of a held part, a mass that is not given that of a full block.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import needed_by, needed_parts
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Machine, Nozzle
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.vacuum import (
    ATMOSPHERE_KPA,
    holding_force_mn,
    lifting_force_mn,
    mass_mg,
    pump_reserve_kpa,
    sideways_force_mn,
    thresholds_apart_kpa,
    turning_force_mn,
)
from jobcheck.wording import listed, number


class _Load(NamedTuple):
    """A part to be held: its mass in mg, where that is written, and whether it is an estimate."""

    part: str
    outline: Outline
    mass: float
    path: Path
    is_estimated: bool


def _load(shop: Shop, part: str) -> _Load | None:
    """Return what a part weighs; None where neither a mass nor a height is known."""
    described, outline = shop.parts[part], shop.outline_of(part)
    if outline is None:
        return None
    if described.mass_mg is not None:
        return _Load(part, outline, described.mass_mg, ("parts", part, "mass_mg"), False)
    path = ("outlines", described.outline, "mass_mg")
    if outline.mass_mg is not None:
        return _Load(part, outline, outline.mass_mg, path, False)
    height = shop.height_of(part)
    if not height:
        return None
    body = outline.body_mm[0], outline.body_mm[1]
    return _Load(part, outline, mass_mg(body, height), path, True)


def _heaviest(facts: Facts) -> dict[str, _Load]:
    """Return outline -> its heaviest part that a job places or a feeder holds."""
    heaviest: dict[str, _Load] = {}
    for part in needed_parts(facts):
        load, name = _load(facts.shop, part), facts.shop.parts[part].outline
        if load and (name not in heaviest or load.mass > heaviest[name].mass):
            heaviest[name] = load
    return heaviest


def _needs(look: Inspection, load: _Load, nozzle: Nozzle) -> tuple[float, str]:
    """Return the largest force that a move needs, mN with safety, and which move that is.

    Without motion only the weight is known; a tip as narrow as its bore has no ring that turns.
    """
    motion = look.shop.machine.motion if look.shop.machine else None
    safety, friction = look.limits.holding_safety, look.limits.holding_friction
    if motion is None:
        return lifting_force_mn(load.mass, 0.0, safety), "hanging still"
    body = load.outline.body_mm[0], load.outline.body_mm[1]
    forces = [
        (lifting_force_mn(load.mass, motion.z_mm_s2, safety), _at(motion.z_mm_s2, "lifting")),
        (
            sideways_force_mn(load.mass, motion.xy_mm_s2, safety, friction),
            _at(motion.xy_mm_s2, "moving"),
        ),
    ]
    if nozzle.tip_outer_mm > nozzle.bore_mm:
        tip = nozzle.bore_mm, nozzle.tip_outer_mm
        speed_up = motion.rotation_deg_s2
        force = turning_force_mn(load.mass, body, speed_up, tip, safety, friction)
        forces.append((force, f"turning at {number(speed_up)} deg/s²"))
    return max(forces)


def _at(acceleration: float, move: str) -> str:
    return f"{move} at {number(acceleration)} mm/s²"


class _Weak(NamedTuple):
    """A load that a nozzle cannot hold: what it holds and what a move needs, mN."""

    load: _Load
    name: str
    nozzle: Nozzle
    holds: float
    needs: float
    move: str

    @property
    def falls(self) -> bool:
        """Whether a known mass outweighs the nozzle hanging still, without any safety."""
        is_known = not self.load.is_estimated
        return is_known and lifting_force_mn(self.load.mass, 0.0, 1.0) > self.holds


def _weak(look: Inspection, machine: Machine, load: _Load) -> Iterator[_Weak]:
    for name in dict.fromkeys(load.outline.nozzles):
        nozzle = machine.nozzles.get(name)
        if nozzle is None or not nozzle.held_kpa or nozzle.held_kpa < -ATMOSPHERE_KPA:
            continue
        holds = holding_force_mn(nozzle.held_kpa, nozzle.bore_mm)
        needs, move = _needs(look, load, nozzle)
        if holds < needs:
            yield _Weak(load, name, nozzle, holds, needs, move)


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="outlines.soic-8.mass_mg: 1250",
    passes="outlines.soic-8.mass_mg: 1200",
)
def part_too_heavy_for_nozzle(look: Inspection) -> Iterator[Problem]:
    """A nozzle holds less than moving a part needs, by bore, pressure, mass and acceleration.

    Lifting, moving sideways and turning are looked at, with `limits.holding_safety` and
    `limits.holding_friction`. An error where a known mass outweighs the nozzle hanging still,
    without any safety. All parts that are too heavy are one finding.

    On the machine: the part slips on the tip and is placed shifted or turned, or falls off.

    To do: take a wider bore, lower the acceleration, or correct the mass or the threshold.

    Source: F = m (g + a) S lifting, m (g + a / friction) S sideways, holding force = pressure ×
    bore area (Schmalz vacuum glossary); turning as a clutch of even pressure (handbooks of
    machine design, from memory).
    """
    machine = look.shop.machine
    if machine is None:
        return
    loads = _heaviest(look.facts).values()
    weak = [entry for load in loads for entry in _weak(look, machine, load)]
    if weak:
        yield _too_heavy(look, machine, weak)


def _too_heavy(look: Inspection, machine: Machine, weak: list[_Weak]) -> Problem:
    worst = min(weak, key=lambda entry: entry.holds / entry.needs)
    load, limits = worst.load, look.limits
    parts = list(dict.fromkeys(entry.load.part for entry in weak))
    paths = _at_fault(machine, weak, worst)
    estimated = " as a full block" if load.is_estimated else ""
    more = f"; {len(parts) - 1} more are too heavy as well" if len(parts) > 1 else ""
    falls = any(entry.falls for entry in weak)
    return Problem(
        path=paths[0],
        related=tuple(paths[1:]),
        message=f"{load.part} needs {number(round(worst.needs, 1))} mN {worst.move}; {worst.name} "
        f"holds {number(round(worst.holds, 1))} mN{more}.",
        observed=f"estimate: {number(round(load.mass, 1))} mg{estimated}, safety "
        f"{number(limits.holding_safety)}, friction {number(limits.holding_friction)}; bore "
        f"{number(worst.nozzle.bore_mm)} mm at {number(worst.nozzle.held_kpa or 0)} kPa; "
        f"{needed_by(look.facts, parts)}",
        consequence="It would fall off the tip."
        if falls
        else "It would slip on the tip and be placed shifted or turned, or fall off.",
        remedy=(_relief(look, machine, load),),
        level=Level.ERROR if falls else None,
    )


def _at_fault(machine: Machine, weak: list[_Weak], worst: _Weak) -> list[Path]:
    """Return the values that it comes from, that first which all of them share."""
    nozzle: list[Path] = [("nozzles", worst.name, field) for field in ("held_kpa", "bore_mm")]
    motion: list[Path] = [("motion",)] if machine.motion else []
    if len({entry.load.part for entry in weak}) == 1:
        return [worst.load.path, *nozzle, *motion]
    if len({entry.name for entry in weak}) == 1:
        return [*nozzle, worst.load.path, *motion]
    return [*motion, *nozzle, worst.load.path]


def _relief(look: Inspection, machine: Machine, load: _Load) -> str:
    """Say which other nozzle would hold the part, else what to do."""
    room = min(load.outline.flat_mm or load.outline.body_mm)
    for name in sorted(machine.nozzles, key=natural):
        nozzle = machine.nozzles[name]
        holds = holding_force_mn(nozzle.held_kpa or 0.0, nozzle.bore_mm)
        is_other = name not in load.outline.nozzles and nozzle.tip_outer_mm <= room
        if is_other and holds >= _needs(look, load, nozzle)[0]:
            much = f"{number(round(holds, 1))} mN"
            return f"Take a wider bore: {name} holds {much}; or correct the mass."
    return "Take a wider bore, lower the acceleration, or correct the mass or the threshold."


def _thresholds(machine: Machine) -> Iterator[tuple[str, float, float]]:
    """Yield (nozzle, empty, held) where both are given and possible, kPa."""
    for name in sorted(machine.nozzles, key=natural):
        nozzle = machine.nozzles[name]
        if nozzle.empty_kpa is None or nozzle.held_kpa is None:
            continue
        if min(nozzle.empty_kpa, nozzle.held_kpa) >= -ATMOSPHERE_KPA:
            yield name, nozzle.empty_kpa, nozzle.held_kpa


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="nozzles.bore-0-4.empty_kpa: -41",
    passes="nozzles.bore-0-4.empty_kpa: -40",
)
def vacuum_thresholds_not_apart(look: Inspection) -> Iterator[Problem]:
    """A nozzle's threshold of a held part is hardly deeper than that of an empty tip.

    An error where it is no deeper at all: exchanged, or copied.

    On the machine: an empty tip counts as a held part and is taken to the board, or a held part
    as lost and goes to the bin.

    To do: read the gauge with a part on and off for this nozzle: a fine bore reads deep even when
    it is empty.

    Source: vacuum is negative, so a held part reads lower; limits.thresholds_apart_kpa (common
    practice, no published source).
    """
    machine = look.shop.machine
    for name, empty, held in _thresholds(machine) if machine else ():
        apart = thresholds_apart_kpa(empty, held)
        if apart >= look.limits.thresholds_apart_kpa:
            continue
        where = "as deep as" if apart == 0 else f"{number(round(abs(apart), 2))} kPa "
        where += "" if apart == 0 else "deeper than" if apart > 0 else "less deep than"
        yield Problem(
            path=("nozzles", name, "held_kpa"),
            related=(("nozzles", name, "empty_kpa"),),
            message=f"a part held by {name} is told at a pressure {where} an empty tip.",
            observed=f"held_kpa {number(held)}, empty_kpa {number(empty)}",
            consequence="An empty tip would count as a held part, or a held part as lost.",
            remedy=(
                "Look at the gauge with a part on and off; exchange them, or write what it shows.",
            ),
            level=Level.ERROR if apart <= 0 else None,
        )


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="vacuum.pump_kpa: -47",
    passes="vacuum.pump_kpa: -48",
)
def vacuum_threshold_out_of_reach(look: Inspection) -> Iterator[Problem]:
    """A nozzle's threshold of a held part is deeper than the pump reaches, or nearly so.

    An error where the pump never reaches it. Several nozzles of one pump are one finding.

    On the machine: every part counts as missed, and one after the other goes to the bin.

    To do: read the gauge with a part on this nozzle; look after filter, hoses and pump.

    Source: no tip holds deeper than its pump; limits.pump_reserve_kpa (common practice, no
    published source).
    """
    machine = look.shop.machine
    if machine is None or machine.vacuum is None or machine.vacuum.pump_kpa < -ATMOSPHERE_KPA:
        return
    pump, least = machine.vacuum.pump_kpa, look.limits.pump_reserve_kpa
    short = {
        name: nozzle.held_kpa
        for name in sorted(machine.nozzles, key=natural)
        if (nozzle := machine.nozzles[name]).held_kpa is not None
        and nozzle.held_kpa >= -ATMOSPHERE_KPA
        and pump_reserve_kpa(nozzle.held_kpa, pump) < max(least, 1e-9)
    }
    if not short:
        return
    paths: list[Path] = [("nozzles", name, "held_kpa") for name in short]
    never = min(short.values()) <= pump
    shown = [f"{name} {number(held)}" for name, held in short.items()]
    first = ("vacuum", "pump_kpa") if len(short) > 1 else paths[0]
    deeper = "no" if never else "hardly"
    yield Problem(
        path=first,
        related=tuple(path for path in (*paths[:4], ("vacuum", "pump_kpa")) if path != first),
        message=f"the pump reaches {number(pump)} kPa, {deeper} deeper than the held threshold of "
        f"{listed(list(short))}.",
        observed=f"held_kpa {listed(shown)}; pump_kpa {number(pump)}",
        consequence="Every part would count as missed and go to the bin."
        if never
        else "A small leak, and every part would count as missed.",
        remedy=(
            "Look at the gauge with a part on; correct the threshold, or see to filter and pump.",
        ),
        level=Level.ERROR if never else None,
    )


@rule(
    Level.ERROR,
    fails="vacuum.pump_kpa: -600",
    passes="vacuum.pump_kpa: -101",
)
def pressure_below_vacuum(look: Inspection) -> Iterator[Problem]:
    """A gauge pressure is deeper than an empty space: another unit was written.

    On the machine: a threshold that no pump reaches, so every part counts as missed; forces are
    reckoned many times too large.

    To do: write it in kPa: 1 kPa is 10 mbar, 1 inch of mercury is 3.386 kPa.

    Source: standard atmosphere 101.325 kPa, ISO 2533.
    """
    machine = look.shop.machine
    deep = [entry for entry in _pressures(machine) if entry[1] < -ATMOSPHERE_KPA] if machine else []
    if deep:
        shown = [f"{'.'.join(path)} {number(value)}" for path, value in deep]
        others = "" if len(deep) == 1 else f" and {len(deep) - 1} more"
        yield Problem(
            path=deep[0][0],
            related=tuple(path for path, _ in deep[1:5]),
            message=f"{number(deep[0][1])} kPa{others} {'is' if len(deep) == 1 else 'are'} deeper "
            f"than an empty space, {number(-ATMOSPHERE_KPA)} kPa.",
            observed=listed(shown, 4),
            consequence="Forces would be reckoned too large, or every part counted as missed.",
            remedy=(
                f"Write it in kPa: {number(deep[0][1])} mbar would be {number(deep[0][1] / 10)}.",
            ),
        )


def _pressures(machine: Machine) -> Iterator[tuple[Path, float]]:
    if machine.vacuum:
        yield ("vacuum", "pump_kpa"), machine.vacuum.pump_kpa
    for name in sorted(machine.nozzles, key=natural):
        nozzle = machine.nozzles[name]
        for field, value in (("empty_kpa", nozzle.empty_kpa), ("held_kpa", nozzle.held_kpa)):
            if value is not None:
                yield ("nozzles", name, field), value
