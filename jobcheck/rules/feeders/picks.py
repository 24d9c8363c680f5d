"""Rules about pick points: at their slots, within reach, measured."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from statistics import median

from jobcheck.facts.feeder_leg import feed_direction
from jobcheck.facts.rows import Slotted, feeders, in_slots, point, slot_name
from jobcheck.facts.travel import beyond_spindles, is_inside
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, at_level, rule
from jobcheck.schema.feeders import Pick, Tape
from jobcheck.schema.limits import Limits
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.lines import robust_line, scatter
from jobcheck.trade.plane import Point, direction
from jobcheck.trade.tape import TAPES, pick_error, slots_covered
from jobcheck.wording import listed, number

_FROM_SEAT_MM = 10.0
"""Cut tapes, trays and boards are on one bed: common practice, no published source."""


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="feeders.f02.pick.x: 52",
    passes="feeders.f02.pick.x: 41.5",
)
def feeder_pick_off_slot(look: Inspection) -> Iterator[Problem]:
    """A pick is far from the slot of its feeder.

    An error where it is at another slot, further off than the feeder is wide; else a warning.

    On the machine: the nozzle goes to another slot, or beside every feeder; it takes another part
    or none.

    To do: look which slot the feeder is in; correct slot or pick point so that both agree.

    Source: a wider tape has its pocket further from the round holes, EIA-481-D Tables 2 and 3
    (F); how far is too far is `limits.pick_to_slot_mm` along the row and
    `limits.pick_across_row_mm` across it: common practice, no published source.
    """
    picks: dict[str, list[tuple[Slotted, Pick]]] = defaultdict(list)
    for slotted in in_slots(look.shop):
        if slotted.feeder.pick is not None:
            picks[slotted.row.name].append((slotted, slotted.feeder.pick))
    for row in sorted(picks, key=natural):
        off = [
            (slotted, pick)
            for slotted, pick in picks[row]
            if not _is_at(slotted, pick, look.limits)
        ]
        if len(off) > 2 and 2 * len(off) > len(picks[row]):
            yield _row_off(row, off, len(picks[row]))
        else:
            for slotted, pick in off:
                yield _pick_off(look.shop, slotted, pick)


def _level_off(slotted: Slotted, pick: Pick) -> Level:
    """An error where a pick is further along its row than the feeder is wide."""
    tape = slotted.feeder.tape
    widths = slotted.feeder.body_width_mm or 0.0, tape.width_mm if tape else 0.0
    slots = slots_covered(max(widths), slotted.row.pitch_mm)
    along = abs(slotted.row.offset(pick, slotted.slot)[0])
    return Level.ERROR if along > (slots - 0.25) * slotted.row.pitch_mm else Level.WARNING


def _is_at(slotted: Slotted, pick: Pick, limits: Limits) -> bool:
    along, across = slotted.row.offset(pick, slotted.slot)
    off = min(abs(along), abs(along - _pocket_shift(slotted)))
    return off <= limits.pick_to_slot_mm and abs(across) <= limits.pick_across_row_mm


def _pocket_shift(slotted: Slotted) -> float:
    """How far along its row a wider tape has its pocket where all tapes share a line of holes."""
    feeder, row = slotted.feeder, slotted.row
    tape = TAPES.get(feeder.tape.width_mm) if feeder.tape else None
    if tape is None:
        return 0.0
    own = feeder.feed_direction
    away = direction((row.described.feed_direction if own is None else own) - 90)
    further = tape.hole_to_pocket_mm - TAPES[8.0].hole_to_pocket_mm
    return further * (away[0] * row.along[0] + away[1] * row.along[1])


def _distance(slotted: Slotted, pick: Pick) -> str:
    return f"{number(round(math.hypot(*slotted.row.offset(pick, slotted.slot)), 1))} mm"


def _row_off(row: str, off: list[tuple[Slotted, Pick]], total: int) -> Problem:
    return Problem(
        path=("feeder_rows", row, "first"),
        related=(
            ("feeder_rows", row, "step"),
            *(("feeders", slotted.name, "pick") for slotted, _ in off[:4]),
        ),
        level=max(
            (_level_off(slotted, pick) for slotted, pick in off), key=lambda level: -level.rank
        ),
        message=f"{len(off)} of {total} picks of row {row} are far from their slots.",
        observed="off by "
        + listed([f"{_distance(slotted, pick)} at {slotted.name}" for slotted, pick in off], 4),
        consequence="If a pick is computed from the row, the nozzle would go to another slot, or "
        "to none.",
        remedy=(f"Look where slot 1 of row {row} is, and how far apart its slots are.",),
    )


def _pick_off(shop: Shop, slotted: Slotted, pick: Pick) -> Problem:
    x, y = slotted.row.slot_point(slotted.slot)
    nearest = slot_name(shop, pick)
    return Problem(
        path=("feeders", slotted.name, "pick", "x" if abs(pick.x - x) >= abs(pick.y - y) else "y"),
        related=(("feeders", slotted.name, "slot"),),
        level=_level_off(slotted, pick),
        message=f"feeder {slotted.name} is in slot {slotted.slot} of row {slotted.row.name}, but "
        f"its pick is {'at ' + nearest if nearest else _distance(slotted, pick) + ' away'}.",
        observed=f"pick at {point(pick.x, pick.y)}; slot {slotted.slot} at {point(x, y)}",
        consequence=f"The nozzle would miss {slotted.feeder.part or 'the part'}, or take another "
        "part.",
        remedy=(
            f"Look which slot {slotted.name} is in, then correct slot and pick point together.",
        ),
    )


def feeder_pick_outside_travel(look: Inspection) -> Iterator[Problem]:
    """A pick is where no spindle gets within the travel."""
    machine = look.shop.machine
    if machine is None:
        return
    out: dict[str, dict[str, str]] = defaultdict(dict)
    picks = [(name, feeder.pick) for name, feeder in feeders(look.shop) if feeder.pick is not None]
    for name, pick in picks:
        beyond = beyond_spindles(machine, pick.x, pick.y)
        if beyond:
            out[beyond[0]][name] = beyond[1]
    for axis, names in sorted(out.items()):
        if len(names) > 2 and 2 * len(names) > len(picks):
            yield _travel_short(axis, names, len(picks))
        else:
            for name in names:
                yield _out_of_reach(look.shop, name, axis, names[name])


def _out_of_reach(shop: Shop, name: str, axis: str, why: str) -> Problem:
    return Problem(
        path=("feeders", name, "pick", axis),
        related=(("travel", axis),),
        message=f"the pick of feeder {name} is outside the travel of {axis}.",
        observed=why,
        consequence=f"The head would run against the end of {axis} and lose its position at "
        f"{shop.feeders[name].part or 'this pick'}.",
        remedy=(f"Look where {name} is picked; correct the pick, or measure the travel again.",),
        suppresses=(("feeder-pick-off-slot", ("feeders", name, "pick")),),
    )


def _travel_short(axis: str, names: dict[str, str], total: int) -> Problem:
    first = next(iter(names))
    return Problem(
        path=("travel", axis),
        related=tuple(("feeders", name, "pick", axis) for name in list(names)[:5]),
        message=f"{len(names)} of {total} picks are outside the travel of {axis}.",
        observed=f"{first}: {names[first]}; also {listed(list(names)[1:])}",
        consequence=f"The head would run against the end of {axis} and lose its position.",
        remedy=(
            f"Look how far {axis} goes and how far the spindles are from the camera; correct what "
            "is wrong.",
        ),
        suppresses=(("outside-travel", ("travel", axis)),),
    )


def _pick_height_copied(look: Inspection) -> Iterator[Problem]:
    sharing: dict[float, list[str]] = defaultdict(list)
    for name, feeder in feeders(look.shop):
        if feeder.pick is not None:
            sharing[round(feeder.pick.z, 2)].append(name)
    for z, names in sorted(sharing.items()):
        if len(names) < look.limits.same_pick_z:
            continue
        yield Problem(
            path=("feeders", names[0], "pick", "z"),
            related=tuple(("feeders", name, "pick", "z") for name in names[1:6]),
            message=f"{len(names)} feeders have the same pick height {number(z)}, as if it were "
            "copied.",
            observed=listed(names, 12),
            consequence="If a feeder is higher, the nozzle would press into the part; if it is "
            "lower, the part would stay in its pocket.",
            remedy=("Measure the pick height of each of them.",),
        )


@rule(
    Level.WARNING,
    fails="feeders.f01.tape.hole: {x: 16.6, y: 6.7}",
    passes="feeders.f01.tape.hole: {x: 16.7, y: 2.3}",
)
def pick_off_pocket(look: Inspection) -> Iterator[Problem]:
    """A pick is beside the centre of its pocket, by a measured round hole of the tape.

    Only where `tape.hole` is described: the pocket is half a hole pitch ahead of a hole, and its
    distance from the line of holes depends on the width of the tape.

    On the machine: the nozzle takes the part off its centre or by its end; it hangs askew, turns
    when it is lifted, or is lost.

    To do: look with the downward camera at hole and pocket, and measure both again.

    Source: EIA-481-D Tables 2 and 3: P2 and F with their tolerances; beyond them
    `limits.pick_to_pocket_mm`, common practice, no published source.
    """
    for name, feeder in feeders(look.shop):
        tape, pick = feeder.tape, feeder.pick
        feed = feed_direction(look.shop, name, feeder)
        if tape is None or tape.hole is None or pick is None or feed is None:
            continue
        standard = TAPES.get(tape.width_mm)
        if standard is None or feeder.carrier not in ("tape", "cut-tape"):
            continue
        off = pick_error(
            (pick.x, pick.y), (tape.hole.x, tape.hole.y), standard, tape.pocket_pitch_mm, feed[0]
        )
        tolerance = standard.along_tolerance_mm, standard.across_tolerance_mm
        most = look.limits.pick_to_pocket_mm
        if any(abs(o) > t + most + 1e-9 for o, t in zip(off, tolerance, strict=True)):
            yield _beside_pocket(look.shop, name, tape, off)


def _beside_pocket(shop: Shop, name: str, tape: Tape, off: Point) -> Problem:
    along, across = (round(abs(value), 2) for value in off)
    is_across = across > along
    where = f"{number(across)} mm across" if is_across else f"{number(along)} mm along"
    standard = TAPES[tape.width_mm]
    beyond = is_across and abs(off[1]) > standard.hole_to_pocket_mm
    return Problem(
        path=("feeders", name, "pick"),
        related=(("feeders", name, "tape", "hole"), ("feeders", name, "tape", "width_mm")),
        message=f"the pick of feeder {name} is {where} its tape from the centre of the pocket.",
        observed=f"{number(along)} mm along, {number(across)} mm across; F "
        f"{number(standard.hole_to_pocket_mm)} and P2 2 mm from the hole",
        consequence=f"{shop.feeders[name].part or 'The part'} would be taken by its end, or "
        "missed.",
        remedy=(
            "Look whether the tape feeds that way: the holes are on its left."
            if beyond
            else "Look at hole and pocket with the downward camera, and measure both again.",
        ),
    )


@rule(
    Level.WARNING,
    Level.NOTE,
    fails="feeders.f02.pick.z: -17.6",
    passes="feeders.f02.pick.z: -17.85",
)
def pick_height_doubtful(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A pick height differs from its neighbours, or many are the same as if they were copied.

    In a row the heights are compared with a line that a few wrong ones do not move; rows of less
    than four are left out. The height of a row is compared with its picks, a cut tape or tray with
    the others of its kind and with the seat. Many equal heights are a note.

    On the machine: the nozzle presses into the part and the tape, or stops above the part.

    To do: look whether the feeder is seated, then measure its height again.

    Source: line of Theil and Sen; far is `limits.pick_height_mm`, or three times the scatter of
    the row if that is more; three times the limit for cut tapes and trays, twice for the height of
    a row, 10 mm from the seat; `limits.same_pick_z` equal heights: common practice, no published
    source.
    """
    yield from _pick_height_unusual(look)
    yield from at_level(Level.NOTE, _pick_height_copied(look))


