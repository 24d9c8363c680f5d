"""Rules about heights and places: what stands in the way, and what lies beyond the travel."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.travel import beyond_head, beyond_spindles, is_inside, span
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Direction, Machine, Obstacle
from jobcheck.schema.values import Point
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.motion import clearance_below
from jobcheck.wording import listed, number

_MOST_SHOWN = 4
"""Places that a finding shows; the count tells of the rest."""


class _Tight(NamedTuple):
    """How one job's tallest parts pass each other: one placed, one carried over it; mm."""

    clearance: float
    job: str
    placed: str
    carried: str


def _height_path(shop: Shop, part: str) -> Path:
    """Return where the height of a part is written."""
    if shop.parts[part].height_mm is not None:
        return ("parts", part, "height_mm")
    return ("outlines", shop.parts[part].outline, "height_mm")


def _tallest_first(facts: Facts, job: str) -> list[tuple[float, str]]:
    """Return (height, part) of what a job places, tallest first; unknown heights are left out."""
    parts = facts.usage.placements_by_part[job]
    known = [(height, part) for part in parts if (height := facts.shop.height_of(part)) is not None]
    return sorted(known, key=lambda entry: (-entry[0], natural(entry[1])))


def _boards(shop: Shop, job: str) -> int:
    panel = shop.jobs[job].panel
    return panel.columns * panel.rows - len(set(panel.skip)) if panel else 1


def _tightest(facts: Facts, job: str, traverse_z: float) -> _Tight | None:
    """Return how the tallest part passes over the tallest that may already be placed."""
    tallest = _tallest_first(facts, job)
    if not tallest:
        return None
    height, part = tallest[0]
    is_alone = len(facts.usage.placements_by_part[job][part]) * _boards(facts.shop, job) == 1
    below = tallest[1] if is_alone and len(tallest) > 1 else (0.0, "") if is_alone else tallest[0]
    top = facts.shop.jobs[job].seat.z + below[0]
    return _Tight(clearance_below(traverse_z, height, top), job, below[1], part)


def _changed_first(look: Inspection, paths: list[Path]) -> list[Path]:
    """Return values with those in front that the last known-good shop has otherwise."""
    good = look.good
    if good is None:
        return paths
    return sorted(paths, key=lambda path: good.plain_at(path) in (None, look.shop.plain_at(path)))


