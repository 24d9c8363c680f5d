"""Rules about the list leg of polarity: does pin 1 of each part come onto its pad 1."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Frames
from jobcheck.facts.list_leg import ASKEW, PadLegs, turned_too_far
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Bottom
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.polarity import attitude_difference
from jobcheck.wording import count, listed, number

_BOTTOMS: tuple[Bottom, ...] = ("as-placed", "through-top-mirrored-y", "through-top-mirrored-x")
_CLEARLY = 4
"""Another convention is meant where it leaves less than a quarter of the misfits (common
practice, no published source)."""

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

    `bottom` is the convention that fits instead; `zero` how far the list as a whole is off;
    `outlines` how far all placements of an outline are off beyond that; `alone` outline -> angle
    -> references that are off on their own. Angles as in `PadLegs`.
    """

    bottom: Bottom | None = None
    zero: float = 0.0
    outlines: dict[str, float] = field(default_factory=dict)
    alone: dict[str, dict[float, list[str]]] = field(default_factory=dict)


def _causes(facts: Facts, job: str) -> Causes:
    legs = facts.polarity.lists[job]
    off = {name for name, pads in legs.pads.items() if any(pads.values())}
    if not off and not any(legs.footprints.values()):
        return Causes()
    usual = _usual(legs)
    causes = Causes(bottom=_other_bottom(facts.shop, job, legs, off))
    if causes.bottom is None:
        causes.zero = _common_angle(facts.shop, usual)
        causes.outlines, causes.alone = _apart(facts.shop, legs, usual, causes.zero)
    return causes


def _usual(legs: PadLegs) -> dict[str, float]:
    """Return the angle that most placements of each outline are off by; 0 where it is mixed."""
    usual = dict(legs.footprints)
    for outline, pads in legs.pads.items():
        ((angle, number_of),) = Counter(pads.values()).most_common(1)
        usual[outline] = angle if 2 * number_of > len(pads) else 0.0
    return usual


def _other_bottom(shop: Shop, job: str, legs: PadLegs, off: set[str]) -> Bottom | None:
    """Return the convention that fits the pads of the bottom where the declared one does not.

    One outline that is off alike in all its placements is drawn otherwise instead.
    """
    described = shop.jobs[job]
    if described.side != "bottom" or not off:
        return None
    if len(off) == 1 and len(set(legs.pads[next(iter(off))].values())) == 1:
        return None
    frames = Frames(described)
    misfits = sum(angle != 0 for pads in legs.pads.values() for angle in pads.values())
    for bottom in _BOTTOMS:
        left = sum(
            turned_too_far(
                frames,
                shop.outlines[name],
                described.placements.by_reference[reference],
                bottom,
            )
            != 0
            for name, pads in legs.pads.items()
            for reference in pads
        )
        if _CLEARLY * left < misfits:
            return bottom
    return None


