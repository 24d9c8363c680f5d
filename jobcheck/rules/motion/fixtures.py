"""The rule about fixtures that are described in one place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations
from math import hypot

from jobcheck.facts.fixtures import Fixture, boards, fixed, slots
from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.shop.paths import Path
from jobcheck.trade.bodies import box_of, gap
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


def _kinds(one: Fixture, other: Fixture) -> tuple[str, str]:
    first, second = sorted((one.kind, other.kind))
    return first, second


def _is_overlap(one: Fixture, other: Fixture) -> bool:
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
    things = [*boards(look.shop), *fixed(machine), *slots(look.shop, machine)]
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


def _overlap(thing: Fixture, others: list[Fixture]) -> Problem:
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


def _where(thing: Fixture) -> str:
    def shown(at: Point) -> str:
        return f"{number(round(at[0], 2))}, {number(round(at[1], 2))}"

    if thing.kind in ("board", "obstacle") or (thing.kind == "bin" and thing.body.length):
        left, lower, right, upper = box_of(thing.body)
        return f"{thing.name} from {shown((left, lower))} to {shown((right, upper))}"
    return f"{thing.name} at {shown(thing.body.centre)}"
