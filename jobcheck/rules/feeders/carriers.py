"""Rules about carriers: tapes by EIA-481, and blocks that fit the carrier."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator

from jobcheck.facts.carrying import attitude_of
from jobcheck.facts.reach import in_a_run
from jobcheck.facts.rows import feeders
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, at_level, lacking, rule
from jobcheck.rules.feeders.pockets import pocket_contradicts_tape
from jobcheck.schema.feeders import Feeder, Tape
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference
from jobcheck.trade.tape import (
    TAPES,
    WIDE_TAPES_MM,
    StandardTape,
    advance_mm,
    nearest_pitch,
    nearest_width,
    usual_pitch,
)
from jobcheck.wording import count, listed, number

_SAME_MM = 0.005
"""Lengths closer than this are written alike to the hundredth."""

_FINE = {(4.0, 1.0), (8.0, 1.0)}
"""Width and pitch of the finest tapes, for cases 0201 and smaller.

Source: IEC 60286-3, from memory; EIA-481-D Tables 2 and 3 do not list them.
"""


def _tapes(shop: Shop) -> Iterator[tuple[str, Feeder, Tape]]:
    for name, feeder in feeders(shop):
        if feeder.tape is not None and feeder.carrier in ("tape", "cut-tape"):
            yield name, feeder, feeder.tape


def _tape_advance_contradicts_pitch(look: Inspection) -> Iterator[Problem]:
    for name, feeder, tape in _tapes(look.shop):
        wanted = advance_mm(tape.pocket_pitch_mm, tape.pockets_per_advance)
        if abs(tape.advance_mm - wanted) <= _SAME_MM:
            continue
        pockets = count(tape.pockets_per_advance, "pocket")
        yield Problem(
            path=("feeders", name, "tape", "advance_mm"),
            related=(("feeders", name, "tape", "pocket_pitch_mm"),),
            message=f"feeder {name} advances {number(tape.advance_mm)} mm, but {pockets} × "
            f"{number(tape.pocket_pitch_mm)} mm is {number(wanted)}.",
            observed=f"advance_mm {number(tape.advance_mm)}, pocket_pitch_mm "
            f"{number(tape.pocket_pitch_mm)}, pockets_per_advance {tape.pockets_per_advance}",
            consequence=f"The tape would stop {number(abs(tape.advance_mm - wanted))} mm off with "
            f"every advance: {feeder.part or 'the part'} would be missed or passed over.",
            remedy=(
                "Measure from pocket to pocket, and how far one advance feeds; correct what is "
                "wrong.",
            ),
        )


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="feeders.f01.tape.width_mm: 9",
    passes="feeders.f01.tape.width_mm: 12",
)
def tape_sizes_contradict(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A tape's width, pitch, advance or pocket contradict each other, EIA-481 or the part.

    An error if one advance is not its count of pockets times their pitch. Warnings: a width or a
    pitch that EIA-481 does not have, a pocket longer than its pitch or wider than its tape has, and
    a pitch that is unusual for the part. On 8 mm tape, cases of 0402 and smaller are usually 2 mm
    apart, cases of 0603 and larger 4 mm.

    On the machine: a wrong pitch or advance moves the pick further off with every part, or leaves
    every second part; a wrong width moves the pocket away from the pick.

    To do: measure the width, the pocket, and from pocket to pocket over ten pockets; correct what
    is wrong.

    Source: EIA-481-D Tables 2 and 3; pockets do not overlap and advance = pockets × pitch,
    arithmetic. Widths over 56 mm, 4 mm tape and pitch 1 mm: EIA-481 and IEC 60286-3, from memory.
    2 mm for 0402 and smaller: makers' packing notes (Philips Components 1996, Panasonic); 4 mm for
    larger: common practice, no published source.
    """
    yield from _tape_unusual(look)
    yield from at_level(Level.ERROR, _tape_advance_contradicts_pitch(look))
    yield from pocket_contradicts_tape(look)


def _tape_unusual(look: Inspection) -> Iterator[Problem]:
    pitches: dict[float, list[tuple[str, Feeder, float]]] = defaultdict(list)
    for name, feeder, tape in _tapes(look.shop):
        standard, pitch = TAPES.get(tape.width_mm), tape.pocket_pitch_mm
        if standard is None:
            if tape.width_mm not in (4, *WIDE_TAPES_MM):
                yield _odd_width(name, feeder, tape.width_mm)
        elif pitch not in standard.pitches_mm and (tape.width_mm, pitch) not in _FINE:
            yield _odd_pitch(name, feeder, standard, pitch)
        else:
            outline = look.shop.outline_of(feeder.part)
            usual = usual_pitch(standard, max(outline.body_mm)) if outline else None
            if usual is not None and (pitch < 4) != (usual < 4):
                pitches[usual].append((name, feeder, pitch))
    for usual, found in sorted(pitches.items()):
        yield _unusual_pitch(usual, found)


