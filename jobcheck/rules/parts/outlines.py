"""Rules about outlines: chip codes, pin 1, sizes that contradict each other."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.reach import needed_by
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, at_level, rule
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path
from jobcheck.trade.cases import (
    CaseReading,
    codes_in,
    family_in,
    has_body,
    readings,
)
from jobcheck.wording import number


def codes_of(name: str, outline: Outline) -> tuple[str, ...]:
    """Return the chip codes that an outline claims: its `case`, else those in its name."""
    if outline.case is not None:
        return (outline.case,)
    return codes_in(name) if outline.terminals == 2 else ()


def _codes_of_part(name: str) -> tuple[str, ...]:
    """Return the chip codes that are whole words of a part's name; stock numbers are not.

    Source: common practice, no published source.
    """
    return tuple(
        code for word in re.split(r"[-_]", name) for code in codes_in(word) if code == word
    )


def readings_of(outline: Outline, codes: tuple[str, ...]) -> list[CaseReading]:
    """Return the readings of codes in the outline's system; a code with one reading has that."""
    found: list[CaseReading] = []
    for code in codes:
        both = readings(code)
        found += [r for r in both if len(both) == 1 or r.system == outline.case_system]
    return found


class _Mixed(NamedTuple):
    """A code that does not fit a body: the reading in force, and one that would fit."""

    meant: CaseReading
    fits: CaseReading | None


def _mixed(outline: Outline, codes: tuple[str, ...], slack: float) -> _Mixed | None:
    """Return the readings in question if no code fits the body in the outline's system."""
    body = (outline.body_mm[0], outline.body_mm[1])
    allowed = readings_of(outline, codes)
    if not allowed or any(has_body(reading.case, body, slack) for reading in allowed):
        return None
    if any(len(readings(code)) == 1 and _is_plain_metric(code, body, slack) for code in codes):
        return None
    others = [r for code in codes for r in readings(code) if has_body(r.case, body, slack)]
    return _Mixed(allowed[0], others[0] if others else None)


def _is_plain_metric(code: str, body: tuple[float, float], slack: float) -> bool:
    """Return whether a code's digits are the tenths of the body: a coil of 2.5 × 1.2 is 2512."""
    if len(code) != 4:
        return False
    length, width = int(code[:-2]) / 10, int(code[-2:]) / 10
    return abs(max(body) - length) <= 2 * slack and abs(min(body) - width) <= 2 * slack


def _chip_code_contradicts_body(look: Inspection) -> Iterator[Problem]:
    slack = look.limits.chip_body_slack_mm
    contradicted = set()
    for name, outline in look.shop.outlines.items():
        codes = codes_of(name, outline)
        if codes and (mixed := _mixed(outline, codes, slack)):
            contradicted.add(name)
            key = "case_system" if mixed.fits else "body_mm"
            yield _code_problem(("outlines", name, key), name, outline, mixed)
    for name, part in look.shop.parts.items():
        part_of = look.shop.outlines.get(part.outline)
        if part_of is None or part_of.terminals != 2 or part.outline in contradicted:
            continue
        if mixed := _mixed(part_of, _codes_of_part(name), slack):
            yield _code_problem(("parts", name, "outline"), part.outline, part_of, mixed)


def _code_problem(path: Path, outline_name: str, outline: Outline, mixed: _Mixed) -> Problem:
    body = size((outline.body_mm[0], outline.body_mm[1]))
    meant, code = mixed.meant, mixed.meant.code
    is_part = path[0] == "parts"
    named = f"part {path[1]} has outline {outline_name}, which" if is_part else f"outline {path[1]}"
    do = "Look at the reel; then correct the part's name or its outline."
    if not is_part:
        do = f"Correct body_mm, or the code {code}."
    effects: tuple[tuple[str, Path], ...] = (("nozzle-tip-unsuitable", ("outlines", outline_name)),)
    if not is_part and outline.recognition:
        seen = ("recognitions", outline.recognition)
        effects = (*effects, ("recognition-size-contradicts-outline", seen))
    if mixed.fits:
        do = (
            f"{do} If the code is in {_system(mixed.fits)}, write case_system: {mixed.fits.system}."
        )
    return Problem(
        path=path,
        related=(("outlines", outline_name, "body_mm"),) if path[-1] != "body_mm" else (),
        message=f"{named} is {body}, but {code} in {_system(meant)} is {size(meant.case.body_mm)}.",
        observed=f"{body}, which is {mixed.fits.code} in {_system(mixed.fits)}"
        if mixed.fits
        else body,
        consequence="If the body is wrong, the wrong size is searched, lifted and pressed.",
        remedy=(do,),
        suppresses=effects,
    )


def _system(reading: CaseReading) -> str:
    return "inches" if reading.system == "inch" else "metric"


def size(body: tuple[float, float]) -> str:
    """Write length and width in mm: `1.6 × 0.8 mm`."""
    return f"{number(body[0])} × {number(body[1])} mm"


