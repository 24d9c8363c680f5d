"""Polarity: three legs from the tape to the pads, each proven, declared, unknown or contradicted.

The drawing leg compares an outline with its footprint, the listing leg a row's angle and side with
its own pad 1 or a look at it, the feed leg what `pick` states with what the carrier gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.feeder_leg import FeederLeg, feed_direction, feeder_leg, pin1_of
from jobcheck.facts.fingerprint import LOOK, look_fingerprint
from jobcheck.facts.frames import Frames, frames_of
from jobcheck.facts.list_leg import ASKEW, PadLegs, assumptions, pad_legs
from jobcheck.facts.usage import Usage
from jobcheck.schema.feeders import Feeder
from jobcheck.schema.job import Placement
from jobcheck.schema.parts import Outline

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop


class Proof(StrEnum):
    """How well a leg is known."""

    CONTRADICTED = "contradicted"
    UNKNOWN = "unknown"
    DECLARED = "declared"
    PROVEN = "proven"


class Leg(NamedTuple):
    """One leg: how well it is known, why, how far off it is, and the key that would prove it.

    `off` is stated minus what the evidence says, degrees, reduced by the part's symmetry; 0 where
    it is not off. `lacks` is empty where nothing simple would prove it.
    """

    proof: Proof
    why: str
    off: float = 0.0
    lacks: str = ""


class Legs(NamedTuple):
    """The three legs of one placement; `feed` is the weakest of the feeders that hold its part."""

    drawing: Leg
    listing: Leg
    feed: Leg

    @property
    def weakest(self) -> str:
        """The name of the leg that decides: the first of those that are known worst."""
        order = list(Proof)
        named = self._asdict()
        return min(named, key=lambda name: order.index(named[name].proof))

    @property
    def verdict(self) -> Proof:
        """How well the polarity of the placement is known: as well as its weakest leg."""
        proof: Proof = getattr(self, self.weakest).proof
        return proof


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
        return {job: pad_legs(self._shop, job) for job in self._shop.jobs}

    @cached_property
    def _frames(self) -> Mapping[str, Frames]:
        return {job: frames_of(self._shop, job) for job in self._shop.jobs}

    def legs(self, job: str, reference: str) -> Legs:
        """Return the three legs of a placement that its job places."""
        part = self._placement(job, reference).part
        feeders = self._usage.feeders_of_part(part) if part is not None else ()
        return Legs(
            self.drawing(job, reference), self.listing(job, reference), self._weakest_feed(feeders)
        )

    def polarised(self, job: str) -> Iterable[tuple[str, str]]:
        """Yield (reference, outline) of a job's placed parts whose rotation matters."""
        for part, references in self._usage.placements_by_part.get(job, {}).items():
            outline = self._shop.outline_of(part)
            if outline is not None and outline.polarised:
                name = self._shop.parts[part].outline
                yield from ((reference, name) for reference in references)

    def _weakest_feed(self, feeders: Iterable[str]) -> Leg:
        order = list(Proof)
        legs = [self.feeder(name) for name in feeders]
        nothing = Leg(Proof.UNKNOWN, "no feeder holds the part", lacks="part")
        return min(legs, key=lambda leg: order.index(leg.proof), default=nothing)

    def feeder(self, name: str) -> Leg:
        """Return the feed leg of a feeder.

        The carrier proves what `pick` states once somebody looked at the reel after it was loaded.
        """
        leg, feeder = self.feeders.get(name), self._shop.feeders[name]
        if leg is None:
            why, lacks = _feed_unknown(self._shop, name, feeder)
            return Leg(Proof.UNKNOWN, why, lacks=lacks)
        field = ".".join(leg.rests_on[0][2:])
        if abs(leg.difference) > self._shop.limits.half_turn_tolerance_deg:
            why = f"pick.rotation of {name} is {leg.stated:g}, by {field} it is {leg.computed:g}"
            return Leg(Proof.CONTRADICTED, why, leg.difference)
        return _looked_at(feeder, f"pick.rotation fits {field}")

    def drawing(self, job: str, reference: str) -> Leg:
        """Return the drawing leg of a placement: its outline beside the footprint."""
        name, outline = self._outline(job, reference)
        frames = self._frames[job]
        if outline is None or outline.pin1_at_zero is None:
            return _undrawn(name, outline)
        if frames.zero_offset(outline) is None:
            where = f"on outline {name}" if outline.zero is None else "of the list"
            return Leg(Proof.UNKNOWN, f"no zero level {where}", lacks="zero")
        off = self.lists[job].footprints.get(name)
        if off is not None:
            return _by_footprint(outline, off, assumptions(frames, outline, off))
        if self.lists[job].pads.get(name, {}).get(reference) == 0:
            return _agreed(outline, "pad 1 of its row")
        if outline.pin1_checked is not None:
            day = outline.pin1_checked.isoformat()
            return Leg(Proof.DECLARED, f"compared with the footprint on {day}", 0, "pad1_at_zero")
        return Leg(Proof.UNKNOWN, f"no pad1_at_zero on outline {name}", lacks="pad1_at_zero")

    def listing(self, job: str, reference: str) -> Leg:
        """Return the listing leg of a placement: its angle and side."""
        placement = self._placement(job, reference)
        name, outline = self._outline(job, reference)
        if outline is None:
            return _undrawn(name, outline)
        off = self.lists[job].listing(outline, name, reference)
        if off is not None:
            rows = self.lists[job].pads[name].values()
            return _by_row(off, assumptions(self._frames[job], outline, off, rows))
        return self._by_look(job, reference, placement, outline)

    def _by_look(self, job: str, reference: str, placement: Placement, outline: Outline) -> Leg:
        listing = self._shop.jobs[job].placements
        covered = look_fingerprint(placement, outline, listing)
        trial = self._trial(job, reference, covered)
        if trial is not None:
            return trial
        look = listing.pin1_checked
        if look is not None and not look.under:
            return Leg(
                Proof.DECLARED,
                f"the list was looked at on {look.date}, no fingerprint",
                0,
                "pin1_checked",
            )
        if look is None or reference not in look.under:
            return Leg(
                Proof.UNKNOWN, "no pad 1 in its row, no look at this angle", lacks="pin1_checked"
            )
        if look.under[reference] == covered:
            return Leg(Proof.PROVEN, f"looked at and unchanged since; last look {look.date}")
        return Leg(
            Proof.UNKNOWN,
            "its part, angle, side, drawing or level changed since it was looked at",
            lacks="pin1_checked",
        )

    def _trial(self, job: str, reference: str, covered: str) -> Leg | None:
        """Return what the newest trial says of a placement that is as it was then."""
        looks = [
            (trial.date, trial.placements[reference].result)
            for trial in self._shop.trials.values()
            if trial.job == job
            and reference in trial.placements
            and trial.placements[reference].under.get(LOOK) == covered
        ]
        day, result = max(looks, default=(None, ""))
        if result == "reversed":
            return Leg(Proof.CONTRADICTED, f"reversed in the trial of {day}", 180.0)
        if result in ("ok", "shifted"):
            return Leg(Proof.PROVEN, f"seen right in the trial of {day}, unchanged since")
        return None

    def _placement(self, job: str, reference: str) -> Placement:
        return self._shop.jobs[job].placements.by_reference[reference]

    def _outline(self, job: str, reference: str) -> tuple[str, Outline | None]:
        part = self._placement(job, reference).part
        known = self._shop.parts.get(part) if part is not None else None
        return (known.outline, self._shop.outlines.get(known.outline)) if known else ("", None)


