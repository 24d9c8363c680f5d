"""Rules about feeders and their slots, and about parts without a feeder."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.reach import in_a_run
from jobcheck.facts.rows import Slotted, feeders, in_slots
from jobcheck.findings import Level, Problem, Remedy, Unchecked, command
from jobcheck.rules.base import Inspection, at_level, lacking, rule
from jobcheck.rules.feeders.carriers import carrier_undescribed
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import wrap
from jobcheck.trade.tape import slots_covered
from jobcheck.wording import count, listed, near, number

_MOST_OFFERED = 6
"""Feeders that a remedy offers to put back in one command."""


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="feeders.f02.slot: 1",
    passes="feeders.f02.slot: 4\nfeeders.f02.pick.x: 68",
)
def feeder_slot_wrong(look: Inspection) -> Iterator[Problem]:
    """A feeder is in or over another feeder's slot, or in a slot that its row does not have.

    Two feeders in one slot are an error if a pick point is at another slot, or if two pick points
    are one; otherwise the two may be lanes of one feeder, and it is a warning.

    On the machine: the nozzle goes to another feeder, or where no feeder can be; a part is missed,
    or the wrong part is placed.

    To do: look which slot the feeder is in and how wide it is; correct slot and pick point
    together.

    Source: two things cannot be in one place. A feeder takes as many whole slots as its width
    needs, to either side of its own: common practice, no published source.
    """
    yield from _feeder_slot_shared(look)
    yield from _feeder_covers_neighbour(look)
    yield from _feeder_slot_outside_row(look)


def _feeder_slot_shared(look: Inspection) -> Iterator[Problem]:
    occupied: dict[tuple[str, int], list[str]] = defaultdict(list)
    for name, feeder in feeders(look.shop):
        if feeder.row is not None and feeder.slot is not None:
            occupied[feeder.row, feeder.slot].append(name)
    picked_at = _slots_of_picks(look.shop)
    for (row, slot), names in occupied.items():
        if len(names) < 2:
            continue
        strays = {name: at for name in names if (at := picked_at.get(name)) not in (None, slot)}
        at_fault = next(iter(strays), names[-1])
        others = [name for name in names if name != at_fault]
        elsewhere = f", but its pick point is at slot {strays[at_fault]}" if strays else ""
        yield Problem(
            path=("feeders", at_fault, "slot"),
            related=tuple(("feeders", name, "slot") for name in others),
            message=f"feeders {listed(names)} are all in slot {slot} of row {row}."
            if len(names) > 2
            else f"feeders {names[0]} and {names[1]} are both in slot {slot} of row {row}.",
            observed=f"{at_fault} in slot {slot}{elsewhere}",
            consequence=f"The nozzle would go to slot {slot} for all of them, and miss or take a "
            "wrong part.",
            remedy=_look_at_slot(look, at_fault, slot),
            level=None if strays or _share_a_pick(look.shop, names) else Level.WARNING,
            suppresses=(("feeder-pick-off-slot", ("feeders", at_fault)),),
        )


_ONE_PLACE_MM = 0.5
"""Picks of two lanes are further apart than this: the narrowest tape is 4 mm wide."""


def _share_a_pick(shop: Shop, names: list[str]) -> bool:
    """Return whether two feeders pick at one point; unknown pick points count as one."""
    picks = [shop.feeders[name].pick for name in names]
    return any(
        one is None or two is None or math.dist((one.x, one.y), (two.x, two.y)) < _ONE_PLACE_MM
        for one, two in itertools.combinations(picks, 2)
    )


def _look_at_slot(look: Inspection, name: str, slot: int) -> Remedy:
    """Offer the known-good slot beside the correction by hand: either could be right."""
    good = look.good.feeders.get(name) if look.good else None
    if good is None or good.slot in (None, slot):
        return (f"Look which slot {name} is in, then correct slot and pick point together.",)
    return (
        f"Look which slot {name} is in. If it is slot {good.slot}, as recorded:",
        command("restore", f"feeders.{name}.slot"),
        "If it is another, correct slot and pick point together.",
    )


def _slots_of_picks(shop: Shop) -> dict[str, int | None]:
    """Return feeder -> the slot of its row nearest to its pick point."""
    return {
        slotted.name: slotted.row.nearest_slot(slotted.feeder.pick)
        for slotted in in_slots(shop)
        if slotted.feeder.pick
    }


def _feeder_covers_neighbour(look: Inspection) -> Iterator[Problem]:
    occupied: dict[str, dict[int, Slotted]] = defaultdict(dict)
    for slotted in sorted(in_slots(look.shop), key=lambda slotted: _width(slotted)[0]):
        if slotted.exists:
            occupied[slotted.row.name][slotted.slot] = slotted
    for row in sorted(occupied, key=natural):
        free, before = -math.inf, None
        for slot, slotted in sorted(occupied[row].items()):
            if before is not None and free > slot:
                yield _covered(before, slotted)
            slots = slots_covered(_width(slotted)[0], slotted.row.pitch_mm)
            free = max(min(free, slot), slot - slots + 1) + slots
            before = slotted


def _width(slotted: Slotted) -> tuple[float, Path]:
    """Return how wide a feeder is at least, mm, and where that is written; unknown is one slot."""
    body, tape = slotted.feeder.body_width_mm, slotted.feeder.tape
    known: list[tuple[float, Path]] = []
    if tape is not None:
        known.append((tape.width_mm, ("feeders", slotted.name, "tape", "width_mm")))
    if body is not None:
        known.append((body, ("feeders", slotted.name, "body_width_mm")))
    return max(known, default=(slotted.row.pitch_mm, ("feeders", slotted.name)))


def _covered(wide: Slotted, other: Slotted) -> Problem:
    width, path = _width(wide)
    slots = slots_covered(width, wide.row.pitch_mm)
    return Problem(
        path=path,
        related=(("feeders", wide.name, "slot"), ("feeders", other.name, "slot")),
        message=f"feeder {wide.name} takes {slots} slots and covers slot {other.slot} of row "
        f"{wide.row.name}, which {other.name} is in.",
        observed=f"{path[-1]} {number(width)} in slot {wide.slot}; slots are "
        f"{number(wide.row.pitch_mm)} mm apart, and those beside it are taken",
        consequence=f"{wide.name} or {other.name} is in another slot: the nozzle would miss it or "
        "take another part.",
        remedy=(
            f"Look where {wide.name} and {other.name} are. Correct slot and pick point together, "
            "or the width.",
        ),
    )


def _feeder_slot_outside_row(look: Inspection) -> Iterator[Problem]:
    for slotted in in_slots(look.shop):
        if slotted.exists:
            continue
        row = slotted.row
        yield Problem(
            path=("feeders", slotted.name, "slot"),
            related=(("feeder_rows", row.name, "slots"),),
            message=f"feeder {slotted.name} is in slot {slotted.slot}, but row {row.name} has "
            f"slots 1 to {row.described.slots}.",
            observed=str(slotted.slot),
            consequence="The nozzle would go beyond the row for "
            f"{slotted.feeder.part or 'its part'}.",
            remedy=(
                f"Look which slot {slotted.name} is in, then correct slot and pick point together.",
            ),
            suppresses=(
                ("feeder-pick-off-slot", ("feeders", slotted.name)),
                ("feeder-outside-travel", ("feeders", slotted.name)),
            ),
        )


@rule(
    Level.WARNING,
    fails="feeders.f02.feed_direction: 270",
    passes="feeders.f02.feed_direction: 90",
)
def feed_direction_contradicts_row(look: Inspection) -> Iterator[Problem]:
    """A feeder in a row has another feed direction than the row.

    On the machine: if the row is right, the attitude of each part is wrong by the difference, and
    so is every check of its polarity.

    To do: look which way the pockets move; correct or remove the feeder's `feed_direction`.

    Source: feeders of one row face one way: common practice, no published source.
    """
    for slotted in in_slots(look.shop):
        own, rows = slotted.feeder.feed_direction, slotted.row.described.feed_direction
        if own is None or abs(wrap(own - rows)) <= look.limits.half_turn_tolerance_deg:
            continue
        yield Problem(
            path=("feeders", slotted.name, "feed_direction"),
            related=(("feeder_rows", slotted.row.name, "feed_direction"),),
            message=f"feeder {slotted.name} feeds at {number(own)} degrees, but its row "
            f"{slotted.row.name} at {number(rows)}.",
            observed=number(own),
            expected=number(rows),
            consequence=f"If the row is right, {slotted.feeder.part or 'its part'} would be placed "
            f"{number(abs(wrap(own - rows)))} degrees off.",
            remedy=("Look which way the pockets move; correct or remove feed_direction.",),
        )


# what the feeders hold


@rule(
    Level.WARNING,
    fails="feeders.f01.part: 100n-0805",
    passes="""
    feeders.f01.part: 100n-0805
    feeders.f04: {row: front, slot: 4, part: 10k-0603, carrier: cut-tape, remaining: 40}
    feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4}
    feeders.f04.pick: {x: 68, y: 8.1, z: -18.1, rotation: 0}
    """,
)
def part_without_feeder(look: Inspection) -> Iterator[Problem]:
    """A job places a part that no feeder holds.

    On the machine: the run stops at the first of these placements, or leaves them out.

    To do: restore a lost feeder, set up another for the part, or write `fitted: no` at its
    placements.

    Source: common practice, no published source.
    """
    shop = look.shop
    if ("feeders",) in shop.not_understood:
        return
    holders = _holders(shop)
    misspelled = {near(part, shop.parts) for part in holders if part not in shop.parts}
    for job in sorted(shop.jobs, key=natural):
        placed = look.facts.usage.placements_by_part.get(job, {})
        unfed = [part for part in placed if part in shop.parts and part not in holders]
        unfed = sorted((part for part in unfed if part not in misspelled), key=natural)
        if unfed:
            yield _unfed(look, job, {part: placed[part] for part in unfed}, holders)


def _holders(shop: Shop) -> dict[str, str]:
    """Return part -> a feeder that holds it, also where the rest of the feeder is faulty."""
    held = shop.plain.get("feeders")
    named = held if isinstance(held, dict) else {}
    holders: dict[str, str] = {}
    for name in sorted(named, key=natural, reverse=True):
        part = named[name].get("part") if isinstance(named[name], dict) else None
        if isinstance(part, str):
            holders[part] = name
    return holders


def _unfed(
    look: Inspection, job: str, placed: dict[str, list[str]], holders: dict[str, str]
) -> Problem:
    recorded = _holders(look.good) if look.good else {}
    lost = {part: recorded[part] for part in placed if part in recorded}
    firsts = [min(references, key=natural) for references in placed.values()]
    shown = []
    for part, references in placed.items():
        alike = near(part, holders)
        hint = f"; {holders[alike]} holds {alike}" if alike else ""
        hint += f"; {lost[part]} held it" if part in lost else ""
        shown.append(f"{part} ({count(len(references), 'placement')}{hint})")
    empty = [name for name, feeder in feeders(look.shop) if feeder.part is None][:_MOST_OFFERED]
    shown += [f"{name} has no part" for name in empty]
    total = sum(map(len, placed.values()))
    first = next(iter(placed))
    return Problem(
        path=("jobs", job, "placements", firsts[0], "part"),
        related=(
            *(("jobs", job, "placements", reference, "part") for reference in firsts[1:6]),
            *(("feeders", name, "part") for name in empty),
        ),
        message=f"no feeder holds {first}, which {job} places."
        if len(placed) == 1
        else f"no feeder holds {len(placed)} of the parts that {job} places.",
        observed=listed(shown),
        consequence=f"{count(total, 'placement')} a board would be left out, or stop the run.",
        remedy=(
            *_put_back(look.shop, lost),
            "Set up a feeder for each, or write `fitted: no` at placements to leave out.",
        ),
    )


def _put_back(shop: Shop, lost: dict[str, str]) -> Remedy:
    """Offer the feeders that held the parts when the shop last worked: whole, or their part."""
    if not lost:
        return ()
    whole = [name if name not in shop.feeders else f"{name}.part" for name in lost.values()]
    paths = (f"feeders.{name}" for name in whole[:_MOST_OFFERED])
    return ("As last recorded:", command("restore", *paths))


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="feeders.f01.pick: ~",
    passes="parts.spare: {outline: chip-0603}\n"
    "feeders.f04: {part: spare, carrier: cut-tape, remaining: 9}\n"
    "feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4}",
)
def feeder_incomplete(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A feeder that a job needs has no pick point, a row without its slot, or no carrier.

    A missing place is an error where a job with a planned run needs it, and a warning where the
    record has the value. A missing tape, stick or tray is a warning in a planned run. Else it is
    not checked.

    On the machine: the controller uses the place that it had before, and misses or takes
    another part; feed and attitude of the parts are unknown.

    To do: look at the feeder; write pick, row and slot, and `tape`, `stick` or `tray`; restore
    what was lost.

    Source: a pick needs a point and an attitude, a slot needs its row; arithmetic. Carrier: common
    practice, no published source.
    """
    yield from _feeder_place_missing(look)
    yield from at_level(Level.WARNING, carrier_undescribed(look))


