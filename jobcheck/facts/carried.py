"""How a feeder carries its part."""

from __future__ import annotations

from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import feed_direction, pin1_of
from jobcheck.schema.feeders import Feeder


class Carried(NamedTuple):
    """How a feeder carries its part; None is unknown.

    `feed` is the direction in which pockets move, degrees in the machine; `pin1_in_tape` names the
    side or quadrant of the pocket. `attitude` is how the outline is turned in the machine by the
    carrier; where the carrier does not say, it is the one that `pick` states.
    """

    name: str
    feeder: Feeder
    feed: float | None
    pin1_in_tape: str | None
    attitude: float | None


def carried(facts: Facts, name: str) -> Carried:
    """Return how a feeder carries its part."""
    feeder = facts.shop.feeders[name]
    direction, pin1 = feed_direction(facts.shop, name, feeder), pin1_of(feeder)
    leg = facts.polarity.feeders.get(name)
    stated = feeder.pick.rotation if feeder.pick else None
    return Carried(
        name,
        feeder,
        direction[0] if direction else None,
        pin1[0] if pin1 else None,
        leg.computed if leg else stated,
    )
