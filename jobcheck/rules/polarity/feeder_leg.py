"""Rules about polarity: does the pick state how the part lies in its tape."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import FeederLeg, pin1_directions, pin1_of
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
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
    fails="feeders.f03.pick.rotation: 180",
    passes="feeders.f03.pick.rotation: -18",
)
def pick_rotation_half_turn(look: Inspection) -> Iterator[Problem]:
    """A pick states the attitude half a turn off the one that the tape gives.

    On the machine: every part from that feeder is placed the wrong way round; the picture from
    below cannot see a half turn, and it is noticed after reflow.

    To do: look which way pin 1 lies in the tape. As described: correct `pick.rotation`. Otherwise
    correct `tape.pin1`.

    Source: A = f + Q - P, arithmetic on the quadrants of EIA-481-E Figure 1 and the levels of
    IEC 61188-7; a part lies turned in its pocket by up to 20 degrees, EIA-481-D Table 2 note 1.
    """
    yield from _misstated(look, "half")


@rule(
    Level.ERROR,
    fails="feeders.f05.pick.rotation: 0",
    passes="feeders.f05.pick.rotation: 108",
)
def pick_rotation_quarter_turn(look: Inspection) -> Iterator[Problem]:
    """A pick states the attitude a quarter turn off the one that the tape gives.

    On the machine: every part from that feeder is placed across its pads; the picture from below
    corrects by less than 45 degrees.

    To do: look which way pin 1 lies in the tape. As described: correct `pick.rotation`. Otherwise
    correct `tape.pin1`.

    Source: A = f + Q - P, arithmetic on the quadrants of EIA-481-E Figure 1 and the levels of
    IEC 61188-7; a part lies turned in its pocket by up to 20 degrees, EIA-481-D Table 2 note 1.
    """
    yield from _misstated(look, "quarter")


@rule(
    Level.ERROR,
    fails="feeders.f03.pick.rotation: 30",
    passes="feeders.f03.pick.rotation: 20",
)
def pick_rotation_off(look: Inspection) -> Iterator[Problem]:
    """A pick states an attitude between the quarter turns in which a part can lie.

    On the machine: the picture from below corrects by less than 45 degrees; near that it turns
    the part to the wrong quarter, or finds no part at all.

    To do: state the attitude that the tape gives; small corrections belong to the picture.

    Source: pockets hold a part within 20 degrees of its quarter turn, EIA-481-D Table 2 note 1.
    """
    yield from _misstated(look, "between")


@rule(
    Level.ERROR,
    fails="feeders.f03.tape.pin1: q1",
    passes="feeders.f03.tape.pin1: plain_edge\nfeeders.f03.pick.rotation: 180",
)
def tape_pin1_impossible(look: Inspection) -> Iterator[Problem]:
    """A tape has pin 1 in a corner where the drawing has it in mid-side, or the reverse.

    On the machine: which way round the part comes cannot be told, so nothing proves that it is
    placed the right way.

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
        consequence=f"Which way round {_parts(shop, names)} comes cannot be told.",
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
def tape_pin1_unknown(look: Inspection) -> Iterator[Problem]:
    """A polarised part comes from a feeder that does not say where pin 1 lies.

    On the machine: nothing tells whether the reel lies as the pick assumes; a part that comes the
    other way round is noticed after reflow.

    To do: look at the tape, and write `pin1` (in a tray: `attitude`).

    Source: common practice, no published source.
    """
    shop = look.shop
    silent: dict[str, Path] = {}
    for name in sorted(shop.feeders, key=natural):
        outline = shop.outline_of(shop.feeders[name].part)
        missing = _missing_pin1(shop, name)
        if outline and outline.polarised and missing:
            silent[name] = missing
    if not silent:
        return
    names = list(silent)
    has = "feeder {} does" if len(names) == 1 else f"{len(names)} feeders of polarised parts do"
    yield Problem(
        path=silent[names[0]],
        related=tuple(silent[name] for name in names[1:6]),
        message=f"{has.format(names[0])} not say where pin 1 lies.",
        observed=listed([f"{name} ({shop.feeders[name].part})" for name in names]),
        consequence=f"{_affected(look.facts, names)} would be reversed unseen where a reel lies the other way.",
        remedy=("Look at the tape and write where pin 1 lies: pin1, in a tray attitude.",),
    )


def _missing_pin1(shop: Shop, name: str) -> Path | None:
    """Return the path at which a feeder could say where pin 1 lies and does not."""
    feeder = shop.feeders[name]
    if feeder.carrier == "tray":
        silent = feeder.tray is not None and feeder.tray.attitude is None
        return ("feeders", name, "tray", "attitude") if silent else None
    carried = pin1_of(feeder)
    return ("feeders", name, *carried[1]) if carried and carried[0] is None else None


