"""Rules about parts and their outlines: heights, chip codes, pin 1."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.reach import needed_by, needed_parts, weight
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.cases import (
    Heights,
    Reading,
    codes_in,
    family_in,
    has_body,
    plausible_heights,
    readings,
)
from jobcheck.wording import number


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="outlines.soic-8.height_mm: ~",
    passes="outlines.soic-8.height_mm: ~\nparts.timer-soic8.height_mm: 1.3",
)
def height_missing(look: Inspection) -> Iterator[Problem]:
    """A part that a job places or a feeder holds has no height, nor has its outline.

    On the machine: the nozzle goes down to the board by the part's height; where that is taken
    for zero the part is driven into the board or cracked, and in the picture from below it is out
    of focus.

    To do: measure the part and write its height; or restore the height that was lost.

    Source: placing height = seat.z + height - press; arithmetic.
    """
    missing: dict[Path, list[str]] = defaultdict(list)
    for name in needed_parts(look.facts):
        if look.shop.outline_of(name) and look.shop.height_of(name) is None:
            missing[_where_height_belongs(look, name)].append(name)
    for path, parts in missing.items():
        good = look.good.height_of(parts[0]) if look.good else None
        yield Problem(
            path=path,
            message=f"{path[0][:-1]} {path[1]} has no height.",
            observed=f"missing; {needed_by(look.facts, parts)}",
            consequence=f"The nozzle would press {number(good)} mm too deep."
            if good
            else "Nothing says how high above the board the nozzle must stop: it would press too "
            "deep by the whole height of the part.",
            remedy=("Put the recorded height back:", command("restore", show(path)))
            if good
            else (f"Measure it and write height_mm under {show(path[:-1])}.",),
            level=weight(look.facts, parts),
        )


def _where_height_belongs(look: Inspection, part: str) -> Path:
    """Return where a missing height was, else that of the outline, which serves all its parts."""
    known = look.good.parts.get(part) if look.good else None
    if known and known.height_mm is not None:
        return ("parts", part, "height_mm")
    return ("outlines", look.shop.parts[part].outline, "height_mm")


def _stated_heights(shop: Shop) -> Iterator[tuple[Path, float, str]]:
    """Yield (path, height in mm, name of its outline) for every height that is written down."""
    for name, outline in shop.outlines.items():
        if outline.height_mm is not None:
            yield ("outlines", name, "height_mm"), outline.height_mm, name
    for name, part in shop.parts.items():
        if part.height_mm is not None:
            yield ("parts", name, "height_mm"), part.height_mm, part.outline


@rule(
    Level.ERROR,
    fails="outlines.soic-8.height_mm: 0",
    passes="parts.timer-soic8.height_mm: 1.2",
)
def height_zero(look: Inspection) -> Iterator[Problem]:
    """A height is zero; unknown is not zero.

    On the machine: the nozzle goes down to the bare board and drives the part into it.

    To do: measure the part and write its height; where it is unknown take the key away.

    Source: placing height = seat.z + height - press; arithmetic.
    """
    for path, height, _ in _stated_heights(look.shop):
        if height == 0:
            good = look.good.plain_at(path) if look.good else None
            deep = f"{number(good)} mm" if isinstance(good, float | int) and good else "its height"
            yield Problem(
                path=path,
                message=f"{path[0][:-1]} {path[1]} has the height 0.",
                observed="0 mm",
                consequence=f"The nozzle would press {deep} too deep.",
                remedy=(f"Measure it and write {show(path)}.",),
            )


_SLIPS = (
    (0.1, "a slipped decimal point"),
    (10.0, "a slipped decimal point"),
    (25.4, "a value in inches"),
    (0.0254, "a value in mil"),
    (0.001, "a value in um"),
)
"""What a length may be multiplied by when it was written wrong, and what that was."""


@rule(
    Level.WARNING,
    fails="outlines.soic-8.height_mm: 7.5",
    passes="outlines.soic-8.height_mm: 2.8",
)
def height_implausible(look: Inspection) -> Iterator[Problem]:
    """A height is outside what the case in the outline's name can have.

    It looks at package families by name and at chips whose code and body agree, with
    `height_slack_percent` around the published limits.

    On the machine: too low a height presses the part into the board; too high a one lets it go
    above the paste, where it turns or falls.

    To do: measure the part and correct the height.

    Source: datasheets and JEDEC outlines, each named beside its numbers in trade/cases.py.
    """
    slack = look.limits.height_slack_percent / 100
    for path, height, name in _stated_heights(look.shop):
        outline = look.shop.outlines.get(name)
        usual = _usual_heights(look, name, outline) if outline and height else None
        if usual is None:
            continue
        low, high = usual.low_mm * (1 - slack), usual.high_mm * (1 + slack)
        if not low <= height <= high:
            yield _implausible(path, name, height, usual, (low, high))


def _usual_heights(look: Inspection, name: str, outline: Outline) -> Heights | None:
    """Return the heights of a package family or of a chip whose code and body agree."""
    body = (outline.body_mm[0], outline.body_mm[1])
    case = outline.case or name
    if family_in(case):
        return plausible_heights(case)
    for reading in _allowed(outline, _codes(name, outline)):
        if has_body(reading.case, body, look.limits.chip_body_slack_mm):
            return plausible_heights(reading.code, body)
    return None


def _implausible(
    path: Path, name: str, height: float, usual: Heights, limits: tuple[float, float]
) -> Problem:
    between = f"{number(usual.low_mm)} to {number(usual.high_mm)} mm"
    if height < limits[0]:
        so = f"The nozzle would press at least {number(usual.low_mm - height)} mm too deep."
    else:
        off = number(height - usual.high_mm)
        so = f"The part would be let go at least {off} mm above the paste."
    slips = [
        f" {number(height * factor)} mm would fit: {what}?"
        for factor, what in _SLIPS
        if limits[0] <= height * factor <= limits[1]
    ]
    return Problem(
        path=path,
        message=f"{path[0][:-1]} {path[1]} is {number(height)} mm tall; "
        f"{'such a case' if path[0] == 'outlines' else name} is {between}.",
        observed=f"{number(height)} mm; usual {between}",
        consequence=so,
        remedy=("Measure it and correct the height." + (slips[0] if slips else ""),),
        suppresses=(("part-taller-than-tape", path),),
    )


def _codes(name: str, outline: Outline) -> tuple[str, ...]:
    """Return the chip codes that an outline claims: its `case`, else those in its name."""
    if outline.case is not None:
        return (outline.case,)
    return codes_in(name) if outline.terminals == 2 else ()


def _codes_of_part(name: str) -> tuple[str, ...]:
    """Return the chip codes that stand alone in a part's name: stock numbers such as c1608 do not.

    Source: common practice, no published source.
    """
    return tuple(
        code for word in re.split(r"[-_]", name) for code in codes_in(word) if code == word
    )


def _allowed(outline: Outline, codes: tuple[str, ...]) -> list[Reading]:
    """Return the readings of codes in the outline's system; a code with one reading has that."""
    found: list[Reading] = []
    for code in codes:
        both = readings(code)
        found += [r for r in both if len(both) == 1 or r.system == outline.case_system]
    return found


