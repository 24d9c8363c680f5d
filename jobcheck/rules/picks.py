"""Rules about pick points: at their slots, within reach, measured."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from jobcheck.description.feeders import Pick
from jobcheck.description.findings import Level, Problem
from jobcheck.description.limits import Limits
from jobcheck.description.shop import Shop
from jobcheck.rules.base import Inspection, listed, natural, number, rule
from jobcheck.rules.rows import Stand, feeders, point, slot_name, stands
from jobcheck.rules.travel import beyond_spindles
from jobcheck.trade.plane import direction
from jobcheck.trade.tape import TAPES


@rule(
    Level.ERROR,
    fails="feeders.f02.pick.x: 52",
    passes="feeders.f02.pick.x: 41.5",
)
def feeder_pick_off_slot(look: Inspection) -> Iterator[Problem]:
    """A pick lies far from the slot in which its feeder stands.

    On the machine: the nozzle goes to another slot, or beside every feeder; it takes another part
    or none.

    To do: look which slot the feeder stands in; correct slot or pick point so that both agree.

    Source: a wider tape has its pocket further from the round holes, EIA-481-D Tables 2 and 3
    (F); how far is too far is `limits.pick_to_slot_mm` along the row and
    `limits.pick_across_row_mm` across it: common practice, no published source.
    """
    picks: dict[str, list[tuple[Stand, Pick]]] = defaultdict(list)
    for stand in stands(look.shop):
        if stand.feeder.pick is not None:
            picks[stand.row.name].append((stand, stand.feeder.pick))
    for row in sorted(picks, key=natural):
        off = [(stand, pick) for stand, pick in picks[row] if not _is_at(stand, pick, look.limits)]
        if len(off) > 2 and 2 * len(off) > len(picks[row]):
            yield _row_off(row, off, len(picks[row]))
        else:
            for stand, pick in off:
                yield _pick_off(look.shop, stand, pick)


def _is_at(stand: Stand, pick: Pick, limits: Limits) -> bool:
    along, across = stand.row.offset(pick, stand.slot)
    off = min(abs(along), abs(along - _pocket_shift(stand)))
    return off <= limits.pick_to_slot_mm and abs(across) <= limits.pick_across_row_mm


def _pocket_shift(stand: Stand) -> float:
    """How far along its row a wider tape has its pocket where all tapes share a line of holes."""
    feeder, row = stand.feeder, stand.row
    tape = TAPES.get(feeder.tape.width_mm) if feeder.tape else None
    if tape is None:
        return 0.0
    own = feeder.feed_direction
    away = direction((row.described.feed_direction if own is None else own) - 90)
    further = tape.hole_to_pocket_mm - TAPES[8.0].hole_to_pocket_mm
    return further * (away[0] * row.along[0] + away[1] * row.along[1])


def _distance(stand: Stand, pick: Pick) -> str:
    return f"{number(round(math.hypot(*stand.row.offset(pick, stand.slot)), 1))} mm"


def _row_off(row: str, off: list[tuple[Stand, Pick]], total: int) -> Problem:
    return Problem(
        path=("feeder_rows", row, "first"),
        also=(
            ("feeder_rows", row, "step"),
            *(("feeders", stand.name, "pick") for stand, _ in off[:4]),
        ),
        says=f"{len(off)} of {total} picks of row {row} lie far from their slots.",
        now="off by "
        + listed([f"{_distance(stand, pick)} at {stand.name}" for stand, pick in off], 4),
        so="Row and picks contradict each other; where a pick is computed from the row, the "
        "nozzle would go to another slot, or to none.",
        do=f"Look where slot 1 of row {row} is, and how far apart its slots are.",
    )


def _pick_off(shop: Shop, stand: Stand, pick: Pick) -> Problem:
    x, y = stand.row.slot_point(stand.slot)
    lies = slot_name(shop, pick)
    return Problem(
        path=("feeders", stand.name, "pick", "x" if abs(pick.x - x) >= abs(pick.y - y) else "y"),
        also=(("feeders", stand.name, "slot"),),
        says=f"feeder {stand.name} stands in slot {stand.slot} of row {stand.row.name}, but its "
        f"pick lies {'at ' + lies if lies else _distance(stand, pick) + ' away'}.",
        now=f"pick at {point(pick.x, pick.y)}; slot {stand.slot} at {point(x, y)}",
        so=f"The nozzle would miss {stand.feeder.part or 'the part'}, or take what stands there.",
        do=f"Look which slot {stand.name} stands in, then correct slot and pick point together.",
    )


@rule(
    Level.ERROR,
    fails="feeders.f01.pick.y: 3.9",
    passes="feeders.f01.pick.y: 4",
)
def feeder_pick_outside_travel(look: Inspection) -> Iterator[Problem]:
    """A pick lies where no spindle gets within the travel.

    On the machine: the head runs against the end of its axis and loses its position, or the
    controller stops the run.

    To do: look where the pick is; correct it, or measure the travel and the spindles' offsets.

    Source: head position = pick - offset_from_camera, arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    out: dict[str, dict[str, str]] = defaultdict(dict)
    picks = [(name, feeder.pick) for name, feeder in feeders(look.shop) if feeder.pick is not None]
    for name, pick in picks:
        beyond = beyond_spindles(machine, pick)
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
        also=(("travel", axis),),
        says=f"the pick of feeder {name} lies outside the travel of {axis}.",
        now=why,
        so=f"The head would run against the end of {axis} and lose its position at "
        f"{shop.feeders[name].part or 'this pick'}.",
        do=f"Look where {name} is picked; correct the pick, or measure the travel anew.",
        tells=(("feeder-pick-off-slot", ("feeders", name, "pick")),),
    )


