"""Rules about nozzles: their parts, rack places and spindles."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import in_a_run, joined, needed_by
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.schema.machine import Machine
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed, number

_MOST_SHOWN = 4
"""Most related places of a finding."""


def _placed_outlines(facts: Facts) -> dict[str, list[str]]:
    """Return outline -> its parts that a job places."""
    needed: dict[str, list[str]] = defaultdict(list)
    for part in sorted(facts.usage.placed_parts() & set(facts.shop.parts), key=natural):
        if facts.shop.parts[part].outline in facts.shop.outlines:
            needed[facts.shop.parts[part].outline].append(part)
    return needed


def narrowest(outline: Outline) -> tuple[str, float]:
    """Return the field that limits the tip, and the width that it gives, mm."""
    field = "flat_mm" if outline.flat_mm else "body_mm"
    return field, min(outline.flat_mm or outline.body_mm)


def fitting(machine: Machine, room: float) -> str | None:
    """Return the nozzle with the widest tip up to a width in mm."""
    fits = [
        (nozzle.tip_outer_mm, natural(name), name)
        for name, nozzle in machine.nozzles.items()
        if nozzle.tip_outer_mm <= room
    ]
    return max(fits)[2] if fits else None


@rule(
    Level.ERROR,
    fails="outlines.soic-8.nozzles: []",
    passes="outlines.soic-8.nozzles: [bore-0-4]",
)
def nozzle_missing(look: Inspection) -> Iterator[Problem | Unchecked]:
    """An outline names no nozzle, and a job with a run places it.

    In a job without a run, and on a machine without described nozzles, it is counted as not
    checked.

    On the machine: the part is lifted with the tip that is on the spindle, or not at all.

    To do: name the nozzles that can lift it.

    Source: common practice, no published source.
    """
    unchecked = []
    for name, parts in _placed_outlines(look.facts).items():
        outline, machine = look.shop.outlines[name], look.shop.machine
        path = ("outlines", name, "nozzles")
        if outline.nozzles:
            continue
        if machine is None or not machine.nozzles or not in_a_run(look.facts, parts):
            unchecked.append(path)
            continue
        room = narrowest(outline)[1]
        fits = fitting(machine, room)
        yield Problem(
            path=path,
            message=f"outline {name} names no nozzle.",
            observed=f"none; {needed_by(look.facts, parts)}",
            consequence="It may be lifted with the wrong tip, or not at all.",
            remedy=(
                f"Name one; the tip of {fits} fits."
                if fits
                else f"Name one; every described tip is wider than {number(room)} mm.",
            ),
        )
    if unchecked:
        yield lacking(f"nozzles of {count(len(unchecked), 'outline')}", "nozzles", unchecked)


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


def _nozzle_claimed_twice(look: Inspection) -> Iterator[Problem]:
    machine = look.shop.machine
    if machine is None:
        return
    for claims, kind in ((_places_of(machine), "rack place"), (_carriers_of(machine), "spindle")):
        for nozzle, paths in claims.items():
            if len(paths) < 2:
                continue
            is_rack = kind == "rack place"
            yield Problem(
                path=paths[-1],
                related=tuple(paths[:-1][:_MOST_SHOWN]),
                message=f"nozzle {nozzle} {'is in' if is_rack else 'is at the start on'} "
                f"{kind}s {joined([path[1] for path in paths])}.",
                observed=f"{nozzle} in {count(len(paths), 'place')}",
                consequence="If it is one nozzle, the head would find one place empty."
                if is_rack
                else f"If it is one nozzle, {count(len(paths) - 1, 'spindle')} starts without.",
                remedy=(
                    f"Look for {nozzle}; describe a second one of its kind as another nozzle.",
                ),
            )


def _parked(shop: Shop) -> tuple[dict[str, list[Path]], dict[str, list[Path]]] | None:
    """Return places and carriers of nozzles; None if the rack or a name in it is unknown."""
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
def nozzle_place_wrong(look: Inspection) -> Iterator[Problem]:
    """A nozzle has no place, or two: in the rack, or on a spindle at the start.

    It reports an outline none of whose nozzles is in the rack or on a spindle, a carried nozzle
    without a rack place, and one nozzle in two places. All are warnings: nozzles may be changed by
    hand, and two nozzles of a kind may have one name. A machine without a rack is left out of the
    first two. A nozzle with a rack place that is on a spindle at the start is right.

    On the machine: the job stops or goes on with the wrong tip, or the head puts a nozzle down
    onto another one.

    To do: give the nozzle one rack place; describe two nozzles of a kind as two entries.

    Source: one thing is in one place; common practice, no published source.
    """
    yield from _nozzle_out_of_rack(look)
    yield from _nozzle_claimed_twice(look)
    yield from _carried_nozzle_without_place(look)


def _nozzle_out_of_rack(look: Inspection) -> Iterator[Problem]:
    parked = _parked(look.shop)
    if parked is None or look.shop.machine is None:
        return
    places, carriers = parked
    away: dict[tuple[str, ...], list[str]] = defaultdict(list)
    needed = _placed_outlines(look.facts)
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
            message=f"{joined(list(nozzles))} {'are' if several else 'is'} not in the rack and not "
            f"on a spindle; {listed(outlines)} {'have' if len(outlines) > 1 else 'has'} no other "
            "nozzle.",
            observed="in the rack or on a spindle: "
            f"{listed(sorted({*places, *carriers}, key=natural))}; {needed_by(look.facts, parts)}",
            consequence="The job would stop there, or go on with the wrong tip.",
            remedy=("Give it a place in the rack, or name a nozzle that has one.",),
        )


def _carried_nozzle_without_place(look: Inspection) -> Iterator[Problem]:
    parked = _parked(look.shop)
    places, carriers = parked or ({}, {})
    rack = look.shop.machine.rack if look.shop.machine else {}
    free = sorted((name for name in rack if rack[name].nozzle is None), key=natural)
    for nozzle, paths in carriers.items():
        if nozzle not in places:
            yield Problem(
                path=paths[0],
                related=tuple(("rack", name, "nozzle") for name in free[:_MOST_SHOWN]),
                message=f"nozzle {nozzle} on spindle {paths[0][1]} has no place in the rack.",
                observed=f"nozzles of the rack: {listed(sorted(places, key=natural))}",
                consequence="The first change of nozzle has no place to put it down.",
                remedy=("Give it a place in the rack, or start with a nozzle that has one.",),
            )
