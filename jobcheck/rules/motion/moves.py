"""Rules about moves: heights along them, turns beyond a spindle's range, how places are approached.

What is carried over boards, obstacles and the bin's rim is looked at in `heights`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Frames, frames_of
from jobcheck.facts.reach import needed_parts
from jobcheck.facts.travel import is_inside, span
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Bottom, Job
from jobcheck.schema.machine import Approach, Machine, Reversal
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.motion import clearance_below, turn_in_range
from jobcheck.trade.polarity import (
    board_angle,
    spindle_turn,
    target_attitude,
)
from jobcheck.wording import count, listed, number

_MOST_SHOWN = 4
"""Places that a finding shows; the count tells of the rest."""


class _Tall(NamedTuple):
    """A part by its height in mm, and where that is written."""

    height: float
    part: str
    path: Path


def _height(shop: Shop, part: str) -> _Tall | None:
    height = shop.height_of(part)
    own = shop.parts[part].height_mm is not None
    owner = ("parts", part) if own else ("outlines", shop.parts[part].outline)
    return None if height is None else _Tall(height, part, (*owner, "height_mm"))


def _tallest(facts: Facts) -> _Tall | None:
    """Return the tallest part that a job places or a feeder holds."""
    known = [tall for part in needed_parts(facts) if (tall := _height(facts.shop, part))]
    return max(known, key=lambda tall: tall.height, default=None)


def _tops(shop: Shop, machine: Machine) -> Iterator[tuple[Path, str, float]]:
    """Yield (path, name, top in mm) of what parts are carried over on their way.

    Those are the parked nozzles, the parts waiting in feeders and the planes of upward cameras.
    """
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        nozzle = machine.nozzles.get(place.nozzle) if place.nozzle else None
        if nozzle and nozzle.length_mm is not None:
            top = place.z + nozzle.length_mm
            yield ("rack", name, "z"), f"{place.nozzle} in rack place {name}", top
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        if camera.aim == "up" and camera.position:
            yield ("cameras", name, "position", "z"), f"camera {name}", camera.position.z
    for name in sorted(shop.feeders, key=natural):
        pick = shop.feeders[name].pick
        if pick:
            yield ("feeders", name, "pick", "z"), f"the pick of {name}", pick.z


@rule(
    Level.ERROR,
    fails="rack.p2.z: -16.7",
    passes="rack.p2.z: -16.75",
)
def carried_part_strikes_fixture(look: Inspection) -> Iterator[Problem]:
    """The tallest part, carried at `traverse_z`, strikes a parked nozzle, feeder or camera.

    A parked nozzle stands up from its place by `length_mm`. `limits.traverse_clearance_mm` is the
    room that must be left. All that is too high is one finding.

    On the machine: the part is knocked off the nozzle, or knocks parked nozzles over.

    To do: raise `traverse_z`, or correct the height that is wrong.

    Source: clearance = traverse_z - carried height - top, arithmetic.
    """
    machine = look.shop.machine
    tall = _tallest(look.facts)
    if machine is None or tall is None or not is_inside(machine.travel.z, machine.traverse_z):
        return
    least = look.limits.traverse_clearance_mm
    tight = [
        (clearance, path, name, top)
        for path, name, top in _tops(look.shop, machine)
        if (clearance := clearance_below(machine.traverse_z, tall.height, top)) < least - 1e-9
        and _is_in_travel(look.shop, machine, path)
    ]
    if tight:
        yield _strikes(look, machine, tall, sorted(tight, key=lambda entry: entry[0]))


def _is_in_travel(shop: Shop, machine: Machine, path: Path) -> bool:
    """Tell whether a height lies in the travel; one that does not is told by another rule."""
    z = shop.plain_at(path)
    return isinstance(z, float | int) and is_inside(machine.travel.z, z)


def _strikes(
    look: Inspection, machine: Machine, tall: _Tall, tight: list[tuple[float, Path, str, float]]
) -> Problem:
    clearance, path, name, top = tight[0]
    paths = [*(entry[1] for entry in tight[:_MOST_SHOWN]), tall.path, ("traverse_z",)]
    good = look.good
    changed = [
        place
        for place in paths
        if good and good.plain_at(place) not in (None, look.shop.plain_at(place))
    ]
    most = 2 * len(tight) > sum(1 for _ in _tops(look.shop, machine))
    first = changed[0] if changed else ("traverse_z",) if most else path
    room = number(round(abs(clearance), 4))
    more = f" and {len(tight) - 1} more" if len(tight) > 1 else ""
    return Problem(
        path=first,
        related=tuple(place for place in paths if place != first),
        message=f"traverse_z {number(machine.traverse_z)} "
        f"{f'lacks {room} mm for' if clearance < 0 else f'leaves {room} mm under'} {tall.part}, "
        f"carried over {name}{more}.",
        observed=f"top of {name} at {number(round(top, 4))}; {tall.part} {number(tall.height)} mm tall",
        consequence="The part would be knocked off the nozzle, or strike what stands there."
        if clearance < 0
        else "A part that hangs askew would strike it.",
        remedy=("Raise traverse_z, or correct the height that is wrong.",),
        suppresses=(("obstacle-in-traverse", ()),) if len(tight) > 1 else (),
    )


class _Turns(NamedTuple):
    """What a job asks of a spindle for one part: its period in degrees and turns by rotation."""

    part: str
    period: float
    turns: dict[float, list[float]]


def _rotations(facts: Facts, job: str) -> dict[str, set[float]]:
    """Return part -> the rotations that a job's list has for it."""
    columns, rotations = facts.usage.placed[job], defaultdict(set)
    for part, rotation in zip(columns.parts, columns.rotations, strict=True):
        if part is not None:
            rotations[part].add(rotation)
    return rotations


