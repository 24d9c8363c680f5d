"""Rules about the drawing and the listing leg of polarity: whether pin 1 comes onto its pad 1."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import get_args

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import frames_of
from jobcheck.facts.list_leg import ASKEW, BOTTOMS, PadLegs, assumptions, turned_too_far
from jobcheck.facts.polarity import Proof
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Bottom, BottomPositions
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference
from jobcheck.wording import count, listed, number

_CLEARLY = 4
"""Another convention is meant where it leaves less than a quarter of the misfits (common
practice, no published source)."""

_BODIES = ("bodies-overlap", "bodies-too-close")
"""Rules about bodies that a list turned by a quarter lays across each other."""

_PADS = """
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


def _causes(facts: Facts, job: str) -> Causes:
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


def _doubt(facts: Facts, job: str, found: Iterable[tuple[str, float]]) -> tuple[str, ...]:
    """Return what all of some outlines found off rest on, as conditions; none if one is certain."""
    pads, frames = facts.polarity.lists[job].pads, frames_of(facts.shop, job)
    each = [
        assumptions(
            frames, facts.shop.outlines[name], off, pads[name].values() if name in pads else None
        )
        for name, off in found
    ]
    return () if not all(each) else each[0]


def _so(says: str, doubt: tuple[str, ...]) -> str:
    """Write a consequence with what it rests on."""
    return f"{', '.join((says, *doubt))}."


def _level(doubt: tuple[str, ...]) -> Level | None:
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


def _each(look: Inspection) -> Iterator[tuple[str, Causes]]:
    for job in sorted(look.shop.jobs, key=natural):
        yield job, _causes(look.facts, job)


# the list as a whole


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.zero: B" + _PADS,
    passes="jobs.first-board.placements.zero: A" + _PADS,
)
def list_turned_from_pads(look: Inspection) -> Iterator[Problem]:
    """A list as a whole is turned from its pads: by its zero level, or by its bottom convention.

    A warning where it rests on an assumption: that no level is declared, that pad 1 is not named,
    or that the positions on the bottom are not declared.

    On the machine: every part is placed a quarter or half a turn off its pads.

    To do: look how the design tool draws its footprints at 0, and correct `zero`: pin 1 upper left
    is level A, lower left is level B. On the bottom look at one polarised part, and correct
    `bottom`.

    Source: levels A and B, IPC-7351A and IEC 61188-7, as secondary sources quote them; bottom
    conventions, Gerber Layer Format Specification 5.6.16 and common practice, no published source;
    the rest is arithmetic.
    """
    for job, causes in _each(look):
        if causes.bottom or causes.positions:
            yield _other_convention(look.facts, job, causes)
        elif causes.zero:
            yield _other_level(look.facts, job, causes.zero)


def _other_level(facts: Facts, job: str, off: float) -> Problem:
    described, legs = facts.shop.jobs[job], facts.polarity.lists[job]
    level, pads = described.placements.zero, sum(map(len, legs.pads.values()))
    other, turn = _level_that_fits(level, off), turn_in_words(off)
    doubt = _doubt(facts, job, ((name, off) for name in {**legs.footprints, **legs.pads}))
    return Problem(
        path=("jobs", job, "placements", "zero"),
        message=f"the list of {job} is {turn} off its pads throughout.",
        observed=f"zero {level or 'missing'}; "
        f"{_evidence(pads, len(legs.footprints.keys() - legs.pads.keys()))}",
        consequence=_so(f"Every part of {job} would be placed {turn} off its pads", doubt),
        remedy=(
            f"Look how footprints are drawn at 0. Level {other} would fit: correct zero."
            if other
            else "Look how the list counts its rotations, and export it again.",
        ),
        level=_level(doubt),
        suppresses=tuple((rule, ("jobs", job)) for rule in _BODIES if abs(off) == 90),
    )


