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
    Level.NOTE,
    fails="reject_bin.x: 380",
    passes="reject_bin.x: 368.8",
)
def outside_travel(look: Inspection) -> Iterator[Problem]:
    """A height or a place is outside the travel.

    Heights are those of seats, picks, rack places, slots, upward cameras and `traverse_z`. Places
    are those of the rack with the move into it, reject bin, home mark, rest and upward cameras; a
    spindle goes there less its offset from the camera. Several places outside one axis are one
    finding. An obstacle that nothing can reach is a note.

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
    for axis, places in sorted(by_axis.items()):
        yield _outside(axis, places)
    yield from _obstacles_outside(machine)


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


def _obstacles_outside(machine: Machine) -> Iterator[Problem]:
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        if axis := obstacle_beyond(machine, obstacle):
            yield Problem(
                path=("obstacles", name, axis),
                related=(("travel", axis),),
                message=f"obstacle {name} is outside the reach of head and spindles.",
                observed=f"{axis} {span(obstacle.x if axis == 'x' else obstacle.y)}; reach "
                f"{span(reached(machine, axis))}",
                consequence="If it is elsewhere, moves across it are not checked.",
                remedy=("Measure where it is, or remove it.",),
                level=Level.NOTE,
            )


def _beyond_travel(machine: Machine) -> Iterator[_Beyond]:
    for path, name, x, y in _head_places(machine):
        if found := beyond_head(machine, x, y):
            yield _Beyond((*path, found[0]), name, *found)
    for path, name, point in _spindle_places(machine):
        if found := beyond_spindles(machine, point):
            yield _Beyond((*path, found[0]), name, *found)
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        if place.approach and not beyond_spindles(machine, place):
            start = _start(place, place.approach.direction, place.approach.distance_mm)
            if found := beyond_spindles(machine, start):
                path = ("rack", name, "approach")
                yield _Beyond(path, f"the start of the move into rack place {name}", *found)


def _start(end: Point, towards: Direction, distance: float) -> Point:
    """Return the start of the last move to a place."""
    back = -distance if towards[0] == "+" else distance
    return Point(
        x=end.x + (back if towards[1] == "x" else 0.0),
        y=end.y + (back if towards[1] == "y" else 0.0),
        measured=None,
    )


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
