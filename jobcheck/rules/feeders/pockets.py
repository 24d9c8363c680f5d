"""Rules about pockets: does the part fit its tape, stick or tray, and lie as it is said to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.carrying import body_in_pocket
from jobcheck.facts.rows import feeders
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.feeders import Feeder
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import Point
from jobcheck.trade.tape import TAPES, turn_in_pocket, usual_pitch
from jobcheck.wording import count, listed, number

_SQUARE_MM = 0.3
"""A case is square when length and width differ by no more. Source: EIA-481-E."""


class _Held(NamedTuple):
    """A part in its carrier: its body along and across as it lies, None where that is unknown."""

    name: str
    feeder: Feeder
    part: str
    outline: Outline
    lies: Point | None

    @property
    def part_path(self) -> Path:
        """Where the feeder names its part."""
        return ("feeders", self.name, "part")

    @property
    def least(self) -> Point:
        """The body along and across; where it is unknown how it lies, what it is at least."""
        return self.lies or (min(self.outline.body_mm), min(self.outline.body_mm))

    def path(self, *keys: str) -> Path:
        """Where a value of the feeder stands."""
        return ("feeders", self.name, *keys)


def _held(shop: Shop) -> Iterator[_Held]:
    for name, feeder in feeders(shop):
        outline = shop.outline_of(feeder.part)
        if outline is not None and feeder.part is not None:
            yield _Held(name, feeder, feeder.part, outline, body_in_pocket(shop, name))


def _taped(shop: Shop) -> Iterator[tuple[_Held, Point | None]]:
    """Yield parts in tapes with their pocket along and across, None where it is not described."""
    for held in _held(shop):
        tape = held.feeder.tape
        if tape is not None and held.feeder.carrier in ("tape", "cut-tape"):
            pocket = (tape.pocket_mm[0], tape.pocket_mm[1]) if tape.pocket_mm else None
            yield held, pocket


def _size(size: Point) -> str:
    return f"{number(size[0])} × {number(size[1])} mm"


def _fits(body: Point, pocket: Point, slack: float) -> bool:
    return body[0] <= pocket[0] + slack and body[1] <= pocket[1] + slack


# the part against its pocket


@rule(
    Level.ERROR,
    fails="feeders.f01.tape.pocket_mm: [0.7, 1.4]",
    passes="feeders.f01.tape.pocket_mm: [0.76, 1.56]",
)
def part_exceeds_pocket(look: Inspection) -> Iterator[Problem]:
    """A part is larger than the pocket that is said to hold it, whichever way it lies.

    On the machine: another part is in the tape, or the pocket belongs to another reel; a wrong
    part is placed.

    To do: look at the reel's label and measure a pocket; correct the part or the pocket.

    Source: the body lies in its pocket, arithmetic; slack is `limits.pocket_slack_mm`.
    """
    slack = look.limits.pocket_slack_mm
    for held, pocket in _taped(look.shop):
        body = held.outline.body_mm
        ways = (body[0], body[1]), (body[1], body[0])
        if pocket is None or any(_fits(lies, pocket, slack) for lies in ways):
            continue
        yield Problem(
            path=held.path("tape", "pocket_mm"),
            related=(held.part_path,),
            message=f"{held.part} is {_size(ways[0])}; the pockets of feeder {held.name} are "
            f"{_size(pocket)}.",
            observed=f"pocket_mm {_size(pocket)}; body {_size(ways[0])}",
            consequence=f"Something else is in {held.name}, and would be placed for {held.part}.",
            remedy=("Look at the label and measure a pocket; correct the part or the pocket.",),
        )


@rule(
    Level.ERROR,
    fails="feeders.f05.tape.pocket_depth_mm: 1.6",
    passes="feeders.f05.tape.pocket_depth_mm: 1.7",
)
def part_taller_than_tape(look: Inspection) -> Iterator[Problem]:
    """A part is taller than its pocket is deep, or than such a tape is thick with its pockets.

    Where the height contradicts every feeder that holds the part, the height is at fault.

    On the machine: the height is wrong, and the nozzle presses or lets go by as much; or another
    part is in the tape.

    To do: measure the part and a pocket; correct the one that is wrong.

    Source: a part lies below the top of its tape; T2, the largest thickness of a tape with its
    pocket, EIA-481-D Tables 2 and 3; slack is `limits.pocket_slack_mm`.
    """
    held_by: dict[Path, int] = defaultdict(int)
    tall: dict[Path, list[tuple[_Held, Path, float]]] = defaultdict(list)
    for held, _ in _taped(look.shop):
        depth, height = _depth(held), look.shop.height_of(held.part)
        if depth is None or height is None:
            continue
        stands = _height_path(look.shop, held.part)
        held_by[stands] += 1
        if height > depth[1] + look.limits.pocket_slack_mm:
            tall[stands].append((held, depth[0], depth[1]))
    for stands, entries in tall.items():
        at_fault = [stands] if len(entries) == held_by[stands] else []
        yield _taller(look.shop, [*at_fault, *(path for _, path, _ in entries)], entries)


def _depth(held: _Held) -> tuple[Path, float] | None:
    """Return how deep a pocket is, or can be on its tape, mm, and where that is written."""
    tape = held.feeder.tape
    if tape is None:
        return None
    if tape.pocket_depth_mm is not None:
        return held.path("tape", "pocket_depth_mm"), tape.pocket_depth_mm
    standard = TAPES.get(tape.width_mm)
    return (held.path("tape", "width_mm"), standard.thickness_mm) if standard else None


def _height_path(shop: Shop, part: str) -> Path:
    has_own = shop.parts[part].height_mm is not None
    owner = ("parts", part) if has_own else ("outlines", shop.parts[part].outline)
    return (*owner, "height_mm")


def _taller(shop: Shop, paths: list[Path], entries: list[tuple[_Held, Path, float]]) -> Problem:
    held, path, depth = entries[0]
    height = shop.height_of(held.part) or 0.0
    more = f", and {count(len(entries) - 1, 'more feeder')}" if len(entries) > 1 else ""
    has = "pockets" if path[-1] == "pocket_depth_mm" else "a tape"
    shown = listed([f"{entry.name} {number(deep)}" for entry, _, deep in entries])
    return Problem(
        path=paths[0],
        related=tuple(paths[1:6]),
        message=f"{held.part} is {number(height)} mm tall, but feeder {held.name} has {has} of "
        f"{number(depth)} mm at most{more}.",
        observed=f"height_mm {number(height)}; {shown}",
        consequence="If the height is wrong, the nozzle would press too deep or let go too high; else "
        "something else is in the tape.",
        remedy=("Measure the part and a pocket, and correct the one that is wrong.",),
    )


@rule(
    Level.ERROR,
    fails="feeders.f01.tape.pocket_mm: [1.8, 1.0]",
    passes="feeders.f01.tape.pocket_mm: [1.0, 1.8]",
)
def attitude_contradicts_pocket(look: Inspection) -> Iterator[Problem]:
    """A part is said to lie across a pocket that is only long enough the other way.

    How it lies is told by where its tape has pin 1, else by `pick.rotation` and the feed.

    On the machine: every part from that feeder comes a quarter turn off and is placed across its
    pads; the picture from below corrects by less than 45 degrees.

    To do: look how the part lies in its pocket; correct `pick.rotation` or `pin1`, or the pocket.

    Source: the body lies in its pocket, arithmetic; slack is `limits.pocket_slack_mm`.
    """
    slack = look.limits.pocket_slack_mm
    for held, pocket in _taped(look.shop):
        body = held.lies
        if body is None or pocket is None or _fits(body, pocket, slack):
            continue
        if _fits((body[1], body[0]), pocket, slack):
            yield _turned(held, body, pocket)


def _turned(held: _Held, body: Point, pocket: Point) -> Problem:
    has_pin1 = held.feeder.tape is not None and held.feeder.tape.pin1 is not None
    states = ("tape", "pin1") if has_pin1 else ("pick", "rotation")
    says = "along" if body[0] > body[1] else "across"
    longer = "along" if pocket[0] > pocket[1] else "across"
    return Problem(
        path=held.path(*states),
        related=(held.path("tape", "pocket_mm"),),
        message=f"feeder {held.name} says that {held.part} lies with its long side {says} the tape, "
        f"but its pockets are long {longer} it.",
        observed=f"{_size(body)} along and across; pocket_mm {_size(pocket)}",
        consequence=f"{held.part} would be placed a quarter turn off, across its pads.",
        remedy=(f"Look how it lies in its pocket; correct {states[-1]}, or pocket_mm.",),
        suppresses=(
            ("feeders-of-part-disagree", ("feeders", held.name)),
            ("pick-rotation-wrong", ("feeders", held.name)),
        ),
    )


@rule(
    Level.WARNING,
    fails="feeders.f01.pick.rotation: 90",
    passes="feeders.f01.pick.rotation: 90\nfeeders.f01.tape.pocket_mm: [1.8, 1.0]",
)
def chip_lies_along_tape(look: Inspection) -> Iterator[Problem]:
    """An unpolarised part with two terminals is said to lie with its long side along the tape.

    Chips come with their long side across. Where the pocket is described, that says it better.

    On the machine: if they lie across as usual, each is placed a quarter turn off, both terminals
    between its pads; the picture from below corrects by less than 45 degrees.

    To do: look how they lie; correct `pick.rotation`, or describe `pocket_mm`.

    Source: common practice of makers' packing drawings, no published source.
    """
    for held, pocket in _taped(look.shop):
        outline, lies = held.outline, held.lies
        if outline.terminals != 2 or outline.polarised or pocket or lies is None:
            continue
        if lies[0] - lies[1] > _SQUARE_MM and held.feeder.pick is not None:
            yield _along(held, lies)


def _along(held: _Held, lies: Point) -> Problem:
    has_pin1 = held.feeder.tape is not None and held.feeder.tape.pin1 is not None
    states = ("tape", "pin1") if has_pin1 else ("pick", "rotation")
    rotation = held.feeder.pick.rotation if held.feeder.pick else 0.0
    return Problem(
        path=held.path(*states),
        message=f"feeder {held.name} says that {held.part} lies with its long side along the tape; "
        "chips lie across it.",
        observed=f"pick.rotation {number(rotation)}: {number(lies[0])} mm along, {number(lies[1])} mm "
        "across",
        consequence=f"If {held.part} lies across, it is placed a quarter turn off.",
        remedy=("Look how it lies. Across: turn pick.rotation by 90. Along: describe pocket_mm.",),
        suppresses=(("feeders-of-part-disagree", ("feeders", held.name)),),
    )


@rule(
    Level.WARNING,
    fails="feeders.f01.tape.pocket_mm: [1.5, 2.2]",
    passes="feeders.f01.tape.pocket_mm: [1.2, 2.2]",
)
def part_loose_in_pocket(look: Inspection) -> Iterator[Problem]:
    """A chip can turn further in its pocket than the standard lets.

    Only parts with two terminals and no polarity are looked at: others are described without
    their terminals.

    On the machine: the pocket belongs to a larger part, and so may what is in it; else parts come
    turned so far that the nozzle or the picture misses them.

    To do: look at the reel's label and measure a pocket; correct the part or the pocket.

    Source: EIA-481-D Table 2 note 1: 20 degrees on 8 and 12 mm tape, 10 on 16 and 24 mm.
    """
    for held, pocket in _taped(look.shop):
        tape = held.feeder.tape
        standard = TAPES.get(tape.width_mm) if tape else None
        if standard is None or standard.part_turn_deg is None or not pocket or held.lies is None:
            continue
        if held.outline.terminals != 2 or held.outline.polarised:
            continue
        if not _fits(held.lies, pocket, 0.0):
            continue
        turn = turn_in_pocket(held.lies, pocket)
        if turn > standard.part_turn_deg + 0.5:
            yield _loose(held, pocket, turn, standard.part_turn_deg)


def _loose(held: _Held, pocket: Point, turn: float, most: float) -> Problem:
    return Problem(
        path=held.path("tape", "pocket_mm"),
        related=(held.part_path,),
        message=f"{held.part} could turn by {turn:.0f} degrees in the pockets of feeder {held.name}; "
        f"EIA-481 has {number(most)} at most.",
        observed=f"pocket_mm {_size(pocket)}; body {_size(held.least)} as it lies",
        consequence="A larger part may be in the tape, or this one comes turned too far to be found.",
        remedy=("Look at the label and measure a pocket; correct the part or the pocket.",),
    )


# the part against its tape


@rule(
    Level.ERROR,
    fails="feeders.f05.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pin1: q1}",
    passes="outlines.soic-8.body_mm: [3.9, 4.3]\nrecognitions.soic.expect_mm: [3.9, 4.3]\n"
    "feeders.f05.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pin1: q1}",
)
def part_exceeds_tape(look: Inspection) -> Iterator[Problem]:
    """A part is wider than any pocket of a tape so narrow.

    On the machine: the tape is wider than described, or another part is on it; the pick lies
    beside the pocket.

    To do: measure the tape and look at its label; correct the width or the part.

    Source: EIA-481-D Tables 2 and 3: B1, the largest pocket across the tape.
    """
    for held, pocket in _taped(look.shop):
        tape = held.feeder.tape
        standard = TAPES.get(tape.width_mm) if tape else None
        if standard is None or pocket is not None:
            continue
        across, most = held.least[1], standard.pocket_across_mm
        if across < most:
            continue
        width = number(standard.width_mm)
        yield Problem(
            path=held.path("tape", "width_mm"),
            related=(held.part_path,),
            message=f"{held.part} is {number(across)} mm across, too large for the {width} mm tape of "
            f"feeder {held.name}.",
            observed=f"width_mm {width}: EIA-481 has pockets up to {number(most)} mm across on it",
            consequence="The pockets lie elsewhere than this width has them, or hold another part.",
            remedy=("Measure the tape and look at its label; correct the width or the part.",),
            suppresses=(("part-exceeds-pitch", ("feeders", held.name)),),
        )


@rule(
    Level.ERROR,
    fails="feeders.f05.tape.pocket_pitch_mm: 2\nfeeders.f05.tape.pockets_per_advance: 4",
    passes="feeders.f05.tape.pocket_pitch_mm: 4\nfeeders.f05.tape.pockets_per_advance: 2",
)
def part_exceeds_pitch(look: Inspection) -> Iterator[Problem]:
    """A part is longer than the way from one pocket to the next, in tape, stick or tray.

    On the machine: the pitch is wrong, so every advance stops beside a part.

    To do: measure from part to part; correct the pitch, or how the part lies.

    Source: what lies behind each other does not overlap, arithmetic.
    """
    for held in _held(look.shop):
        found = _short_pitch(held)
        if found is None:
            continue
        keys, pitch, body, along = found
        yield Problem(
            path=held.path(*keys),
            related=(held.part_path,),
            message=f"{held.part} is {number(body)} mm {along}, but its places in feeder {held.name} "
            f"are {number(pitch)} mm apart.",
            observed=f"pitch {number(pitch)}; body {number(body)} mm",
            consequence="Parts would lie over each other: every advance stops beside a part.",
            remedy=("Measure from part to part; correct the pitch, or how the part lies.",),
        )


def _short_pitch(held: _Held) -> tuple[Path, float, float, str] | None:
    """Return the path, pitch, body and direction where a body does not fit its pitch."""
    feeder, (along, across) = held.feeder, held.least
    if feeder.carrier == "tray":
        steps = feeder.tray.pitch_mm if feeder.tray else ()
        several = (feeder.tray.columns > 1, feeder.tray.rows > 1) if feeder.tray else ()
        for step, body, is_used, axis in zip(steps, (along, across), several, "xy", strict=False):
            if is_used and body > abs(step):
                return ("tray", "pitch_mm"), abs(step), body, f"along {axis}"
        return None
    if feeder.carrier == "stick":
        pitch = feeder.stick.pitch_mm if feeder.stick else None
        keys: Path = ("stick", "pitch_mm")
    else:
        tape = feeder.tape
        pitch = tape.pocket_pitch_mm if tape and not tape.pocket_mm else None
        keys = ("tape", "pocket_pitch_mm")
    return (keys, pitch, along, "along the feed") if pitch and along > pitch else None


@rule(
    Level.WARNING,
    fails="feeders.f03.tape.pocket_mm: [4.2, 2.9]\nfeeders.f03.tape.pin1: forward\n"
    "feeders.f03.pick.rotation: 270",
    passes="feeders.f03.tape.pocket_mm: [2.0, 4.0]",
)
def pocket_contradicts_tape(look: Inspection) -> Iterator[Problem]:
    """A pocket is larger than its tape can have: longer than the pitch or too wide.

    On the machine: pitch, width or pocket belong to another tape; the advance stops beside the
    parts, or the pick lies beside them.

    To do: measure pocket, pitch and width again.

    Source: EIA-481-D Tables 2 and 3: B1; pockets do not overlap, arithmetic.
    """
    for held, pocket in _taped(look.shop):
        tape = held.feeder.tape
        if tape is None or pocket is None:
            continue
        standard = TAPES.get(tape.width_mm)
        wrong = []
        if pocket[0] > tape.pocket_pitch_mm:
            wrong.append(
                f"{number(pocket[0])} mm long at a pitch of {number(tape.pocket_pitch_mm)}"
            )
        if standard and pocket[1] > standard.pocket_across_mm:
            wrong.append(
                f"{number(pocket[1])} mm across on {number(tape.width_mm)} mm tape, which has "
                f"{number(standard.pocket_across_mm)} at most"
            )
        if wrong:
            yield Problem(
                path=held.path("tape", "pocket_mm"),
                related=(held.path("tape", "pocket_pitch_mm"), held.path("tape", "width_mm")),
                message=f"the pockets of feeder {held.name} are {' and '.join(wrong)}.",
                observed=f"pocket_mm {_size(pocket)}, pitch {number(tape.pocket_pitch_mm)}, width "
                f"{number(tape.width_mm)}",
                consequence=f"The advance or the pick of {held.part} would stop beside the parts.",
                remedy=("Measure pocket, pitch and width again.",),
            )


_SMALL = """
    outlines.chip-0402: {body_mm: [1.0, 0.5], height_mm: 0.35, terminals: 2, polarised: false, \
zero: A, nozzles: [bore-0-2], recognition: chip-0402, mass_mg: 0.6}
    recognitions.chip-0402: {camera: up, expect_mm: [1.0, 0.5], threshold_grey: 110, \
tolerance_mm: 0.1, tuned_under: k-4426a966cb76}
    nozzles.bore-0-2: {tip_outer_mm: 0.4, bore_mm: 0.2, length_mm: 12, empty_kpa: -30, \
held_kpa: -45}
    rack.p3: {x: 340, y: 16, z: -25, nozzle: bore-0-2}
    parts.10k-0402: {outline: chip-0402}
    feeders.f04: {row: front, slot: 4, part: 10k-0402, carrier: tape, remaining: 90}
    feeders.f04.pick: {x: 68, y: 8.1, z: -18.2, rotation: 0}
    jobs.first-board.placements.R2.part: 10k-0402
    jobs.first-board.bill.R2.part: 10k-0402
