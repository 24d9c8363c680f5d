"""Rules about the feed leg of polarity: whether the pick states what the carrier gives."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import FeederLeg, pin1_directions, pin1_of
from jobcheck.findings import Level, Problem, Remedy, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.polarity.corrections import explained_by_record, off_feeders, parts_from
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_in_pocket
from jobcheck.wording import count, listed, number

_IN_TAPE = {
    "forward": "ahead along the feed",
    "q2": "in quadrant 2",
    "holes": "toward the round holes",
    "q1": "in quadrant 1",
    "backward": "back along the feed",
    "q3": "in quadrant 3",
    "plain_edge": "toward the plain edge",
    "q4": "in quadrant 4",
}
_TURN = {"half": "half a turn off", "quarter": "a quarter turn off", "between": "askew"}


@rule(
    Level.ERROR,
    compares=True,
    fails="feeders.f03.pick.rotation: 180",
    passes="feeders.f03.pick.rotation: -18",
)
def pick_rotation_wrong(look: Inspection) -> Iterator[Problem]:
    """A pick states another attitude than the carrier gives.

    Where the record shows that the pick fitted before its feeder, tape, drawing or row changed,
    that change is named; where all picks that rest on one value are off alike, that value is.

    On the machine: every part from that feeder is placed turned. The picture from below corrects
    less than 45 degrees and cannot see a half turn, which is noticed after reflow.

    To do: look where pin 1 is in the carrier. If it is as described, correct `pick.rotation`; if
    not, correct `pin1`.

    Source: A = f + Q - P, arithmetic on the quadrants of EIA-481-E Figure 1 and the levels of
    IEC 61188-7; a part is turned in its pocket by up to 20 degrees, EIA-481-D Table 2 note 1.
    """
    legs, tolerance = look.facts.polarity.feeders, look.limits.half_turn_tolerance_deg
    off = off_feeders(look)
    named: set[str] = set()
    for names, problem in explained_by_record(look, off):
        named |= set(names)
        yield problem
    for kind in ("half", "quarter", "between"):
        left = [name for name in off if name not in named and _kind(legs[name], tolerance) == kind]
        for cause, names in _causes(legs, left):
            if cause is None:
                yield _one_off(look, names[0], legs[names[0]], kind)
            else:
                yield _all_off(look.facts, cause, {name: legs[name] for name in names}, kind)


@rule(
    Level.ERROR,
    fails="feeders.f03.tape.pin1: q1",
    passes="feeders.f03.tape.pin1: plain_edge\nfeeders.f03.pick.rotation: 180",
)
def tape_pin1_impossible(look: Inspection) -> Iterator[Problem]:
    """A tape has pin 1 in a corner where the drawing has it in mid-side, or the reverse.

    On the machine: which way round the part comes is unknown, so nothing proves that it is placed
    the right way.

    To do: look at the tape. A quadrant (q1 to q4) is for pin 1 in a corner, an edge for pin 1 in
    mid-side; correct `tape.pin1`, or `pin1_at_zero` of the outline.

    Source: EIA-481-E Figure 1: quadrants for pins in a corner, edges for pins in mid-side.
    """
    shop = look.shop
    bad: dict[str, list[str]] = defaultdict(list)
    good: set[str] = set()
    for name in sorted(shop.feeders, key=natural):
        feeder = shop.feeders[name]
        outline = shop.outline_of(feeder.part)
        directions = pin1_directions(feeder, outline) if outline else None
        if directions is None or feeder.part is None:
            continue
        if attitude_in_pocket(*directions) is None:
            bad[shop.parts[feeder.part].outline].append(name)
        else:
            good.add(shop.parts[feeder.part].outline)
    for outline_name, names in bad.items():
        if len(names) > 1 and outline_name not in good:
            yield _impossible(shop, outline_name, names, is_outline=True)
        else:
            for name in names:
                yield _impossible(shop, outline_name, [name], is_outline=False)


def _impossible(shop: Shop, outline: str, names: list[str], *, is_outline: bool) -> Problem:
    drawn = shop.outlines[outline].pin1_at_zero
    at_zero: Path = ("outlines", outline, "pin1_at_zero")
    taped = [_pin1_path(shop, name) for name in names]
    taken = ", ".join(f"{_pin1(shop, name)} in {name}" for name in names[:6])
    return Problem(
        path=at_zero if is_outline else taped[0],
        related=tuple(taped[:5]) if is_outline else (at_zero,),
        message=f"outline {outline} has pin 1 {drawn} at zero, which fits none of its "
        f"{len(names)} feeders."
        if is_outline
        else f"feeder {names[0]} has pin 1 {_IN_TAPE[_pin1(shop, names[0])]}, which {outline} "
        "cannot have.",
        observed=f"pin1 {taken}; pin1_at_zero {drawn}",
        consequence=f"Which way round {parts_from(shop, names)} comes is unknown.",
        remedy=(
            "Look at the tape. q1 to q4 are for pin 1 in a corner, an edge is for pin 1 in "
            f"mid-side. Correct {'pin1_at_zero' if is_outline else 'pin1'}.",
        ),
    )


@rule(
    Level.WARNING,
    fails="feeders.f03.tape.pin1: ~",
    passes="""
    feeders.f03.tape: ~
    feeders.f03.carrier: stick
    feeders.f03.stick: {pitch_mm: 4, pin1: holes}
    feeders.f03.remaining: 90
    """,
)
def carrier_pin1_unproven(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Pin 1 in a carrier of polarised parts is not described, or not looked at since loading.

    What else a feed leg lacks is counted as not checked.

    On the machine: nothing shows whether the reel is wound as the pick assumes; a part that comes
    the other way round is noticed after reflow.

    To do: look at the tape. Write `pin1` (in a tray: `attitude`), and the day as
    `reel.orientation_seen`.

    Source: common practice, no published source.
    """
    yield from _not_described(look)
    yield from _not_looked_at(look)


