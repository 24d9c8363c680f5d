"""Rules about nozzles: which lifts what, where each is parked, who carries it at the start."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from math import hypot

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import joined, needed_by, needed_parts, weight
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Machine, RackPlace
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.bodies import Body, close_pairs
from jobcheck.wording import count, listed, number

_MOST_SHOWN = 4
"""Places that a finding shows; the count tells of the rest."""


def _needed_outlines(facts: Facts) -> dict[str, list[str]]:
    """Return outline -> its parts that a job places or a feeder holds."""
    needed: dict[str, list[str]] = defaultdict(list)
    for part in needed_parts(facts):
        if facts.shop.parts[part].outline in facts.shop.outlines:
            needed[facts.shop.parts[part].outline].append(part)
    return needed


def _narrowest(outline: Outline) -> tuple[str, float]:
    """Return the field that gives the room for a tip, and that room in mm."""
    field = "flat_mm" if outline.flat_mm else "body_mm"
    return field, min(outline.flat_mm or outline.body_mm)


def _fitting(machine: Machine | None, room: float) -> str | None:
    """Return the nozzle with the widest tip that a body covers."""
    fits = [
        (nozzle.tip_outer_mm, natural(name), name)
        for name, nozzle in (machine.nozzles if machine else {}).items()
        if nozzle.tip_outer_mm <= room
    ]
    return max(fits)[2] if fits else None


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="outlines.soic-8.nozzles: []",
    passes="outlines.soic-8.nozzles: [bore-0-4]",
)
def nozzle_missing(look: Inspection) -> Iterator[Problem]:
    """An outline names no nozzle that can lift it, though its parts are placed or in a feeder.

    On the machine: the part is lifted with whatever tip is on the spindle, or not at all.

    To do: name the nozzles that can lift it; mount one that the machine does not have yet.

    Source: common practice, no published source.
    """
    for name, parts in _needed_outlines(look.facts).items():
        outline = look.shop.outlines[name]
        if outline.nozzles:
            continue
        _, room = _narrowest(outline)
        fits = _fitting(look.shop.machine, room)
        yield Problem(
            path=("outlines", name, "nozzles"),
            message=f"outline {name} names no nozzle that can lift it.",
            observed=f"none; {needed_by(look.facts, parts)}",
            consequence="It would be lifted with whatever tip is on the spindle, or not at all.",
            remedy=(
                f"Name one: by its tip {fits} fits."
                if fits
                else f"Name one: no tip described is narrower than {number(room)} mm.",
            ),
            level=weight(look.facts, parts),
        )


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="nozzles.bore-0-4.tip_outer_mm: 0.9",
    passes="nozzles.bore-0-4.tip_outer_mm: 0.8\nspindles.a.tip_eccentricity_mm: 0",
)
def tip_wider_than_body(look: Inspection) -> Iterator[Problem]:
    """A nozzle's tip is wider than the body, or the flat, that it is said to lift.

    An error where the body does not cover the bore by `limits.bore_cover_mm` all round: no vacuum
    holds it then. A tip that is too wide for several outlines is one finding.

    On the machine: the rim of the tip touches paste and neighbours, shows beyond the part in the
    picture, and leaks.

    To do: take a narrower nozzle, or correct the tip, the body or its flat.

    Source: common practice, no published source.
    """
    machine = look.shop.machine
    wide: dict[str, dict[str, Path]] = defaultdict(dict)
    for name, outline in look.shop.outlines.items():
        for index, nozzle in enumerate(outline.nozzles):
            tip = machine.nozzles.get(nozzle) if machine else None
            if tip and tip.tip_outer_mm > _narrowest(outline)[1]:
                wide[nozzle].setdefault(name, ("outlines", name, "nozzles", str(index)))
    for nozzle, outlines in wide.items():
        yield _too_wide(look, nozzle, outlines)


def _too_wide(look: Inspection, nozzle: str, outlines: Mapping[str, Path]) -> Problem:
    assert look.shop.machine
    tip = look.shop.machine.nozzles[nozzle]
    names = sorted(outlines, key=natural)
    rooms = {name: _narrowest(look.shop.outlines[name]) for name in names}
    tightest = min(names, key=lambda name: rooms[name][1])
    field, room = rooms[tightest]
    tip_path = ("nozzles", nozzle, "tip_outer_mm")
    others = [(*outlines[name][:2], rooms[name][0]) for name in names]
    was = look.good.plain_at(tip_path) if look.good else tip.tip_outer_mm
    is_tip_at_fault = len(names) > 1 or was != tip.tip_outer_mm
    is_open = tip.bore_mm + 2 * look.limits.bore_cover_mm >= room
    fits = _fitting(look.shop.machine, room)
    whose = f"the {'flat' if field == 'flat_mm' else 'body'} of {tightest}"
    return Problem(
        path=tip_path if is_tip_at_fault else outlines[names[0]],
        related=tuple(others[: _MOST_SHOWN - 1]) if is_tip_at_fault else (tip_path, *others),
        message=f"nozzle {nozzle} has a tip of {number(tip.tip_outer_mm)} mm, wider than "
        f"{whose}, {number(room)} mm."
        if len(names) == 1
        else f"nozzle {nozzle} has a tip of {number(tip.tip_outer_mm)} mm, wider than "
        f"{len(names)} outlines: {listed(names)}.",
        observed=f"tip {number(tip.tip_outer_mm)} mm, bore {number(tip.bore_mm)} mm; {whose} "
        f"{number(room)} mm",
        consequence=f"Its bore is not covered with room to spare: no vacuum holds {tightest}."
        if is_open
        else "The rim would touch paste and neighbours, and show beyond the part in the picture.",
        remedy=(
            f"Take a narrower one: by its tip {fits} fits; or correct what was measured wrong."
            if fits
            else "Take a narrower one, or correct what was measured wrong.",
        ),
        level=Level.ERROR if is_open else None,
    )


def _places_of(machine: Machine) -> dict[str, list[Path]]:
    """Return nozzle -> the rack places that are for it."""
    places: dict[str, list[Path]] = defaultdict(list)
    for name in sorted(machine.rack, key=natural):
        nozzle = machine.rack[name].nozzle
        if nozzle is not None:
            places[nozzle].append(("rack", name, "nozzle"))
    return places


def _carriers_of(machine: Machine) -> dict[str, list[Path]]:
    """Return nozzle -> the spindles that carry it at the start."""
    carriers: dict[str, list[Path]] = defaultdict(list)
    for name in sorted(machine.spindles, key=natural):
        carried = machine.spindles[name].carries
        if carried is not None:
            carriers[carried].append(("spindles", name, "carries"))
    return carriers


@rule(
    Level.ERROR,
    fails="rack.p3: {x: 340, y: 30, z: -25, nozzle: bore-1-0}",
    passes="rack.p3: {x: 340, y: 30, z: -25}",
)
def nozzle_claimed_twice(look: Inspection) -> Iterator[Problem]:
    """One nozzle belongs to two rack places, or two spindles carry it at the start.

    A nozzle with its own rack place that a spindle carries at the start is as it should be: the
    place is empty until it is put back.

    On the machine: the head takes up nothing, or puts a nozzle down where another stands.

    To do: describe two nozzles of a kind as two entries, and say which is where.

    Source: one thing cannot be in two places.
    """
    machine = look.shop.machine
    if machine is None:
        return
    for claims, what in ((_places_of(machine), "rack places"), (_carriers_of(machine), "spindles")):
        for nozzle, paths in claims.items():
            if len(paths) < 2:
                continue
            names = [path[1] for path in paths]
            is_rack = what == "rack places"
            yield Problem(
                path=paths[-1],
                related=tuple(paths[:-1][:_MOST_SHOWN]),
                message=f"nozzle {nozzle} {'belongs to' if is_rack else 'is carried at the start by'} "
                f"{what} {joined(names)}.",
                observed=f"{nozzle} in {count(len(names), 'place')}",
                consequence="The head would take up nothing from one of them, or put a nozzle onto another."
                if is_rack
                else f"{count(len(names) - 1, 'spindle')} would start without the nozzle that the "
                "controller believes in.",
                remedy=(
                    f"Look which one holds {nozzle}; describe a second one of its kind as a nozzle "
                    "of its own.",
                ),
            )


@rule(
    Level.ERROR,
    fails="rack.p2.x: 301",
    passes="rack.p2.x: 301.1",
)
def rack_places_coincide(look: Inspection) -> Iterator[Problem]:
    """Two rack places lie so near to each other that their tips would overlap.

    On the machine: the head puts one nozzle down onto the other.

    To do: measure both places again; copied values are the usual cause.

    Source: two round tips need half the sum of their diameters between their axes; arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    names = sorted(machine.rack, key=natural)
    tips = [_tip(machine, machine.rack[name]) for name in names]
    for first, second in close_pairs(
        [_round(machine.rack[n], t) for n, t in zip(names, tips, strict=True)]
    ):
        one, other = names[first], names[second]
        a, b = machine.rack[one], machine.rack[other]
        apart, needs = hypot(a.x - b.x, a.y - b.y), (tips[first] + tips[second]) / 2
        if apart == 0 or apart < needs:
            yield Problem(
                path=("rack", other),
                related=(("rack", one),),
                message=f"rack places {one} and {other} lie {number(apart)} mm apart; their tips "
                f"need {number(needs)} mm.",
                observed=f"{one} at {number(a.x)}, {number(a.y)}; {other} at {number(b.x)}, "
                f"{number(b.y)}",
                consequence="The head would put one nozzle down onto the other.",
                remedy=("Look where both stand and measure them again.",),
            )


