"""Rules about what polarity rests on: the flag, the zero levels, the conventions for the bottom."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import pin1_of
from jobcheck.facts.frames import frames_of
from jobcheck.facts.list_leg import conventions_that_fit
from jobcheck.findings import Level, Problem, Remedy, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.polarity import is_square
from jobcheck.wording import count, listed


@rule(
    Level.ERROR,
    compares=True,
    fails="outlines.sod-123.polarised: false",
    passes="outlines.chip-0805.pin1_at_zero: left\noutlines.chip-0805.same_turned_deg: 180",
)
def polarised_flag_contradicted(look: Inspection) -> Iterator[Problem]:
    """An outline is unpolarised, but names its pin 1 or was polarised in the record.

    An outline that declares `same_turned_deg` may have a pin 1: it is unpolarised all the same. One
    that is polarised cannot be the same when turned.

    On the machine: nothing, but the part is compared modulo its symmetry, so that a reversed one
    cannot be found.

    To do: if it matters which way round the part is, write `polarised: true`. If not, remove what
    names pin 1, or write `same_turned_deg`.

    Source: common practice, no published source.
    """
    shop, good = look.shop, look.good if _any_unpolarised(look) else None
    for name in sorted(shop.outlines, key=natural):
        outline = shop.outlines[name]
        if outline.polarised:
            if outline.same_turned_deg is not None:
                yield _polarised_and_same(name, outline.same_turned_deg)
            continue
        was = good is not None and name in good.outlines and good.outlines[name].polarised
        named = [] if outline.same_turned_deg else list(_names_pin1(look.facts, name))
        if was or named:
            yield _unpolarised(look.facts, name, named, was=was)


def _any_unpolarised(look: Inspection) -> bool:
    return any(not outline.polarised for outline in look.shop.outlines.values())


def _names_pin1(facts: Facts, outline: str) -> Iterator[Path]:
    """Yield the values that name pin 1 of an outline: its own, and those of its carriers."""
    drawn = facts.shop.outlines[outline]
    for key in ("pin1_means", "pin1_at_zero"):
        if getattr(drawn, key) is not None:
            yield "outlines", outline, key
    for part in facts.usage.parts_of_outline(outline):
        for name in facts.usage.feeders_of_part(part):
            carried = pin1_of(facts.shop.feeders[name])
            if carried and carried[0] is not None:
                yield "feeders", name, *carried[1]


def _unpolarised(facts: Facts, name: str, named: list[Path], *, was: bool) -> Problem:
    path: Path = ("outlines", name, "polarised")
    values = [f"{'.'.join(at[1:])} {facts.shop.plain_at(at)}" for at in named]
    placed = facts.usage.placements_of_parts(facts.usage.parts_of_outline(name)).values()
    references = sorted((ref for refs in placed for ref in refs), key=natural)
    remedy: Remedy = (
        "If it matters which way round it is, write polarised: true. If not, remove what names "
        "pin 1, or write same_turned_deg.",
    )
    if was:
        remedy = (
            "If it matters which way round it is, put it back:",
            command("restore", _at(name)),
            f"If it does not matter, {'remove what names pin 1, and ' * bool(named)}record that:",
            command("keep", "--label", "TEXT", "--on-purpose", _at(name)),
        )
    return Problem(
        path=path,
        related=tuple(named[:6]),
        message=f"outline {name} is unpolarised, but names its pin 1."
        if named
        else f"outline {name} was polarised in the record and is unpolarised now.",
        observed="; ".join(["polarised false", *values[:4]]),
        expected="polarised true" if was else "",
        consequence=f"A reversed {listed(references) if references else name} cannot be found.",
        remedy=remedy,
        is_loss=was and not named,
    )


def _at(outline: str) -> str:
    return f"outlines.{outline}.polarised"


def _polarised_and_same(name: str, turned: float) -> Problem:
    return Problem(
        path=("outlines", name, "same_turned_deg"),
        related=(("outlines", name, "polarised"),),
        message=f"outline {name} is polarised, but the same when turned by {turned:g}.",
        observed=f"polarised true; same_turned_deg {turned:g}",
        consequence="It is compared as polarised: every turn counts.",
        remedy=("Remove same_turned_deg, or write polarised: false.",),
    )


@rule(
    Level.WARNING,
    fails="""
    outlines.chip-0805.body_mm: [2.0, 2.0]
    recognitions.chip-large.expect_mm: [2.0, 2.0]
    outlines.chip-0805.terminals: 4
    """,
    passes="""
    outlines.chip-0805.body_mm: [2.0, 2.0]
    recognitions.chip-large.expect_mm: [2.0, 2.0]
    outlines.chip-0805.terminals: 4
    outlines.chip-0805.same_turned_deg: 180
    """,
)
def square_part_unpolarised(look: Inspection) -> Iterator[Problem]:
    """A square part of more than two terminals is unpolarised.

    On the machine: the part may be placed at any quarter turn, and none of them is found.

    To do: look at the maker's drawing. If a turn matters, write `polarised: true` and where pin 1
    is; if not, write `same_turned_deg`.

    Source: square within 0.3 mm, EIA-481-E; the rest is common practice, no published source.
    """
    shop = look.shop
    for name in sorted(shop.outlines, key=natural):
        outline = shop.outlines[name]
        if outline.polarised or outline.same_turned_deg is not None or outline.terminals <= 2:
            continue
        used = look.facts.usage.parts_of_outline(name)
        placed = look.facts.usage.placements_of_parts(used)
        if placed and is_square(*outline.body_mm) and not any(_names_pin1(look.facts, name)):
            references = sorted((ref for refs in placed.values() for ref in refs), key=natural)
            yield Problem(
                path=("outlines", name, "polarised"),
                message=f"outline {name} has {outline.terminals} terminals, is square and is "
                "unpolarised.",
                observed=f"polarised false; same_turned_deg missing; {listed(references)}",
                consequence="A quarter or half turn of it is not found, though it may be wrong.",
                remedy=(
                    "Look at the maker's drawing. Write polarised: true and where pin 1 is, or "
                    "same_turned_deg.",
                ),
            )


@rule(
    Level.WARNING,
    fails="outlines.chip-0805.zero: ~",
    passes="outlines.chip-0805.zero: B",
)
def zero_level_missing(look: Inspection) -> Iterator[Problem]:
    """A list or an outline has no zero level, while others have one.

    Where none has one, all are taken as drawn alike. A square part that is the same at every
    quarter turn needs none.

    On the machine: levels A and B differ by a quarter turn. A part may be placed across its pads.

    To do: look how list and outline are drawn at 0, and write `zero`: two terminals along x, pin 1
    left or upper left is level A; two terminals along y, pin 1 lower left is level B.

    Source: levels A and B, IPC-7351A and IEC 61188-7, as secondary sources quote them.
    """
    lacking: dict[str, list[str]] = {}
    for job in sorted(look.shop.jobs, key=natural):
        frames, placed = frames_of(look.shop, job), look.facts.usage.placements_by_part[job]
        open_ones: dict[str, list[str]] = {}
        for part, references in placed.items():
            outline = look.shop.outline_of(part)
            if outline and outline.symmetry != 90 and frames.zero_offset(outline) is None:
                open_ones.setdefault(look.shop.parts[part].outline, []).extend(references)
        if open_ones and look.shop.jobs[job].placements.zero is None:
            yield _list_without_level(job, open_ones)
        else:
            for name, references in open_ones.items():
                lacking.setdefault(name, []).extend(references)
    if lacking:
        yield _outlines_without_level(lacking)


def _list_without_level(job: str, open_ones: dict[str, list[str]]) -> Problem:
    references = [ref for refs in open_ones.values() for ref in refs]
    return Problem(
        path=("jobs", job, "placements", "zero"),
        related=tuple(("outlines", name, "zero") for name in list(open_ones)[:5]),
        message=f"the list of {job} has no zero level, but outlines have one.",
        observed=f"zero missing; {count(len(references), 'placement')}",
        consequence="How they are turned on the board is unknown. If the levels differ, they would "
        "be placed a quarter turn off.",
        remedy=("Look how the list's footprints are drawn at 0, and write zero: A or B.",),
    )


def _outlines_without_level(lacking: dict[str, list[str]]) -> Problem:
    names = sorted(lacking, key=natural)
    references = sorted({ref for refs in lacking.values() for ref in refs}, key=natural)
    has = f"outline {names[0]} has" if len(names) == 1 else f"{len(names)} outlines have"
    return Problem(
        path=("outlines", names[0], "zero"),
        related=tuple(("outlines", name, "zero") for name in names[1:6]),
        message=f"{has} no zero level, but the list has one.",
        observed=f"zero missing on {listed(names)}; {count(len(references), 'placement')}",
        consequence=f"How {listed(references)} "
        f"{'is' if len(references) == 1 else 'are'} turned on the board is unknown. If the levels "
        "differ, a quarter turn is missing and the part is across its pads.",
        remedy=("Look how the outline is drawn at 0, and write zero: A or B.",),
    )


@rule(
    Level.WARNING,
    fails="jobs.first-board.placements.D2.rotation: ~",
    passes="jobs.first-board.placements.D2.rotation: 180",
)
def rotation_missing(look: Inspection) -> Iterator[Problem]:
    """A row of a list has no rotation, while others have one.

    Parts that look the same at every quarter turn are left out.

    On the machine: the part is placed at 0, whatever the board needs.

    To do: look at the board's drawing, and write the rotation; 0 is written too.

    Source: common practice, no published source.
    """
    for job in sorted(look.shop.jobs, key=natural):
        listing = look.shop.jobs[job].placements
        if listing.file is None:
            continue
        stated = {
            reference: "rotation" in placement.model_fields_set
            for reference, placement in look.shop.placed(job)
            if (outline := look.shop.outline_of(placement.part)) and outline.symmetry != 90
        }
        without = sorted((ref for ref, is_stated in stated.items() if not is_stated), key=natural)
        if without and any(stated.values()):
            yield _without_rotation(job, without, len(stated))


def _without_rotation(job: str, without: list[str], of: int) -> Problem:
    is_one = len(without) == 1
    return Problem(
        path=("jobs", job, "placements", without[0], "rotation"),
        related=tuple(("jobs", job, "placements", name, "rotation") for name in without[1:6]),
        message=f"{listed(without)} of {job} {'has' if is_one else 'have'} no rotation.",
        observed=f"rotation missing in {len(without)} of {of} rows",
        consequence=f"{'It' if is_one else 'They'} would be placed at 0, which may be wrong.",
        remedy=("Look at the board's drawing, and write the rotation, also where it is 0.",),
    )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.side: bottom
    jobs.first-board.placements.U1.side: bottom
    jobs.first-board.placements.bottom: ~
    """,
    passes="""
    jobs.first-board.placements.U1.side: bottom
    jobs.first-board.placements.bottom: ~
    """,
)
def bottom_convention_missing(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A job builds the bottom, but its list does not say how it counts rotations there.

    Where the pads of the rows fit one convention alone, it is named. Undeclared positions on the
    bottom are taken as seen through the top, and counted as not checked.

    On the machine: the three conventions differ by mirroring and by half a turn; the wrong one
    places polarised parts the wrong way round.

    To do: look at one polarised part on the bottom and declare `bottom`: `as-placed`,
    `through-top-mirrored-y` (Gerber X3) or `through-top-mirrored-x`. Declare `bottom_positions`
    too: `through-top`, `as-placed` or `x-negated`.

    Source: Gerber Layer Format Specification 5.6.16; that others differ: common practice, no
    published source.
    """
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        placed = len(look.facts.usage.placed[name].references)
        if job.side != "bottom" or not placed:
            continue
        if job.placements.bottom_positions is None:
            yield Unchecked(
                f"positions of {count(placed, 'placement')} on the bottom",
                f"no bottom_positions in {name}, taken as seen through the top",
                "bottom_positions",
                (("jobs", name, "placements", "bottom_positions"),),
                placed,
            )
        if job.placements.bottom is None:
            yield _no_convention(look, name, placed)


def _no_convention(look: Inspection, job: str, placed: int) -> Problem:
    fits = conventions_that_fit(look.shop, job)
    is_assumed = look.shop.jobs[job].placements.bottom_positions is None
    if_so = ", if positions are seen through the top (no bottom_positions)" * is_assumed
    advice = (
        f"The pads of its rows fit {fits[0]} alone{if_so}. Look at one polarised part, then write "
        f"bottom: {fits[0]}."
        if len(fits) == 1
        else "Look at one polarised part on the bottom and declare which it is: "
        + "as-placed, through-top-mirrored-y (Gerber X3) or through-top-mirrored-x."
    )
    return Problem(
        path=("jobs", job, "placements", "bottom"),
        related=(("jobs", job, "side"),),
        message=f"{job} builds the bottom, but its list does not say how it counts rotations "
        "there.",
        observed=f"bottom missing; {count(placed, 'placement')} on the bottom",
        consequence="Which way round they are is unknown: as-placed and through-top-mirrored-y "
        "differ by half a turn at rotation 0.",
        remedy=(advice,),
    )
