"""Rules about carriers: tapes as EIA-481 has them, and blocks that fit the carrier."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator

from jobcheck.facts.carrying import attitude_of
from jobcheck.facts.rows import feeders
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.feeders import Feeder, Tape
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference
from jobcheck.trade.tape import TAPES, advance_mm, nearest_pitch, nearest_width
from jobcheck.wording import count, listed, number

_SAME_MM = 0.005
"""Lengths closer than this are written alike to the hundredth."""

_WIDEST_DESCRIBED_MM = max(TAPES)
_FINE = {(4.0, 1.0), (8.0, 1.0)}
"""Width and pitch of the finest tapes, for cases 0201 and smaller.

Source: IEC 60286-3, from memory; EIA-481-D Tables 2 and 3 do not list them.
"""


def _tapes(shop: Shop) -> Iterator[tuple[str, Feeder, Tape]]:
    for name, feeder in feeders(shop):
        if feeder.tape is not None and feeder.carrier in ("tape", "cut-tape"):
            yield name, feeder, feeder.tape


@rule(
    Level.ERROR,
    fails="feeders.f01.tape.advance_mm: 2",
    passes="""
    feeders.f01.tape.pocket_pitch_mm: 2
    feeders.f01.tape.pockets_per_advance: 2
    """,
)
def tape_advance_contradicts_pitch(look: Inspection) -> Iterator[Problem]:
    """One advance is not the pockets that it brings times their pitch.

    On the machine: the tape stops with a wall under the nozzle, or brings parts past it; the pick
    drifts along the tape with every advance.

    To do: measure the pitch from pocket to pocket, and how far one advance feeds.

    Source: arithmetic.
    """
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
            consequence=f"The tape would stop {number(abs(tape.advance_mm - wanted))} mm off with every "
            f"advance: {feeder.part or 'the part'} is missed or passed over.",
            remedy=(
                "Look how far apart the pockets are and how far one advance feeds; correct what "
                "differs.",
            ),
        )


@rule(
    Level.WARNING,
    fails="feeders.f01.tape.width_mm: 9",
    passes="feeders.f01.tape.width_mm: 16",
)
def tape_width_not_standard(look: Inspection) -> Iterator[Problem]:
    """A tape is of a width that EIA-481 does not have.

    On the machine: how far the pocket lies from the round holes cannot be told, and the tape
    may not fit the feeder.

    To do: measure the tape; correct the width.

    Source: EIA-481-D Tables 2 and 3; 4 mm: IEC 60286-3, from memory; widths over 56 mm exist and
    are not judged.
    """
    for name, feeder, tape in _tapes(look.shop):
        width = tape.width_mm
        if width in TAPES or width == 4 or width > _WIDEST_DESCRIBED_MM:
            continue
        yield Problem(
            path=("feeders", name, "tape", "width_mm"),
            message=f"feeder {name} has a tape {number(width)} mm wide; EIA-481 has none so wide.",
            observed=f"{number(width)}; the nearest is {number(nearest_width(width))}",
            consequence=f"Where the pockets of {feeder.part or 'this tape'} lie beside the round holes "
            "cannot be told.",
            remedy=(f"Measure the tape. EIA-481 has {_row(TAPES)} mm.",),
            suppresses=(("tape-pitch-not-standard", ("feeders", name, "tape")),),
        )


@rule(
    Level.WARNING,
    fails="feeders.f01.tape.pocket_pitch_mm: 3\nfeeders.f01.tape.advance_mm: 3",
    passes="feeders.f01.tape.pocket_pitch_mm: 2\nfeeders.f01.tape.advance_mm: 2",
)
def tape_pitch_not_standard(look: Inspection) -> Iterator[Problem]:
    """A tape has a pocket pitch that EIA-481 does not have at its width.

    On the machine: a wrong pitch takes the pick further off with every part, or leaves every
    second part unpicked.

    To do: measure from pocket to pocket over ten pockets; correct the pitch.

    Source: EIA-481-D Tables 2 and 3; 1 mm on 4 and 8 mm tape: IEC 60286-3, from memory.
    """
    for name, feeder, tape in _tapes(look.shop):
        standard = TAPES.get(tape.width_mm)
        pitch = tape.pocket_pitch_mm
        if standard is None or pitch in standard.pitches_mm or (tape.width_mm, pitch) in _FINE:
            continue
        yield Problem(
            path=("feeders", name, "tape", "pocket_pitch_mm"),
            related=(("feeders", name, "tape", "width_mm"),),
            message=f"feeder {name} has pockets {number(pitch)} mm apart; EIA-481 has no such pitch "
            f"on {number(tape.width_mm)} mm tape.",
            observed=f"{number(pitch)}; the nearest is {number(nearest_pitch(standard, pitch))}",
            consequence=f"The pick of {feeder.part or 'the part'} would drift along the tape, or pass "
            "parts over.",
            remedy=(
                f"Measure over ten pockets. EIA-481 has {_row(standard.pitches_mm)} mm at this "
                "width.",
            ),
        )


def _row(values: Iterable[float]) -> str:
    return listed([number(value) for value in values], 12)


# blocks that fit the carrier

_BLOCK = {"tape": "tape", "cut-tape": "tape", "stick": "stick", "tray": "tray"}


def _blocks(feeder: Feeder) -> list[str]:
    return [block for block in ("tape", "stick", "tray") if getattr(feeder, block) is not None]


@rule(
    Level.WARNING,
    fails="feeders.f01.tape: ~",
    passes="""
    feeders.f01.tape: ~
    feeders.f01.carrier: stick
    feeders.f01.stick: {pitch_mm: 4}
    feeders.f01.remaining: 90
    """,
)
def carrier_undescribed(look: Inspection) -> Iterator[Problem]:
    """A feeder does not describe its carrier: no tape, stick or tray of that kind.

    On the machine: nothing tells how far an advance feeds, nor which way the parts lie.

    To do: write the block that the carrier needs: `tape`, `stick` or `tray`.

    Source: common practice, no published source.
    """
    silent = [
        (name, feeder)
        for name, feeder in feeders(look.shop)
        if feeder.part is not None and not _blocks(feeder)
    ]
    if not silent:
        return
    name, feeder = silent[0]
    says = (
        f"feeder {name} does not describe its"
        if len(silent) == 1
        else (f"{len(silent)} feeders do not describe their")
    )
    yield Problem(
        path=("feeders", name, _BLOCK[feeder.carrier]),
        related=tuple(("feeders", n, _BLOCK[f.carrier]) for n, f in silent[1:6]),
        message=f"{says} carrier.",
        observed=listed([f"{n} is a {f.carrier} without `{_BLOCK[f.carrier]}`" for n, f in silent]),
        consequence="How far an advance feeds and which way round the parts lie cannot be told.",
        remedy=("Look at it and write the block.",),
    )


@rule(
    Level.ERROR,
    fails="feeders.f01.carrier: stick",
    passes="feeders.f01.carrier: cut-tape",
)
def carrier_contradicted(look: Inspection) -> Iterator[Problem]:
    """A feeder describes another carrier than the one it names, or several.

    On the machine: pitch and attitude are taken from the block of the carrier that is named; the
    parts may lie otherwise.

    To do: look how the parts are carried; keep that block alone, and name it.

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
            consequence=f"How {feeder.part or 'the part'} lies at pick would be taken from `{wanted}`, "
            "whatever is in the feeder.",
            remedy=(
                f"Look how the parts are carried in {name}; name that carrier and keep its block "
                "alone.",
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
    """Two feeders of one part are said to have it on another tape, or to lie otherwise in it.

    Compared is how the part lies in its tape, whichever way the rows feed. A feeder whose pick
    contradicts its own tape is told by another rule and left out.

    On the machine: one reel of the two is likely described wrong; its parts are placed turned or
    missed from the panel on at which the other one runs out.

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
    """Yield a problem for what most of the feeders have otherwise than some."""
    shop = look.shop
    tapes = {name: tape for name, _, tape in _tapes(shop) if name in names}
    for field, unit in (("width_mm", " mm wide"), ("pocket_pitch_mm", " mm apart")):
        said = {name: getattr(tapes[name], field) for name in names}
        odd = _odd(look, said, lambda a, b: abs(a - b) > _SAME_MM, ("tape", field))
        if odd:
            yield _disagree(part, odd, {n: f"{number(v)}{unit}" for n, v in said.items()}, field)
            return
    outline = shop.outline_of(part)
    tolerance = look.limits.half_turn_tolerance_deg
    legs = look.facts.polarity.feeders
    lies = {
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
        lies,
        lambda a, b: abs(attitude_difference(a, b, period)) > tolerance,
        ("pick", "rotation"),
    )
    if odd:
        shown = {
            n: f"at {number(attitude_difference(v, 0, 360))} to its feed" for n, v in lies.items()
        }
        yield _disagree(part, odd, shown, "rotation")


def _odd(
    look: Inspection,
    said: dict[str, float],
    differs: Callable[[float, float], bool],
    keys: Path,
) -> tuple[str, list[str]] | None:
    """Return the feeder that says otherwise than the others, with those; None where all agree.

    The one that most differ from; of several alike the one that changed since the record, else
    the last.
    """
    against = {name: [other for other in said if differs(said[name], said[other])] for name in said}
    most = max(map(len, against.values()), default=0)
    if most == 0:
        return None
    worst = [name for name in said if len(against[name]) == most]
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


def _disagree(part: str, odd: tuple[str, list[str]], said: dict[str, str], field: str) -> Problem:
    name, others = odd
    keys: Path = ("pick", field) if field == "rotation" else ("tape", field)
    return Problem(
        path=("feeders", name, *keys),
        related=tuple(("feeders", other, *keys) for other in others[:5]),
        message=f"feeder {name} has {part} {said[name]}, but {others[0]} has it {said[others[0]]}.",
        observed=listed([f"{other} {said[other]}" for other in (name, *others)]),
        consequence=f"One of the reels is likely described wrong: {part} would be missed or placed turned "
        f"when {name} takes over from {others[0]}, or the other way round.",
        remedy=("Look at both reels side by side, and correct the one that is described wrong.",),
    )