def _common_angle(shop: Shop, usual: Mapping[str, float]) -> float:
    """Return the angle that all outlines, two or more, are off by; 0 for none.

    Parts that look the same when turned tell less of it.
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
    """Part what whole outlines are off by from single placements."""
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
    fails="jobs.first-board.placements.zero: B" + _PADS,
    passes="jobs.first-board.placements.zero: A" + _PADS,
)
def list_zero_contradicts_pads(look: Inspection) -> Iterator[Problem]:
    """The pads of all outlines of a list lie turned alike from where its level puts pin 1.

    On the machine: every part is placed a quarter or half a turn off its pads.

    To do: look how the design tool draws its footprints at 0: pin 1 upper left is level A, lower
    left level B; correct `zero`.

    Source: levels A and B, IPC-7351A and IEC 61188-7, as secondary sources quote them; the rest is
    arithmetic.
    """
    for job, causes in _each(look):
        if not causes.zero:
            continue
        described, legs = look.shop.jobs[job], look.facts.polarity.lists[job]
        level, pads = described.placements.zero, sum(map(len, legs.pads.values()))
        other = _level_that_fits(level, causes.zero)
        yield Problem(
            path=("jobs", job, "placements", "zero"),
            message=f"the list of {job} is {turn_in_words(causes.zero)} off its pads throughout.",
            observed=f"zero {level or 'missing'}; {_evidence(pads, len(legs.footprints))}",
            consequence=f"Every part of {job} would be placed {turn_in_words(causes.zero)} off its pads.",
            remedy=(
                f"Look how footprints are drawn at 0. Level {other} would fit: correct zero."
                if other
                else "Look how the list counts its rotations, and export it anew.",
            ),
        )


def _level_that_fits(level: str | None, off: float) -> str:
    """Name the level that would take a quarter turn away: B turns the list 90 further than A."""
    fits = {("A", -90.0): "B", ("B", 90.0): "A"}
    return fits.get((level or "", off), "")


def _evidence(pads: int, footprints: int) -> str:
    said = [count(pads, "pad of pin 1", "pads of pin 1")] if pads else []
    said += [count(footprints, "footprint")] if footprints else []
    return f"compared with {' and '.join(said)}"


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.side: bottom
    jobs.first-board.placements.D1.side: bottom
    jobs.first-board.placements.D2.side: bottom
    jobs.first-board.placements.U1.side: bottom
    jobs.first-board.placements.U1.rotation: 0
    """
    + _PADS,
    passes="""
    jobs.first-board.placements.bottom: through-top-mirrored-y
    jobs.first-board.side: bottom
    jobs.first-board.placements.D1.side: bottom
    jobs.first-board.placements.D2.side: bottom
    jobs.first-board.placements.U1.side: bottom
    jobs.first-board.placements.U1.rotation: 0
    """
    + _PADS,
)
def bottom_convention_contradicts_pads(look: Inspection) -> Iterator[Problem]:
    """The pads of the bottom fit another convention than the list declares.

    On the machine: parts on the bottom are placed half a turn off, as when a list was exported
    through the top and is read as placed.

    To do: correct `bottom` to the convention that fits.

    Source: the three conventions: Gerber Layer Format Specification 5.6.16 and common practice, no
    published source; the rest is arithmetic.
    """
    for job, causes in _each(look):
        if causes.bottom is None:
            continue
        legs = look.facts.polarity.lists[job]
        off = [ref for pads in legs.pads.values() for ref, angle in pads.items() if angle]
        total = sum(map(len, legs.pads.values()))
        yield Problem(
            path=("jobs", job, "placements", "bottom"),
            message=f"the list of {job} counts the bottom as {causes.bottom}, not as declared.",
            observed=f"{look.shop.jobs[job].placements.bottom}; {len(off)} of {total} parts lie off "
            "their pad 1",
            consequence=f"{listed(sorted(off, key=natural))} would be placed turned, mostly by half a turn.",
            remedy=(f"Look at one polarised part, then declare bottom: {causes.bottom}.",),
        )


# outlines and single placements


@rule(
    Level.ERROR,
    fails="outlines.sod-123.zero: B" + _PADS,
    passes="outlines.sod-123.pad1_at_zero: left\noutlines.soic-8.pad1_at_zero: upper_left",
)
def outline_drawing_contradicts_pads(look: Inspection) -> Iterator[Problem]:
    """All placements of an outline are turned alike from their pads: it is drawn otherwise.

    On the machine: every part of that outline is placed turned, with pin 1 off its pad.

    To do: look how the footprint is drawn at 0, and correct `zero` or `pin1_at_zero` of the
    outline, or `pad1_at_zero` where that was noted wrongly.

    Source: arithmetic on the levels of IEC 61188-7; pads as in Gerber Layer Format Specification
    5.6.16.
    """
    shop = look.shop
    found: dict[tuple[str, float], list[str]] = defaultdict(list)
    for job, causes in _each(look):
        for outline, angle in causes.outlines.items():
            found[outline, angle].append(job)
    for outline, angle in sorted(found, key=lambda key: (natural(key[0]), key[1])):
        yield _drawn_otherwise(look.facts, outline, angle, found[outline, angle])


