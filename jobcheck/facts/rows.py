"""Feeders in their rows: where a slot is, and how far a pick is from it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.schema.feeders import Feeder, Pick
from jobcheck.schema.machine import FeederRow
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.wording import number


class Row(NamedTuple):
    """A row of slots that has a step."""

    name: str
    described: FeederRow

    @property
    def pitch_mm(self) -> float:
        """Distance from one slot to the next, mm."""
        return math.hypot(self.described.step.x, self.described.step.y)

    @property
    def along(self) -> tuple[float, float]:
        """Unit vector from slot to slot."""
        return self.described.step.x / self.pitch_mm, self.described.step.y / self.pitch_mm

    def slot_point(self, slot: int) -> tuple[float, float]:
        """Return where the pick of a slot is nominally, mm."""
        first, step = self.described.first, self.described.step
        return first.x + (slot - 1) * step.x, first.y + (slot - 1) * step.y

    def offset(self, pick: Pick, slot: int) -> tuple[float, float]:
        """Return how far a pick is from a slot, along and across the row, mm."""
        at_x, at_y = self.slot_point(slot)
        x, y = pick.x - at_x, pick.y - at_y
        along_x, along_y = self.along
        return x * along_x + y * along_y, y * along_x - x * along_y

    def nearest_slot(self, pick: Pick) -> int | None:
        """Return the slot nearest to a pick, or None off the row's ends."""
        slots = self.offset(pick, 1)[0] / self.pitch_mm
        slot = round(slots) + 1 if abs(slots) <= self.described.slots else 0
        return slot if 1 <= slot <= self.described.slots else None


class Slotted(NamedTuple):
    """A feeder with its slot in a row."""

    name: str
    feeder: Feeder
    row: Row
    slot: int

    @property
    def exists(self) -> bool:
        """Whether the row has the slot."""
        return 1 <= self.slot <= self.row.described.slots


def feeders(shop: Shop) -> Iterator[tuple[str, Feeder]]:
    """Yield feeders by name, in natural order."""
    for name in sorted(shop.feeders, key=natural):
        yield name, shop.feeders[name]


def rows(shop: Shop) -> dict[str, Row]:
    """Return the rows of a shop that have a step, in natural order."""
    described = shop.machine.feeder_rows if shop.machine else {}
    return {
        name: Row(name, described[name])
        for name in sorted(described, key=natural)
        if described[name].step.x or described[name].step.y
    }


def in_slots(shop: Shop) -> list[Slotted]:
    """Return the feeders whose row and slot are known, in natural order."""
    known = rows(shop)
    return [
        Slotted(name, feeder, known[feeder.row], feeder.slot)
        for name, feeder in feeders(shop)
        if feeder.row in known and feeder.slot is not None
    ]


def slot_name(shop: Shop, pick: Pick) -> str:
    """Name the slot of any row that a pick is at; empty beside every row."""
    for name, row in rows(shop).items():
        slot = row.nearest_slot(pick)
        if slot is not None and abs(row.offset(pick, slot)[1]) <= row.pitch_mm / 2:
            return f"slot {slot} of row {name}"
    return ""


def point(x: float, y: float) -> str:
    """Write a position: `x 52.1, y 8.1`."""
    return f"x {number(x)}, y {number(y)}"
