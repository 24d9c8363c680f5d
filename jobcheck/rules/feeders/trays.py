"""Rules about sticks, trays and cut tapes: what they hold, how far they reach, where they are."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.carrying import taken_up, tray_pocket
from jobcheck.facts.frames import Frames
from jobcheck.facts.rows import feeders, point
from jobcheck.facts.travel import beyond_spindles, reached
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.feeders.picks import feeder_pick_outside_travel
from jobcheck.rules.feeders.stock import stock_rose
from jobcheck.schema.feeders import Feeder
from jobcheck.schema.machine import Camera, Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.bodies import Body, box_of, close_pairs, gap
from jobcheck.trade.plane import Point
from jobcheck.wording import count, listed, number

_STICK = """
    feeders.f01.tape: ~
    feeders.f01.carrier: stick
    feeders.f01.stick: {pitch_mm: 2.5}
"""
_TRAY = """
    feeders.f01.tape: ~
    feeders.f01.row: ~
    feeders.f01.slot: ~
    feeders.f01.carrier: tray
    feeders.f01.tray: {columns: 4, rows: 10, pitch_mm: [10, 10]}
    feeders.f01.pick: {x: 60, y: 120, z: -18.2, rotation: 0}
"""


@rule(
    Level.WARNING,
    fails=_TRAY + "feeders.f01.tray.next_pocket: 2\nfeeders.f01.remaining: 40",
    passes=_TRAY + "feeders.f01.tray.next_pocket: 2\nfeeders.f01.remaining: 39",
)
def feeder_count_wrong(look: Inspection) -> Iterator[Problem]:
    """A feeder holds more parts than it can, or more than before with no reel loaded since.

    A tray holds as many as it has pockets left, a stick as many as fit in its length.

    On the machine: the carrier runs empty before its count and the nozzle goes to empty pockets, or
    another reel is on the feeder and nobody has looked at it.

    To do: count what is left; look which pocket is next. If a reel was loaded, write its lot and
    the day.

    Source: pockets left = columns × rows - next + 1; stock only falls by placing; arithmetic.
    Parts × pitch against `limits.stick_mm`, common practice, no published source.
    """
    yield from _tray_count_contradicts_pockets(look)
    yield from _stick_count_implausible(look)
    yield from stock_rose(look)


def _tray_count_contradicts_pockets(look: Inspection) -> Iterator[Problem]:
    for name, feeder in feeders(look.shop):
        tray = feeder.tray
        if tray is None or feeder.carrier != "tray":
            continue
        pockets = tray.columns * tray.rows
        left = pockets - tray.next_pocket + 1
        grid = f"{tray.columns} × {tray.rows} is {pockets} pockets"
        path: Path
        if left < 0:
            path, fault = ("tray", "next_pocket"), f"has no pocket {tray.next_pocket}: {grid}"
        elif feeder.remaining is not None and feeder.remaining > left:
            path = ("remaining",)
            held = count(feeder.remaining, "part")
            fault = f"holds {held}, but has {count(left, 'pocket')} left of {pockets}"
        else:
            continue
        yield Problem(
            path=("feeders", name, *path),
            related=(("feeders", name, "tray"),),
            message=f"tray {name} {fault}.",
            observed=f"next_pocket {tray.next_pocket}, remaining {feeder.remaining}; {grid}",
            consequence="The nozzle would go to empty pockets, or beyond the tray, for "
            f"{feeder.part}.",
            remedy=("Look which pocket is next, and count what is left.",),
        )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails=_TRAY + "feeders.f01.tray.rows: 20\nfeeders.f01.remaining: 80",
    passes=_TRAY + "feeders.f01.tray.rows: 17\nfeeders.f01.remaining: 68\nfeeders.f01.pick.y: 133",
)
def feeder_outside_travel(look: Inspection) -> Iterator[Problem]:
    """A pick, the last pockets of a tray, or the end of a cut tape is outside the travel.

    An error for a pick that no spindle reaches, and for the pockets of a tray that are still to be
    picked. A warning for a cut tape, whose pick stays where it is.

    On the machine: the head runs against the end of its axis and loses its position, or the
    controller stops; a cut tape hangs over the edge of the bed.

    To do: move the carrier, correct its pick, pitch and counts, or measure the travel again.

    Source: pocket = pick of pocket 1 + steps × pitch; head position = pocket -
    offset_from_camera; arithmetic. A bed ends with the travel: common practice, no published
    source.
    """
    yield from _carrier_exceeds_travel(look)
    yield from feeder_pick_outside_travel(look)


def _carrier_exceeds_travel(look: Inspection) -> Iterator[Problem]:
    machine = look.shop.machine
    if machine is None or not look.shop.understood(("spindles",)):
        return
    for name, feeder in feeders(look.shop):
        if feeder.pick is None or beyond_spindles(machine, feeder.pick.x, feeder.pick.y):
            continue
        if feeder.carrier == "tray" and feeder.tray is not None:
            problem = _tray_beyond(machine, name, feeder)
        else:
            problem = _cut_tape_beyond(look.shop, machine, name)
        if problem:
            yield problem


def _tray_beyond(machine: Machine, name: str, feeder: Feeder) -> Problem | None:
    if feeder.tray is None or feeder.pick is None:
        return None
    columns, last = feeder.tray.columns, feeder.tray.columns * feeder.tray.rows
    for pocket in (last, columns, last - columns + 1):
        at = tray_pocket(feeder, pocket)
        why = beyond_spindles(machine, *at) if at else None
        if why and pocket >= feeder.tray.next_pocket:
            return Problem(
                path=("feeders", name, "tray"),
                related=(("feeders", name, "pick"), ("travel", why[0])),
                message=f"pocket {pocket} of tray {name} is outside the travel of {why[0]}.",
                observed=f"{why[1]}; {columns} × {feeder.tray.rows} pockets from "
                f"{point(feeder.pick.x, feeder.pick.y)}",
                consequence=f"The head would run against the end of {why[0]} before the tray of "
                f"{feeder.part} is empty.",
                remedy=("Move the tray, or correct its pick, pitch, columns or rows.",),
            )
    return None


def _cut_tape_beyond(shop: Shop, machine: Machine, name: str) -> Problem | None:
    body = taken_up(shop, name)
    if body is None or not _is_near(body):
        return None
    box = box_of(body)
    for axis, ends in (("x", (box[0], box[2])), ("y", (box[1], box[3]))):
        low, high = reached(machine, axis)
        beyond = max(low - ends[0], ends[1] - high)
        if beyond > _TOUCH_MM:
            return Problem(
                path=("feeders", name, "extent" if shop.feeders[name].extent else "remaining"),
                related=(("feeders", name, "pick"), ("travel", axis)),
                level=Level.WARNING,
                message=f"cut tape {name} ends {number(round(beyond, 1))} mm beyond the reach of "
                f"{axis}.",
                observed=f"it takes {axis} {number(round(ends[0], 1))} to "
                f"{number(round(ends[1], 1))}; head and spindles reach {number(low)} to "
                f"{number(high)}",
                consequence="If the bed ends there, the tape hangs over its edge and pulls parts "
                "off their pick.",
                remedy=("Shorten or move the cut tape, or correct its pick and remaining.",),
            )
    return None


def _stick_count_implausible(look: Inspection) -> Iterator[Problem]:
    most = look.limits.stick_mm
    for name, feeder in feeders(look.shop):
        if feeder.carrier != "stick" or feeder.stick is None or feeder.remaining is None:
            continue
        length = feeder.remaining * feeder.stick.pitch_mm
        if length > most:
            yield Problem(
                path=("feeders", name, "remaining"),
                related=(("feeders", name, "stick", "pitch_mm"),),
                message=f"stick {name} would be {number(round(length))} mm long with "
                f"{count(feeder.remaining, 'part')}; sticks are {number(most)} at most.",
                observed=f"remaining {feeder.remaining}, pitch_mm {number(feeder.stick.pitch_mm)}",
                consequence=f"It would run empty of {feeder.part} before its count.",
                remedy=("Count what is in the stick, and measure from part to part.",),
            )


# where carriers are

_TOUCH_MM = 0.2
"""Overlap that measured picks may have by chance: cut tapes are laid edge to edge."""

_LARGEST_MM = 1e5
"""What is larger or further off is not on a machine."""


class _Thing(NamedTuple):
    """Something on the machine: its name, where that is written, its body.

    `assumed_mm` is how much of the body is assumed, on each side.
    """

    name: str
    path: Path
    body: Body
    feeder: str = ""
    assumed_mm: float = 0.0


def _fixture(name: str, path: Path, at: Point, size: Point = (0.0, 0.0)) -> _Thing:
    return _Thing(name, path, Body(at, size[0], size[1]))


def _carriers(shop: Shop) -> Iterator[_Thing]:
    for name, feeder in feeders(shop):
        body = taken_up(shop, name)
        if body is not None:
            field = "extent" if feeder.extent else "pick"
            kind = "tray" if feeder.carrier == "tray" else "cut tape"
            if feeder.row is not None:
                kind = "feeder"
            assumed = 0.0 if feeder.extent else _assumed(feeder)
            yield _Thing(f"{kind} {name}", ("feeders", name, field), body, name, assumed)
        elif feeder.pick is not None:
            at = feeder.pick.x, feeder.pick.y
            yield _fixture(f"the pick of {name}", ("feeders", name, "pick"), at)


def _assumed(feeder: Feeder) -> float:
    """A tray may end at its outer pockets; that a cut tape is straight and whole is assumed."""
    tray = feeder.tray if feeder.carrier == "tray" else None
    return max(map(abs, tray.pitch_mm)) / 2 if tray else math.inf


def _fixtures(shop: Shop, machine: Machine) -> Iterator[_Thing]:
    for job in sorted(shop.jobs, key=natural):
        frames = Frames(shop.jobs[job])
        width, height = frames.panel_size
        centre = frames.on_seat((width / 2, height / 2))
        body = Body(centre, width, height, shop.jobs[job].seat.rotation)
        yield _Thing(f"the board of {job}", ("jobs", job, "seat"), body)
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        if camera.position is not None:
            at = camera.position.x, camera.position.y
            path = ("cameras", name, "position")
            yield _fixture(f"camera {name}", path, at, _field(camera))._replace(assumed_mm=math.inf)
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        yield _fixture(f"rack place {name}", ("rack", name), (place.x, place.y))
    for name in sorted(machine.obstacles, key=natural):
        (left, right), (lower, upper) = machine.obstacles[name].x, machine.obstacles[name].y
        at = (left + right) / 2, (lower + upper) / 2
        yield _fixture(f"obstacle {name}", ("obstacles", name), at, (right - left, upper - lower))
    if machine.reject_bin is not None:
        size = machine.reject_bin.size_mm or [0.0, 0.0]
        at = machine.reject_bin.x, machine.reject_bin.y
        yield _fixture("the reject bin", ("reject_bin",), at, (size[0], size[1]))
    if machine.home_mark is not None:
        mark = machine.home_mark
        size_of = (mark.diameter_mm, mark.diameter_mm)
        yield _fixture("the home mark", ("home_mark",), (mark.x, mark.y), size_of)


def _field(camera: Camera) -> Point:
    """Return the size of a camera's picture on the bed, mm; a point where it is not known."""
    scale, pixels = camera.mm_per_pixel, camera.resolution_px
    return (scale.x * pixels[0], scale.y * pixels[1]) if scale and pixels else (0.0, 0.0)