@rule(
    Level.WARNING,
    fails="feeders.f03.reel.loaded: 2026-11-20",
    passes="feeders.f03.reel.loaded: 2026-11-02",
)
def reel_orientation_unseen(look: Inspection) -> Iterator[Problem]:
    """A reel of polarised parts was loaded, and nobody has looked which way they lie since.

    On the machine: a reel that comes the other way round is placed reversed, which is noticed
    after reflow.

    To do: look at the tape, and write the day as `reel.orientation_seen`.

    Source: common practice, no published source.
    """
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
    one = len(names) == 1
    yield Problem(
        path=("feeders", names[0], "reel", "orientation_seen"),
        related=tuple(("feeders", name, "reel", "loaded") for name in names[:6]),
        message=f"nobody looked at the {'reel' if one else 'reels'} of {_spoken(names)} since "
        f"{'it was' if one else 'they were'} loaded.",
        observed=listed(
            [
                f"{name} loaded {reel.loaded}, seen {reel.orientation_seen or 'never'}"
                for name, reel in unseen
            ],
            4,
        ),
        consequence=f"{_affected(look.facts, names)} would be reversed unseen where a reel comes the other way "
        "round.",
        remedy=("Look at the tape. As described: write the day as reel.orientation_seen.",),
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


def _misstated(look: Inspection, kind: str) -> Iterator[Problem]:
    shop = look.shop
    tolerance = look.limits.half_turn_tolerance_deg
    known = look.facts.polarity.feeders
    legs = {name: known[name] for name in sorted(known, key=natural)}
    off = [name for name, leg in legs.items() if _kind(leg, tolerance) == kind]
    for cause, names in _causes(legs, off):
        if cause is None:
            yield _one_off(look.facts, names[0], legs[names[0]], kind)
        else:
            yield _all_off(look.facts, cause, {name: legs[name] for name in names}, kind)


def _causes(legs: dict[str, FeederLeg], off: list[str]) -> Iterator[tuple[Path | None, list[str]]]:
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


def _one_off(facts: Facts, name: str, leg: FeederLeg, kind: str) -> Problem:
    pick: Path = ("feeders", name, "pick", "rotation")
    pin1 = leg.rests_on[0]
    seen = (
        f"Pin 1 {_IN_TAPE[_pin1(facts.shop, name)]}, as written"
        if pin1[-1] == "pin1"
        else f"The part at attitude {number(leg.computed)}, as written"
    )
    return Problem(
        path=pick,
        related=leg.rests_on[:1],
        message=f"feeder {name} presents {facts.shop.feeders[name].part} {_TURN[kind]}.",
        observed=f"{number(leg.stated)}, but {_reasons(facts.shop, leg)} give{_s(leg)} {number(leg.computed)}",
        consequence=_consequence(facts, [name], leg, kind),
        remedy=(
            f"Look at the {'tray' if len(pin1) > 2 and pin1[2] == 'tray' else 'tape'}. {seen}: "
            f"set pick.rotation to {number(leg.computed)}. Elsewhere: correct {pin1[-1]}.",
        ),
    )


def _all_off(facts: Facts, cause: Path, legs: dict[str, FeederLeg], kind: str) -> Problem:
    names = list(legs)
    stated = [f"{n} {number(leg.stated)}, not {number(leg.computed)}" for n, leg in legs.items()]
    return Problem(
        path=cause,
        related=tuple(("feeders", name, "pick", "rotation") for name in names[:5]),
        message=f"feeders {_spoken(names)} present their parts {_TURN[kind]}, all that rest on "
        f"{show(cause)}.",
        observed=f"{cause[-1]} {facts.shop.plain_at(cause)}; picks: {'; '.join(stated[:4])}",
        consequence=_consequence(facts, names, legs[names[0]], kind),
        remedy=(
            f"Look at one of them. {cause[-1]} as written: correct each pick.rotation. "
            f"Otherwise: correct {show(cause)} alone.",
        ),
    )


def _consequence(facts: Facts, names: list[str], leg: FeederLeg, kind: str) -> str:
    affected = _affected(facts, names)
    if kind == "quarter":
        return f"{affected} would be placed a quarter turn off, across the pads."
    if kind == "between":
        return (
            f"{affected} would lie {number(abs(leg.difference))} degrees off in the picture, "
            "which corrects less than 45."
        )
    outlines = (facts.shop.outline_of(facts.shop.feeders[name].part) for name in names)
    two = all(outline is not None and outline.terminals == 2 for outline in outlines)
    pad = "the pad of pin 2" if two else "the opposite pad"
    return f"{affected} would be placed with pin 1 on {pad}."


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


def _parts(shop: Shop, names: Iterable[str]) -> str:
    return listed(list(dict.fromkeys(str(shop.feeders[name].part) for name in names)))


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
