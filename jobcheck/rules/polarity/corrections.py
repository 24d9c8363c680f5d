"""What picks were corrected for: turns that cancel today, and picks that fitted once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import FeederLeg
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.polarity.causes import turn_in_words
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference
from jobcheck.wording import listed, number

Explained = tuple[list[str], Problem]
"""Feeders with the one problem that explains them."""


def off_feeders(look: Inspection) -> dict[str, FeederLeg]:
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
    """A pick and a list are off alike: the part is right only while both stay wrong.

    On the machine: nothing today. Whoever corrects one of the two turns the part on its pads.

    To do: correct the outline's drawing, on which both rest. If the pick was turned by hand to
    make up for the list, correct both together.

    Source: T = B - A, arithmetic: equal errors of both legs cancel.
    """
    shop = look.shop
    cancelling: dict[str, list[str]] = defaultdict(list)
    for name, leg in off_feeders(look).items():
        part = shop.feeders[name].part
        if part is not None and _list_is_off_alike(look.facts, part, leg):
            cancelling[shop.parts[part].outline].append(name)
    for outline, names in cancelling.items():
        yield _cancelling(look.facts, outline, names)


def _list_is_off_alike(facts: Facts, part: str, leg: FeederLeg) -> bool:
    """Whether all pads of a part show that the list is off as much as the pick."""
    outline = facts.shop.parts[part].outline
    found = set()
    for job, references in facts.usage.placements_of_parts((part,)).items():
        legs = facts.polarity.lists[job]
        found |= {legs.total(outline, reference) for reference in references}
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
        consequence=f"{listed(list(parts))} is right only while both stay as they are. Whoever "
        f"corrects one of them turns it by {turn}.",
        remedy=(
            "Look at the drawing and correct pin1_at_zero."
            if is_drawing
            else "Correct the list and the pick together.",
        ),
        suppresses=tuple(_both_legs(facts, outline, names, list(parts), is_drawing)),
    )


def _both_legs(
    facts: Facts, outline: str, names: list[str], parts: list[str], is_drawing: bool
) -> Iterator[tuple[str, Path]]:
    """Yield the findings that follow: both legs of what cancels."""
    drawing: Path = ("outlines", outline)
    yield "pick-rotation-wrong", drawing
    yield from (("pick-rotation-wrong", ("feeders", name)) for name in names)
    if is_drawing:
        yield "outline-drawing-contradicts-pads", drawing
    for job, references in facts.usage.placements_of_parts(parts).items():
        for reference in references:
            yield "placement-turned-from-pads", ("jobs", job, "placements", reference)


# what fitted once


def explained_by_record(look: Inspection, off: dict[str, FeederLeg]) -> Iterator[Explained]:
    """Yield what changed since the record under picks that fitted then and stayed, with them."""
    once = list(_once_right(look, off))
    moved: dict[tuple[str, str], list[str]] = defaultdict(list)
    changed: dict[Path, list[str]] = defaultdict(list)
    for name in once:
        good = look.good.feeders[name] if look.good else None
        here = look.shop.feeders[name]
        if good and good.row and here.row and good.row != here.row:
            moved[good.row, here.row].append(name)
        elif path := _changed_under(look, name):
            changed[path].append(name)
    for (origin, row), names in moved.items():
        yield names, _moved(look.facts, origin, row, names)
    for path, names in changed.items():
        yield names, _outdated(look, path, names)


def _once_right(look: Inspection, off: dict[str, FeederLeg]) -> Iterator[str]:
    """Yield feeders whose pick is off now, fitted in the record, and states the same as then."""
    good = look.good_facts if off else None
    if good is None:
        return
    for name, leg in off.items():
        then = good.polarity.feeders.get(name)
        limit = look.limits.half_turn_tolerance_deg
        if then and then.stated == leg.stated and abs(then.difference) <= limit:
            yield name


def _changed_under(look: Inspection, name: str) -> Path | None:
    """Return the value under a pick that differs from the record."""
    for path in look.facts.polarity.feeders[name].rests_on:
        was = look.good.plain_at(path) if look.good else None
        if was is not None and was != look.shop.plain_at(path):
            return path
    return None


def _moved(facts: Facts, origin: str, row: str, names: list[str]) -> Problem:
    is_one = len(names) == 1
    legs = facts.polarity.feeders
    turns = [
        f"{name} states {number(legs[name].stated)}, not {number(legs[name].computed)}"
        for name in names[:4]
    ]
    right = number(legs[names[0]].computed)
    turn = turn_in_words(_quarter(legs[names[0]]))
    return Problem(
        path=("feeders", names[0], "row"),
        related=tuple(("feeders", name, "pick", "rotation") for name in names[:5]),
        message=f"feeder {listed(names)} moved from row {origin} to row {row}, which feeds another "
        f"way; {'its pick was' if is_one else 'their picks were'} not turned.",
        observed="; ".join(turns),
        consequence=f"{parts_from(facts.shop, names)} would be placed {turn} off.",
        remedy=(
            f"Look how the part is turned in the feeder now, then set pick.rotation to {right}."
            if is_one
            else "Look how the parts are turned in the feeders now, then correct each "
            "pick.rotation.",
        ),
    )


def _outdated(look: Inspection, path: Path, names: list[str]) -> Problem:
    shop, good = look.shop, look.good
    legs = look.facts.polarity.feeders
    was, now = good.plain_at(path) if good else None, shop.plain_at(path)
    stay = ", ".join(f"{name} {number(legs[name].stated)}" for name in names[:6])
    thing = "reel" if path[0] == "feeders" else "part in its pocket"
    right = (
        f"set pick.rotation to {number(legs[names[0]].computed)}"
        if len(names) == 1
        else "correct each pick.rotation"
    )
    turn = turn_in_words(_quarter(legs[names[0]]))
    return Problem(
        path=path,
        related=tuple(("feeders", name, "pick", "rotation") for name in names[:5]),
        message=f"{show(path)} changed, but the pick of {listed(names)} still states what fitted "
        "before.",
        observed=f"{path[-1]} {now}; pick.rotation stayed: {stay}",
        expected=f"{path[-1]} {was}",
        consequence=f"{parts_from(shop, names)} would be placed {turn} off.",
        remedy=(
            f"Look at the {thing}. If {path[-1]} is {now}, as described, {right}. If not, put "
            f"{path[-1]} back:",
            command("restore", show(path)),
        ),
    )


def parts_from(shop: Shop, names: list[str]) -> str:
    """Name the parts in some feeders."""
    return listed(list(dict.fromkeys(str(shop.feeders[name].part) for name in names)))