def _not_described(look: Inspection) -> Iterator[Problem | Unchecked]:
    shop = look.shop
    silent: dict[str, Path] = {}
    lacking: dict[str, list[str]] = defaultdict(list)
    for name in sorted(shop.feeders, key=natural):
        outline = shop.outline_of(shop.feeders[name].part)
        if outline is None or not outline.polarised:
            continue
        missing = _missing_pin1(shop, name)
        lacks = look.facts.polarity.feeder(name).lacks
        if missing:
            silent[name] = missing
        elif name not in look.facts.polarity.feeders and lacks == "feed_direction":
            lacking[lacks].append(name)
    for key, names in lacking.items():
        paths = tuple(("feeders", name, key) for name in names)
        concerns = f"polarity of {count(len(names), 'feeder')}"
        yield Unchecked(concerns, f"no {key} on {listed(names)}", key, paths, len(names))
    if not silent:
        return
    names = list(silent)
    is_one = len(names) == 1
    yield Problem(
        path=silent[names[0]],
        related=tuple(silent[name] for name in names[1:6]),
        message=f"the direction of pin 1 in feeder {names[0]} is unknown."
        if is_one
        else f"the direction of pin 1 is unknown in {len(names)} feeders of polarised parts.",
        observed=listed([f"{name} ({shop.feeders[name].part})" for name in names]),
        consequence=f"If a reel is wound the other way, {_affected(look.facts, names)} would be "
        "reversed, and nothing shows it.",
        remedy=("Look at the tape and write where pin 1 is: pin1, in a tray attitude.",),
    )


def _missing_pin1(shop: Shop, name: str) -> Path | None:
    """Return the path at which a feeder could say where pin 1 is and does not."""
    feeder = shop.feeders[name]
    if feeder.carrier == "tray":
        silent = feeder.tray is not None and feeder.tray.attitude is None
        return ("feeders", name, "tray", "attitude") if silent else None
    carried = pin1_of(feeder)
    return ("feeders", name, *carried[1]) if carried and carried[0] is None else None


def _not_looked_at(look: Inspection) -> Iterator[Problem]:
    shop = look.shop
    unseen = []
    for name in sorted(shop.feeders, key=natural):
        reel, outline = shop.feeders[name].reel, shop.outline_of(shop.feeders[name].part)
        if outline is None or not outline.polarised or reel is None or reel.loaded is None:
            continue
        if reel.orientation_seen is None or reel.orientation_seen < reel.loaded:
            unseen.append((name, reel))
    if not unseen:
        return
    names = [name for name, _ in unseen]
    is_one = len(names) == 1
    days = [
        f"{name} loaded {reel.loaded}, looked at {reel.orientation_seen or 'never'}"
        for name, reel in unseen
    ]
    yield Problem(
        path=("feeders", names[0], "reel", "orientation_seen"),
        related=tuple(("feeders", name, "reel", "loaded") for name in names[:6]),
        message=f"nobody has looked at the {'reel' if is_one else 'reels'} of {_spoken(names)} "
        f"since {'it was' if is_one else 'they were'} loaded.",
        observed=listed(days, 4),
        consequence=f"If a reel is wound the other way, {_affected(look.facts, names)} would be "
        "reversed, and nothing shows it.",
        remedy=(
            "Look at the tape. If it is as described, write the day as reel.orientation_seen.",
        ),
    )


# what a pick misstates, and the one value that may be behind several of them


def _kind(leg: FeederLeg, tolerance: float) -> str | None:
    """Name how a leg is off: half, quarter or between; None where it is as it should be."""
    off = abs(leg.difference)
    if off <= tolerance:
        return None
    if abs(off - 90) <= tolerance:
        return "quarter"
    return "half" if abs(off - 180) <= tolerance else "between"


def _causes(
    legs: Mapping[str, FeederLeg], off: list[str]
) -> Iterator[tuple[Path | None, list[str]]]:
    """Yield feeders that are off with the value behind them, None where it is the pick's own.

    A value is behind several picks where all that rest on it, two or more, are off alike.
    """
    resting: dict[Path, list[str]] = defaultdict(list)
    for name, leg in legs.items():
        for path in leg.rests_on:
            resting[path].append(name)
    left = dict.fromkeys(off)
    shared = [(path, names) for path, names in resting.items() if left.keys() >= set(names)]
    for path, names in sorted(shared, key=lambda entry: -len(entry[1])):
        together = [name for name in names if name in left]
        if len(together) > 1:
            yield path, together
            for name in together:
                del left[name]
    for name in left:
        yield None, [name]