class _Over(NamedTuple):
    """A carrier with all that it overlaps, and how deep, mm."""

    carrier: _Thing
    others: list[tuple[_Thing, float]]


@rule(
    Level.ERROR,
    Level.WARNING,
    fails=_TRAY + "feeders.f01.tray.columns: 12\nfeeders.f01.remaining: 120",
    passes=_TRAY + "feeders.f01.tray.columns: 9\nfeeders.f01.remaining: 90",
)
def carrier_overlaps(look: Inspection) -> Iterator[Problem]:
    """A cut tape or tray overlaps another one, a board, a camera, the rack or an obstacle.

    It takes up its `extent`; without one, a tray takes up its pockets, and a cut tape goes from
    its pick back against the feed as far as there are parts. An error where nothing is assumed; a
    warning for a cut tape without extent, the edge of a tray and the picture of a camera.

    On the machine: if one of the two is in another place, the nozzle misses the parts or comes
    down on something else.

    To do: look where the carrier is; correct its pick, pitch, count or extent.

    Source: two things cannot be in one place; the edges of a cut tape by EIA-481-D Tables 2 and 3
    (E1, F). That a cut tape is straight and in one piece: common practice, no published source.
    """
    machine, shop = look.shop.machine, look.shop
    if machine is None:
        return
    things = [*_carriers(shop), *_fixtures(shop, machine)]
    things = [thing for thing in things if _is_near(thing.body)]
    for over in _overlaps(things):
        yield _overlap(shop, over)


