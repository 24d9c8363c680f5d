"""Rules about turns that were put right by hand: what cancels today, and what fits no longer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import FeederLeg
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.polarity.listing_leg import turn_in_words
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference
from jobcheck.wording import listed, number

_PICK_RULES = ("pick-rotation-half-turn", "pick-rotation-quarter-turn", "pick-rotation-off")
_BACK_ROW = """
    feeder_rows.back: {slots: 8, first: {x: 20, y: 250, z: -18}, step: {x: 16, y: 0}, \
feed_direction: 270}
    feeders.f03.row: back
    feeders.f03.slot: 3
"""


def _off(look: Inspection) -> dict[str, FeederLeg]:
    """Return the legs of feeders whose pick states another attitude than the carrier gives."""
    limit = look.limits.half_turn_tolerance_deg
    legs = look.facts.polarity.feeders
    names = (name for name, leg in legs.items() if abs(leg.difference) > limit)
    return {name: legs[name] for name in sorted(names, key=natural)}


# two legs that are off alike


@rule(
    Level.WARNING,
    fails="""
    outlines.sod-123.pin1_at_zero: right
    jobs.first-board.placements.D1.pin1_x: 10.4
    jobs.first-board.placements.D1.pin1_y: 20
    jobs.first-board.placements.D2.pin1_x: 13.6
    jobs.first-board.placements.D2.pin1_y: 24
    """,
    passes="""
    jobs.first-board.placements.D1.pin1_x: 10.4
    jobs.first-board.placements.D1.pin1_y: 20
    """,
)
def polarity_errors_cancel(look: Inspection) -> Iterator[Problem]:
    """A pick and a list are off alike: the part lies right only while both stay wrong.

    On the machine: nothing today. Whoever puts one of the two right turns the part on its pads.

    To do: correct what both rest on, the outline's drawing; where the pick was turned by hand to
    make up for the list, correct both in one go.

    Source: T = B - A, arithmetic: equal errors of both legs cancel.
    """
    shop = look.shop
    cancelling: dict[str, list[str]] = defaultdict(list)
    for name, leg in _off(look).items():
        part = shop.feeders[name].part
        if part is not None and _list_is_off_alike(look.facts, part, leg):
            cancelling[shop.parts[part].outline].append(name)
    for outline, names in cancelling.items():
        yield _cancelling(look.facts, outline, names)


def _list_is_off_alike(facts: Facts, part: str, leg: FeederLeg) -> bool:
    """Tell whether all pads of a part say that the list is off as much as the pick."""
    outline = facts.shop.parts[part].outline
    found = set()
    for job, references in facts.usage.placements_of_parts((part,)).items():
        legs = facts.polarity.lists[job]
        found |= {legs.off(outline, reference) for reference in references}
    found.discard(None)
    return _quarter(leg) != 0 and found == {_quarter(leg)}


def _quarter(leg: FeederLeg) -> float:
    return attitude_difference(90.0 * round(leg.difference / 90.0), 0.0, leg.symmetry)


def _cancelling(facts: Facts, outline: str, names: list[str]) -> Problem:
    all_legs = [
        name
        for part in facts.usage.parts_of_outline(outline)
        for name in facts.usage.feeders_of_part(part)
        if name in facts.polarity.feeders
    ]
    is_drawing = set(all_legs) == set(names)
    picks: list[Path] = [("feeders", name, "pick", "rotation") for name in names]
    at_zero: Path = ("outlines", outline, "pin1_at_zero")
    angle = _quarter(facts.polarity.feeders[names[0]])
    parts = dict.fromkeys(part for name in names if (part := facts.shop.feeders[name].part))
    turn = turn_in_words(angle)
    return Problem(
        path=at_zero if is_drawing else picks[0],
        related=tuple(picks[:5] if is_drawing else [*picks[1:5], at_zero]),
        message=f"outline {outline} is drawn {turn} off, from its reels and its pads alike."
        if is_drawing
        else f"feeder {listed(names)} makes up for a list that is {turn} off.",
        observed=f"pin1_at_zero {facts.shop.outlines[outline].pin1_at_zero}; "
        + ", ".join(f"{n} states {number(facts.polarity.feeders[n].stated)}" for n in names[:4]),
        consequence=f"{listed(list(parts))} lies right, but only while both stay as they are: who corrects "
        f"one turns it by {'a half' if abs(angle) == 180 else 'a quarter'}.",
        remedy=(
            "Look at the drawing and correct pin1_at_zero."
            if is_drawing
            else "Correct the list and the pick together.",
        ),
        suppresses=tuple(_told(facts, outline, names, list(parts), is_drawing)),
    )


def _told(
    facts: Facts, outline: str, names: list[str], parts: list[str], is_drawing: bool
) -> Iterator[tuple[str, Path]]:
    """Yield what follows: both legs of what cancels."""
    drawing: Path = ("outlines", outline)
    yield from _told_by_pick((*_PICK_RULES, "pick-rotation-outdated"), names, drawing)
    if is_drawing:
        yield "outline-drawing-contradicts-pads", drawing
    for job, references in facts.usage.placements_of_parts(parts).items():
        for reference in references:
            yield "placement-turned-from-pads", ("jobs", job, "placements", reference)


def _told_by_pick(
    rules: Iterable[str], names: Iterable[str], shared: Path
) -> Iterator[tuple[str, Path]]:
    """Yield the findings about picks of some feeders, and about what they share."""
    for told in rules:
        yield told, shared
        for name in names:
            yield told, ("feeders", name)


# what fitted once


@rule(
    Level.ERROR,
    compares=True,
    fails=_BACK_ROW + "feeders.f03.pick: {x: 52, y: 250, z: -18.2, rotation: 0}",
    passes=_BACK_ROW + "feeders.f03.pick: {x: 52, y: 250, z: -18.2, rotation: 180}",
)
def feeder_moved_across_rows(look: Inspection) -> Iterator[Problem]:
    """A feeder stands in a row that feeds another way, and its pick was not turned with it.

    On the machine: every part from it is placed turned by the angle between the rows: half a turn
    from front to back.

    To do: look how the part lies in the feeder where it stands now, and correct `pick.rotation`.

    Source: A = f + Q - P, arithmetic: the attitude at pick turns with the feed direction.
    """
    moved: dict[tuple[str, str], list[str]] = defaultdict(list)
    for name in _once_right(look):
        good = look.good.feeders[name] if look.good else None
        here = look.shop.feeders[name]
        if good and good.row and here.row and good.row != here.row:
            moved[good.row, here.row].append(name)
    for (origin, row), names in moved.items():
        yield _moved(look.facts, origin, row, names)


def _moved(facts: Facts, origin: str, row: str, names: list[str]) -> Problem:
    is_one = len(names) == 1
    legs = facts.polarity.feeders
    turns = [
        f"{name} states {number(legs[name].stated)}, not {number(legs[name].computed)}"
        for name in names[:4]
    ]
    return Problem(
        path=("feeders", names[0], "row"),
        related=tuple(("feeders", name, "pick", "rotation") for name in names[:5]),
        message=f"feeder {listed(names)} moved from row {origin} to row {row}, which feeds another "
        f"way; {'its pick was' if is_one else 'their picks were'} not turned.",
        observed="; ".join(turns),
        consequence=f"{_parts(facts.shop, names)} would be placed {turn_in_words(_quarter(legs[names[0]]))} off.",
        remedy=(
            "Look how the part lies where the feeder stands now, then set pick.rotation to "
            f"{number(legs[names[0]].computed)}."
            if is_one
            else "Look how the parts lie where the feeders stand now, then correct each pick.rotation.",
        ),
        suppresses=tuple(_told_by_pick(_PICK_RULES, names, ("feeder_rows", row))),
    )


@rule(
    Level.ERROR,
    compares=True,
    fails="feeders.f03.tape.pin1: plain_edge",
    passes="feeders.f03.tape.pin1: plain_edge\nfeeders.f03.pick.rotation: 180",
)
def pick_rotation_outdated(look: Inspection) -> Iterator[Problem]:
    """A pick states what fitted before the tape, the drawing or the row it rests on changed.

    On the machine: every part from that feeder is placed turned by as much as that changed.

    To do: look how the part lies, and correct `pick.rotation`, or put back what changed.

    Source: A = f + Q - P, arithmetic.
    """
    causes: dict[Path, list[str]] = defaultdict(list)
    for name in _once_right(look):
        for path in look.facts.polarity.feeders[name].rests_on:
            was = look.good.plain_at(path) if look.good else None
            if was is not None and was != look.shop.plain_at(path):
                causes[path].append(name)
                break
    for path, names in causes.items():
        yield _outdated(look, path, names)


def _once_right(look: Inspection) -> Iterator[str]:
    """Yield feeders whose pick is off now, fitted in the record, and states the same as then."""
    off = _off(look)
    good = look.good_facts if off else None
    if good is None:
        return
    for name, leg in off.items():
        then = good.polarity.feeders.get(name)
        limit = look.limits.half_turn_tolerance_deg
        if then and then.stated == leg.stated and abs(then.difference) <= limit:
            yield name


def _outdated(look: Inspection, path: Path, names: list[str]) -> Problem:
    shop, good = look.shop, look.good
    legs = look.facts.polarity.feeders
    was, now = good.plain_at(path) if good else None, shop.plain_at(path)
    stay = ", ".join(f"{name} {number(legs[name].stated)}" for name in names[:6])
    return Problem(
        path=path,
        related=tuple(("feeders", name, "pick", "rotation") for name in names[:5]),
        message=f"{show(path)} changed, but the pick of {listed(names)} still states what fitted "
        "before.",
        observed=f"{path[-1]} {now}, was {was}; pick.rotation stayed: {stay}",
        consequence=f"{_parts(shop, names)} would be placed {turn_in_words(_quarter(legs[names[0]]))} off.",
        remedy=(
            f"Look at the {'reel' if path[0] == 'feeders' else 'part in its pocket'}. {path[-1]} as "
            "written: "
            + (
                f"set pick.rotation to {number(legs[names[0]].computed)}."
                if len(names) == 1
                else "correct each pick.rotation."
            )
            + f" Otherwise: put {path[-1]} back.",
        ),
        suppresses=tuple(_told_by_pick(_PICK_RULES, names, path)),
    )


def _parts(shop: Shop, names: list[str]) -> str:
    return listed(list(dict.fromkeys(str(shop.feeders[name].part) for name in names)))