def _level_that_fits(level: str | None, off: float) -> str:
    """Name the level that would take a quarter turn away: B turns the list 90 further than A."""
    fits = {("A", -90.0): "B", ("B", 90.0): "A"}
    return fits.get((level or "", off), "")


def _evidence(pads: int, footprints: int) -> str:
    said = [count(pads, "pad of pin 1", "pads of pin 1")] if pads else []
    said += [count(footprints, "footprint")] if footprints else []
    return f"compared with {' and '.join(said)}"


def _other_convention(facts: Facts, job: str, causes: Causes) -> Problem:
    legs, listing = facts.polarity.lists[job], facts.shop.jobs[job].placements
    rows = [(name, ref, off) for name, pads in legs.pads.items() for ref, off in pads.items()]
    off = sorted((ref for _, ref, angle in rows if angle), key=natural)
    doubt = _doubt(facts, job, ((name, angle) for name, _, angle in rows if angle))
    key = "bottom" if causes.bottom else "bottom_positions"
    fits = " or ".join(causes.bottom or causes.positions)
    declared = getattr(listing, key) or "through-top, as assumed"
    also = _also_fits(legs, causes, {name for name, _, angle in rows if angle})
    return Problem(
        path=("jobs", job, "placements", key),
        message=f"the pads of {job} fit {key} {fits}, not {declared}.",
        observed=f"{key} {declared}; {len(off)} of {len(rows)} parts are off their pad 1",
        consequence=_so(f"{listed(off)} would be placed turned, mostly by half a turn", doubt)
        if causes.bottom
        else "All parts on the bottom would be placed mirrored left to right.",
        remedy=(f"Look at one polarised part, then correct {key} to {fits}.{also}",),
        level=_level(doubt),
    )


def _also_fits(legs: PadLegs, causes: Causes, outlines: set[str]) -> str:
    """Say what else would explain pads of the bottom: one drawing, or how positions count."""
    also = ""
    if len(outlines) == 1 and not outlines & legs.footprints.keys():
        also = f" The drawing of {listed(list(outlines))} could be wrong instead."
    if causes.bottom and causes.positions:
        also += f" bottom_positions {' or '.join(causes.positions)} would fit too."
    return also


# outlines and single placements


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="outlines.sod-123.zero: B" + _PADS,
    passes="outlines.sod-123.pad1_at_zero: left\noutlines.soic-8.pad1_at_zero: upper_left",
)
def outline_drawing_contradicts_pads(look: Inspection) -> Iterator[Problem | Unchecked]:
    """An outline is drawn another way than its footprint or the pads of its placements.

    A warning where it rests on an assumption: that no level is declared, or that pad 1 of a part
    with two terminals is not named. Drawings with nothing to compare are counted as not checked.

    On the machine: every part of that outline is placed turned, with pin 1 off its pad.

    To do: look how the footprint is drawn at 0, and correct `zero`, `pin1_at_zero` or `pin1_means`
    of the outline, or `pad1_at_zero` and `pad1_means` if those were noted wrongly.

    Source: arithmetic on the levels of IEC 61188-7; pads as in Gerber Layer Format Specification
    5.6.16.
    """
    found: dict[tuple[str, float], list[str]] = defaultdict(list)
    for job, causes in _each(look):
        for outline, angle in causes.outlines.items():
            found[outline, angle].append(job)
    for outline, angle in sorted(found, key=lambda key: (natural(key[0]), key[1])):
        yield _drawn_otherwise(look.facts, outline, angle, found[outline, angle])
    yield from _drawings_not_compared(look.facts)