def _odd_width(name: str, feeder: Feeder, width: float) -> Problem:
    return Problem(
        path=("feeders", name, "tape", "width_mm"),
        message=f"feeder {name} has a tape {number(width)} mm wide; EIA-481 does not have it.",
        observed=f"{number(width)}; the nearest is {number(nearest_width(width))}",
        consequence=f"The distance from the round holes to the pockets of "
        f"{feeder.part or 'this tape'} is unknown.",
        remedy=(f"Measure the tape. EIA-481 has {_row(TAPES)} mm.",),
    )


def _odd_pitch(name: str, feeder: Feeder, standard: StandardTape, pitch: float) -> Problem:
    return Problem(
        path=("feeders", name, "tape", "pocket_pitch_mm"),
        related=(("feeders", name, "tape", "width_mm"),),
        message=f"feeder {name} has pockets {number(pitch)} mm apart; EIA-481 does not have that "
        f"on {number(standard.width_mm)} mm tape.",
        observed=f"{number(pitch)}; the nearest is {number(nearest_pitch(standard, pitch))}",
        consequence=f"If the pitch is wrong, the pick of {feeder.part or 'the part'} drifts along "
        "the tape, or passes parts.",
        remedy=(
            f"Measure over ten pockets. EIA-481 has {_row(standard.pitches_mm)} mm at this width.",
        ),
    )


def _unusual_pitch(usual: float, found: list[tuple[str, Feeder, float]]) -> Problem:
    name, feeder, pitch = found[0]
    has = (
        f"feeder {name} has {feeder.part} {number(pitch)} mm apart"
        if len(found) == 1
        else f"{count(len(found), 'feeder')} have parts {number(pitch)} mm apart"
    )
    cases = "0402 and smaller" if usual < 4 else "0603 and larger"
    passed = "every second part is carried past the pick and lost"
    empty = "every second pick finds no part"
    return Problem(
        path=("feeders", name, "tape", "pocket_pitch_mm"),
        related=tuple(("feeders", n, "tape", "pocket_pitch_mm") for n, _, _ in found[1:6]),
        message=f"{has}; cases of {cases} are usually {number(usual)} mm apart.",
        observed=listed([f"{n}: {f.part}, pitch {number(p)}" for n, f, p in found]),
        consequence=f"If the pockets are {number(usual)} mm apart, "
        f"{passed if usual < 4 else empty}.",
        remedy=("Measure over ten pockets; correct pitch and advance.",),
    )


def _row(values: Iterable[float]) -> str:
    return listed([number(value) for value in values], 12)


# blocks that fit the carrier

_BLOCK = {"tape": "tape", "cut-tape": "tape", "stick": "stick", "tray": "tray"}


def _blocks(feeder: Feeder) -> list[str]:
    return [block for block in ("tape", "stick", "tray") if getattr(feeder, block) is not None]


def carrier_undescribed(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A feeder of a planned run does not describe its carrier: no tape, stick or tray."""
    placed = look.facts.usage.placed_parts()
    bare: dict[bool, list[tuple[str, Feeder]]] = {True: [], False: []}
    for name, feeder in feeders(look.shop):
        if feeder.part is not None and feeder.part in placed and not _blocks(feeder):
            bare[in_a_run(look.facts, [feeder.part])].append((name, feeder))
    if bare[True]:
        yield _undescribed(bare[True])
    blocks: dict[str, list[Path]] = defaultdict(list)
    for name, feeder in bare[False]:
        blocks[_BLOCK[feeder.carrier]].append(("feeders", name, _BLOCK[feeder.carrier]))
    for block, paths in blocks.items():
        yield lacking(f"carrier of {count(len(paths), 'feeder')}", block, paths)


def _undescribed(bare: list[tuple[str, Feeder]]) -> Problem:
    name, feeder = bare[0]
    does = (
        f"feeder {name} does not describe its"
        if len(bare) == 1
        else f"{len(bare)} feeders do not describe their"
    )
    return Problem(
        path=("feeders", name, _BLOCK[feeder.carrier]),
        related=tuple(("feeders", n, _BLOCK[f.carrier]) for n, f in bare[1:6]),
        message=f"{does} carrier.",
        observed=listed([f"{n} is a {f.carrier} without `{_BLOCK[f.carrier]}`" for n, f in bare]),
        consequence="The feed of one advance and the attitude of the parts are unknown.",
        remedy=("Look at it and write the block.",),
    )


@rule(
    Level.ERROR,
    fails="feeders.f01.carrier: stick",
    passes="feeders.f01.carrier: cut-tape",
)
def carrier_contradicted(look: Inspection) -> Iterator[Problem]:
    """A feeder describes another carrier than the one it names, or several.

    On the machine: pitch and attitude come from the block of the named carrier, and may not be
    those of the parts.

    To do: look how the parts are carried; name that carrier and keep only its block.

    Source: one feeder carries its parts in one way.
    """
    for name, feeder in feeders(look.shop):
        wanted = _BLOCK[feeder.carrier]
        others = [block for block in _blocks(feeder) if block != wanted]
        if not others:
            continue
        yield Problem(
            path=("feeders", name, others[0]),
            related=(("feeders", name, "carrier"),),
            message=f"feeder {name} names {feeder.carrier} as its carrier, but describes a "
            f"{' and a '.join(_blocks(feeder))}.",
            observed=f"carrier {feeder.carrier}; {', '.join(_blocks(feeder))} described",
            consequence=f"The attitude of {feeder.part or 'the part'} would come from `{wanted}`, "
            "whatever is in the feeder.",
            remedy=(
                f"Look how the parts are carried in {name}; name that carrier and keep only its "
                "block.",
            ),
        )


# several feeders of one part

_SECOND = """
    feeders.f04: {row: front, slot: 4, part: diode-sod123, carrier: tape, remaining: 90}
    feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4, pin1: plain_edge}
    feeders.f04.pick: {x: 68, y: 8.1, z: -18.2, rotation: 180}
