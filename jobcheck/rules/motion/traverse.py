"""The rule about the travelling height: parts carried over boards and fixtures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.supply import boards_per_panel
from jobcheck.facts.travel import is_inside, obstacle_beyond
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.motion import clearance_below
from jobcheck.wording import count, number

_MOST_SHOWN = 4
"""Most related places of a finding."""


class _Tall(NamedTuple):
    """A part by its height in mm; without a name it is the bare nozzle."""

    height: float
    part: str


class _Pass(NamedTuple):
    """A part carried over something: the top below and its path, the room between in mm.

    `is_certain` says that each such part passes there, whatever way the head takes.
    """

    clearance: float
    carried: _Tall
    below: str
    top: float
    path: Path
    is_certain: bool = False


def _tallest_first(facts: Facts, job: str) -> list[_Tall]:
    """Return the parts of a job, tallest first; parts of unknown height are left out."""
    parts = facts.usage.placements_by_part[job]
    known = [_Tall(height, part) for part in parts if (height := facts.shop.height_of(part))]
    return sorted(known, key=lambda tall: (-tall.height, natural(tall.part)))


def _over_boards(facts: Facts, traverse_z: float) -> Iterator[_Pass]:
    """Yield, job by job, the tallest part over the tallest one that may already be placed.

    The bare board below its own place is passed for certain.
    """
    for job in sorted(facts.shop.jobs, key=natural):
        tallest = _tallest_first(facts, job)
        if not tallest:
            continue
        carried, seat_z = tallest[0], facts.shop.jobs[job].seat.z
        placed = facts.usage.placements_by_part[job][carried.part]
        is_alone = len(placed) * boards_per_panel(facts.shop.jobs[job]) == 1
        below = (tallest[1] if len(tallest) > 1 else _Tall(0, "")) if is_alone else carried
        top, what = seat_z + below.height, f"a placed {below.part}" if below.part else "the board"
        yield _Pass(
            clearance_below(traverse_z, carried.height, top),
            carried,
            f"{what} in {job}",
            top,
            ("jobs", job, "seat", "z"),
            clearance_below(traverse_z, carried.height, seat_z) < -1e-9,
        )


def _over_own_tape(facts: Facts, traverse_z: float) -> Iterator[_Pass]:
    """Yield each placed part over its own tape, out of which it is lifted for certain."""
    placed = facts.usage.placed_parts()
    for name in sorted(facts.shop.feeders, key=natural):
        feeder = facts.shop.feeders[name]
        height = facts.shop.height_of(feeder.part)
        is_tape = feeder.carrier in ("tape", "cut-tape") and feeder.part in placed
        if feeder.pick and feeder.part and height and is_tape:
            clearance = clearance_below(traverse_z, height, feeder.pick.z)
            path = ("feeders", name, "pick", "z")
            below = f"its own tape in {name}"
            yield _Pass(clearance, _Tall(height, feeder.part), below, feeder.pick.z, path, True)


def _over_fixtures(facts: Facts, machine: Machine) -> Iterator[tuple[Path, str, float, bool]]:
    """Yield (path, name, top in mm, whether it is passed for certain) of fixtures."""
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        nozzle = machine.nozzles.get(place.nozzle) if place.nozzle else None
        if nozzle and nozzle.length_mm is not None:
            top = place.z + nozzle.length_mm
            yield ("rack", name, "z"), f"{place.nozzle} in rack place {name}", top, False
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        if camera.aim == "up" and camera.position:
            yield ("cameras", name, "position", "z"), f"camera {name}", camera.position.z, False
    for name in sorted(facts.shop.feeders, key=natural):
        feeder = facts.shop.feeders[name]
        if feeder.pick:
            yield ("feeders", name, "pick", "z"), f"feeder {name}", feeder.pick.z, False
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        if obstacle_beyond(machine, obstacle) is None:
            yield ("obstacles", name, "top_z"), f"obstacle {name}", obstacle.top_z, False
    if machine.reject_bin and machine.reject_bin.top_z is not None:
        path = ("reject_bin", "top_z")
        yield path, "the rim of the reject bin", machine.reject_bin.top_z, True


def _passes(facts: Facts, machine: Machine) -> list[_Pass]:
    """Return all that is carried over something, the least room first."""
    z = machine.traverse_z
    tallest = [tall[0] for job in facts.shop.jobs if (tall := _tallest_first(facts, job))]
    carried = max(tallest, default=_Tall(0.0, ""))
    found = [
        *_over_boards(facts, z),
        *_over_own_tape(facts, z),
        *(
            _Pass(clearance_below(z, carried.height, top), carried, name, top, path, is_certain)
            for path, name, top, is_certain in _over_fixtures(facts, machine)
        ),
    ]
    found.sort(key=lambda entry: (not _strikes(entry), entry.clearance))
    worst: dict[Path, _Pass] = {}
    for entry in found:
        worst.setdefault(entry.path, entry)
    return [entry for entry in worst.values() if _is_checked(facts.shop, machine, entry.path)]


def _strikes(entry: _Pass) -> bool:
    return entry.is_certain and entry.clearance < -1e-9


def _is_checked(shop: Shop, machine: Machine, path: Path) -> bool:
    """Return whether a height is in the travel; outside-travel reports the others."""
    if path[0] in ("obstacles", "reject_bin"):
        return True
    z = shop.plain_at(path)
    return isinstance(z, float | int) and is_inside(machine.travel.z, z)


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="rack.p2.z: -16.7",
    passes="rack.p2.z: -16.75",
)
def traverse_too_low(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The tallest part is carried at `traverse_z` too low over something.

    It checks placed parts (if a job places one part of that height, the next lower one), parked
    nozzles, feeders, upward cameras, obstacles and the rim of the reject bin. The room must be
    `limits.traverse_clearance_mm`. It is an error only if the room is below 0 over a thing that the
    part must pass: the bare board, its own tape, the rim of the bin. All else is a warning: a move
    may go another way.

    On the machine: the carried part sweeps placed parts away, or is knocked off the nozzle.

    To do: raise `traverse_z`, or correct the height that is wrong.

    Source: clearance = traverse_z - carried height - top, arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    is_inside_travel = is_inside(machine.travel.z, machine.traverse_z)
    passes = _passes(look.facts, machine) if is_inside_travel else []
    least = look.limits.traverse_clearance_mm - 1e-9
    tight = [entry for entry in passes if entry.clearance < least]
    if tight:
        yield _too_low(look, machine.traverse_z, tight, len(passes))
    unknown = sorted({p.nozzle for p in machine.rack.values() if p.nozzle}, key=natural)
    known = machine.nozzles
    unknown = [name for name in unknown if name in known and known[name].length_mm is None]
    if machine.reject_bin and machine.reject_bin.top_z is None:
        yield lacking("the rim of the reject bin", "top_z", [("reject_bin", "top_z")])
    if unknown:
        concerns = f"{count(len(unknown), 'parked nozzle')} against traverse_z"
        yield lacking(concerns, "length_mm", [("nozzles", name, "length_mm") for name in unknown])


def _too_low(look: Inspection, traverse_z: float, tight: list[_Pass], passed: int) -> Problem:
    worst, shop = tight[0], look.shop
    part = worst.carried.part
    paths: list[Path] = [entry.path for entry in tight[:_MOST_SHOWN]]
    paths += [shop.height_path(part)] if part else []
    is_shared = len(tight) > 1 or 2 * len(tight) > passed or worst.path[0] == "jobs"
    paths = [("traverse_z",), *paths] if is_shared else [*paths, ("traverse_z",)]
    first, *others = _changed_first(look, paths)
    room = number(round(abs(worst.clearance), 4))
    what, over = part or "the bare nozzle", worst.below
    more = f", and over {len(tight) - 1} more" if len(tight) > 1 else ""
    return Problem(
        path=first,
        related=tuple(others),
        message=f"traverse_z {number(traverse_z)} is {room} mm too low to carry {what} over "
        f"{over}{more}."
        if worst.clearance < 0
        else f"traverse_z {number(traverse_z)} leaves {room} mm when {what} is carried over "
        f"{over}{more}.",
        observed=f"top of {over} at {number(round(worst.top, 4))}"
        + (f"; {part} {number(worst.carried.height)} mm tall" if part else "")
        + f"; at least {number(look.limits.traverse_clearance_mm)} mm of room is wanted",
        consequence=_consequence(worst, what),
        remedy=("Raise traverse_z, or correct the height that is wrong.",),
        level=Level.ERROR if _strikes(worst) else Level.WARNING,
    )


def _consequence(worst: _Pass, what: str) -> str:
    if _strikes(worst):
        return f"{what} would strike {worst.below}."
    if worst.clearance < 0:
        return f"If a move crosses it, {what} would strike {worst.below}."
    return f"If a board bends or a part hangs askew, {what} would strike {worst.below}."


def _changed_first(look: Inspection, paths: list[Path]) -> list[Path]:
    """Return paths, those first that have another value in the known-good record."""
    good = look.good
    if good is None:
        return paths
    return sorted(paths, key=lambda path: good.plain_at(path) in (None, look.shop.plain_at(path)))
