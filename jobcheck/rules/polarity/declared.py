"""Rules about what polarity rests on: the flag, the zero levels, the conventions for the bottom."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import pin1_of
from jobcheck.facts.frames import frames_of
from jobcheck.facts.list_leg import conventions_that_fit
from jobcheck.findings import Level, Problem, Remedy, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import Path, natural, show
from jobcheck.trade.polarity import is_square
from jobcheck.wording import count, listed


@rule(
    Level.ERROR,
    Level.WARNING,
    compares=True,
    fails="outlines.sod-123.polarised: false",
    passes="outlines.chip-0805.pin1_at_zero: left\noutlines.chip-0805.same_turned_deg: 180",
)
def polarised_flag_contradicted(look: Inspection) -> Iterator[Problem]:
    """An outline is unpolarised, but names pin 1, was polarised in the record, or is square.

    An outline that declares `same_turned_deg` may have a pin 1: it is unpolarised all the same. One
    that is polarised cannot be the same when turned. Square with more than two terminals is a
    warning.

    On the machine: the part is compared modulo its symmetry, so that a reversed or turned one is
    not found.

    To do: if it matters which way round the part is, write `polarised: true` and where pin 1 is. If
    not, remove what names pin 1, or write `same_turned_deg`.

    Source: square within 0.3 mm, EIA-481-E; the rest is common practice, no published source.
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
        elif outline.same_turned_deg is None and outline.terminals > 2:
            yield from _square(look.facts, name)


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
        back = "If it matters which way round it is, put it back:", command("restore", show(path))
        remedy = (
            (*back, "If it does not matter, remove what names pin 1, or write same_turned_deg.")
            if named
            else (
                *back,
                "If it does not matter, record that:",
                command("keep", "--label", "TEXT", "--on-purpose", show(path)),
            )
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


def _polarised_and_same(name: str, turned: float) -> Problem:
    return Problem(
        path=("outlines", name, "same_turned_deg"),
        related=(("outlines", name, "polarised"),),
        message=f"outline {name} is polarised, but the same when turned by {turned:g}.",
        observed=f"polarised true; same_turned_deg {turned:g}",
        consequence="It is compared as polarised: every turn counts.",
        remedy=("Remove same_turned_deg, or write polarised: false.",),
    )


def _square(facts: Facts, name: str) -> Iterator[Problem]:
    """Yield that a placed square outline of more than two terminals is unpolarised."""
    outline = facts.shop.outlines[name]
    placed = facts.usage.placements_of_parts(facts.usage.parts_of_outline(name)).values()
    if placed and is_square(*outline.body_mm):
        references = sorted((ref for refs in placed for ref in refs), key=natural)
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
            level=Level.WARNING,
        )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="""
    jobs.first-board.side: bottom
    jobs.first-board.placements.U1.side: bottom
    jobs.first-board.placements.bottom: ~
    """,
    passes="""
    jobs.first-board.placements.U1.side: bottom
    jobs.first-board.placements.bottom: ~
    outlines.chip-0805.zero: B
    """,
)
def rotation_convention_missing(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A list does not say how it counts rotations: its zero level, or its bottom convention.

    A missing `bottom` of a job that builds the bottom is an error; where the pads of the rows fit
    one convention alone, it is named. A list or outline without `zero`, while others have one, is a
    warning; where none has one, all are taken as drawn alike, and a square part that is the same at
    every quarter turn needs none. Undeclared positions on the bottom are taken as seen through the
    top, and counted as not checked.

    On the machine: levels A and B differ by a quarter turn, the conventions for the bottom by
    mirroring and by half a turn. Parts may be placed across their pads or the wrong way round.

    To do: look how list and outline are drawn at 0, and write `zero`: two terminals along x, pin 1
    left or upper left is level A; two terminals along y, pin 1 lower left is level B. Look at one
    polarised part on the bottom and declare `bottom`: `as-placed`, `through-top-mirrored-y` (Gerber
    X3) or `through-top-mirrored-x`; and `bottom_positions`: `through-top`, `as-placed` or
    `x-negated`.

    Source: levels A and B, IPC-7351A and IEC 61188-7, as secondary sources quote them; Gerber Layer
    Format Specification 5.6.16; that others differ: common practice, no published source.
    """
    yield from _bottom_missing(look)
    yield from _zero_missing(look)


def _zero_missing(look: Inspection) -> Iterator[Problem]:
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
        level=Level.WARNING,
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
        level=Level.WARNING,
    )


def _bottom_missing(look: Inspection) -> Iterator[Problem | Unchecked]:
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