class _Mixed(NamedTuple):
    """A code that does not fit a body: the reading that is meant, and one that would fit."""

    meant: Reading
    fits: Reading | None


def _mixed(outline: Outline, codes: tuple[str, ...], slack: float) -> _Mixed | None:
    """Return what is wrong where no code of a name fits the body in the outline's system."""
    body = (outline.body_mm[0], outline.body_mm[1])
    allowed = _allowed(outline, codes)
    if not allowed or any(has_body(reading.case, body, slack) for reading in allowed):
        return None
    if any(len(readings(code)) == 1 and _is_plain_metric(code, body, slack) for code in codes):
        return None
    others = [r for code in codes for r in readings(code) if has_body(r.case, body, slack)]
    return _Mixed(allowed[0], others[0] if others else None)


def _is_plain_metric(code: str, body: tuple[float, float], slack: float) -> bool:
    """Tell whether a code's digits are simply the tenths of a body: coils of 2.5 × 1.2 are 2512."""
    if len(code) != 4:
        return False
    length, width = int(code[:-2]) / 10, int(code[-2:]) / 10
    return abs(max(body) - length) <= 2 * slack and abs(min(body) - width) <= 2 * slack


@rule(
    Level.WARNING,
    fails="outlines.chip-0603.case_system: metric",
    passes="outlines.chip-0603.body_mm: [1.7, 0.9]",
)
def chip_code_contradicts_body(look: Inspection) -> Iterator[Problem]:
    """A chip's code, in its outline or part, names another size than its body has.

    0402 and 0603 each name one chip in inches and another, less than half as long, in metric.

    On the machine: a part of another size is looked for, lifted and pressed.

    To do: look at the reel; correct the body, the name, or `case_system`.

    Source: chip sizes by code, each with its datasheet in trade/cases.py.
    """
    slack = look.limits.chip_body_slack_mm
    contradicted = set()
    for name, outline in look.shop.outlines.items():
        codes = _codes(name, outline)
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
    body = _size((outline.body_mm[0], outline.body_mm[1]))
    meant, code = mixed.meant, mixed.meant.code
    is_part = path[0] == "parts"
    named = f"part {path[1]} has outline {outline_name}, which" if is_part else f"outline {path[1]}"
    do = "Look at the reel; then correct the part's name or its outline."
    if not is_part:
        do = f"Correct body_mm, or the code {code}."
    tells: tuple[tuple[str, Path], ...] = (("tip-wider-than-body", ("outlines", outline_name)),)
    if not is_part and outline.recognition:
        seen = ("recognitions", outline.recognition)
        tells = (*tells, ("recognition-size-contradicts-outline", seen))
    if mixed.fits:
        do = f"{do} Or the code counts as {mixed.fits.system}: write case_system."
    return Problem(
        path=path,
        related=(("outlines", outline_name, "body_mm"),) if path[-1] != "body_mm" else (),
        message=f"{named} is {body}, but {code} in {_system(meant)} is {_size(meant.case.body_mm)}.",
        observed=f"{body}, which is {mixed.fits.code} in {_system(mixed.fits)}"
        if mixed.fits
        else body,
        consequence="A part of another size would be looked for, lifted and pressed.",
        remedy=(do,),
        suppresses=tells,
    )