def _feeder_place_missing(look: Inspection) -> Iterator[Problem | Unchecked]:
    placed = look.facts.usage.placed_parts()
    unknown: dict[str, list[Path]] = defaultdict(list)
    for name, feeder in feeders(look.shop):
        if feeder.part is None or feeder.part not in placed:
            continue
        missing = ["pick"] if feeder.pick is None else []
        if (feeder.row is None) != (feeder.slot is None):
            missing.append("row" if feeder.row is None else "slot")
        is_planned = in_a_run(look.facts, [feeder.part])
        for key in missing:
            path = ("feeders", name, key)
            was = look.good is not None and look.good.plain_at(path) is not None
            if is_planned or was:
                yield _placeless(look, name, key, was, None if is_planned else Level.WARNING)
            else:
                unknown[key].append(path)
    for key, paths in unknown.items():
        yield lacking(f"place of {count(len(paths), 'feeder')}", key, paths)


def _placeless(look: Inspection, name: str, key: str, was: bool, level: Level | None) -> Problem:
    feeder = look.shop.feeders[name]
    has = {"pick": "", "row": f" but slot {feeder.slot}", "slot": f" but row {feeder.row}"}[key]
    return Problem(
        path=("feeders", name, key),
        level=level,
        message=f"feeder {name} has no {key}{has}.",
        observed="missing",
        expected=f"{key} is described" if was and key == "pick" else "",
        consequence=f"The place of {feeder.part} is unknown: the nozzle would go where it went "
        "before, and miss it or take another part.",
        remedy=(
            f"Look where {name} is. If it is where it was:",
            command("restore", f"feeders.{name}.{key}"),
            f"If it was moved, write the new {key}.",
        )
        if was
        else (f"Look where {name} is, and write its {key}.",),
    )