@rule(
    Level.WARNING,
    fails="outlines.sod-123.pin1_means: ~",
    passes="outlines.sod-123.polarised: false\noutlines.sod-123.pin1_means: ~\n"
    "outlines.sod-123.pin1_at_zero: ~\nfeeders.f03.tape.pin1: ~",
)
def pin1_missing(look: Inspection) -> Iterator[Problem]:
    """A polarised outline does not say where pin 1 is at 0, or which terminal it is.

    On the machine: the polarity of its parts is not checked; a reversed part is noticed after
    reflow.

    To do: look at the maker's drawing; write `pin1_at_zero` and `pin1_means`.

    Source: IEC 61188-7 and IPC-7351 count rotations from the place of pin 1.
    """
    for name, outline in look.shop.outlines.items():
        if not outline.polarised:
            continue
        lacks = [
            (key, what)
            for key, what in (("pin1_at_zero", "where pin 1 is"), ("pin1_means", "what pin 1 is"))
            if not getattr(outline, key)
        ]
        if lacks:
            parts = list(look.facts.usage.parts_of_outline(name))
            yield Problem(
                path=("outlines", name, lacks[0][0]),
                related=tuple(("outlines", name, key) for key, _ in lacks[1:]),
                message=f"polarised outline {name} does not say "
                f"{' nor '.join(what for _, what in lacks)}.",
                observed=f"{' and '.join(key for key, _ in lacks)} missing; "
                f"{needed_by(look.facts, parts)}",
                consequence="Its polarity is not checked; a reversed part is noticed after reflow.",
                remedy=(
                    "Look at the maker's drawing and write "
                    f"{' and '.join(key for key, _ in lacks)}.",
                ),
            )


_TWO_TERMINALS = ("sod123", "sod323")
_COUNTED = re.compile(r"(?:lqfp|tqfp|qfn|tssop|msop|soic)-?([0-9]+)(?![0-9x])")


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="outlines.soic-8.terminal_mm: 5",
    passes="outlines.soic-8.terminal_mm: 4.8",
)
def outline_sizes_contradict(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Sizes of one outline, or its sizes and its name, contradict each other.

    Errors: a terminal wider than the part is long, a flat larger than the body, a body larger than
    the size over body and terminals. Warnings: a number of terminals, or a chip code of an outline
    or part, that does not fit the name. A name is only a hint. 0402 and 0603 each mean two chips:
    one in inches, and one in metric that is less than half as long.

    On the machine: the part is searched at the wrong size, and lifted by a tip that does not fit.

    To do: measure the part, look at the reel, and correct the size, the name or `case_system`.

    Source: a part of a thing is not larger than the thing; chip sizes by code, each with its
    datasheet in trade/cases.py. Names of cases end with the number of terminals, a thermal pad may
    add one: common practice, no published source.
    """
    yield from _outline_sizes_contradict(look)
    yield from at_level(Level.WARNING, _chip_code_contradicts_body(look))


def _outline_sizes_contradict(look: Inspection) -> Iterator[Problem]:
    for name, outline in look.shop.outlines.items():
        for field, value, other, limit in _too_large(outline):
            yield _sizes(name, field, number(value), other, number(limit), "", None)
        counts = _terminals_of_name(outline.case or name)
        if counts and outline.terminals not in counts:
            named = " or ".join(map(str, counts))
            if_so = f"If it is {outline.case or name}, "
            got = str(outline.terminals)
            yield _sizes(name, "terminals", got, "case", named, if_so, Level.WARNING)


def _too_large(outline: Outline) -> Iterator[tuple[str, float, str, float]]:
    """Yield (field, its mm, other field, its mm) of sizes that exceed another one."""
    length, width = outline.body_mm
    slack = 1e-9
    if outline.terminal_mm and outline.terminal_mm > max(outline.size_mm) + slack:
        yield "terminal_mm", outline.terminal_mm, outline.size_field, max(outline.size_mm)
    for field, small, large in (
        ("flat_mm", outline.flat_mm, outline.body_mm),
        ("over_terminals_mm", outline.body_mm, outline.over_terminals_mm),
    ):
        if small and large:
            for axis in (0, 1):
                if small[axis] > large[axis] + 0.1:
                    value = (small if field == "flat_mm" else large)[axis]
                    yield field, value, "body_mm", (length, width)[axis]
                    break


def _terminals_of_name(name: str) -> tuple[int, ...]:
    """Return the numbers of terminals that the name of a case allows, none if it has none."""
    if family_in(name) in _TWO_TERMINALS:
        return (2,)
    found = _COUNTED.search(name.lower())
    return (int(found[1]), int(found[1]) + 1) if found else ()


def _sizes(
    name: str, field: str, value: str, other: str, limit: str, if_so: str, level: Level | None
) -> Problem:
    return Problem(
        path=("outlines", name, field),
        related=(("outlines", name, other),) if other != "case" else (),
        message=f"{field} {value} of {name} contradicts {other} {limit}."
        if not if_so
        else f"{name} has {value} terminals; its name says {limit}.",
        observed=f"{field} {value}; {other if not if_so else 'name'} {limit}",
        consequence=(if_so + "polarity and pads are checked with the wrong symmetry.")
        if if_so
        else "The part would be searched at the wrong size, or lifted by a tip that does not fit.",
        remedy=("Measure the part and correct the value that is wrong.",),
        level=level,
    )