@rule(
    Level.ERROR,
    fails="jobs.first-board.seat.z: -5.9\ncameras.head.mm_per_pixel.at_z: -6",
    passes="jobs.first-board.seat.z: -6\ncameras.head.mm_per_pixel.at_z: -6",
)
def traverse_too_low(look: Inspection) -> Iterator[Problem]:
    """The tallest part, carried at `traverse_z`, does not clear the tallest one placed.

    `limits.traverse_clearance_mm` is the room that must be left. Where a job places a single part
    of that height, the next lower one is what it passes over.

    On the machine: the carried part strikes placed ones and sweeps them off the board.

    To do: raise `traverse_z`, or correct the height or the seat that is wrong.

    Source: clearance = traverse_z - carried height - (seat.z + placed height), arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    found = [_tightest(look.facts, job, machine.traverse_z) for job in sorted(look.shop.jobs)]
    least = look.limits.traverse_clearance_mm
    tight = sorted(
        (entry for entry in found if entry and entry.clearance < least - 1e-9),
        key=lambda entry: (entry.clearance, natural(entry.job)),
    )
    if tight:
        yield _too_low(look, machine.traverse_z, tight)


def _too_low(look: Inspection, traverse_z: float, tight: list[_Tight]) -> Problem:
    worst, shop = tight[0], look.shop
    seat = ("jobs", worst.job, "seat", "z")
    parts = dict.fromkeys(part for part in (worst.placed, worst.carried) if part)
    first, *others = _changed_first(
        look, [("traverse_z",), seat, *(_height_path(shop, part) for part in parts)]
    )
    more = f" ({len(tight) - 1} more jobs like it)" if len(tight) > 1 else ""
    below = worst.placed or "the board"
    return Problem(
        path=first,
        related=tuple(others),
        message=f"traverse_z {number(traverse_z)} {_room(worst.clearance)} {worst.carried}, carried "
        f"over {below} in {worst.job}{more}.",
        observed=f"board surface {number(shop.jobs[worst.job].seat.z)}"
        + "".join(f"; {part} {number(shop.height_of(part) or 0)} mm tall" for part in parts),
        consequence=_strikes(worst.carried, below, worst.clearance),
        remedy=("Raise traverse_z, or correct the height or the seat that is wrong.",),
        suppresses=(("carried-part-strikes-fixture", ()), ("obstacle-in-traverse", ())),
    )


def _room(clearance: float) -> str:
    """Say how much room something has, to be followed by what has it."""
    room = number(round(abs(clearance), 4))
    return f"leaves {room} mm under" if clearance >= 0 else f"lacks {room} mm for"


def _strikes(what: str, below: str, clearance: float) -> str:
    if clearance < 0:
        return f"{what} would strike {below} and sweep away what is as tall."
    return f"{what} would strike {below} where a board bends or a part hangs askew."


@rule(
    Level.WARNING,
    fails="obstacles.clamp: {x: [140, 150], y: [110, 130], top_z: -4}",
    passes="obstacles.clamp: {x: [140, 150], y: [110, 130], top_z: -4.75}",
)
def obstacle_in_traverse(look: Inspection) -> Iterator[Problem]:
    """An obstacle or the reject bin's rim reaches into the height at which parts are carried.

    On the machine: the carried part, or the bare nozzle, strikes it wherever a move crosses it.

    To do: raise `traverse_z`, take the obstacle out of the way, or correct its height.

    Source: clearance = traverse_z - carried height - top, arithmetic.
    """
    machine = look.shop.machine
    tops = list(_tops(machine)) if machine else []
    if machine is None or not tops:
        return
    carried = max(
        (tall[0] for job in sorted(look.shop.jobs) if (tall := _tallest_first(look.facts, job))),
        default=(0.0, ""),
    )
    tight = [
        (clearance, path, name, top)
        for path, name, top in tops
        if (clearance := clearance_below(machine.traverse_z, carried[0], top))
        < look.limits.traverse_clearance_mm - 1e-9
    ]
    if tight:
        yield _in_the_way(look, machine, carried, tight)


def _in_the_way(
    look: Inspection,
    machine: Machine,
    carried: tuple[float, str],
    tight: list[tuple[float, Path, str, float]],
) -> Problem:
    """Tell of all that stands in the way at once; what several share is `traverse_z`."""
    clearance, path, name, top = min(tight, key=lambda entry: entry[0])
    who = f"{carried[1]}, {number(carried[0])} mm tall," if carried[1] else "the bare nozzle"
    paths = [path] if len(tight) == 1 else []
    paths += [("traverse_z",), *(entry[1] for entry in tight if entry[1] not in paths)]
    first, *others = _changed_first(look, paths)
    is_bare = top > machine.traverse_z or not carried[1]
    more = f" ({len(tight) - 1} more like it)" if len(tight) > 1 else ""
    return Problem(
        path=first,
        related=tuple(others[:_MOST_SHOWN]),
        message=f"{name} {_room(clearance)} {who} carried over it at traverse_z{more}.",
        observed=f"top at {number(top)}; traverse_z {number(machine.traverse_z)}",
        consequence="Where a move crosses it, "
        + _strikes("the bare nozzle" if is_bare else carried[1], "it", clearance),
        remedy=("Raise traverse_z, take it out of the way, or correct its height.",),
    )


def _tops(machine: Machine) -> Iterator[tuple[Path, str, float]]:
    """Yield (path, name, height of its top in mm) of what stands in the travel."""
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        if _axis_out_of_reach(machine, obstacle) is None:
            yield ("obstacles", name, "top_z"), f"obstacle {name}", obstacle.top_z
    if machine.reject_bin and machine.reject_bin.top_z is not None:
        yield ("reject_bin", "top_z"), "the rim of the reject bin", machine.reject_bin.top_z


@rule(
    Level.ERROR,
    fails="rack.p2.z: -31",
    passes="rack.p2.z: -30",
)
def height_outside_travel(look: Inspection) -> Iterator[Problem]:
    """A board surface, pick, rack place, camera or `traverse_z` lies outside the travel of z.

    Where most heights do, the travel is taken for wrong, and all are one finding.

    On the machine: the spindle runs against the end of its axis and loses its height, or the
    controller stops the run.

    To do: correct the height, or measure the travel anew.

    Source: z of a move is the height of the nozzle's lower end, as travel.z is; arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    heights = list(_heights(look.shop, machine))
    out = [entry for entry in heights if not is_inside(machine.travel.z, entry[2])]
    limits = span(machine.travel.z)
    if len(out) > 2 and 2 * len(out) > len(heights):
        yield Problem(
            path=("travel", "z"),
            related=tuple(path for path, _, _ in out[:_MOST_SHOWN]),
            message=f"{len(out)} of {len(heights)} heights lie outside the travel of z.",
            observed=f"travel {limits}; {listed([f'{name} {number(z)}' for _, name, z in out], 4)}",
            consequence="The spindle would run against the end of z and lose its height.",
            remedy=("Look how far z goes, and which way it counts: up is positive.",),
            suppresses=(("traverse-too-low", ("traverse_z",)),),
        )
        return
    for path, name, z in out:
        yield Problem(
            path=path,
            related=(("travel", "z"),),
            message=f"{name} lies outside the travel of z.",
            observed=f"{number(z)}; travel {limits}",
            consequence="The spindle would run against the end of z and lose its height.",
            remedy=("Look how high it is; correct it, or measure the travel anew.",),
            suppresses=tuple(("traverse-too-low", told) for told in (path, ("traverse_z",))),
        )


