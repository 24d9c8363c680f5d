"""Polarity: the two legs from the tape to the pads, each proven, declared or unknown.

The feeder leg is how a part lies before it is taken, the list leg how it must lie on its board.
A leg is proven where two independent values say the same, declared where somebody vouches for it,
contradicted where two values say otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.feeder_leg import FeederLeg, feeder_leg
from jobcheck.facts.list_leg import ASKEW, PadLegs, pad_legs
from jobcheck.facts.usage import Usage
from jobcheck.schema.feeders import Feeder

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop


class Proof(StrEnum):
    """How well a leg is known."""

    PROVEN = "proven"
    DECLARED = "declared"
    UNKNOWN = "unknown"
    CONTRADICTED = "contradicted"


class Leg(NamedTuple):
    """One leg: how well it is known, why, and how far off it is, degrees.

    `off` is stated minus what the evidence says, reduced by the part's symmetry: a list or a pick
    that is 90 too large says 90. 0 where it is not contradicted.
    """

    proof: Proof
    why: str
    off: float = 0.0


class Polarity:
    """What a shop says of pin 1, each leg worked out once."""

    def __init__(self, shop: Shop, usage: Usage) -> None:
        """Take a shop; nothing is worked out before it is asked for."""
        self._shop = shop
        self._usage = usage

    @cached_property
    def feeders(self) -> Mapping[str, FeederLeg]:
        """Feeder -> its leg; a feeder of which too little is known has none."""
        names = self._shop.feeders
        return {name: leg for name in names if (leg := feeder_leg(self._shop, name))}

    @cached_property
    def lists(self) -> Mapping[str, PadLegs]:
        """Job -> what its pad data say."""
        return {job: pad_legs(self._shop, self._usage, job) for job in self._shop.jobs}

    def feeder(self, name: str) -> Leg:
        """Return the feeder leg of a feeder.

        The tape proves what `pick` states once somebody looked at the reel after it was loaded.
        """
        leg, feeder = self.feeders.get(name), self._shop.feeders[name]
        if leg is None:
            return Leg(Proof.UNKNOWN, _feeder_unknown(self._shop, feeder))
        if abs(leg.difference) > self._shop.limits.half_turn_tolerance_deg:
            why = f"pick.rotation states {leg.stated:g}, {leg.rests_on[0][-1]} gives"
            return Leg(Proof.CONTRADICTED, f"{why} {leg.computed:g}", leg.difference)
        return _seen(feeder, leg)

    def list(self, job: str, reference: str) -> Leg:
        """Return the list leg of a placement that its job places."""
        described = self._shop.jobs[job]
        part = described.placements.by_reference[reference].part
        known = self._shop.parts.get(part) if part is not None else None
        outline = self._shop.outlines.get(known.outline) if known else None
        if known is None or outline is None:
            return Leg(Proof.UNKNOWN, "its part is not described")
        legs = self.lists[job]
        off = legs.off(known.outline, reference)
        if off is not None:
            is_pad = reference in legs.pads.get(known.outline, {})
            return _by_pads(off, "its pad 1" if is_pad else "pad 1 of its footprint")
        for who, day in (
            ("the list", described.placements.pin1_checked),
            (f"outline {known.outline}", outline.pin1_checked),
        ):
            if day is not None:
                return Leg(Proof.DECLARED, f"pin 1 of {who} was checked on {day.isoformat()}")
        if outline.pin1_at_zero is None:
            return Leg(Proof.UNKNOWN, f"outline {known.outline} does not say where pin 1 is")
        return Leg(Proof.UNKNOWN, "nothing says where its pad 1 lies")


def _by_pads(off: float, pad: str) -> Leg:
    if off == 0:
        return Leg(Proof.PROVEN, f"the list agrees with {pad}")
    if off == ASKEW:
        return Leg(Proof.CONTRADICTED, f"{pad} lies between corner and mid-side", off)
    return Leg(Proof.CONTRADICTED, f"the list is {off:g} off {pad}", off)


def _seen(feeder: Feeder, leg: FeederLeg) -> Leg:
    """Tell a reel that was looked at since it was loaded from one that was not."""
    reel, field = feeder.reel, leg.rests_on[0][-1]
    seen = reel.orientation_seen if reel else None
    if reel is None or seen is None:
        return Leg(Proof.DECLARED, f"pick.rotation fits {field}; nobody noted having looked")
    if reel.loaded is not None and reel.loaded > seen:
        return Leg(
            Proof.DECLARED,
            f"pick.rotation fits {field}, but the reel was loaded on {reel.loaded.isoformat()} and "
            f"last looked at on {seen.isoformat()}",
        )
    return Leg(Proof.PROVEN, f"pick.rotation fits {field}, seen on {seen.isoformat()}")


def _feeder_unknown(shop: Shop, feeder: Feeder) -> str:
    outline = shop.outline_of(feeder.part)
    if outline is None:
        return "its part is not described"
    if feeder.pick is None:
        return "its pick is not described"
    if feeder.carrier != "tray" and outline.pin1_at_zero is None:
        return "the outline does not say where pin 1 is"
    return "the carrier does not say where pin 1 lies"