def _travel_short(axis: str, names: dict[str, str], total: int) -> Problem:
    first = next(iter(names))
    return Problem(
        path=("travel", axis),
        also=tuple(("feeders", name, "pick", axis) for name in list(names)[:5]),
        says=f"{len(names)} of {total} picks lie outside the travel of {axis}.",
        now=f"{first}: {names[first]}; also {listed(list(names)[1:])}",
        so=f"The head would run against the end of {axis} and lose its position.",
        do=f"Look how far {axis} goes and how far the spindles are from the camera; correct what "
        "is wrong.",
        tells=(("place-outside-travel", ("travel", axis)),),
    )


@rule(
    Level.WARNING,
    fails="""
    shop.limits.same_pick_z: 4
    feeders.f02.pick.z: -18.2
    feeders.f05.pick.z: -18.2
    """,
    passes="""
    shop.limits.same_pick_z: 4
    feeders.f02.pick.z: -18.2
    feeders.f05.pick.z: -18.21
    """,
)
def pick_height_copied(look: Inspection) -> Iterator[Problem]:
    """Many feeders share one pick height to the hundredth, as if it were copied.

    On the machine: where a feeder stands higher the nozzle presses into the part and the tape;
    where it stands lower the part is not lifted.

    To do: measure the pick height of each feeder; where they truly are level, accept this.

    Source: `limits.same_pick_z` feeders or more, common practice, no published source.
    """
    sharing: dict[float, list[str]] = defaultdict(list)
    for name, feeder in feeders(look.shop):
        if feeder.pick is not None:
            sharing[round(feeder.pick.z, 2)].append(name)
    for z, names in sorted(sharing.items()):
        if len(names) < look.limits.same_pick_z:
            continue
        yield Problem(
            path=("feeders", names[0], "pick", "z"),
            also=tuple(("feeders", name, "pick", "z") for name in names[1:6]),
            says=f"{len(names)} feeders have the same pick height {number(z)}, as if it were "
            "copied.",
            now=listed(names, 12),
            so="Where a feeder stands higher the nozzle would press into the part; where it "
            "stands lower the part would stay in its pocket.",
            do="Measure the pick height of each of them.",
        )
