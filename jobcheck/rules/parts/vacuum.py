"""Rules about holding: forces, and the pressures that show a held part.

Forces are estimates. A warning rests on the threshold of a held part, an assumed friction and a
safety; an error only on a known mass and the depth that the pump reaches.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import needed_by
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
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
from jobcheck.wording import count, listed, number


class _Load(NamedTuple):
    """The heaviest part of an outline: its mass in mg, the path of it, whether it is estimated."""

    part: str
    outline: Outline
    mass: float
    path: Path
    is_estimated: bool


def _load(shop: Shop, part: str) -> _Load | None:
    """Return the load of a part; None if neither mass nor height is known."""
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
    return _Load(part, outline, mass_mg(_body(outline), height), path, True)


def _body(outline: Outline) -> tuple[float, float]:
    return outline.body_mm[0], outline.body_mm[1]


def _loads(facts: Facts) -> tuple[list[_Load], list[Path]]:
    """Return the heaviest placed part of each outline, and the masses that nobody measured."""
    heaviest: dict[str, _Load] = {}
    unknown: dict[Path, None] = {}
    for part in sorted(facts.usage.placed_parts() & set(facts.shop.parts), key=natural):
        load, name = _load(facts.shop, part), facts.shop.parts[part].outline
        if (load is None or load.is_estimated) and name in facts.shop.outlines:
            unknown["outlines", name, "mass_mg"] = None
        if load and (name not in heaviest or load.mass > heaviest[name].mass):
            heaviest[name] = load
    return list(heaviest.values()), list(unknown)


def _needs(look: Inspection, load: _Load, nozzle: Nozzle) -> tuple[float, str]:
    """Return the largest force that a move needs, mN with safety, and the move.

    Without motion only the weight is known; a tip as narrow as its bore has no ring.
    """
    motion = look.shop.machine.motion if look.shop.machine else None
    safety, friction = look.limits.holding_safety, look.limits.holding_friction
    if motion is None:
        return lifting_force_mn(load.mass, 0.0, safety), "hanging still"
    body = _body(load.outline)
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
    """A load that a nozzle cannot hold, at which pressure in kPa, and the forces in mN."""

    load: _Load
    name: str
    nozzle: Nozzle
    pressure: float
    holds: float
    needs: float
    move: str
    is_certain: bool


def _weak(look: Inspection, machine: Machine, load: _Load) -> Iterator[_Weak]:
    """Yield the nozzles of an outline that cannot hold it."""
    deepest = max(machine.vacuum.pump_kpa if machine.vacuum else -ATMOSPHERE_KPA, -ATMOSPHERE_KPA)
    weight = lifting_force_mn(load.mass, 0.0, 1.0)
    for name in dict.fromkeys(load.outline.nozzles):
        nozzle = machine.nozzles.get(name)
        if nozzle is None:
            continue
        most = holding_force_mn(deepest, nozzle.bore_mm)
        if most < weight and not load.is_estimated:
            yield _Weak(load, name, nozzle, deepest, most, weight, "hanging still", True)
        elif nozzle.held_kpa and nozzle.held_kpa >= -ATMOSPHERE_KPA:
            holds = holding_force_mn(nozzle.held_kpa, nozzle.bore_mm)
            needs, move = _needs(look, load, nozzle)
            if holds < needs:
                yield _Weak(load, name, nozzle, nozzle.held_kpa, holds, needs, move, False)


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="nozzles.bore-1-0.bore_mm: 0.2",
    passes="nozzles.bore-1-0.bore_mm: 0.3",
)
def part_too_heavy_for_nozzle(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A nozzle holds less than the moves of a part need.

    A warning compares the force at the threshold of a held part with lifting, moving and turning,
    with `limits.holding_safety` and `limits.holding_friction`. It is an error if a known mass is
    more than the nozzle can carry at the depth of the pump, at rest and without any safety. All
    parts that are too heavy are one finding.

    On the machine: the part slips on the tip and is placed shifted or turned, or it falls off.

    To do: take a wider bore, lower the acceleration, or correct the mass or the threshold.

    Source: F = m (g + a) S lifting, m (g + a / friction) S sideways, holding force = pressure ×
    bore area (Schmalz vacuum glossary); turning as a clutch of even pressure (handbooks of
    machine design, from memory).
    """
    machine = look.shop.machine
    if machine is None:
        return
    loads, unknown = _loads(look.facts)
    weak = [entry for load in loads for entry in _weak(look, machine, load)]
    if weak:
        yield _too_heavy(look, machine, weak)
    if unknown:
        concerns = f"holding of {count(len(unknown), 'outline')} by a measured mass"
        yield lacking(concerns, "mass_mg", unknown)
    if nozzles := _without(machine, _used_nozzles(loads), "held_kpa"):
        yield lacking(f"holding by {count(len(nozzles), 'nozzle')}", "held_kpa", nozzles)
    if loads and machine.motion is None:
        concerns = f"holding of {count(len(loads), 'outline')} while they move"
        yield Unchecked(concerns, "no motion", "motion", (("motion",),), len(loads))