def _heights(shop: Shop, machine: Machine) -> Iterator[tuple[Path, str, float]]:
    """Yield (path, name, z in mm) of every height that a spindle goes to."""
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
    """A place that the head, or every spindle, is kept from by one axis."""

    path: Path
    name: str
    axis: str
    why: str


@rule(
    Level.ERROR,
    fails="reject_bin.x: 380",
    passes="reject_bin.x: 368.8",
)
def place_outside_travel(look: Inspection) -> Iterator[Problem]:
    """A rack place, the reject bin, home mark, rest or upward camera lies beyond the travel.

    A spindle goes there less its offset from the camera; the home mark and rest are the head's own
    positions. A rack place counts with the move into it. Several beyond one axis are one finding.

    On the machine: the head runs against the end of its axis and loses its position, or the
    controller stops the run.

    To do: correct the place, or measure the travel and the spindles' offsets anew.

    Source: head position = place - offset_from_camera, arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not look.shop.understood(("spindles",)):
        return
    by_axis: dict[str, list[_Beyond]] = defaultdict(list)
    for place in _beyond_travel(machine):
        by_axis[place.axis].append(place)
    for axis, places in sorted(by_axis.items()):
        first, several = places[0], len(places) > 1
        names = listed([place.name for place in places], _MOST_SHOWN)
        yield Problem(
            path=("travel", axis) if several else first.path,
            related=tuple(place.path for place in places[:_MOST_SHOWN])
            if several
            else (("travel", axis),),
            message=f"{names} {'lie' if several else 'lies'} beyond the travel of {axis}.",
            observed=f"{first.name}: {first.why}" if several else first.why,
            consequence=f"The head would run against the end of {axis} and lose its position.",
            remedy=(
                "Look where it is; correct it, or measure the travel and the offsets anew."
                if not several
                else f"Look how far {axis} goes and how far the spindles are from the camera.",
            ),
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
    """Return where the last move to a place begins."""
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


@rule(
    Level.NOTE,
    fails="obstacles.post: {x: [440, 450], y: [10, 20], top_z: -10}",
    passes="obstacles.post: {x: [360, 370], y: [10, 20], top_z: -10}",
)
def obstacle_outside_travel(look: Inspection) -> Iterator[Problem]:
    """An obstacle stands where neither head nor spindle ever comes.

    On the machine: nothing; unless it stands elsewhere than described, where it is not looked for.

    To do: correct where it stands, or take it away.

    Source: tool point = head position + offset_from_camera, arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not look.shop.understood(("spindles",)):
        return
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        if axis := _axis_out_of_reach(machine, obstacle):
            stands = obstacle.x if axis == "x" else obstacle.y
            yield Problem(
                path=("obstacles", name, axis),
                related=(("travel", axis),),
                message=f"obstacle {name} stands where nothing ever comes.",
                observed=f"{axis} {span(stands)}; head and spindles reach "
                f"{span(_reached(machine, axis))}",
                consequence="Should it stand elsewhere, moves across it are not looked at.",
                remedy=("Look where it stands and correct it, or take it away.",),
            )


def _axis_out_of_reach(machine: Machine, obstacle: Obstacle) -> str | None:
    """Return the axis along which neither head nor spindles come to an obstacle."""
    for axis, stands in (("x", obstacle.x), ("y", obstacle.y)):
        low, high = _reached(machine, axis)
        if stands[0] > high or stands[1] < low:
            return axis
    return None


def _reached(machine: Machine, axis: str) -> list[float]:
    """Return how far head and spindles reach along one axis, mm."""
    limits = machine.travel.x if axis == "x" else machine.travel.y
    offsets = [0.0]
    for spindle in machine.spindles.values():
        offset = spindle.offset_from_camera
        offsets.append(offset.x if axis == "x" else offset.y)
    return [limits[0] + min(offsets), limits[1] + max(offsets)]