def _system(reading: Reading) -> str:
    return "inches" if reading.system == "inch" else "metric"


def _size(body: tuple[float, float]) -> str:
    return f"{number(body[0])} × {number(body[1])} mm"


@rule(
    Level.WARNING,
    fails="outlines.sod-123.pin1_means: ~",
    passes="outlines.sod-123.polarised: false\noutlines.sod-123.pin1_means: ~\n"
    "outlines.sod-123.pin1_at_zero: ~\nfeeders.f03.tape.pin1: ~",
)
def pin1_missing(look: Inspection) -> Iterator[Problem]:
    """A polarised outline does not say where pin 1 lies at 0, or what pin 1 is.

    On the machine: nothing can tell whether the part is placed the right way round; a reversed
    one is noticed after reflow.

    To do: look at the maker's drawing; write `pin1_at_zero` and `pin1_means`.

    Source: IEC 61188-7 and IPC-7351 count rotations from where pin 1 lies.
    """
    for name, outline in look.shop.outlines.items():
        if not outline.polarised:
            continue
        lacks = [
            (key, what)
            for key, what in (("pin1_at_zero", "where pin 1 lies"), ("pin1_means", "what pin 1 is"))
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
                consequence="Whether it is placed the right way round cannot be told; a reversed part is "
                "noticed after reflow.",
                remedy=(
                    "Look at the maker's drawing and write "
                    f"{' and '.join(key for key, _ in lacks)}.",
                ),
            )