def _round(place: RackPlace, tip: float) -> Body:
    """Return the square around a tip in its place."""
    return Body((place.x, place.y), tip, tip)


def _tip(machine: Machine, place: RackPlace) -> float:
    """Return the tip that a place is for, mm; 0 where it is for none or that is unknown."""
    nozzle = machine.nozzles.get(place.nozzle) if place.nozzle is not None else None
    return nozzle.tip_outer_mm if nozzle else 0.0


def _parked(shop: Shop) -> tuple[dict[str, list[Path]], dict[str, list[Path]]] | None:
    """Return places and carriers of nozzles; None without a rack or where it is not clear."""
    machine = shop.machine
    if machine is None or not machine.rack:
        return None
    if not (shop.understood(("rack",)) and shop.understood(("spindles",))):
        return None
    places, carriers = _places_of(machine), _carriers_of(machine)
    named = [*places, *carriers]
    return (places, carriers) if all(name in machine.nozzles for name in named) else None


@rule(
    Level.WARNING,
    fails="rack.p2: ~",
    passes="rack.p2: ~\noutlines.sod-123.nozzles: [bore-0-4, bore-1-0]\n"
    "outlines.soic-8.nozzles: [bore-1-0, bore-0-4]",
)
def nozzle_out_of_rack(look: Inspection) -> Iterator[Problem]:
    """All nozzles that can lift a part are neither in the rack nor on a spindle.

    It says nothing of a machine without a rack, whose nozzles are changed by hand.

    On the machine: the job stops, or goes on with the tip that is on the spindle.

    To do: give one of them a place in the rack, or name a nozzle that has one.

    Source: common practice, no published source.
    """
    parked = _parked(look.shop)
    if parked is None or look.shop.machine is None:
        return
    places, carriers = parked
    away: dict[tuple[str, ...], list[str]] = defaultdict(list)
    needed = _needed_outlines(look.facts)
    for name in needed:
        nozzles = tuple(dict.fromkeys(look.shop.outlines[name].nozzles))
        described = all(nozzle in look.shop.machine.nozzles for nozzle in nozzles)
        if nozzles and described and not any(n in places or n in carriers for n in nozzles):
            away[tuple(sorted(nozzles, key=natural))].append(name)
    for nozzles, outlines in away.items():
        parts = [part for name in outlines for part in needed[name]]
        several = len(nozzles) > 1
        yield Problem(
            path=("outlines", outlines[0], "nozzles"),
            related=tuple(("outlines", name, "nozzles") for name in outlines[1:_MOST_SHOWN]),
            message=f"{'none of ' if several else ''}{joined(list(nozzles))} is "
            f"{'' if several else 'neither '}in the rack {'or' if several else 'nor'} on a "
            f"spindle; {listed(outlines)} can be lifted by nothing else.",
            observed=f"in the rack or on a spindle: {listed(sorted({*places, *carriers}, key=natural))};"
            f" {needed_by(look.facts, parts)}",
            consequence="The job would stop there, or go on with the tip that is on the spindle.",
            remedy=("Give it a place in the rack, or name a nozzle that has one.",),
        )


@rule(
    Level.WARNING,
    fails="rack.p1: ~",
    passes="spindles.a.carries: bore-1-0",
)
def carried_nozzle_without_place(look: Inspection) -> Iterator[Problem]:
    """A spindle carries a nozzle at the start that has no place in the rack.

    On the machine: at the first change of nozzle there is nowhere to put it down.

    To do: give it a place in the rack.

    Source: common practice, no published source.
    """
    parked = _parked(look.shop)
    places, carriers = parked or ({}, {})
    for nozzle, paths in carriers.items():
        if nozzle not in places:
            yield Problem(
                path=paths[0],
                message=f"spindle {paths[0][1]} carries {nozzle} at the start, which has no place in "
                "the rack.",
                observed=f"{nozzle}; the rack is for {listed(sorted(places, key=natural))}",
                consequence="At the first change of nozzle there is nowhere to put it down.",
                remedy=("Give it a place in the rack, or start with a nozzle that has one.",),
            )
