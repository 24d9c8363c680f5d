"""Rules about parts in their carriers: does a part fit, and is it turned as described."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.carrying import size_in_carrier
from jobcheck.facts.feeder_leg import feed_direction
from jobcheck.facts.rows import feeders
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, at_level, lacking, rule
from jobcheck.schema.feeders import Feeder
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import Point
from jobcheck.trade.tape import TAPES, turn_in_pocket
from jobcheck.wording import count, listed, number

_SQUARE_MM = 0.3
"""A case is square when length and width differ by no more. Source: EIA-481-E."""

_DEEP_MM = 0.5
"""A pocket may be so much deeper than its part: common practice, no published source."""


class _Held(NamedTuple):
    """A part in its carrier: its size along and across it, None where that is unknown."""

    name: str
    feeder: Feeder
    part: str
    outline: Outline
    along_across: Point | None

    @property
    def part_path(self) -> Path:
        """Where the feeder names its part."""
        return ("feeders", self.name, "part")

    @property
    def least(self) -> Point:
        """The size along and across; its smaller side for both where the attitude is unknown."""
        return self.along_across or (min(self.outline.size_mm), min(self.outline.size_mm))

    @property
    def is_known(self) -> bool:
        """Whether the size over terminals is known, which an error needs."""
        return self.outline.over_terminals_mm is not None

    @property
    def measure(self) -> str:
        """How the size is called in a message."""
        return "over terminals" if self.is_known else "body"

    def path(self, *keys: str) -> Path:
        """Where a value of the feeder is."""
        return ("feeders", self.name, *keys)


def _held(shop: Shop) -> Iterator[_Held]:
    for name, feeder in feeders(shop):
        outline = shop.outline_of(feeder.part)
        if outline is not None and feeder.part is not None:
            yield _Held(name, feeder, feeder.part, outline, size_in_carrier(shop, name))


def _taped(shop: Shop) -> Iterator[tuple[_Held, Point | None]]:
    """Yield parts in tapes with their pocket along and across, None where it is not described."""
    for held in _held(shop):
        tape = held.feeder.tape
        if tape is not None and held.feeder.carrier in ("tape", "cut-tape"):
            pocket = (tape.pocket_mm[0], tape.pocket_mm[1]) if tape.pocket_mm else None
            yield held, pocket


def _size(size: Point) -> str:
    return f"{number(size[0])} × {number(size[1])} mm"


def _fits(part: Point, pocket: Point, slack: float) -> bool:
    return part[0] <= pocket[0] + slack and part[1] <= pocket[1] + slack


# a part too large for its carrier


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="feeders.f01.tape.pocket_mm: [0.6, 1.4]",
    passes="feeders.f01.tape.pocket_mm: [0.76, 1.56]",
)
def part_misfits_carrier(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A part is larger than its pocket, tape or pitch allows, or turns too far in its pocket.

    An error where the size over terminals is known and exceeds pocket or pitch. A warning where
    only the body is known, where the part exceeds the largest pocket of such a tape, and where the
    part can turn further than EIA-481 allows.

    On the machine: another part is in the carrier, or the advance stops beside the part; a wrong
    part is placed, or none.

    To do: read the reel's label and measure pocket, pitch and width; correct what is wrong.

    Source: a part is inside its pocket and parts do not overlap, arithmetic, within
    `limits.pocket_slack_mm`; B1, the largest pocket across a tape, EIA-481-D Tables 2 and 3; the
    turn, Table 2 note 1: 20 degrees on 8 and 12 mm tape, 10 on 16 and 24 mm.
    """
    yield from _part_exceeds_carrier(look)
    yield from at_level(Level.WARNING, _part_loose_in_pocket(look))


def _part_exceeds_carrier(look: Inspection) -> Iterator[Problem | Unchecked]:
    placed = look.facts.usage.placed_parts()
    unknown = []
    for held, pocket in _taped(look.shop):
        if pocket is not None:
            yield from _over_pocket(held, pocket, look.limits.pocket_slack_mm)
            continue
        if held.part in placed:
            unknown.append(held.path("tape", "pocket_mm"))
        problem = _over_tape(held) or _over_pitch(held)
        if problem:
            yield problem
    for held in _held(look.shop):
        if held.feeder.carrier in ("stick", "tray"):
            problem = _over_pitch(held)
            if problem:
                yield problem
    if unknown:
        yield lacking(f"pockets of {count(len(unknown), 'feeder')}", "pocket_mm", unknown)