"""


@rule(
    Level.WARNING,
    fails=_SMALL + "feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4}",
    passes=_SMALL + "feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 2, advance_mm: 2}",
)
def small_case_at_wide_pitch(look: Inspection) -> Iterator[Problem]:
    """A case of 0402 or smaller is said to come 4 mm apart, where such come 2 mm apart.

    On the machine: if the pockets are 2 mm apart, every second part is carried past the pick and
    lost.

    To do: measure from pocket to pocket over ten pockets; correct pitch and advance.

    Source: common practice; makers' packing notes (Philips Components 1996, Panasonic) use 2 mm.
    """
    wide = []
    for held, _ in _taped(look.shop):
        tape = held.feeder.tape
        standard = TAPES.get(tape.width_mm) if tape else None
        usual = usual_pitch(standard, max(held.outline.body_mm)) if standard else None
        if tape and usual is not None and usual < 4 <= tape.pocket_pitch_mm:
            wide.append((held, tape.pocket_pitch_mm))
    if wide:
        yield _wide_pitch(wide)


def _wide_pitch(wide: list[tuple[_Held, float]]) -> Problem:
    first, pitch = wide[0]
    says = (
        f"feeder {first.name} has {first.part} {number(pitch)} mm apart"
        if len(wide) == 1
        else f"{count(len(wide), 'feeder')} have parts of 0402 and smaller 4 mm apart"
    )
    return Problem(
        path=first.path("tape", "pocket_pitch_mm"),
        related=tuple(held.path("tape", "pocket_pitch_mm") for held, _ in wide[1:6]),
        message=f"{says}; cases so small come 2 mm apart.",
        observed=listed(
            [f"{held.name}: {held.part}, pitch {number(pitch)}" for held, pitch in wide]
        ),
        consequence="If the pockets are 2 mm apart, every second part is carried past the pick and lost.",
        remedy=("Measure over ten pockets; correct pitch and advance.",),
    )
