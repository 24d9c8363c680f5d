"""Rules about sticks, trays and strips: what they hold, how far they reach, where they lie."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.carrying import taken_up, tray_pocket
from jobcheck.facts.frames import Frames
from jobcheck.facts.rows import feeders, point
from jobcheck.facts.travel import beyond_spindles
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
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
def tray_count_contradicts_pockets(look: Inspection) -> Iterator[Problem]:
    """A tray is said to hold more parts than it has pockets left, or its next pocket is none.

    On the machine: the nozzle goes on to where no pocket is, or to pockets that are empty.

    To do: look which pocket is next and count what is left.

    Source: pockets left = columns × rows - next + 1, arithmetic.
    """
    for name, feeder in feeders(look.shop):
        tray = feeder.tray
        if tray is None or feeder.carrier != "tray":
            continue
        pockets = tray.columns * tray.rows
        left = pockets - tray.next_pocket + 1
        grid = f"{tray.columns} × {tray.rows} is {pockets} pockets"
        path: Path
        if left < 0:
            path, says = ("tray", "next_pocket"), f"has no pocket {tray.next_pocket}: {grid}"
        elif feeder.remaining is not None and feeder.remaining > left:
            path = ("remaining",)
            held = count(feeder.remaining, "part")
            says = f"holds {held}, but has {count(left, 'pocket')} left of {pockets}"
        else:
            continue
        yield Problem(
            path=("feeders", name, *path),
            related=(("feeders", name, "tray"),),
            message=f"tray {name} {says}.",
            observed=f"next_pocket {tray.next_pocket}, remaining {feeder.remaining}; {grid}",
            consequence=f"The nozzle would go to empty pockets, or beyond the tray, for {feeder.part}.",
            remedy=("Look which pocket is next, and count what is left.",),
        )


@rule(
    Level.ERROR,
    fails=_TRAY + "feeders.f01.tray.rows: 20\nfeeders.f01.remaining: 80",
    passes=_TRAY + "feeders.f01.tray.rows: 17\nfeeders.f01.remaining: 68\nfeeders.f01.pick.y: 133",
)
def tray_reaches_beyond_travel(look: Inspection) -> Iterator[Problem]:
    """The last pockets of a tray lie where no spindle gets within the travel.

    On the machine: the run goes well until the tray is half empty; then the head runs against the
    end of its axis and loses its position, or the controller stops.

    To do: move the tray, or correct its pick, pitch, columns or rows.

    Source: pocket = pick of pocket 1 + steps × pitch; head position = pocket -
    offset_from_camera; arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not look.shop.understood(("spindles",)):
        return
    for name, feeder in feeders(look.shop):
        tray, pick = feeder.tray, feeder.pick
        if tray is None or pick is None or feeder.carrier != "tray":
            continue
        if beyond_spindles(machine, pick.x, pick.y):
            continue
        columns, last = tray.columns, tray.columns * tray.rows
        for pocket in (last, columns, last - columns + 1):
            at = tray_pocket(feeder, pocket)
            # Not validated: what is too large to be a position lies outside as well.
            why = beyond_spindles(machine, *at) if at else None
            if at and why:
                yield Problem(
                    path=("feeders", name, "tray"),
                    related=(("feeders", name, "pick"), ("travel", why[0])),
                    message=f"pocket {pocket} of tray {name} lies outside the travel of {why[0]}.",
                    observed=f"{why[1]}; {columns} × {tray.rows} pockets from {point(pick.x, pick.y)}",
                    consequence=f"The head would run against the end of {why[0]} before the tray of "
                    f"{feeder.part} is empty.",
                    remedy=("Move the tray, or correct its pick, pitch, columns or rows.",),
                )
                break