def _pick_height_unusual(look: Inspection) -> Iterator[Problem]:
    machine, shop = look.shop.machine, look.shop
    if machine is None:
        return
    rows: dict[str, dict[str, tuple[float, float]]] = defaultdict(dict)
    for slotted in in_slots(shop):
        pick = slotted.feeder.pick
        is_tape = slotted.feeder.carrier in ("tape", "cut-tape")
        if is_tape and pick and slotted.exists and is_inside(machine.travel.z, pick.z):
            rows[slotted.row.name][slotted.name] = (slotted.slot * slotted.row.pitch_mm, pick.z)
    for row in sorted(rows, key=natural):
        yield from _off_line(look, row, rows[row])
        height = median(z for _, z in rows[row].values())
        first = machine.feeder_rows[row].first.z
        if abs(first - height) > 2 * look.limits.pick_height_mm + 1e-9:
            yield _row_height(row, first, height, rows[row])
    yield from _loose_heights(look, machine)


def _off_line(
    look: Inspection, row: str, heights: dict[str, tuple[float, float]]
) -> Iterator[Problem]:
    line = robust_line(list(heights.values())) if len(heights) > 3 else None
    if line is None:
        return
    off = {name: z - line[0] * along - line[1] for name, (along, z) in heights.items()}
    most = max(look.limits.pick_height_mm, 3 * scatter(list(off.values())))
    for name in off:
        if abs(off[name]) > most + 1e-9:
            z = heights[name][1]
            yield _off(look.shop, name, z, z - off[name], f"the line of row {row}")


