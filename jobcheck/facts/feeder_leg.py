"""The feed leg of polarity: how a part is turned at pick by its carrier, and what `pick` states."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from jobcheck.schema.feeders import Feeder, Pin1InTape
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import (
    PIN1_AT_ZERO,
    PIN1_IN_TAPE,
    attitude_at_pick,
    attitude_difference,
    attitude_in_pocket,
)

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop


class FeederLeg(NamedTuple):
    """What the carrier says of the attitude at pick, degrees in the machine frame.

    `computed` is A of the polarity chain, wrapped to (-180, 180]; `rests_on` are the values that
    it comes from, the carrier's own first.
    """

    computed: float
    stated: float
    symmetry: float
    rests_on: tuple[Path, ...]

    @property
    def difference(self) -> float:
        """Stated minus computed, reduced by the part's symmetry: within half of it."""
        return attitude_difference(self.stated, self.computed, self.symmetry)


def feeder_leg(shop: Shop, name: str) -> FeederLeg | None:
    """Return the leg of a feeder; None where a value is unknown or does not fit the drawing."""
    feeder = shop.feeders[name]
    outline = shop.outline_of(feeder.part)
    if outline is None or feeder.pick is None:
        return None
    found = _from_tray(name, feeder) or _from_tape(shop, name, feeder, outline)
    if found is None:
        return None
    computed, rests_on = found
    return FeederLeg(computed, feeder.pick.rotation, outline.symmetry, rests_on)


def pin1_of(feeder: Feeder) -> tuple[Pin1InTape | None, Path] | None:
    """Return where the carrier has pin 1 and the field that says so, or None where none can.

    A tray, and a carrier without its block, have no such field.
    """
    if feeder.carrier == "stick":
        return (feeder.stick.pin1, ("stick", "pin1")) if feeder.stick else None
    if feeder.carrier in ("tape", "cut-tape") and feeder.tape:
        return feeder.tape.pin1, ("tape", "pin1")
    return None


def pin1_directions(feeder: Feeder, outline: Outline) -> tuple[float, float] | None:
    """Return Q and P, the directions of pin 1 in the tape and in the drawing, degrees.

    None where one of them is unknown.
    """
    carried = pin1_of(feeder)
    if carried is None or carried[0] is None or outline.pin1_at_zero is None:
        return None
    return PIN1_IN_TAPE[carried[0]], PIN1_AT_ZERO[outline.pin1_at_zero]


def pin1_faces_at_pick(shop: Shop, name: str) -> float | None:
    """Return f + Q: where pin 1 faces before the part is taken, by its carrier alone, degrees.

    A tray has its attitude instead, which differs from that by P alone. None where the carrier
    does not say. Source: quadrants of EIA-481-E Figure 1 and arithmetic.
    """
    feeder = shop.feeders[name]
    if feeder.carrier == "tray" and feeder.tray and feeder.tray.attitude is not None:
        return wrap(feeder.tray.attitude)
    carried, feed = pin1_of(feeder), feed_direction(shop, name, feeder)
    if carried is None or carried[0] is None or feed is None:
        return None
    return wrap(feed[0] + PIN1_IN_TAPE[carried[0]])


_Found = tuple[float, tuple[Path, ...]]


def _from_tray(name: str, feeder: Feeder) -> _Found | None:
    if feeder.carrier != "tray" or feeder.tray is None or feeder.tray.attitude is None:
        return None
    return wrap(feeder.tray.attitude), (("feeders", name, "tray", "attitude"),)


def _from_tape(shop: Shop, name: str, feeder: Feeder, outline: Outline) -> _Found | None:
    carried = pin1_of(feeder)
    feed = feed_direction(shop, name, feeder)
    part = shop.parts[feeder.part] if feeder.part else None
    if carried is None or feed is None or part is None:
        return None
    directions = pin1_directions(feeder, outline)
    in_pocket = attitude_in_pocket(*directions) if directions else None
    if in_pocket is None:
        return None
    direction, said = feed
    rests_on = (("feeders", name, *carried[1]), ("outlines", part.outline, "pin1_at_zero"), said)
    return attitude_at_pick(direction, in_pocket), rests_on


def feed_direction(shop: Shop, name: str, feeder: Feeder) -> tuple[float, Path] | None:
    """Return the machine direction in which pockets move, and which value says so."""
    if feeder.feed_direction is not None:
        return feeder.feed_direction, ("feeders", name, "feed_direction")
    rows = shop.machine.feeder_rows if shop.machine else {}
    row = rows.get(feeder.row) if feeder.row is not None else None
    if row is None or feeder.row is None:
        return None
    return row.feed_direction, ("feeder_rows", feeder.row, "feed_direction")