@rule(
    Level.WARNING,
    fails=_STICK + "feeders.f01.remaining: 300",
    passes=_STICK + "feeders.f01.remaining: 235",
)
def stick_longer_than_made(look: Inspection) -> Iterator[Problem]:
    """A stick is said to hold more parts than a stick is long.

    On the machine: the stick runs empty before the count says so, or the pitch is wrong and the
    parts do not lie where they are picked.

    To do: count what is in the stick; measure from part to part.

    Source: parts × pitch against `limits.stick_mm`, common practice, no published source.
    """
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
                consequence=f"It would run empty of {feeder.part} before its count says so.",
                remedy=("Count what is in the stick, and measure from part to part.",),
            )


# where carriers lie

_TOUCH_MM = 0.2
"""Overlap that measured picks may have by chance: strips are laid edge to edge."""

_LARGEST_MM = 1e5
"""What is larger or further off does not lie on a machine."""


class _Thing(NamedTuple):
    """Something that stands or lies on the machine: its name, where that is written, its body."""

    name: str
    path: Path
    body: Body
    feeder: str = ""


def _fixture(name: str, path: Path, at: Point, size: Point = (0.0, 0.0)) -> _Thing:
    return _Thing(name, path, Body(at, size[0], size[1]))


def _carriers(shop: Shop) -> Iterator[_Thing]:
    for name, feeder in feeders(shop):
        body = taken_up(shop, name)
        if body is not None:
            field = "extent" if feeder.extent else "pick"
            kind = "tray" if feeder.carrier == "tray" else "strip"
            if feeder.row is not None:
                kind = "feeder"
            yield _Thing(f"{kind} {name}", ("feeders", name, field), body, name)
        elif feeder.pick is not None:
            at = feeder.pick.x, feeder.pick.y
            yield _fixture(f"the pick of {name}", ("feeders", name, "pick"), at)


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
            yield _fixture(f"camera {name}", path, at, _field(camera))
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
    """A carrier with all that it lies over, and how deep, mm."""

    carrier: _Thing
    others: list[tuple[_Thing, float]]


@rule(
    Level.ERROR,
    fails=_TRAY + "feeders.f01.tray.columns: 12\nfeeders.f01.remaining: 120",
    passes=_TRAY + "feeders.f01.tray.columns: 9\nfeeders.f01.remaining: 90",
)
def carrier_lies_over(look: Inspection) -> Iterator[Problem]:
    """A strip or tray lies over another one, a board, a camera, the rack or an obstacle.

    What it takes up is its `extent`; where that is not given, a tray's pockets, or a strip from
    its pick back against the feed as far as there are parts.

    On the machine: one of the two is elsewhere than described; the nozzle comes down on what
    stands there.

    To do: look where the carrier lies; correct its pick, pitch, count or extent.

    Source: two things cannot lie in one place; a strip's edges by EIA-481-D Tables 2 and 3 (E1, F).
    """
    machine, shop = look.shop.machine, look.shop
    if machine is None:
        return
    things = [*_carriers(shop), *_fixtures(shop, machine)]
    things = [thing for thing in things if _is_near(thing.body)]
    for over in _overlaps(things):
        yield _lies_over(shop, over)


def _is_near(body: Body) -> bool:
    return all(abs(edge) < _LARGEST_MM for edge in box_of(body))


def _overlaps(things: list[_Thing]) -> list[_Over]:
    """Return the carriers that lie over something, each pair under the one with most of them."""
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


def _lies_over(shop: Shop, over: _Over) -> Problem:
    carrier, others = over.carrier, over.others
    left, lower, right, upper = (round(edge, 2) for edge in box_of(carrier.body))
    depth = max(depth for _, depth in others)
    deep = f", by up to {number(round(depth, 2))} mm" if depth > 0 else ""
    return Problem(
        path=carrier.path,
        related=tuple(thing.path for thing, _ in others[:5]),
        message=f"{carrier.name} lies over {listed([thing.name for thing, _ in others], 4)}.",
        observed=f"it takes x {number(left)} to {number(right)}, y {number(lower)} to "
        f"{number(upper)}{deep}",
        consequence=f"One of them is elsewhere: the nozzle would miss {shop.feeders[carrier.feeder].part}, "
        "or come down on what stands there.",
        remedy=("Look where it lies; correct its pick, pitch, count or extent.",),
    )