def _one_off(look: Inspection, name: str, leg: FeederLeg, kind: str) -> Problem:
    facts = look.facts
    pick: Path = ("feeders", name, "pick", "rotation")
    pin1 = leg.rests_on[0]
    is_pin1 = pin1[-1] == "pin1"
    seen = f"pin 1 is {_IN_TAPE[_pin1(facts.shop, name)]}" if is_pin1 else "the part is turned so"
    carrier = "tray" if len(pin1) > 2 and pin1[2] == "tray" else "tape"
    return Problem(
        path=pick,
        related=leg.rests_on[:1],
        message=f"feeder {name} presents {facts.shop.feeders[name].part} {_TURN[kind]}.",
        observed=f"rotation {number(leg.stated)}; {_reasons(facts.shop, leg)} "
        f"give{_s(leg)} {number(leg.computed)}",
        consequence=_consequence(facts, [name], leg, kind),
        remedy=(
            f"Look at the {carrier}. If {seen}, as described, set pick.rotation to "
            f"{number(leg.computed)}. If not, correct {'.'.join(pin1[2:])}.",
            *_recorded(look, pick),
        ),
    )


def _recorded(look: Inspection, pick: Path) -> Remedy:
    """Return the way back to the recorded rotation, where the record has another one."""
    was = look.good.plain_at(pick) if look.good else None
    if not isinstance(was, (int, float)) or (was - float(str(look.shop.plain_at(pick)))) % 360 == 0:
        return ()
    return f"The record has {number(was)}. To put it back:", command("restore", show(pick))


def _all_off(facts: Facts, cause: Path, legs: dict[str, FeederLeg], kind: str) -> Problem:
    names = list(legs)
    stated = [f"{n} {number(leg.stated)}, not {number(leg.computed)}" for n, leg in legs.items()]
    value = facts.shop.plain_at(cause)
    return Problem(
        path=cause,
        related=tuple(("feeders", name, "pick", "rotation") for name in names[:5]),
        message=f"feeders {_spoken(names)} present their parts {_TURN[kind]}; all of them rest on "
        f"{show(cause)}.",
        observed=f"{cause[-1]} {value}; picks: {'; '.join(stated[:4])}",
        consequence=_consequence(facts, names, legs[names[0]], kind),
        remedy=(
            f"Look at one of them. If {cause[-1]} is {value}, as described, correct each "
            f"pick.rotation. If not, correct {show(cause)} alone.",
        ),
    )


def _consequence(facts: Facts, names: list[str], leg: FeederLeg, kind: str) -> str:
    affected = _affected(facts, names)
    if kind == "quarter":
        return f"{affected} would be placed a quarter turn off, across the pads."
    if kind == "between":
        return (
            f"{affected} would be {number(abs(leg.difference))} degrees off in the picture, "
            "which corrects less than 45."
        )
    outlines = (facts.shop.outline_of(facts.shop.feeders[name].part) for name in names)
    if all(outline is not None and outline.terminals == 2 for outline in outlines):
        return f"{affected} would be placed with pin 1 on the pad of pin 2."
    return f"{affected} would be placed half a turn off."


# words


def _reasons(shop: Shop, leg: FeederLeg) -> str:
    return ", ".join(f"{path[-1]} {_plain(shop.plain_at(path))}" for path in leg.rests_on)


def _plain(value: object) -> str:
    return number(value) if isinstance(value, (int, float)) else str(value)


def _s(leg: FeederLeg) -> str:
    return "s" if len(leg.rests_on) == 1 else ""


def _pin1_path(shop: Shop, name: str) -> Path:
    carried = pin1_of(shop.feeders[name])
    return ("feeders", name, *(carried[1] if carried else ()))


def _pin1(shop: Shop, name: str) -> str:
    return str(shop.plain_at(_pin1_path(shop, name)))


def _affected(facts: Facts, names: list[str]) -> str:
    """Name what jobs place from feeders: `D1 and D2`, with the job where there are several."""
    parts = list(dict.fromkeys(part for name in names if (part := facts.shop.feeders[name].part)))
    placed = facts.usage.placements_of_parts(parts)
    if not placed:
        return f"Every {_spoken(parts)} from {_spoken(names)}"
    shown = []
    for job in sorted(placed, key=natural):
        references = sorted(placed[job], key=natural)
        of = f" of {job}" if len(facts.shop.jobs) > 1 else ""
        many = f"{count(len(references), 'placement')}: " if len(references) > 6 else ""
        shown.append(f"{many}{_spoken(references)}{of}")
    return "; ".join(shown[:3])


def _spoken(names: list[str]) -> str:
    """Write names in a row with `and` before the last."""
    return " and ".join([listed(names[:-1]), names[-1]]) if 1 < len(names) < 7 else listed(names)
