"""Rules about moves: turns, approaches, and measurements that contradict others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import frames_of
from jobcheck.facts.travel import span
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, at_level, rule
from jobcheck.schema.job import Bottom, Job
from jobcheck.schema.machine import Approach, Machine, Reversal
from jobcheck.shop.paths import Path, natural, show
from jobcheck.trade.polarity import board_angle, spindle_turn, target_attitude
from jobcheck.wording import count, listed, number

_MOST_SHOWN = 4
"""Most related places of a finding."""


def _rotations(facts: Facts, job: str) -> dict[str, set[float]]:
    """Return part -> its rotations in a job's list."""
    columns, rotations = facts.usage.placed[job], defaultdict(set)
    for part, rotation in zip(columns.parts, columns.rotations, strict=True):
        if part is not None:
            rotations[part].add(rotation)
    return rotations


def _needed_turns(facts: Facts, name: str, job: Job) -> Iterator[tuple[tuple[str, float], float]]:
    """Yield ((part, listed rotation), turn from pick to place) of parts with a known chain.

    Of the feeders of a part the best one counts, of the cells of a panel the worst one, degrees.
    """
    frames, rotations = frames_of(facts.shop, name), _rotations(facts, name)
    cell_turns = {cell.turn for cell in frames.cells() if not cell.is_skipped}
    for part in sorted(rotations, key=natural):
        outline = facts.shop.outline_of(part)
        zero = frames.zero_offset(outline)
        feeders = [facts.shop.feeders[feeder] for feeder in facts.usage.feeders_of_part(part)]
        attitudes = {feeder.pick.rotation for feeder in feeders if feeder.pick}
        if outline is None or not attitudes or zero is None or not cell_turns:
            continue
        for rotation in sorted(rotations[part]):
            on_board = board_angle(rotation, zero, _bottom(job))
            targets = [target_attitude(on_board, c, job.seat.rotation) for c in cell_turns]
            period = outline.symmetry
            yield (
                (part, rotation),
                max(
                    min(_least(spindle_turn(target, a), period) for a in attitudes)
                    for target in targets
                ),
            )


def _bottom(job: Job) -> Bottom | None:
    return job.placements.bottom if job.side == "bottom" else None


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="spindles.a.rotation: [-80, 80]",
    passes="spindles.a.rotation: [0, 180]",
)
def turn_beyond_spindle(look: Inspection) -> Iterator[Problem]:
    """A placement needs a larger turn from pick to place than a spindle has.

    A turn is relative: the spindle can start anywhere in its range, so only a turn larger than the
    whole range is impossible. Of turns that the symmetry of the part makes equal, the smallest
    counts. It is a warning if another spindle has the turn. Parts of unknown zero are left out.

    On the machine: the spindle stops at its end and the part is placed turned, or the controller
    stops the run.

    To do: turn the feeder or the seat, or correct the range of the spindle.

    Source: T = B - A, the turn from the attitude at pick to that on the board, arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not look.shop.understood(("spindles",)):
        return
    ranges = {name: s.rotation[1] - s.rotation[0] for name, s in machine.spindles.items()}
    if min(ranges.values(), default=360.0) >= 180.0:
        return
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        if job.side == "bottom" and job.placements.bottom is None:
            continue
        needs = dict(_needed_turns(look.facts, name, job))
        widest = max(ranges.values())
        for spindle in sorted(ranges, key=natural):
            beyond = {key: turn for key, turn in needs.items() if turn > ranges[spindle] + 1e-9}
            no_other = {key: turn for key, turn in beyond.items() if turn > widest + 1e-9}
            if beyond:
                yield _beyond_range(look.facts, machine, spindle, name, no_other or beyond)
            if no_other:
                break


def _least(turn: float, period: float) -> float:
    """Return the smallest of the turns that a symmetry makes equal, degrees, without its sign."""
    return abs((turn + period / 2) % period - period / 2)


def _beyond_range(
    facts: Facts, machine: Machine, spindle: str, job: str, beyond: dict[tuple[str, float], float]
) -> Problem:
    columns = facts.usage.placed[job]
    rows = zip(columns.references, columns.parts, columns.rotations, strict=True)
    references = sorted((ref for ref, *key in rows if tuple(key) in beyond), key=natural)
    part, _ = first = next(iter(beyond))
    widest = max(s.rotation[1] - s.rotation[0] for s in machine.spindles.values())
    is_certain = beyond[first] > widest + 1e-9
    return Problem(
        path=("spindles", spindle, "rotation"),
        related=(
            *(
                ("feeders", name, "pick", "rotation")
                for name in facts.usage.feeders_of_part(part)[:2]
            ),
            ("jobs", job, "seat"),
        ),
        message=f"{count(len(references), 'placement')} of {job} "
        f"{'needs' if len(references) == 1 else 'need'} a larger turn than "
        f"{'any spindle' if is_certain else f'spindle {spindle}'} has: {listed(references)}.",
        observed=f"{part} turns by {number(round(beyond[first], 4))} degrees; spindle {spindle} "
        f"{span(machine.spindles[spindle].rotation)}",
        consequence="The spindle would stop at its end and the part be placed turned."
        if is_certain
        else f"If the controller takes spindle {spindle}, the part is placed turned.",
        remedy=(
            "Turn the feeder or the seat, or measure the range of the spindle and correct it.",
        ),
        level=None if is_certain else Level.WARNING,
    )


def _reversal(reversal: Reversal, axis: str) -> float | None:
    return reversal.x if axis == "x" else reversal.y


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="approach: {direction: [+x, -x], distance_mm: 0.5}",
    passes="approach: {direction: [+x, +y], distance_mm: 0.5}",
)
def approach_ineffective(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The approach does not take up the lost motion of an axis.

    An error if it names both directions of one axis. A warning if it is less than twice the
    reversal.

    On the machine: places that are approached from two sides are apart by the reversal.

    To do: name one direction for each axis; make the approach several times as long as the
    reversal, or measure the reversal again.

    Source: lost motion is taken up if a place is always approached from one side; reversal value:
    ISO 230-2. The factor 2 is common practice, no published source.
    """
    yield from _approach_from_both_sides(look)
    yield from at_level(Level.WARNING, _approach_shorter_than_reversal(look))


