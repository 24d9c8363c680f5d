"""Rules about feeders: slots, tapes and pick points."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.description.findings import Level, Problem
from jobcheck.description.shop import Shop
from jobcheck.rules.base import Inspection, listed, rule


def _slot_at(shop: Shop, row_name: str, x: float, y: float) -> int | None:
    """Return the slot of a row that lies nearest to a point, or None off its ends."""
    row = shop.machine.feeder_rows.get(row_name) if shop.machine else None
    if row is None:
        return None
    step = (row.step.x, row.step.y)
    length2 = step[0] ** 2 + step[1] ** 2
    if not length2:
        return None
    along = ((x - row.first.x) * step[0] + (y - row.first.y) * step[1]) / length2
    slot = round(along) + 1
    return slot if 1 <= slot <= row.slots else None


@rule(
    Level.ERROR,
    fails="feeders.f02.slot: 1",
    passes="feeders.f02.slot: 4\nfeeders.f02.pick.x: 68",
)
def feeder_slot_shared(look: Inspection) -> Iterator[Problem]:
    """Two feeders are described in the same slot of the same row.

    On the machine: the nozzle goes to that slot for both parts; one of them is missed, or the
    wrong part is placed.

    To do: look which feeder stands in the slot; correct the other one's slot and pick point
    together.

    Source: two things cannot stand in one place.
    """
    standing: dict[tuple[str, int], list[str]] = defaultdict(list)
    for name, feeder in look.shop.feeders.items():
        if feeder.row is not None and feeder.slot is not None:
            standing[feeder.row, feeder.slot].append(name)
    for (row, slot), found in standing.items():
        if len(found) < 2:
            continue
        names = sorted(found)
        strays = {
            name: at for name in names if (at := _pick_slot(look.shop, name)) not in (None, slot)
        }
        at_fault = next(iter(strays), names[-1])
        others = [name for name in names if name != at_fault]
        lies = f", but its pick point lies at slot {strays[at_fault]}" if strays else ""
        yield Problem(
            path=("feeders", at_fault, "slot"),
            also=tuple(("feeders", name, "slot") for name in others),
            says=f"feeders {listed(names)} all stand in slot {slot} of row {row}."
            if len(names) > 2
            else f"feeders {names[0]} and {names[1]} both stand in slot {slot} of row {row}.",
            now=f"{at_fault} in slot {slot}{lies}",
            so=f"The nozzle would go to slot {slot} for each of them and miss, or take what "
            "stands there.",
            do=f"Look which slot {at_fault} stands in, then correct slot and pick point together.",
            tells=(("feeder-pick-off-slot", ("feeders", at_fault)),),
        )


def _pick_slot(shop: Shop, name: str) -> int | None:
    """Return the slot that a feeder's pick point lies at."""
    feeder = shop.feeders[name]
    if feeder.pick is None or feeder.row is None:
        return None
    return _slot_at(shop, feeder.row, feeder.pick.x, feeder.pick.y)
