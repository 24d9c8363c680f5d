"""The rule about heights and places beyond the travel of the axes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.travel import (
    beyond_head,
    beyond_spindles,
    is_inside,
    obstacle_beyond,
    reached,
    span,
)
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Direction, Machine
from jobcheck.schema.values import Point
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.wording import listed, number

_MOST_SHOWN = 4
"""Most places of a finding."""


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="reject_bin.x: 380",
    passes="reject_bin.x: 368.8",
)
def outside_travel(look: Inspection) -> Iterator[Problem]:
    """A height or a place is outside the travel.

    Heights are those of seats, picks, rack places, slots, upward cameras and `traverse_z`. Places
    are those of the rack with the move into it, reject bin, home mark, rest and upward cameras; a
    spindle goes there less its offset from the camera, and each spindle must reach the rack place
    of the nozzle that it carries at the start. Several places outside one axis are one finding. A
    slot without a feeder, and an obstacle or a rim that nothing can touch, are warnings.

    On the machine: the head runs against the end of its axis and loses its position, or the
    controller stops the run.

    To do: correct the place, or measure the travel and the offsets of the spindles again.

    Source: head position = place - offset_from_camera, arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    yield from _heights_outside(look.shop, machine)
    if not look.shop.understood(("spindles",)):
        return
    by_axis: dict[str, list[_Beyond]] = defaultdict(list)
    for place in _beyond_travel(machine):
        by_axis[place.axis].append(place)
    for slot, is_used in list(_slots_outside(look.shop, machine)):
        if is_used or len(by_axis[slot.axis]) > 1:
            by_axis[slot.axis].append(slot)
        else:
            yield _free_slot(slot)
    for axis, places in sorted(by_axis.items()):
        if places:
            yield _outside(axis, places)
    yield from _untouched(machine)


def _heights_outside(shop: Shop, machine: Machine) -> Iterator[Problem]:
    """Yield each height outside the travel of z; if most are, one finding at the travel."""
    heights = list(_heights(shop, machine))
    out = [entry for entry in heights if not is_inside(machine.travel.z, entry[2])]
    limits = span(machine.travel.z)
    consequence = "The spindle would run against the end of z and lose its height."
    if len(out) > 2 and 2 * len(out) > len(heights):
        yield Problem(
            path=("travel", "z"),
            related=tuple(path for path, _, _ in out[:_MOST_SHOWN]),
            message=f"{len(out)} of {len(heights)} heights are outside the travel of z.",
            observed=f"travel {limits}; {listed([f'{name} {number(z)}' for _, name, z in out], 4)}",
            consequence=consequence,
            remedy=("Measure the travel of z; up is positive.",),
        )
        return
    for path, name, z in out:
        yield Problem(
            path=path,
            related=(("travel", "z"),),
            message=f"{name} is outside the travel of z.",
            observed=f"{number(z)}; travel {limits}",
            consequence=consequence,
            remedy=("Measure the height and correct it, or measure the travel again.",),
            suppresses=(("traverse-too-low", ()),),
        )


def _heights(shop: Shop, machine: Machine) -> Iterator[tuple[Path, str, float]]:
    """Yield (path, name, z in mm) of every height that a spindle moves to."""
    yield ("traverse_z",), "traverse_z", machine.traverse_z
    for name in sorted(shop.jobs, key=natural):
        yield ("jobs", name, "seat", "z"), f"the board surface of {name}", shop.jobs[name].seat.z
    for name in sorted(shop.feeders, key=natural):
        pick = shop.feeders[name].pick
        if pick:
            yield ("feeders", name, "pick", "z"), f"the pick of feeder {name}", pick.z
    for name in sorted(machine.rack, key=natural):
        yield ("rack", name, "z"), f"rack place {name}", machine.rack[name].z
    for name in sorted(machine.feeder_rows, key=natural):
        z = machine.feeder_rows[name].first.z
        yield ("feeder_rows", name, "first", "z"), f"slot 1 of row {name}", z
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        if camera.aim == "up" and camera.position:
            yield ("cameras", name, "position", "z"), f"camera {name}", camera.position.z


class _Beyond(NamedTuple):
    """A place that the head, or every spindle, cannot reach along one axis."""

    path: Path
    name: str
    axis: str
    why: str


def _outside(axis: str, places: list[_Beyond]) -> Problem:
    first, several = places[0], len(places) > 1
    names = listed([place.name for place in places], _MOST_SHOWN)
    paths = tuple(place.path for place in places[:_MOST_SHOWN])
    return Problem(
        path=("travel", axis) if several else first.path,
        related=paths if several else (("travel", axis),),
        message=f"{names} {'are' if several else 'is'} outside the travel of {axis}.",
        observed=f"{first.name}: {first.why}" if several else first.why,
        consequence=f"The head would run against the end of {axis} and lose its position.",
        remedy=(
            f"Measure the travel of {axis} and the offsets of the spindles."
            if several
            else "Measure the place and correct it, or measure the travel and the offsets again.",
        ),
    )