def _approach_from_both_sides(look: Inspection) -> Iterator[Problem]:
    approach = look.shop.machine.approach if look.shop.machine else None
    directions = approach.direction if approach else []
    both = [axis for axis in "xy" if {f"+{axis}", f"-{axis}"} <= set(directions)]
    if both:
        yield Problem(
            path=("approach", "direction"),
            message=f"the approach names both directions of {listed(both)}: "
            f"{', '.join(directions)}.",
            observed=f"direction {', '.join(directions)}",
            consequence="Places would be approached from either side and be apart by the reversal.",
            remedy=("Name one direction for each axis.",),
        )


def _approach_shorter_than_reversal(look: Inspection) -> Iterator[Problem]:
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
            message=f"the approach of {number(approach.distance_mm)} mm is less than twice the "
            f"reversal of {listed(shown)}.",
            observed=f"distance_mm {number(approach.distance_mm)}; reversal {listed(shown)}",
            consequence="Places approached from two sides may be apart by the reversal.",
            remedy=(
                "Make it several times as long as the reversal, or measure the reversal again.",
            ),
        )


def _axes(approach: Approach) -> list[str]:
    return list(dict.fromkeys(direction[1] for direction in approach.direction))


def _is_short(approach: Approach, reversal: float | None) -> bool:
    return reversal is not None and approach.distance_mm < 2 * reversal - 1e-9


@rule(
    Level.WARNING,
    fails="nozzles.bore-1-0.length_mm: 14\nfeeders.f03.pick.measured_with: bore-0-4\n"
    "rack.p2.z: -27",
    passes="nozzles.bore-1-0.length_mm: 12.1\nfeeders.f03.pick.measured_with: bore-0-4",
)
def height_measured_with_other_nozzle(look: Inspection) -> Iterator[Problem]:
    """A height was measured with a nozzle of another length than the one that uses it.

    A pick is used by the nozzles of its part, a seat by those of the parts placed on it. Heights
    without `measured_with` and nozzles without a length are left out.

    On the machine: unless the controller adds the difference, the tip stops above the part, or
    presses too deep by as much.

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
        f"{'is' if not more else 'are'} used by {worst}, which is {number(round(abs(off), 4))} mm "
        f"{'longer' if off > 0 else 'shorter'}.",
        observed=f"{nozzle} {number(own)} mm, {worst} {number(lengths[worst])} mm",
        consequence="Unless the controller adds the difference, the tip would "
        f"{'press too deep by as much' if off > 0 else 'stop as much above the part'}.",
        remedy=("Measure it again with the nozzle that uses it, or correct the lengths.",),
    )


def _signed(machine: Machine) -> Iterator[Path]:
    """Yield the paths of values with a sign that is easily wrong."""
    for index in range(len(machine.approach.direction) if machine.approach else 0):
        yield ("approach", "direction", str(index))
    for name in sorted(machine.rack, key=natural):
        yield ("rack", name, "approach", "direction")
    yield ("squareness_deg",)
    for name in sorted(machine.spindles, key=natural):
        yield from (("spindles", name, "offset_from_camera", axis) for axis in "xy")
    for name in sorted(machine.feeder_rows, key=natural):
        yield from (("feeder_rows", name, "step", axis) for axis in "xy")
    for name in sorted(machine.cameras, key=natural):
        yield ("cameras", name, "image", "turn_deg")


def _is_opposite(now: object, was: object) -> bool:
    """Return whether two numbers, or two directions such as `+x`, differ in their sign alone."""
    if isinstance(now, str) and isinstance(was, str):
        return now != was and now[1:] == was[1:]
    return isinstance(now, float | int) and isinstance(was, float | int) and now == -was != 0


@rule(
    Level.WARNING,
    fails="spindles.a.offset_from_camera.y: -4",
    passes="spindles.a.offset_from_camera.y: 3.8",
    compares=True,
)
def sign_changed(look: Inspection) -> Iterator[Problem]:
    """A value differs from the known-good record in its sign alone.

    It compares the directions of approaches, the squareness of the axes, the offsets of spindles,
    the steps of feeder rows and the turn of camera pictures.

    On the machine: a correction is made in the wrong direction, so the error is twice as large; a
    move comes from the other side.

    To do: measure it again, or put the recorded value back.

    Source: two measurements of opposite sign and equal amount are improbable; common practice, no
    published source.
    """
    machine, good = look.shop.machine, look.good
    if machine is None or good is None:
        return
    for path in _signed(machine):
        now, was = look.shop.plain_at(path), good.plain_at(path)
        if _is_opposite(now, was):
            yield Problem(
                path=path,
                message=f"{show(path)} has the opposite sign of the recorded value.",
                observed=str(now),
                consequence="If the new sign is wrong, the move comes from the wrong side."
                if isinstance(now, str)
                else "If the new sign is wrong, places are off by twice the value.",
                remedy=("Measure it again, or put it back:", command("restore", show(path))),
            )