def _off(shop: Shop, name: str, z: float, usual: float, reference: str) -> Problem:
    far, is_above = number(round(abs(z - usual), 2)), z > usual
    return Problem(
        path=("feeders", name, "pick", "z"),
        message=f"the pick of feeder {name} is {far} mm {'above' if is_above else 'below'} "
        f"{reference}.",
        observed=f"z {number(z)}",
        expected=f"near {number(round(usual, 2))}",
        consequence=f"If the height is wrong, the nozzle would "
        f"{'stop above' if is_above else 'press into'} {shop.feeders[name].part or 'the part'}; if "
        "it is right, the feeder may not be seated.",
        remedy=(f"Look whether {name} is seated, then measure its height again.",),
    )


def _row_height(row: str, first: float, height: float, picks: Iterable[str]) -> Problem:
    return Problem(
        path=("feeder_rows", row, "first", "z"),
        related=tuple(("feeders", name, "pick", "z") for name in list(picks)[:5]),
        message=f"row {row} has z {number(first)}, but half of its picks are at "
        f"{number(round(height, 2))} or lower.",
        observed=f"first.z {number(first)}",
        expected=f"near {number(round(height, 2))}",
        consequence="If a pick is computed from the row, the nozzle would press into the part, or "
        "stop above it.",
        remedy=(f"Measure the height of row {row} again.",),
    )


def _loose_heights(look: Inspection, machine: Machine) -> Iterator[Problem]:
    """Compare cut tapes and trays outside the rows with their kind, else with the seats."""
    kinds: dict[str, dict[str, float]] = defaultdict(dict)
    for name, feeder in feeders(look.shop):
        is_loose = feeder.row is None and feeder.carrier in ("cut-tape", "tray")
        if is_loose and feeder.pick and is_inside(machine.travel.z, feeder.pick.z):
            kinds[feeder.carrier][name] = feeder.pick.z
    seats = [job.seat.z for job in look.shop.jobs.values()]
    for carrier, heights in sorted(kinds.items()):
        plural = {"cut-tape": "the other cut tapes", "tray": "the other trays"}[carrier]
        for name, z in heights.items():
            others = [other for key, other in heights.items() if key != name]
            usual = median(others) if len(others) > 1 else z
            seat = min(seats, key=lambda seat: abs(seat - z), default=z)
            if abs(z - usual) > 3 * look.limits.pick_height_mm + 1e-9:
                yield _off(look.shop, name, z, usual, plural)
            elif abs(z - seat) > _FROM_SEAT_MM:
                yield _off(look.shop, name, z, seat, "the seat of the boards")