def _turns(facts: Facts, name: str, job: Job) -> Iterator[_Turns]:
    """Yield the turns from pick to place, where the chain from list to feeder is known."""
    frames, rotations = frames_of(facts.shop, name), _rotations(facts, name)
    cells = [cell for cell in frames.cells() if not cell.is_skipped]
    cell_turns = sorted({cell.turn for cell in cells})
    for part in sorted(rotations, key=natural):
        outline = facts.shop.outline_of(part)
        zero = frames.zero_offset(outline)
        feeders = [facts.shop.feeders[feeder] for feeder in facts.usage.feeders_of_part(part)]
        attitudes = sorted({feeder.pick.rotation for feeder in feeders if feeder.pick})
        if outline is None or not attitudes or zero is None:
            continue
        turns = {}
        for rotation in sorted(rotations[part]):
            on_board = board_angle(rotation, zero, _bottom(job))
            targets = [target_attitude(on_board, c, job.seat.rotation) for c in cell_turns]
            turns[rotation] = [spindle_turn(b, a) for b in targets for a in attitudes]
        yield _Turns(part, outline.symmetry, turns)


def _bottom(job: Job) -> Bottom | None:
    return job.placements.bottom if job.side == "bottom" else None


@rule(
    Level.ERROR,
    fails="spindles.a.rotation: [-90, 90]",
    passes="spindles.a.rotation: [0, 180]",
)
def turn_beyond_spindle(look: Inspection) -> Iterator[Problem]:
    """A placement takes a turn from pick to place that no spindle can make.

    A turn is as good as one that a part's symmetry makes of it. Parts whose zero is not known are
    left out.

    On the machine: the spindle stops at its end and the part is placed turned, or the controller
    stops the run.

    To do: turn the feeder or the seat, or correct the spindle's range.

    Source: T = B - A, the turn from the attitude at pick to that on the board, arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not machine.spindles or not look.shop.understood(("spindles",)):
        return
    ranges = [(s.rotation[0], s.rotation[1]) for s in machine.spindles.values()]
    if max(high - low for low, high in ranges) >= 360.0:
        return
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        if job.side == "bottom" and job.placements.bottom is None:
            continue
        beyond = {
            (entry.part, rotation): min(turns)
            for entry in _turns(look.facts, name, job)
            for rotation, turns in entry.turns.items()
            if not all(_can(ranges, turn, entry.period) for turn in turns)
        }
        if beyond:
            yield _beyond_range(look.facts, machine, name, beyond)


def _can(ranges: list[tuple[float, float]], turn: float, period: float) -> bool:
    return any(turn_in_range(turn, period, limits) is not None for limits in ranges)


def _beyond_range(
    facts: Facts, machine: Machine, job: str, beyond: dict[tuple[str, float], float]
) -> Problem:
    columns = facts.usage.placed[job]
    rows = zip(columns.references, columns.parts, columns.rotations, strict=True)
    references = [ref for ref, part, rotation in rows if (part, rotation) in beyond]
    references.sort(key=natural)
    spindles = sorted(machine.spindles, key=natural)
    part, _ = first = next(iter(beyond))
    feeders = facts.usage.feeders_of_part(part)
    ranges = [f"{name} {span(machine.spindles[name].rotation)}" for name in spindles]
    takes = "takes" if len(references) == 1 else "take"
    return Problem(
        path=("spindles", spindles[0], "rotation"),
        related=(
            *(("feeders", feeder, "pick", "rotation") for feeder in feeders[:2]),
            ("jobs", job, "seat"),
        ),
        message=f"{count(len(references), 'placement')} of {job} {takes} a turn that no spindle can "
        f"make: {listed(references)}.",
        observed=f"{part} by {number(beyond[first])} degrees; range {listed(ranges)}",
        consequence="The spindle would stop at its end and the part be placed turned.",
        remedy=(
            "Turn the feeder or the seat, or look how far the spindle turns and correct its range.",
        ),
    )


@rule(
    Level.ERROR,
    fails="reject_bin: {x: 170, y: 120}",
    passes="reject_bin: {x: 195, y: 120}",
)
def reject_bin_over_board(look: Inspection) -> Iterator[Problem]:
    """The reject bin lies over the board of a job, with its opening where that is known.

    On the machine: parts that failed are dropped onto the board.

    To do: correct where the bin stands, or where the board lies.

    Source: the place of a board is its seat and its size, arithmetic.
    """
    machine = look.shop.machine
    bin_ = machine.reject_bin if machine else None
    if bin_ is None:
        return
    width, height = bin_.size_mm or (0.0, 0.0)
    for name in sorted(look.shop.jobs, key=natural):
        left, lower, right, upper = _lies(look.shop.jobs[name])
        if left - width / 2 < bin_.x < right + width / 2 and (
            lower - height / 2 < bin_.y < upper + height / 2
        ):
            opening = f", opening {number(width)} × {number(height)} mm" if bin_.size_mm else ""
            yield Problem(
                path=("reject_bin",),
                related=(("jobs", name, "seat"),),
                message=f"the reject bin at x {number(bin_.x)}, y {number(bin_.y)} lies over the "
                f"board of {name}.",
                observed=f"the board takes x {span([left, right])}, y {span([lower, upper])}{opening}",
                consequence="Parts that failed would be dropped onto the board.",
                remedy=(
                    "Look where the bin stands and where the board lies; correct the wrong one.",
                ),
            )
            return


def _lies(job: Job) -> tuple[float, float, float, float]:
    """Return the upright box of a board or panel in the machine, mm: left, lower, right, upper."""
    frames = Frames(job)
    width, height = frames.panel_size
    corners = [frames.on_seat(corner) for corner in product((0.0, width), (0.0, height))]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return min(xs), min(ys), max(xs), max(ys)


def _reversal(reversal: Reversal, axis: str) -> float | None:
    return reversal.x if axis == "x" else reversal.y


@rule(
    Level.ERROR,
    fails="approach: {direction: [+x, -x], distance_mm: 0.5}",
    passes="approach: {direction: [+x, +y], distance_mm: 0.5}",
)
def approach_states_axis_twice(look: Inspection) -> Iterator[Problem]:
    """The last move before a position is stated twice for one axis.

    On the machine: one of the two wins; if it changes with the move, each place is met from
    either side and lies off by the reversal.

    To do: state one direction for each axis.

    Source: lost motion is taken up when a place is always met from one side (ISO 230-2).
    """
    approach = look.shop.machine.approach if look.shop.machine else None
    axes = [direction[1] for direction in approach.direction] if approach else []
    twice = sorted({axis for axis in axes if axes.count(axis) > 1})
    if approach and twice:
        yield Problem(
            path=("approach", "direction"),
            message=f"the approach states {listed(twice)} twice: {', '.join(approach.direction)}.",
            observed=f"direction {', '.join(approach.direction)}",
            consequence="Places would be met from either side, and lie off by the reversal.",
            remedy=("State one direction for each axis.",),
        )


@rule(
    Level.WARNING,
    fails="approach: {direction: [+x], distance_mm: 0.05}\nreversal: {x: 0.05}",
    passes="approach: {direction: [+x], distance_mm: 0.06}\nreversal: {x: 0.05}",
)
def approach_shorter_than_reversal(look: Inspection) -> Iterator[Problem]:
    """The last move before a position is no longer than the lost motion that it must take up.

    On the machine: the axis turns back and stops before it moves at all, so places that are come
    to from the two sides lie apart by the reversal.

    To do: make the approach several times as long as the reversal, or measure that again.

    Source: reversal value, ISO 230-2: the difference of the means met from either side.
    """
    machine = look.shop.machine
    approach = machine.approach if machine else None
    reversal = machine.reversal if machine else None
    if approach is None or reversal is None:
        return
    short = [axis for axis in _axes(approach) if _is_short(approach, _reversal(reversal, axis))]
    if short:
        shown = [f"{axis} {number(_reversal(reversal, axis) or 0)} mm" for axis in short]
        yield Problem(
            path=("approach", "distance_mm"),
            related=tuple(("reversal", axis) for axis in short),
            message=f"the approach of {number(approach.distance_mm)} mm does not take up the reversal "
            f"of {listed(shown)}.",
            observed=f"distance_mm {number(approach.distance_mm)}; reversal {listed(shown)}",
            consequence="Places that are come to from two sides would lie apart by the reversal.",
            remedy=(
                "Make it several times as long as the reversal, or measure the reversal again.",
            ),
        )


def _axes(approach: Approach) -> list[str]:
    return list(dict.fromkeys(direction[1] for direction in approach.direction))


def _is_short(approach: Approach, reversal: float | None) -> bool:
    return reversal is not None and approach.distance_mm <= reversal


@rule(
    Level.WARNING,
    fails="nozzles.bore-1-0.length_mm: 14\nfeeders.f03.pick.measured_with: bore-0-4\n"
    "rack.p2.z: -27",
    passes="nozzles.bore-1-0.length_mm: 12.1\nfeeders.f03.pick.measured_with: bore-0-4",
)
def height_measured_with_other_nozzle(look: Inspection) -> Iterator[Problem]:
    """A height was measured with a nozzle of another length than the one that uses it.

    A pick is used by the nozzles of its part, a seat by those of what is placed on it. Heights
    that do not say what they were measured with are left out, and so are unknown lengths.

    On the machine: unless the difference is reckoned with, the tip stops above the part, or
    presses as much too deep.

    To do: measure it again with the nozzle that uses it, or correct the lengths.

    Source: z is the height of the nozzle's lower end; limits.nozzle_length_mm (common practice,
    no published source).
    """
    machine = look.shop.machine
    if machine is None:
        return
    lengths = {n: nozzle.length_mm for n, nozzle in machine.nozzles.items() if nozzle.length_mm}
    found: dict[str, list[_Measured]] = defaultdict(list)
    for measured in _measured(look.facts):
        own = lengths.get(measured.nozzle)
        used = [lengths[n] for n in measured.used if n in lengths]
        if own is not None and used:
            off = max((length - own for length in used), key=abs)
            if abs(off) > look.limits.nozzle_length_mm + 1e-9:
                found[measured.nozzle].append(measured)
    for nozzle, heights in found.items():
        yield _other_nozzle(lengths, nozzle, heights)


class _Measured(NamedTuple):
    """A height, the nozzle that it was measured with, and the nozzles that use it."""

    path: Path
    name: str
    nozzle: str
    used: tuple[str, ...]


def _measured(facts: Facts) -> Iterator[_Measured]:
    for name in sorted(facts.shop.feeders, key=natural):
        feeder = facts.shop.feeders[name]
        outline = facts.shop.outline_of(feeder.part)
        if feeder.pick and feeder.pick.measured_with and outline:
            path = ("feeders", name, "pick", "measured_with")
            yield _Measured(
                path, f"the pick of {name}", feeder.pick.measured_with, tuple(outline.nozzles)
            )
    for name in sorted(facts.shop.jobs, key=natural):
        nozzle = facts.shop.jobs[name].seat.measured_with
        if nozzle:
            parts = sorted(facts.usage.placements_by_part[name], key=natural)
            outlines = [facts.shop.outline_of(part) for part in parts]
            used = dict.fromkeys(n for outline in outlines if outline for n in outline.nozzles)
            path = ("jobs", name, "seat", "measured_with")
            yield _Measured(path, f"the seat of {name}", nozzle, tuple(used))


def _other_nozzle(lengths: dict[str, float], nozzle: str, heights: list[_Measured]) -> Problem:
    first = heights[0]
    own = lengths[nozzle]
    others = [n for n in first.used if n in lengths]
    worst = max(others, key=lambda name: abs(lengths[name] - own))
    off = lengths[worst] - own
    more = f" and {count(len(heights) - 1, 'other height')}" if len(heights) > 1 else ""
    return Problem(
        path=first.path,
        related=(
            *(entry.path for entry in heights[1:_MOST_SHOWN]),
            ("nozzles", nozzle, "length_mm"),
            ("nozzles", worst, "length_mm"),
        ),
        message=f"{first.name}{more} {'was' if not more else 'were'} measured with {nozzle}, but "
        f"used by {worst}, which is {number(round(abs(off), 4))} mm "
        f"{'longer' if off > 0 else 'shorter'}.",
        observed=f"{nozzle} {number(own)} mm, {worst} {number(lengths[worst])} mm",
        consequence=f"Unless that is reckoned with, the tip would "
        f"{'press as much too deep' if off > 0 else 'stop as much above the part'}.",
        remedy=("Measure it again with the nozzle that uses it, or correct the lengths.",),
    )