"""


@rule(
    Level.WARNING,
    fails=_SECOND,
    passes=_SECOND + "feeders.f04.tape.pin1: holes\nfeeders.f04.pick.rotation: 0",
)
def feeders_of_part_disagree(look: Inspection) -> Iterator[Problem]:
    """Two feeders of one part disagree about its tape, or about its attitude in the tape.

    The attitude is compared in the tape, so the feed direction of the rows does not matter. A
    feeder whose pick contradicts its own tape is reported by `pick-rotation-wrong` alone.

    On the machine: if one of the two is described wrong, its parts are placed turned or missed
    when it takes over from the other.

    To do: look at both reels side by side; correct the one that is described wrong.

    Source: a maker packs a part in one way (common practice, no published source).
    """
    shop = look.shop
    holders: dict[str, list[str]] = defaultdict(list)
    for name, feeder, _ in _tapes(shop):
        if feeder.part in shop.parts:
            holders[str(feeder.part)].append(name)
    for part in sorted((part for part in holders if len(holders[part]) > 1), key=natural):
        yield from _apart(look, part, holders[part])


def _apart(look: Inspection, part: str, names: list[str]) -> Iterator[Problem]:
    """Yield a problem for the value in which one feeder differs from the most others."""
    shop = look.shop
    tapes = {name: tape for name, _, tape in _tapes(shop) if name in names}
    for field, unit in (("width_mm", " mm wide"), ("pocket_pitch_mm", " mm apart")):
        values = {name: getattr(tapes[name], field) for name in names}
        odd = _odd(look, values, lambda a, b: abs(a - b) > _SAME_MM, ("tape", field))
        if odd:
            yield _disagree(part, odd, {n: f"{number(v)}{unit}" for n, v in values.items()}, field)
            return
    outline = shop.outline_of(part)
    tolerance = look.limits.half_turn_tolerance_deg
    legs = look.facts.polarity.feeders
    attitudes = {
        name: attitude
        for name in names
        if (attitude := attitude_of(shop, name)) is not None
        and not (name in legs and abs(legs[name].difference) > tolerance)
    }
    if outline is None:
        return
    period = outline.symmetry
    odd = _odd(
        look,
        attitudes,
        lambda a, b: abs(attitude_difference(a, b, period)) > tolerance,
        ("pick", "rotation"),
    )
    if odd:
        shown = {
            n: f"at {number(attitude_difference(v, 0, 360))} to its feed"
            for n, v in attitudes.items()
        }
        yield _disagree(part, odd, shown, "rotation")


def _odd(
    look: Inspection,
    values: dict[str, float],
    differs: Callable[[float, float], bool],
    keys: Path,
) -> tuple[str, list[str]] | None:
    """Return the feeder that differs from the most others, with those; None where all agree.

    Of several alike it is the one that changed since the record, else the last.
    """
    against = {
        name: [other for other in values if differs(values[name], values[other])] for name in values
    }
    most = max(map(len, against.values()), default=0)
    if most == 0:
        return None
    worst = [name for name in values if len(against[name]) == most]
    good = look.good
    changed = [
        name
        for name in worst
        if good
        and good.plain_at(("feeders", name, *keys))
        not in (None, look.shop.plain_at(("feeders", name, *keys)))
    ]
    name = (changed or worst)[-1]
    return name, against[name]


def _disagree(part: str, odd: tuple[str, list[str]], values: dict[str, str], field: str) -> Problem:
    name, others = odd
    keys: Path = ("pick", field) if field == "rotation" else ("tape", field)
    return Problem(
        path=("feeders", name, *keys),
        related=tuple(("feeders", other, *keys) for other in others[:5]),
        message=f"feeder {name} has {part} {values[name]}, but {others[0]} has it "
        f"{values[others[0]]}.",
        observed=listed([f"{other} {values[other]}" for other in (name, *others)]),
        consequence=f"If one of the reels is described wrong, {part} would be missed or placed "
        f"turned when {name} takes over from {others[0]}, or the other way round.",
        remedy=("Look at both reels side by side, and correct the one that is described wrong.",),
    )