def _used_nozzles(loads: list[_Load]) -> list[str]:
    return sorted({name for load in loads for name in load.outline.nozzles}, key=natural)


def _without(machine: Machine, nozzles: list[str], field: str) -> list[Path]:
    """Return the paths of a value that described nozzles lack."""
    known = machine.nozzles
    lacks = [name for name in nozzles if name in known and getattr(known[name], field) is None]
    return [("nozzles", name, field) for name in lacks]


def _too_heavy(look: Inspection, machine: Machine, weak: list[_Weak]) -> Problem:
    certain = [entry for entry in weak if entry.is_certain]
    worst = min(certain or weak, key=lambda entry: entry.holds / entry.needs)
    load, limits = worst.load, look.limits
    parts = list(dict.fromkeys(entry.load.part for entry in weak))
    paths = _at_fault(machine, weak, worst)
    others = len(parts) - 1
    more = f"; {count(others, 'other part')} {'is' if others == 1 else 'are'} too heavy as well"
    block = " as a full block" if load.is_estimated else ""
    estimate = (
        ""
        if certain
        else f"estimate with safety {number(limits.holding_safety)}, friction "
        f"{number(limits.holding_friction)}; "
    )
    return Problem(
        path=paths[0],
        related=tuple(paths[1:]),
        message=f"{load.part} needs {number(round(worst.needs, 1))} mN {worst.move}; nozzle "
        f"{worst.name} holds {number(round(worst.holds, 1))} mN"
        f"{more if others else ''}.",
        observed=f"{estimate}mass {number(round(load.mass, 1))} mg{block}; bore "
        f"{number(worst.nozzle.bore_mm)} mm at {number(worst.pressure)} kPa; "
        f"{needed_by(look.facts, parts)}",
        consequence="The part would fall off the tip."
        if certain
        else "It may slip on the tip and be placed shifted or turned, or fall off.",
        remedy=(_relief(look, machine, load),),
        suppresses=(("height-or-mass-implausible", load.path),),
        level=Level.ERROR if certain else None,
    )


def _at_fault(machine: Machine, weak: list[_Weak], worst: _Weak) -> list[Path]:
    """Return the values that cause it, the one that all of them share first."""
    nozzle: list[Path] = [("nozzles", worst.name, field) for field in ("held_kpa", "bore_mm")]
    motion: list[Path] = [("motion",)] if machine.motion else []
    if len({entry.load.part for entry in weak}) == 1:
        return [worst.load.path, *nozzle, *motion]
    if len({entry.name for entry in weak}) == 1:
        return [*nozzle, worst.load.path, *motion]
    return [*motion, *nozzle, worst.load.path]