def _drawings_not_compared(facts: Facts) -> Iterator[Unchecked]:
    """Yield the drawings of polarised placements that nothing can be compared with."""
    lacking: dict[str, dict[str, None]] = defaultdict(dict)
    amounts: Counter[str] = Counter()
    for job in sorted(facts.shop.jobs, key=natural):
        for reference, outline in facts.polarity.polarised(job):
            leg = facts.polarity.drawing(job, reference)
            if leg.proof is Proof.UNKNOWN and leg.lacks == "pad1_at_zero":
                lacking[leg.lacks][outline] = None
                amounts[leg.lacks] += 1
    for key, outlines in lacking.items():
        names = sorted(outlines, key=natural)
        yield Unchecked(
            f"drawing of {count(amounts[key], 'placement')}",
            f"no {key} on {listed(names)}",
            key,
            tuple(("outlines", name, key) for name in names),
            amounts[key],
        )


def _drawn_otherwise(facts: Facts, outline: str, angle: float, jobs: list[str]) -> Problem:
    drawing = facts.shop.outlines[outline]
    at_zero: Path = ("outlines", outline, "pin1_at_zero")
    level: Path = ("outlines", outline, "zero")
    footprint: Path = ("outlines", outline, "pad1_at_zero")
    pads = [off for job in jobs for off in facts.polarity.lists[job].pads.get(outline, {}).values()]
    is_footprint = bool(pads) and not any(pads)
    is_level = drawing.zero is not None and _drawing_is_right(facts, outline) and abs(angle) == 90
    path = footprint if is_footprint else level if is_level else at_zero
    evidence = [at_zero, *([level] if drawing.zero else [])]
    if drawing.pad1_at_zero:
        evidence.append(footprint)
    doubt = _doubt(facts, jobs[0], [(outline, angle)])
    return Problem(
        path=path,
        related=tuple(other for other in evidence if other != path),
        message=_how_drawn(outline, angle, is_footprint),
        observed=_seen_of(facts, outline, pads),
        consequence=_so(
            f"{_placed(facts, outline, jobs)} would be placed with pin 1 off its pad", doubt
        )
        if not is_footprint
        else "Lint would compare other lists with the wrong pad.",
        remedy=(f"Look how the footprint is drawn at 0. {_to_correct(path, drawing)}",),
        level=_level(doubt),
    )


def _how_drawn(outline: str, angle: float, is_footprint: bool) -> str:
    if is_footprint:
        return f"pad1_at_zero of outline {outline} contradicts the pads of its placements."
    if angle == ASKEW:
        return f"outline {outline} has pin 1 where its footprint has none."
    return f"outline {outline} is drawn {turn_in_words(angle)} off its pads."


def _seen_of(facts: Facts, outline: str, pads: list[float]) -> str:
    drawing = facts.shop.outlines[outline]
    said = {
        "pin1_means": drawing.pin1_means,
        "pin1_at_zero": drawing.pin1_at_zero,
        "pad1_means": drawing.pad1_means,
        "pad1_at_zero": drawing.pad1_at_zero,
    }
    words = [f"{key} {value}" for key, value in said.items() if value]
    words.append(f"zero {drawing.zero or 'missing'}")
    if pads:
        words.append(f"compared with pad 1 of {count(len(pads), 'placement')}")
    return ", ".join(words)


def _to_correct(path: Path, drawing: Outline) -> str:
    if path[-1] == "zero":
        return "The reels fit the drawing: correct zero."
    if path[-1] == "pad1_at_zero":
        return "Correct pad1_at_zero."
    if drawing.terminals == 2:
        return "Correct pin1_at_zero, or the terminals that pin1_means and pad1_means name."
    return "Correct pin1_at_zero."


def _drawing_is_right(facts: Facts, outline: str) -> bool:
    """Tell whether the feeders of an outline agree with its drawing: then its level is wrong."""
    limit = facts.shop.limits.half_turn_tolerance_deg
    parts = facts.usage.parts_of_outline(outline)
    legs = [
        leg
        for part in parts
        for name in facts.usage.feeders_of_part(part)
        if (leg := facts.polarity.feeders.get(name))
    ]
    return bool(legs) and all(abs(leg.difference) <= limit for leg in legs)