def _slots_outside(shop: Shop, machine: Machine) -> Iterator[tuple[_Beyond, bool]]:
    """Yield rows with a first or last slot that no spindle reaches; whether a feeder is in it."""
    for name in sorted(machine.feeder_rows, key=natural):
        row = machine.feeder_rows[name]
        used = {feeder.slot for feeder in shop.feeders.values() if feeder.row == name}
        for slot, field in ((1, "first"), (row.slots, "slots")):
            x, y = row.first.x + (slot - 1) * row.step.x, row.first.y + (slot - 1) * row.step.y
            if found := beyond_spindles(machine, x, y):
                path = ("feeder_rows", name, field)
                yield _Beyond(path, f"slot {slot} of row {name}", *found), slot in used
                break


def _free_slot(place: _Beyond) -> Problem:
    row = place.path[:2]
    return Problem(
        path=place.path,
        related=((*row, "step"), (*row, "first", place.axis), ("travel", place.axis)),
        message=f"{place.name} is outside the travel of {place.axis}.",
        observed=place.why,
        consequence="No feeder is there now, but the row may be described wrongly.",
        remedy=("Measure the row again: its first slot, its step and its slots.",),
        level=Level.WARNING,
    )


def _untouched(machine: Machine) -> Iterator[Problem]:
    """Yield obstacles and rims that nothing can touch."""
    tops: list[tuple[Path, str, float]] = []
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        tops.append((("obstacles", name, "top_z"), f"obstacle {name}", obstacle.top_z))
        if axis := obstacle_beyond(machine, obstacle):
            extent, reach = (obstacle.x if axis == "x" else obstacle.y), reached(machine, axis)
            observed = f"{axis} {span(extent)}; reach {span(reach)}"
            yield _untouched_problem(("obstacles", name, axis), f"obstacle {name}", axis, observed)
    if machine.reject_bin and machine.reject_bin.top_z is not None:
        rim = machine.reject_bin.top_z
        tops.append((("reject_bin", "top_z"), "the rim of the reject bin", rim))
    for path, name, top in tops:
        if top < machine.travel.z[0]:
            observed = f"top {number(top)}; travel {span(machine.travel.z)}"
            yield _untouched_problem(path, name, "z", observed)


def _untouched_problem(path: Path, name: str, axis: str, observed: str) -> Problem:
    return Problem(
        path=path,
        related=(("travel", axis),),
        message=f"{name} is out of reach along {axis}.",
        observed=observed,
        consequence="If it is elsewhere, moves across it are not checked.",
        remedy=("Measure where it is, or remove it.",),
        level=Level.WARNING,
    )


def _beyond_travel(machine: Machine) -> Iterator[_Beyond]:
    for path, name, x, y in _head_places(machine):
        if found := beyond_head(machine, x, y):
            yield _Beyond((*path, found[0]), name, *found)
    for path, name, point in _spindle_places(machine):
        if found := beyond_spindles(machine, point.x, point.y):
            yield _Beyond((*path, found[0]), name, *found)
    yield from _own_places(machine)
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        if place.approach and not beyond_spindles(machine, place.x, place.y):
            start = _start(place, place.approach.direction, place.approach.distance_mm)
            if found := beyond_spindles(machine, *start):
                path = ("rack", name, "approach")
                yield _Beyond(path, f"the start of the move into rack place {name}", *found)


def _own_places(machine: Machine) -> Iterator[_Beyond]:
    """Yield spindles that cannot reach the rack place of the nozzle that they carry."""
    for name in sorted(machine.spindles, key=natural):
        spindle = machine.spindles[name]
        places = {
            k: p for k, p in machine.rack.items() if spindle.carries and p.nozzle == spindle.carries
        }
        for key, place in places.items():
            offset = spindle.offset_from_camera
            found = beyond_head(machine, place.x - offset.x, place.y - offset.y)
            if found and not beyond_spindles(machine, place.x, place.y):
                path = ("spindles", name, "offset_from_camera", found[0])
                what = f"rack place {key}, seen from spindle {name},"
                yield _Beyond(path, what, found[0], f"head at {found[1]}")


def _start(end: Point, towards: Direction, distance: float) -> tuple[float, float]:
    """Return the start of the last move to a place."""
    back = -distance if towards[0] == "+" else distance
    return end.x + (back if towards[1] == "x" else 0), end.y + (back if towards[1] == "y" else 0)


def _head_places(machine: Machine) -> Iterator[tuple[Path, str, float, float]]:
    if machine.rest:
        yield ("rest",), "the rest position", machine.rest.x, machine.rest.y
    if machine.home_mark:
        yield ("home_mark",), "the home mark", machine.home_mark.x, machine.home_mark.y


def _spindle_places(machine: Machine) -> Iterator[tuple[Path, str, Point]]:
    if machine.reject_bin:
        yield ("reject_bin",), "the reject bin", machine.reject_bin
    for name in sorted(machine.rack, key=natural):
        yield ("rack", name), f"rack place {name}", machine.rack[name]
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        if camera.aim == "up" and camera.position:
            yield ("cameras", name, "position"), f"camera {name}", camera.position
