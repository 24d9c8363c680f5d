"""What is behind parts that are turned off their pads, each cause once."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import get_args

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import frames_of
from jobcheck.facts.list_leg import ASKEW, BOTTOMS, PadLegs, assumptions, turned_too_far
from jobcheck.findings import Level
from jobcheck.rules.base import Inspection
from jobcheck.schema.job import Bottom, BottomPositions
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference

_CLEARLY = 4
"""Another convention is meant where it leaves less than a quarter of the misfits (common
practice, no published source)."""

PADS = """
    jobs.first-board.placements.D1.pin1_x: 10.4
    jobs.first-board.placements.D1.pin1_y: 20
    jobs.first-board.placements.D2.pin1_x: 13.6
    jobs.first-board.placements.D2.pin1_y: 24
    jobs.first-board.placements.U1.pin1_x: 22.1
    jobs.first-board.placements.U1.pin1_y: 17.5
"""
"""Pads of the starter's list, for the examples; all agree with it."""


@dataclass
class Causes:
    """What is behind parts that a list turns off their pads, each cause once.

    `bottom` and `positions` are the conventions that fit instead; `zero` how far the list as a
    whole is off; `outlines` how far all placements of an outline are off beyond that; `alone`
    outline -> angle -> references that are off on their own. Angles as in `PadLegs`.
    """

    bottom: tuple[Bottom, ...] = ()
    positions: tuple[str, ...] = ()
    zero: float = 0.0
    outlines: dict[str, float] = field(default_factory=dict)
    alone: dict[str, dict[float, list[str]]] = field(default_factory=dict)


def causes_of(facts: Facts, job: str) -> Causes:
    """Return what is behind the parts of a job that are off their pads."""
    legs = facts.polarity.lists[job]
    off = {name for name, pads in legs.pads.items() if any(pads.values())}
    if not off and not any(legs.footprints.values()):
        return Causes()
    usual = _usual(legs)
    causes = Causes()
    if off:
        causes.bottom = _other_bottom(facts.shop, job, legs)
        causes.positions = _other_positions(facts.shop, job, legs)
    if not causes.bottom and not causes.positions:
        causes.zero = _common_angle(facts.shop, usual)
        causes.outlines, causes.alone = _apart(facts.shop, legs, usual, causes.zero)
    for name, angle in legs.footprints.items():
        if angle and not any(legs.pads.get(name, {0: 1}).values()):
            causes.outlines[name] = angle
    return causes


def doubt_of(facts: Facts, job: str, found: Iterable[tuple[str, float]]) -> tuple[str, ...]:
    """Return what all of some outlines found off rest on, as conditions; none if one is certain."""
    pads, frames = facts.polarity.lists[job].pads, frames_of(facts.shop, job)
    each = [
        assumptions(
            frames, facts.shop.outlines[name], off, pads[name].values() if name in pads else None
        )
        for name, off in found
    ]
    return () if not all(each) else each[0]


def so(says: str, doubt: tuple[str, ...]) -> str:
    """Write a consequence with what it rests on."""
    return f"{', '.join((says, *doubt))}."


def level_of(doubt: tuple[str, ...]) -> Level | None:
    """Return the level of a problem: a warning if it rests on something assumed."""
    return Level.WARNING if doubt else None


def _usual(legs: PadLegs) -> dict[str, float]:
    """Return the angle that most placements of each outline are off by; 0 where it is mixed."""
    usual = dict(legs.footprints)
    for outline, pads in legs.pads.items():
        ((angle, number_of),) = Counter(pads.values()).most_common(1)
        usual[outline] = angle if 2 * number_of > len(pads) else 0.0
    return usual


def _other_bottom(shop: Shop, job: str, legs: PadLegs) -> tuple[Bottom, ...]:
    """Return the conventions that fit the pads of the bottom where the declared one does not.

    Where a footprint shows that a drawing is off, its rows say nothing of the convention.
    """
    described = shop.jobs[job]
    rows = [
        (shop.outlines[name], reference, angle)
        for name, pads in legs.pads.items()
        if not legs.footprints.get(name)
        for reference, angle in pads.items()
    ]
    misfits = sum(angle != 0 for _, _, angle in rows)
    if described.side != "bottom" or not misfits:
        return ()
    frames, placements = frames_of(shop, job), described.placements.by_reference
    left = {
        bottom: sum(
            turned_too_far(frames, outline, placements[reference], bottom) != 0
            for outline, reference, _ in rows
        )
        for bottom in BOTTOMS
        if bottom != described.placements.bottom
    }
    fewest = min(left.values())
    if _CLEARLY * fewest >= misfits:
        return ()
    return tuple(bottom for bottom in left if left[bottom] == fewest)


def _other_positions(shop: Shop, job: str, legs: PadLegs) -> tuple[str, ...]:
    """Return other conventions for positions under which all pads fit the declared rotations."""
    described = shop.jobs[job]
    if described.side != "bottom":
        return ()
    listing, found = described.placements, []
    rows = [
        (shop.outlines[name], listing.by_reference[reference])
        for name, pads in legs.pads.items()
        for reference in pads
    ]
    for positions in get_args(BottomPositions):
        counted = listing.model_copy(update={"bottom_positions": positions})
        jobs = {**shop.jobs, job: described.model_copy(update={"placements": counted})}
        frames = frames_of(replace(shop, jobs=jobs), job)
        if not any(turned_too_far(frames, *row, listing.bottom) for row in rows):
            found.append(positions)
    return tuple(found)


def _common_angle(shop: Shop, usual: Mapping[str, float]) -> float:
    """Return the angle that all outlines, two or more, are off by; 0 for none.

    Parts that look the same when turned say less of it.
    """
    full = {name: angle for name, angle in usual.items() if shop.outlines[name].symmetry == 360}
    angles = set((full or usual).values())
    angle = angles.pop() if len(usual) > 1 and len(angles) == 1 else 0.0
    if angle == ASKEW or any(_beyond(shop, name, usual[name], angle) for name in usual):
        return 0.0
    return angle


def _beyond(shop: Shop, outline: str, angle: float, common: float) -> float:
    """Return how far an outline is off beyond what all are."""
    if angle == ASKEW:
        return ASKEW
    return attitude_difference(angle, common, shop.outlines[outline].symmetry)


def _apart(
    shop: Shop, legs: PadLegs, usual: Mapping[str, float], common: float
) -> tuple[dict[str, float], dict[str, dict[float, list[str]]]]:
    """Separate what whole outlines are off by from single placements."""
    outlines: dict[str, float] = {}
    alone: dict[str, dict[float, list[str]]] = {}
    for name, angle in usual.items():
        pads = legs.pads.get(name, {})
        if len(pads) != 1 and (beyond := _beyond(shop, name, angle, common)):
            outlines[name] = beyond
        like_most = common if len(pads) == 1 else angle
        single: dict[float, list[str]] = defaultdict(list)
        for reference, off in pads.items():
            if beyond := _beyond(shop, name, off, like_most):
                single[beyond].append(reference)
        if single and name not in outlines:
            alone[name] = dict(single)
    return outlines, alone


def each_job(look: Inspection) -> Iterator[tuple[str, Causes]]:
    """Yield each job with what is behind its parts that are off their pads."""
    for job in sorted(look.shop.jobs, key=natural):
        yield job, causes_of(look.facts, job)


def turn_in_words(angle: float) -> str:
    """Write half a turn or a quarter turn, whichever it is nearer to."""
    return "half a turn" if abs(angle) > 135 else "a quarter turn"