def _over_pocket(held: _Held, pocket: Point, slack: float) -> Iterator[Problem]:
    length, width = held.outline.size_mm
    if _fits((length, width), pocket, slack) or _fits((width, length), pocket, slack):
        return
    yield Problem(
        path=held.path("tape", "pocket_mm"),
        related=(held.part_path,),
        level=Level.ERROR if held.is_known else Level.WARNING,
        message=f"{held.part} is {_size((length, width))}; the pockets of feeder {held.name} are "
        f"{_size(pocket)}.",
        observed=f"pocket_mm {_size(pocket)}; {held.measure} {_size((length, width))}",
        consequence=f"If the sizes are right, another part is in {held.name}, and would be placed "
        f"for {held.part}.",
        remedy=("Read the label and measure a pocket; correct the part or the pocket.",),
    )


def _over_tape(held: _Held) -> Problem | None:
    tape = held.feeder.tape
    standard = TAPES.get(tape.width_mm) if tape else None
    across = held.least[1]
    if standard is None or across < standard.pocket_across_mm:
        return None
    width, most = number(standard.width_mm), number(standard.pocket_across_mm)
    return Problem(
        path=held.path("tape", "width_mm"),
        related=(held.part_path,),
        level=Level.WARNING,
        message=f"{held.part} is {number(across)} mm across, too large for the {width} mm tape of "
        f"feeder {held.name}.",
        observed=f"width_mm {width}: EIA-481 has pockets up to {most} mm across on it",
        consequence="The tape is wider and its pockets are elsewhere, or another part is on it.",
        remedy=("Measure the tape and read its label; correct the width or the part.",),
    )


def _over_pitch(held: _Held) -> Problem | None:
    found = _short_pitch(held)
    if found is None:
        return None
    keys, pitch, size, along = found
    return Problem(
        path=held.path(*keys),
        related=(held.part_path,),
        level=Level.ERROR if held.is_known else Level.WARNING,
        message=f"{held.part} is {number(size)} mm {along}, but the pitch of feeder {held.name} "
        f"is {number(pitch)} mm.",
        observed=f"pitch {number(pitch)}; {held.measure} {number(size)} mm {along}",
        consequence="Parts cannot overlap: the nozzle would stop beside them.",
        remedy=("Measure from part to part; correct the pitch, or the part's attitude.",),
    )


def _short_pitch(held: _Held) -> tuple[Path, float, float, str] | None:
    """Return the path, pitch, size and direction where a part is longer than its pitch."""
    feeder, (along, across) = held.feeder, held.least
    if feeder.carrier == "tray":
        steps = feeder.tray.pitch_mm if feeder.tray else ()
        several = (feeder.tray.columns > 1, feeder.tray.rows > 1) if feeder.tray else ()
        for step, size, is_used, axis in zip(steps, (along, across), several, "xy", strict=False):
            if is_used and size > abs(step):
                return ("tray", "pitch_mm"), abs(step), size, f"along {axis}"
        return None
    if feeder.carrier == "stick":
        pitch = feeder.stick.pitch_mm if feeder.stick else None
        keys: Path = ("stick", "pitch_mm")
    else:
        pitch = feeder.tape.pocket_pitch_mm if feeder.tape else None
        keys = ("tape", "pocket_pitch_mm")
    return (keys, pitch, along, "along the feed") if pitch and along > pitch else None