def _undrawn(name: str, outline: Outline | None) -> Leg:
    if outline is None:
        return Leg(Proof.UNKNOWN, "its part is not described", lacks="part")
    return Leg(Proof.UNKNOWN, f"no pin1_at_zero on outline {name}", lacks="pin1_at_zero")


def _by_footprint(outline: Outline, off: float, assumed: tuple[str, ...]) -> Leg:
    at = (outline.pad1_at_zero or "").replace("_", " ")
    if off == 0:
        return _agreed(outline, "pad 1 of the footprint", f", at the {at}")
    why = f"{_turn(off)} from pad 1 of the footprint, at the {at}"
    if assumed:
        return Leg(Proof.UNKNOWN, ", ".join((why, *assumed)), off, "pad1_means")
    return Leg(Proof.CONTRADICTED, why, off)


def _agreed(outline: Outline, pad: str, at: str = "") -> Leg:
    """Return the leg of a drawing that fits; two terminals need the name of pad 1's."""
    if outline.is_pad1_opposite is None:
        return Leg(Proof.DECLARED, f"{pad} is on the side of pin 1, no pad1_means", 0, "pad1_means")
    means = outline.pad1_means or "pin 1"
    return Leg(Proof.PROVEN, f"{pad} is {means if means == 'pin 1' else f'the {means}'}{at}")


def _by_row(off: float, assumed: tuple[str, ...]) -> Leg:
    if off == 0:
        why = "pad 1 of its row is where this angle puts it"
        proof = Proof.DECLARED if assumed else Proof.PROVEN
        return Leg(proof, ", ".join((why, *assumed)), lacks="bottom_positions" if assumed else "")
    why = f"{_turn(off)} from pad 1 of its row"
    if assumed:
        return Leg(Proof.UNKNOWN, ", ".join((why, *assumed)), off)
    return Leg(Proof.CONTRADICTED, why, off)


def _turn(off: float) -> str:
    if off == ASKEW:
        return "between corner and mid-side"
    return "half a turn" if abs(off) == 180 else "a quarter turn"


def _looked_at(feeder: Feeder, fits: str) -> Leg:
    """Return the leg of a pick that fits: proven where somebody looked since it was loaded."""
    reel = feeder.reel
    seen = reel.orientation_seen if reel else None
    if reel is None or seen is None:
        return Leg(Proof.DECLARED, f"{fits}, never looked at", lacks="orientation_seen")
    if reel.loaded is not None and reel.loaded > seen:
        why = f"{fits}, loaded on {reel.loaded}, last looked at on {seen}"
        return Leg(Proof.DECLARED, why, lacks="orientation_seen")
    return Leg(Proof.PROVEN, f"{fits}, looked at on {seen}")


def _feed_unknown(shop: Shop, name: str, feeder: Feeder) -> tuple[str, str]:
    """Return why a feeder has no leg, and the key that would give it one."""
    outline = shop.outline_of(feeder.part)
    if outline is None:
        return "its part is not described", "part"
    if feeder.pick is None:
        return f"no pick on {name}", "pick"
    if feeder.carrier == "tray":
        return f"no tray.attitude on {name}", "attitude"
    if outline.pin1_at_zero is None:
        return "the outline has no pin1_at_zero", "pin1_at_zero"
    carried = pin1_of(feeder)
    if carried is None or carried[0] is None:
        return f"no {feeder.carrier if carried is None else '.'.join(carried[1])} on {name}", "pin1"
    if feed_direction(shop, name, feeder) is None:
        return f"no feed_direction on {name}", "feed_direction"
    return f"{'.'.join(carried[1])} of {name} does not fit pin1_at_zero", ""
