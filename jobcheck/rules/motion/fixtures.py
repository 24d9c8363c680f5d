"""The rule about fixtures that are described in one place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations
from math import hypot
from typing import NamedTuple

from jobcheck.facts.frames import frames_of
from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.bodies import Body, box_of, gap
from jobcheck.trade.plane import Point
from jobcheck.wording import listed, number

_TOUCH_MM = 0.2
"""Overlap that two measured places may have by chance."""

_NEVER = frozenset(
    {(kind, kind) for kind in ("board", "camera", "obstacle")}
    | {("obstacle", kind) for kind in ("board", "bin", "rack", "home")}
)
"""Kinds that may share a place: boards follow each other, two cameras may look through a beam
splitter, an obstacle may be a clamp or a plate."""

_SO = {
    ("bin", "board"): "Failed parts would be dropped onto the board.",
    ("bin", "camera"): "Failed parts would be dropped onto the camera.",
    ("board", "camera"): "The board would cover the camera.",
    ("board", "home"): "While a board is in, it covers the home mark.",
    ("board", "rack"): "The head would put a nozzle down onto the board.",
    ("board", "slot"): "The nozzle would pick at the place of the board.",
    ("rack", "rack"): "The head would put one nozzle down onto the other.",
    ("slot", "slot"): "The nozzle would pick from the other feeder.",
}
"""Consequences by kinds in alphabetical order."""


class _Thing(NamedTuple):
    """A fixture: its kind, name and path, its outline in mm, and its height in mm if known."""

    kind: str
    name: str
    path: Path
    body: Body
    z: float | None = None


def _boards(shop: Shop) -> Iterator[_Thing]:
    for job in sorted(shop.jobs, key=natural):
        frames = frames_of(shop, job)
        width, height = frames.panel_size
        centre = frames.on_seat((width / 2, height / 2))
        body = Body(centre, width, height, shop.jobs[job].seat.rotation)
        yield _Thing("board", f"the board of {job}", ("jobs", job, "seat"), body)


def _fixtures(machine: Machine) -> Iterator[_Thing]:
    bin_, home = machine.reject_bin, machine.home_mark
    if bin_ is not None:
        length, width = bin_.size_mm or (0.0, 0.0)
        body = Body((bin_.x, bin_.y), length, width)
        yield _Thing("bin", "the reject bin", ("reject_bin",), body)
    if home is not None:
        body = Body((home.x, home.y), home.diameter_mm, home.diameter_mm)
        yield _Thing("home", "the home mark", ("home_mark",), body)
    for name in sorted(machine.cameras, key=natural):
        at = machine.cameras[name].position
        if at is not None:
            path = ("cameras", name, "position")
            yield _Thing("camera", f"camera {name}", path, Body((at.x, at.y), 0.0, 0.0), at.z)
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        nozzle = machine.nozzles.get(place.nozzle) if place.nozzle is not None else None
        tip = nozzle.tip_outer_mm if nozzle else 0.0
        yield _Thing(
            "rack", f"rack place {name}", ("rack", name), Body((place.x, place.y), tip, tip)
        )
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        (left, right), (lower, upper) = obstacle.x, obstacle.y
        body = Body(((left + right) / 2, (lower + upper) / 2), right - left, upper - lower)
        yield _Thing("obstacle", f"obstacle {name}", ("obstacles", name), body, obstacle.top_z)


def _slots(shop: Shop, machine: Machine) -> Iterator[_Thing]:
    """Yield the first and the last slot of each row that has a feeder."""
    taken: dict[str, list[int]] = defaultdict(list)
    for feeder in shop.feeders.values():
        if feeder.row in machine.feeder_rows and feeder.slot is not None:
            taken[feeder.row].append(feeder.slot)
    for name in sorted(taken, key=natural):
        row = machine.feeder_rows[name]
        for slot in sorted({min(taken[name]), max(taken[name])}):
            at = row.first.x + (slot - 1) * row.step.x, row.first.y + (slot - 1) * row.step.y
            path = ("feeder_rows", name, "first")
            yield _Thing("slot", f"slot {slot} of row {name}", path, Body(at, 0, 0), row.first.z)


def _kinds(one: _Thing, other: _Thing) -> tuple[str, str]:
    first, second = sorted((one.kind, other.kind))
    return first, second


def _is_overlap(one: _Thing, other: _Thing) -> bool:
    """Return whether two fixtures are described in one place."""
    kinds = _kinds(one, other)
    if kinds in _NEVER or kinds[::-1] in _NEVER or one.path == other.path:
        return False
    apart = hypot(
        one.body.centre[0] - other.body.centre[0], one.body.centre[1] - other.body.centre[1]
    )
    if kinds == ("rack", "rack"):
        return apart == 0 or apart < (one.body.length + other.body.length) / 2
    if "obstacle" in kinds:
        top, place = (one, other) if one.kind == "obstacle" else (other, one)
        if place.z is None or top.z is None or top.z <= place.z:
            return False
    return apart == 0 or gap(one.body, other.body) < -_TOUCH_MM


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="reject_bin: {x: 170, y: 120}",
    passes="reject_bin: {x: 195, y: 120}",
)
def fixtures_overlap(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Two fixtures are described in one place.

    Fixtures are boards on their seats, the reject bin, the home mark, upward cameras, rack places,
    slots with a feeder, and obstacles higher than a camera or slot. It is a warning for an
    obstacle, which may not be solid, and for a board over the home mark. All that overlaps one
    fixture is one finding.

    On the machine: a nozzle goes down where another thing is; parts are dropped onto it.

    To do: look where both are and measure them again; copied values are the usual cause.

    Source: two things are not in one place; round tips need half the sum of their diameters between
    their axes; arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    if machine.reject_bin and machine.reject_bin.size_mm is None:
        concerns = "the opening of the reject bin against other fixtures"
        yield lacking(concerns, "size_mm", [("reject_bin", "size_mm")])
    things = [*_boards(look.shop), *_fixtures(machine), *_slots(look.shop, machine)]
    pairs: dict[int, set[int]] = defaultdict(set)
    for one, other in combinations(range(len(things)), 2):
        if _is_overlap(things[one], things[other]):
            pairs[one].add(other)
            pairs[other].add(one)
    while any(pairs.values()):
        most = max(pairs, key=lambda at: (len(pairs[at]), _is_changed(look, things[at].path), at))
        others = sorted(pairs.pop(most))
        for other in others:
            pairs[other].discard(most)
        yield _overlap(things[most], [things[other] for other in others])


def _is_changed(look: Inspection, path: Path) -> bool:
    return look.good is not None and look.good.plain_at(path) != look.shop.plain_at(path)


def _overlap(thing: _Thing, others: list[_Thing]) -> Problem:
    kinds = {_kinds(thing, other) for other in others}
    is_certain = any("obstacle" not in pair and pair != ("board", "home") for pair in kinds)
    first = _kinds(thing, others[0])
    default = "If the obstacle is solid, the nozzle strikes it." if "obstacle" in first else ""
    return Problem(
        path=thing.path,
        related=tuple(dict.fromkeys(other.path for other in others[:5])),
        message=f"{thing.name} is in the same place as {joined([o.name for o in others[:4]])}"
        f"{f' and {len(others) - 4} more' if len(others) > 4 else ''}.",
        observed="; ".join([_where(thing), listed([_where(other) for other in others], 3)]),
        consequence=_SO.get(first, default) or "The nozzle would go down onto another fixture.",
        remedy=("Look where they are and measure them again.",),
        level=None if is_certain else Level.WARNING,
    )


def _where(thing: _Thing) -> str:
    def shown(at: Point) -> str:
        return f"{number(round(at[0], 2))}, {number(round(at[1], 2))}"

    if thing.kind in ("board", "obstacle") or (thing.kind == "bin" and thing.body.length):
        left, lower, right, upper = box_of(thing.body)
        return f"{thing.name} from {shown((left, lower))} to {shown((right, upper))}"
    return f"{thing.name} at {shown(thing.body.centre)}"
