"""Rules about the listing leg of polarity: whether a list puts pin 1 onto its pad 1."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.list_leg import ASKEW, PadLegs
from jobcheck.facts.polarity import Proof
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.polarity.causes import (
    PADS,
    Causes,
    doubt_of,
    each_job,
    level_of,
    so,
    turn_in_words,
)
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed, number

# the list as a whole


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.zero: B" + PADS,
    passes="jobs.first-board.placements.zero: A" + PADS,
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
    for job, causes in each_job(look):
        if causes.bottom or causes.positions:
            yield _other_convention(look.facts, job, causes)
        elif causes.zero:
            yield _other_level(look.facts, job, causes.zero)


def _other_level(facts: Facts, job: str, off: float) -> Problem:
    described, legs = facts.shop.jobs[job], facts.polarity.lists[job]
    level, pads = described.placements.zero, sum(map(len, legs.pads.values()))
    other, turn = _level_that_fits(level, off), turn_in_words(off)
    doubt = doubt_of(facts, job, ((name, off) for name in {**legs.footprints, **legs.pads}))
    return Problem(
        path=("jobs", job, "placements", "zero"),
        message=f"the list of {job} is {turn} off its pads throughout.",
        observed=f"zero {level or 'missing'}; "
        f"{_evidence(pads, len(legs.footprints.keys() - legs.pads.keys()))}",
        consequence=so(f"Every part of {job} would be placed {turn} off its pads", doubt),
        remedy=(
            f"Look how footprints are drawn at 0. Level {other} would fit: correct zero."
            if other
            else "Look how the list counts its rotations, and export it again.",
        ),
        level=level_of(doubt),
        # A list turned by a quarter puts bodies across each other.
        suppresses=(("bodies-too-close", ("jobs", job)),) if abs(off) == 90 else (),
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
    doubt = doubt_of(facts, job, ((name, angle) for name, _, angle in rows if angle))
    key = "bottom" if causes.bottom else "bottom_positions"
    fits = " or ".join(causes.bottom or causes.positions)
    declared = getattr(listing, key) or "through-top, as assumed"
    also = _also_fits(legs, causes, {name for name, _, angle in rows if angle})
    return Problem(
        path=("jobs", job, "placements", key),
        message=f"the pads of {job} fit {key} {fits}, not {declared}.",
        observed=f"{key} {declared}; {len(off)} of {len(rows)} parts are off their pad 1",
        consequence=so(f"{listed(off)} would be placed turned, mostly by half a turn", doubt)
        if causes.bottom
        else "All parts on the bottom would be placed mirrored left to right.",
        remedy=(f"Look at one polarised part, then correct {key} to {fits}.{also}",),
        level=level_of(doubt),
    )


def _also_fits(legs: PadLegs, causes: Causes, outlines: set[str]) -> str:
    """Say what else would explain pads of the bottom: one drawing, or how positions count."""
    also = ""
    if len(outlines) == 1 and not outlines & legs.footprints.keys():
        also = f" The drawing of {listed(list(outlines))} could be wrong instead."
    if causes.bottom and causes.positions:
        also += f" bottom_positions {' or '.join(causes.positions)} would fit too."
    return also


# single placements


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.placements.D2.rotation: 0" + PADS,
    passes="jobs.first-board.placements.D2.rotation: -180" + PADS,
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
    for job, causes in each_job(look):
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
    doubt = doubt_of(facts, job, [(outline, angle)])
    right = number(_right(facts.shop, job, names[0], angle))
    correct = "Correct rotation" if angle == ASKEW else f"{right} would fit: correct rotation"
    return Problem(
        path=("jobs", job, "placements", names[0], "rotation"),
        related=tuple(("jobs", job, "placements", name, "rotation") for name in names[1:6]),
        message=f"{listed(names)}{' alone' * bool(of and is_one)}{of} {'is' if is_one else 'are'} "
        f"turned {how}.",
        observed=listed([f"{name} at {number(listing[name].rotation)}" for name in names]),
        consequence=so(
            f"{'It' if is_one else 'They'} would be placed with pin 1 off its pad", doubt
        ),
        remedy=(
            f"Look at the board's drawing. {correct}"
            + (f", or the drawing of {outline}." if total == 1 else "."),
        ),
        level=level_of(doubt),
    )


def _right(shop: Shop, job: str, reference: str, angle: float) -> float:
    """Return the rotation that would put pin 1 onto its pad."""
    placement = shop.jobs[job].placements.by_reference[reference]
    bottom = shop.jobs[job].placements.bottom or ""
    is_through = placement.side == "bottom" and bottom.startswith("through")
    return (placement.rotation + (angle if is_through else -angle)) % 360