def _relief(look: Inspection, machine: Machine, load: _Load) -> str:
    """Return the remedy: the nozzle that would hold the part, if there is one."""
    room = min(load.outline.flat_mm or load.outline.body_mm)
    for name in sorted(machine.nozzles, key=natural):
        nozzle = machine.nozzles[name]
        holds = holding_force_mn(nozzle.held_kpa or 0.0, nozzle.bore_mm)
        is_other = name not in load.outline.nozzles and nozzle.tip_outer_mm <= room
        if is_other and holds >= _needs(look, load, nozzle)[0]:
            force = f"{number(round(holds, 1))} mN"
            return f"Take a wider bore: {name} holds {force}; or correct the mass."
    return "Take a wider bore, lower the acceleration, or correct the mass or the threshold."


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="nozzles.bore-0-4.empty_kpa: -41",
    passes="nozzles.bore-0-4.empty_kpa: -40",
)
def nozzle_pressures_contradict(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Pressures are impossible, or contradict each other.

    Errors: a gauge pressure below -101.325 kPa; a held part that does not read deeper than an empty
    tip; a pump that never reaches the threshold of a held part. Warnings: less than
    `limits.thresholds_apart_kpa` between empty and held, less than `limits.pump_reserve_kpa`
    between held and pump. Pressures are gauge, so vacuum is negative and deeper is lower.

    On the machine: an empty tip counts as a held part, or each part counts as lost and goes to the
    reject bin.

    To do: read the gauge with a part on the tip and without one, for each nozzle; check filter,
    hoses and pump. 1 kPa is 10 mbar, 1 inch of mercury is 3.386 kPa.

    Source: standard atmosphere 101.325 kPa, ISO 2533; no tip holds deeper than its pump; the limits
    are common practice, no published source.
    """
    machine = look.shop.machine
    if machine is None:
        return
    deep = [entry for entry in _pressures(machine) if entry[1] < -ATMOSPHERE_KPA]
    if deep:
        yield _too_deep(deep)
    yield from _not_apart(look, machine)
    yield from _out_of_reach(look, machine)
    loads, _ = _loads(look.facts)
    used = _used_nozzles(loads)
    if empty := _without(machine, used, "empty_kpa"):
        yield lacking(f"thresholds of {count(len(empty), 'nozzle')}", "empty_kpa", empty)
    if used and machine.vacuum is None:
        path: Path = ("vacuum", "pump_kpa")
        yield lacking("the pump against the thresholds", "pump_kpa", [path])


def _too_deep(deep: list[tuple[Path, float]]) -> Problem:
    path, value = deep[0]
    more = f" and {len(deep) - 1} more" if len(deep) > 1 else ""
    return Problem(
        path=path,
        related=tuple(path for path, _ in deep[1:5]),
        message=f"{'.'.join(path)} {number(value)} kPa{more} {'are' if more else 'is'} deeper than "
        f"an empty space, {number(-ATMOSPHERE_KPA)} kPa.",
        observed=listed([f"{'.'.join(path)} {number(value)}" for path, value in deep], 4),
        consequence="Each part would count as missed, and holding forces are computed too large.",
        remedy=(f"Write it in kPa: {number(value)} mbar is {number(value / 10)} kPa.",),
    )


def _not_apart(look: Inspection, machine: Machine) -> Iterator[Problem]:
    for name in sorted(machine.nozzles, key=natural):
        empty, held = machine.nozzles[name].empty_kpa, machine.nozzles[name].held_kpa
        if empty is None or held is None or min(empty, held) < -ATMOSPHERE_KPA:
            continue
        apart = thresholds_apart_kpa(empty, held)
        if apart >= look.limits.thresholds_apart_kpa:
            continue
        by = "not" if apart <= 0 else f"only {number(round(apart, 2))} kPa"
        yield Problem(
            path=("nozzles", name, "held_kpa"),
            related=(("nozzles", name, "empty_kpa"),),
            message=f"nozzle {name}: held_kpa {number(held)} is {by} deeper than empty_kpa "
            f"{number(empty)}.",
            observed=f"held_kpa {number(held)}, empty_kpa {number(empty)}",
            consequence="An empty tip would count as a held part, or a held part as lost."
            if apart <= 0
            else "If the gauge wavers, an empty tip counts as a held part, or a held part as lost.",
            remedy=("Read the gauge with a part on the tip and without one; correct both values.",),
            level=Level.ERROR if apart <= 0 else Level.WARNING,
        )


def _out_of_reach(look: Inspection, machine: Machine) -> Iterator[Problem]:
    if machine.vacuum is None or machine.vacuum.pump_kpa < -ATMOSPHERE_KPA:
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
    reserve = pump_reserve_kpa(min(short.values()), pump)
    first = ("vacuum", "pump_kpa") if len(short) > 1 else paths[0]
    by = "not" if reserve < 0 else f"only {number(round(reserve, 2))} kPa"
    yield Problem(
        path=first,
        related=tuple(path for path in (*paths[:4], ("vacuum", "pump_kpa")) if path != first),
        message=f"the pump's {number(pump)} kPa is {by} deeper than held_kpa of "
        f"{listed(list(short))}.",
        observed=f"pump_kpa {number(pump)}; held_kpa "
        f"{listed([f'{name} {number(held)}' for name, held in short.items()])}",
        consequence="Each part would count as missed and go to the reject bin."
        if reserve < 0
        else "With a small leak, each part would count as missed.",
        remedy=("Read the gauge with a part on the tip; correct the value, or check the pump.",),
        suppresses=(("part-too-heavy-for-nozzle", ()),) if reserve < 0 else (),
        level=Level.ERROR if reserve < 0 else Level.WARNING,
    )


def _pressures(machine: Machine) -> Iterator[tuple[Path, float]]:
    if machine.vacuum:
        yield ("vacuum", "pump_kpa"), machine.vacuum.pump_kpa
    for name in sorted(machine.nozzles, key=natural):
        nozzle = machine.nozzles[name]
        for field, value in (("empty_kpa", nozzle.empty_kpa), ("held_kpa", nozzle.held_kpa)):
            if value is not None:
                yield ("nozzles", name, field), value