# height against pocket


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="feeders.f05.tape.pocket_depth_mm: 1.6",
    passes="feeders.f05.tape.pocket_depth_mm: 1.7",
)
def height_contradicts_pocket(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A part is taller than its pocket is deep, or hardly half as tall.

    An error where it is taller than a measured pocket. A warning where it is taller than such a
    tape is thick with its pockets, or far lower than its pocket. Where the height contradicts
    every feeder of the part, the height is at fault.

    On the machine: if the height is wrong, the nozzle presses or lets go by as much; else another
    part is in the tape.

    To do: measure the part and a pocket; correct the one that is wrong.

    Source: a part is below the top of its tape, within `limits.pocket_slack_mm`; T2, the largest
    thickness of a tape with its pocket, EIA-481-D Tables 2 and 3; half as tall and 0.5 mm lower:
    common practice, no published source.
    """
    placed = look.facts.usage.placed_parts()
    fed: dict[Path, int] = defaultdict(int)
    off: dict[tuple[Path, bool], list[tuple[_Held, Path, float]]] = defaultdict(list)
    unknown = []
    for held, _ in _taped(look.shop):
        depth, height = _depth(held), look.shop.height_of(held.part)
        if (depth is None or depth[0][-1] == "width_mm") and held.part in placed:
            unknown.append(held.path("tape", "pocket_depth_mm"))
        if depth is None or not height:
            continue
        path = look.shop.height_path(held.part)
        fed[path] += 1
        is_taller = height > depth[1] + look.limits.pocket_slack_mm + 1e-9
        is_lower = depth[0][-1] != "width_mm" and depth[1] > max(2 * height, height + _DEEP_MM)
        if is_taller or is_lower:
            off[path, is_taller].append((held, *depth))
    for (path, is_taller), entries in off.items():
        at_fault = [path] if len(entries) == fed[path] else []
        paths = [*at_fault, *(where for _, where, _ in entries)]
        yield _height_off(look.shop, paths, entries, is_taller)
    if unknown:
        yield lacking(
            f"heights against pockets of {count(len(unknown), 'feeder')}",
            "pocket_depth_mm",
            unknown,
        )


def _depth(held: _Held) -> tuple[Path, float] | None:
    """Return how deep a pocket is, or can be on its tape, mm, and where that is written."""
    tape = held.feeder.tape
    if tape is None:
        return None
    if tape.pocket_depth_mm is not None:
        return held.path("tape", "pocket_depth_mm"), tape.pocket_depth_mm
    standard = TAPES.get(tape.width_mm)
    return (held.path("tape", "width_mm"), standard.thickness_mm) if standard else None


def _height_off(
    shop: Shop, paths: list[Path], entries: list[tuple[_Held, Path, float]], is_taller: bool
) -> Problem:
    held, path, depth = entries[0]
    height = shop.height_of(held.part) or 0.0
    is_measured = path[-1] == "pocket_depth_mm"
    has = "pockets" if is_measured else f"a {number(_width(held))} mm tape"
    most = "deep" if is_measured else "thick at most"
    more = f", and {len(entries) - 1} more" if len(entries) > 1 else ""
    return Problem(
        path=paths[0],
        related=tuple(paths[1:6]),
        level=Level.ERROR if is_measured and is_taller else Level.WARNING,
        message=f"{held.part} is {number(height)} mm tall, but feeder {held.name} has {has} "
        f"{number(depth)} mm {most}{more}.",
        observed=f"height_mm {number(height)}; {path[-1]} "
        f"{number(depth if is_measured else _width(held))}",
        consequence="If the height is wrong, the nozzle would press too deep or let go too high; "
        "else another part is in the tape.",
        remedy=("Measure the part and a pocket, and correct the one that is wrong.",),
    )


def _width(held: _Held) -> float:
    return held.feeder.tape.width_mm if held.feeder.tape else 0.0


# attitude against pocket


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="feeders.f01.tape.pocket_mm: [1.8, 1.0]",
    passes="feeders.f01.tape.pocket_mm: [1.0, 1.8]",
)
def attitude_contradicts_tape(look: Inspection) -> Iterator[Problem]:
    """A part is described across a pocket that fits it along, or a chip along its tape.

    Its attitude is where the tape has pin 1, else `pick.rotation` and the feed. An error where the
    size over terminals does not fit the pocket as described; a warning where only the body is
    known, and where a chip without a described pocket has its long side along the tape.

    On the machine: if the attitude is wrong, each part is placed a quarter turn off, across its
    pads; the picture from below corrects less than 45 degrees.

    To do: look at the part in its pocket; correct `pick.rotation` or `pin1`, or the pocket.

    Source: a part is inside its pocket, arithmetic, within `limits.pocket_slack_mm`. Chips have
    their long side across the tape: common practice, no published source.
    """
    slack = look.limits.pocket_slack_mm
    chips: dict[Path, list[tuple[_Held, Point]]] = defaultdict(list)
    for held, pocket in _taped(look.shop):
        size = held.along_across
        if size is None:
            continue
        if pocket is None:
            feed = feed_direction(look.shop, held.name, held.feeder)
            if feed is not None and _is_long_chip(held):
                chips[feed[1]].append((held, size))
        elif not _fits(size, pocket, slack) and _fits((size[1], size[0]), pocket, slack):
            yield _turned(held, size, pocket)
    for path, found in chips.items():
        along = [(held, size) for held, size in found if size[0] > size[1]]
        if len(along) > 1 and len(along) == len(found) and path[0] == "feeder_rows":
            yield _row_along(path, [held for held, _ in along])
        else:
            yield from (_along(held, size) for held, size in along)


def _is_long_chip(held: _Held) -> bool:
    """Return whether a part is a chip that usually has its long side across the tape."""
    outline, size = held.outline, held.along_across
    is_chip = outline.terminals == 2 and not outline.polarised
    is_long = size is not None and abs(size[0] - size[1]) > _SQUARE_MM
    return is_chip and is_long and held.feeder.pick is not None


def _row_along(path: Path, helds: list[_Held]) -> Problem:
    """Report a row in which every chip is turned: its direction explains more than each pick."""
    names = [held.name for held in helds]
    return Problem(
        path=path,
        related=tuple(held.path("pick", "rotation") for held in helds[:5]),
        level=Level.WARNING,
        message=f"row {path[1]} has the long side of all its chips along the tape: "
        f"{listed(names)}.",
        observed="by feed_direction and each pick.rotation; chips are usually across",
        consequence="If feed_direction is wrong, every turn that is computed with it is wrong too.",
        remedy=(
            "Look in which direction the pockets move. If it is as described, correct the picks.",
        ),
        suppresses=tuple(
            (name, ("feeders", held.name))
            for held in helds
            for name in ("feeders-of-part-disagree", "pick-rotation-wrong")
        ),
    )


def _attitude_keys(held: _Held) -> Path:
    has_pin1 = held.feeder.tape is not None and held.feeder.tape.pin1 is not None
    return ("tape", "pin1") if has_pin1 else ("pick", "rotation")


def _turned(held: _Held, size: Point, pocket: Point) -> Problem:
    keys = _attitude_keys(held)
    described = "along" if size[0] > size[1] else "across"
    longer = "along" if pocket[0] > pocket[1] else "across"
    return Problem(
        path=held.path(*keys),
        related=(held.path("tape", "pocket_mm"),),
        level=Level.ERROR if held.is_known else Level.WARNING,
        message=f"feeder {held.name} has {held.part} with its long side {described} the tape, but "
        f"its pockets are longer {longer} the tape.",
        observed=f"{_size(size)} along and across; pocket_mm {_size(pocket)}",
        consequence=f"If the pocket is right, {held.part} would be placed a quarter turn off, "
        "across its pads.",
        remedy=(f"Look at it in its pocket; correct {'.'.join(keys)}, or tape.pocket_mm.",),
        suppresses=(
            ("feeders-of-part-disagree", ("feeders", held.name)),
            ("pick-rotation-wrong", ("feeders", held.name)),
        ),
    )


def _along(held: _Held, size: Point) -> Problem:
    keys = _attitude_keys(held)
    rotation = held.feeder.pick.rotation if held.feeder.pick else 0.0
    return Problem(
        path=held.path(*keys),
        level=Level.WARNING,
        message=f"feeder {held.name} has {held.part} with its long side along the tape; chips are "
        "usually across.",
        observed=f"pick.rotation {number(rotation)}: {number(size[0])} mm along, "
        f"{number(size[1])} mm across",
        consequence=f"If {held.part} is across, it is placed a quarter turn off.",
        remedy=("Look at it. If across, turn pick.rotation by 90. If along, write pocket_mm.",),
        suppresses=(("feeders-of-part-disagree", ("feeders", held.name)),),
    )


def _part_loose_in_pocket(look: Inspection) -> Iterator[Problem]:
    for held, pocket in _taped(look.shop):
        tape, outline, size = held.feeder.tape, held.outline, held.along_across
        standard = TAPES.get(tape.width_mm) if tape else None
        if standard is None or standard.part_turn_deg is None or not pocket or size is None:
            continue
        is_chip = outline.terminals == 2 and not outline.polarised
        if not held.is_known and not is_chip:
            continue
        turn = turn_in_pocket(size, pocket) if _fits(size, pocket, 0.0) else 0.0
        if turn > standard.part_turn_deg + 0.5:
            yield _loose(held, pocket, turn, standard.part_turn_deg)


def _loose(held: _Held, pocket: Point, turn: float, most: float) -> Problem:
    return Problem(
        path=held.path("tape", "pocket_mm"),
        related=(held.part_path,),
        message=f"{held.part} could turn by {turn:.0f} degrees in the pockets of feeder "
        f"{held.name}; EIA-481 has {number(most)} at most.",
        observed=f"pocket_mm {_size(pocket)}; {held.measure} {_size(held.least)}",
        consequence="A larger part may be in the tape, or this one may be turned too far to be "
        "found.",
        remedy=("Read the label and measure a pocket; correct the part or the pocket.",),
    )


def pocket_contradicts_tape(look: Inspection) -> Iterator[Problem]:
    """A pocket is longer than its pitch, or wider than its tape has."""
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
                consequence=f"The nozzle would stop beside {held.part}.",
                remedy=("Measure pocket, pitch and width again.",),
            )
