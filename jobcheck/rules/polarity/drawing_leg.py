"""The rule about the drawing leg of polarity: whether an outline fits its footprint."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.list_leg import ASKEW
from jobcheck.facts.polarity import Proof
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.polarity.causes import (
    PADS,
    doubt_of,
    each_job,
    level_of,
    so,
    turn_in_words,
)
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural
from jobcheck.wording import count, listed


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="outlines.sod-123.zero: B" + PADS,
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
    for job, causes in each_job(look):
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
    doubt = doubt_of(facts, jobs[0], [(outline, angle)])
    return Problem(
        path=path,
        related=tuple(other for other in evidence if other != path),
        message=_how_drawn(outline, angle, is_footprint),
        observed=_seen_of(facts, outline, pads),
        consequence=so(
            f"{_placed(facts, outline, jobs)} would be placed with pin 1 off its pad", doubt
        )
        if not is_footprint
        else "Lint would compare other lists with the wrong pad.",
        remedy=(f"Look how the footprint is drawn at 0. {_to_correct(path, drawing)}",),
        level=level_of(doubt),
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