def _placed(facts: Facts, outline: str, jobs: list[str]) -> str:
    placed = facts.usage.placements_of_parts(facts.usage.parts_of_outline(outline))
    references = [ref for job in jobs for ref in sorted(placed.get(job, ()), key=natural)]
    of = f" of {jobs[0]}" if len(jobs) == 1 and len(facts.shop.jobs) > 1 else ""
    return f"{listed(references)}{of}"


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.D2.rotation: 0" + _PADS,
    passes="jobs.first-board.placements.D2.rotation: -180" + _PADS,
)
def placement_turned_from_pads(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A placement is turned off its pads while the others of its outline are not.

    A warning where it rests on an assumption. Polarised placements without a pad 1 in their rows
    and without a look at them are counted as not checked.

    On the machine: that part alone is placed turned, with pin 1 off its pad.

    To do: look at the board's drawing and correct the rotation; take a correction by hand that no
    longer fits out again.

    Source: r + g beside the direction of pad 1, arithmetic.
    """
    for job, causes in _each(look):
        for outline in sorted(causes.alone, key=natural):
            for angle, references in sorted(causes.alone[outline].items()):
                yield _alone(look.facts, job, outline, angle, references)
    yield from _listings_not_compared(look.facts)


def _listings_not_compared(facts: Facts) -> Iterator[Unchecked]:
    """Yield the listings of polarised placements that nothing shows, by cause."""
    unknown: dict[str, list[Path]] = defaultdict(list)
    for job in sorted(facts.shop.jobs, key=natural):
        for reference, _ in facts.polarity.polarised(job):
            leg = facts.polarity.listing(job, reference)
            if leg.proof is Proof.UNKNOWN and leg.lacks == "pin1_checked":
                unknown[leg.why].append(("jobs", job, "placements", reference))
    for why, paths in unknown.items():
        number_of = len(paths)
        cause = why.replace("its row, no look at this angle", "the rows, no look at them")
        concerns = f"listing of {count(number_of, 'placement')}"
        yield Unchecked(concerns, cause, "pin1_checked", tuple(paths), number_of)


def _alone(facts: Facts, job: str, outline: str, angle: float, references: list[str]) -> Problem:
    listing = facts.shop.jobs[job].placements.by_reference
    names = sorted(references, key=natural)
    total = len(facts.polarity.lists[job].pads[outline])
    of = f" of {total} with outline {outline}" if total > 1 else ""
    is_one = len(names) == 1
    how = "between its pads" if angle == ASKEW else f"{turn_in_words(angle)} off its pad 1"
    doubt = _doubt(facts, job, [(outline, angle)])
    right = number(_right(facts.shop, job, names[0], angle))
    correct = "Correct rotation" if angle == ASKEW else f"{right} would fit: correct rotation"
    return Problem(
        path=("jobs", job, "placements", names[0], "rotation"),
        related=tuple(("jobs", job, "placements", name, "rotation") for name in names[1:6]),
        message=f"{listed(names)}{' alone' * bool(of and is_one)}{of} {'is' if is_one else 'are'} "
        f"turned {how}.",
        observed=listed([f"{name} at {number(listing[name].rotation)}" for name in names]),
        consequence=_so(
            f"{'It' if is_one else 'They'} would be placed with pin 1 off its pad", doubt
        ),
        remedy=(
            f"Look at the board's drawing. {correct}"
            + (f", or the drawing of {outline}." if total == 1 else "."),
        ),
        level=_level(doubt),
    )


def _right(shop: Shop, job: str, reference: str, angle: float) -> float:
    """Return the rotation that would put pin 1 onto its pad."""
    placement = shop.jobs[job].placements.by_reference[reference]
    bottom = shop.jobs[job].placements.bottom or ""
    is_through = placement.side == "bottom" and bottom.startswith("through")
    return (placement.rotation + (angle if is_through else -angle)) % 360


def turn_in_words(angle: float) -> str:
    """Write half a turn or a quarter turn, whichever it is nearer to."""
    return "half a turn" if abs(angle) > 135 else "a quarter turn"