def _is_near(body: Body) -> bool:
    return all(abs(edge) < _LARGEST_MM for edge in box_of(body))


def _overlaps(things: list[_Thing]) -> list[_Over]:
    """Return the carriers that overlap something, each pair under the one with most of them."""
    pairs: dict[int, dict[int, float]] = defaultdict(dict)
    for one, other in close_pairs([thing.body for thing in things]):
        if not (things[one].body.length and things[one].feeder) and not (
            things[other].body.length and things[other].feeder
        ):
            continue
        depth = -gap(things[one].body, things[other].body)
        if depth > _TOUCH_MM or (depth >= 0 and _is_point(things[one], things[other])):
            pairs[one][other] = pairs[other][one] = depth
    found = []
    carriers = [index for index in pairs if things[index].feeder]
    for index in sorted(carriers, key=lambda index: (-len(pairs[index]), index)):
        others = sorted(pairs[index].items())
        for other, _ in others:
            del pairs[other][index]
        pairs[index] = {}
        if others:
            found.append(_Over(things[index], [(things[i], depth) for i, depth in others]))
    return found


def _is_point(*things: _Thing) -> bool:
    return any(thing.body.length == 0 for thing in things)


def _overlap(shop: Shop, over: _Over) -> Problem:
    carrier, others = over.carrier, over.others
    left, lower, right, upper = (round(edge, 2) for edge in box_of(carrier.body))
    depth = max(depth for _, depth in others)
    deep = f", by up to {number(round(depth, 2))} mm" if depth > 0 else ""
    is_certain = any(
        depth > _TOUCH_MM + max(carrier.assumed_mm, thing.assumed_mm) for thing, depth in others
    )
    return Problem(
        path=carrier.path,
        related=tuple(thing.path for thing, _ in others[:5]),
        level=Level.ERROR if is_certain else Level.WARNING,
        message=f"{carrier.name} overlaps {listed([thing.name for thing, _ in others], 4)}.",
        observed=f"it takes x {number(left)} to {number(right)}, y {number(lower)} to "
        f"{number(upper)}{deep}",
        consequence=f"If one of them is in another place, the nozzle would miss "
        f"{shop.feeders[carrier.feeder].part}, or come down on something else.",
        remedy=("Look where it is; correct its pick, pitch, count or extent.",),
    )