def _drawn_otherwise(facts: Facts, outline: str, angle: float, jobs: list[str]) -> Problem:
    drawing = facts.shop.outlines[outline]
    at_zero: Path = ("outlines", outline, "pin1_at_zero")
    level: Path = ("outlines", outline, "zero")
    footprint: Path = ("outlines", outline, "pad1_at_zero")
    is_level = drawing.zero is not None and _drawing_is_right(facts, outline) and angle != ASKEW
    by_pads = [job for job in jobs if outline in facts.polarity.lists[job].pads]
    pads = sum(len(facts.polarity.lists[job].pads[outline]) for job in by_pads)
    seen = f"{count(pads, 'placement')}, as their pad 1 tells" if pads else "as its footprint tells"
    also = [at_zero if is_level else level] if drawing.zero else []
    return Problem(
        path=level if is_level else at_zero,
        related=tuple(also if by_pads else [*also, footprint]),
        message=f"outline {outline} is drawn {turn_in_words(angle)} off its pads."
        if angle != ASKEW
        else f"outline {outline} has pin 1 where its footprint has none.",
        observed=f"pin1_at_zero {drawing.pin1_at_zero}, zero {drawing.zero or 'missing'}"
        + ("" if by_pads else f", pad1_at_zero {drawing.pad1_at_zero}")
        + f"; {seen}",
        consequence=f"{_placed(facts, outline, jobs)} would be placed with pin 1 off its pad.",
        remedy=(
            "Look how the footprint is drawn at 0. "
            + ("The reels fit the drawing: correct zero." if is_level else "Correct the drawing."),
        ),
    )


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
    fails="jobs.first-board.placements.D2.rotation: 0" + _PADS,
    passes="jobs.first-board.placements.D2.rotation: -180" + _PADS,
)
def placement_turned_from_pads(look: Inspection) -> Iterator[Problem]:
    """A placement is turned off its pads while the others of its outline are not.

    On the machine: that part alone is placed turned, with pin 1 off its pad.

    To do: look at the board's drawing and correct the rotation; a correction by hand that no
    longer fits is taken out again.

    Source: r + g beside the direction of pad 1, arithmetic.
    """
    for job, causes in _each(look):
        for outline in sorted(causes.alone, key=natural):
            for angle, references in sorted(causes.alone[outline].items()):
                yield _alone(look.facts, job, outline, angle, references)


def _alone(facts: Facts, job: str, outline: str, angle: float, references: list[str]) -> Problem:
    listing = facts.shop.jobs[job].placements.by_reference
    names = sorted(references, key=natural)
    total = len(facts.polarity.lists[job].pads[outline])
    of = f" of {total} with outline {outline}" if total > 1 else ""
    is_one = len(names) == 1
    how = "between its pads" if angle == ASKEW else f"{turn_in_words(angle)} off its pad 1"
    right = (
        "" if angle == ASKEW else f" {number(_right(facts.shop, job, names[0], angle))} would fit:"
    )
    return Problem(
        path=("jobs", job, "placements", names[0], "rotation"),
        related=tuple(("jobs", job, "placements", name, "rotation") for name in names[1:6]),
        message=f"{listed(names)}{' alone' * bool(of and is_one)}{of} {'is' if is_one else 'are'} "
        f"turned {how}.",
        observed=listed([f"{name} at {number(listing[name].rotation)}" for name in names]),
        consequence=f"{'It' if is_one else 'They'} would be placed with pin 1 off its pad.",
        remedy=(
            f"Look at the board's drawing.{right} correct rotation"
            + (f", or the drawing of {outline}." if total == 1 else "."),
        ),
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
