"""Rules about parts and their outlines: heights, chip codes, pin 1."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.reach import in_a_run, needed_by
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural, show
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
from jobcheck.wording import count, listed, number


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="outlines.soic-8.height_mm: ~",
    passes="outlines.soic-8.height_mm: ~\nparts.timer-soic8.height_mm: 1.3",
)
def height_unknown(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A part that a job places has no height, or a height is 0.

    It is an error in a job with a run, and so is a height of 0, which no part has. In a job
    without a run it is a warning if the known-good record has the height; else it is counted as
    not checked.

    On the machine: the nozzle stops at seat.z + height_mm - press_mm. If the height is taken as 0,
    the nozzle drives the part into the board; over an upward camera the part is out of focus.

    To do: measure the part and write its height, or restore the recorded one.

    Source: placing height = seat.z + height - press; arithmetic.
    """
    missing: dict[Path, list[str]] = defaultdict(list)
    for name in sorted(look.facts.usage.placed_parts() & set(look.shop.parts), key=natural):
        if look.shop.outline_of(name) and look.shop.height_of(name) is None:
            missing[_where_height_belongs(look, name)].append(name)
    unchecked = []
    for path, parts in missing.items():
        good = look.good.height_of(parts[0]) if look.good else None
        is_gap = in_a_run(look.facts, parts)
        if is_gap or good:
            yield _no_height(look, path, parts, good, None if is_gap else Level.WARNING)
        else:
            unchecked.append(path)
    if unchecked:
        names = listed([path[1] for path in unchecked])
        yield Unchecked(
            f"heights of {count(len(unchecked), 'outline')}",
            f"no height_mm on {names}",
            "height_mm",
            tuple(unchecked),
            len(unchecked),
        )
    for path, height, _ in _stated_heights(look.shop):
        if height == 0:
            yield _no_height(look, path, [], look.good.plain_at(path) if look.good else None, None)


def _no_height(
    look: Inspection, path: Path, parts: list[str], good: object, level: Level | None
) -> Problem:
    what = "no height" if parts else "a height of 0 mm"
    return Problem(
        path=path,
        message=f"{path[0][:-1]} {path[1]} has {what}.",
        observed=f"missing; {needed_by(look.facts, parts)}" if parts else "0 mm",
        consequence=f"The nozzle may press {number(good)} mm too deep."
        if isinstance(good, float | int) and good
        else "The nozzle may press too deep by the whole height of the part.",
        remedy=("Put the recorded height back:", command("restore", show(path)))
        if good
        else (f"Measure the part and write {show(path)}.",),
        level=level,
    )


def _where_height_belongs(look: Inspection, part: str) -> Path:
    """Return where the height was in the record, else the path for it in the outline."""
    known = look.good.parts.get(part) if look.good else None
    if known and known.height_mm is not None:
        return ("parts", part, "height_mm")
    return ("outlines", look.shop.parts[part].outline, "height_mm")


def _stated_heights(shop: Shop) -> Iterator[tuple[Path, float, str]]:
    """Yield (path, height in mm, name of its outline) for every described height."""
    for name, outline in shop.outlines.items():
        if outline.height_mm is not None:
            yield ("outlines", name, "height_mm"), outline.height_mm, name
    for name, part in shop.parts.items():
        if part.height_mm is not None:
            yield ("parts", name, "height_mm"), part.height_mm, part.outline


_SLIPS = (
    (0.1, "a slipped decimal point"),
    (10.0, "a slipped decimal point"),
    (25.4, "a value in inches"),
    (0.0254, "a value in mil"),
    (0.001, "a value in um"),
)
"""Factors that turn a wrong length into the right one, and the slip behind each."""


@rule(
    Level.WARNING,
    fails="outlines.soic-8.height_mm: 7.5",
    passes="outlines.soic-8.height_mm: 2.8",
)
def height_implausible(look: Inspection) -> Iterator[Problem]:
    """A height does not fit the case that the outline names.

    It checks package families by name, and chips whose code and body agree. The published limits
    are widened by `limits.height_slack_percent`. The name is only a hint.

    On the machine: a height that is too low presses the part into the board. A height that is too
    high releases it above the paste, where it turns or falls.

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
        so = f"press at least {number(usual.low_mm - height)} mm too deep"
    else:
        so = f"release it at least {number(height - usual.high_mm)} mm above the paste"
    slips = [
        f" {number(height * factor)} mm would fit: {what}?"
        for factor, what in _SLIPS
        if limits[0] <= height * factor <= limits[1]
    ]
    return Problem(
        path=path,
        message=f"{path[0][:-1]} {path[1]} has a height of {number(height)} mm; cases like "
        f"{name} have {between}.",
        observed=f"{number(height)} mm; such cases {between} ({usual.source})",
        consequence=f"If it is such a case, the nozzle would {so}.",
        remedy=("Measure the part and correct the height." + (slips[0] if slips else ""),),
        suppresses=(("part-taller-than-tape", path), ("mass-implausible", ("outlines", name))),
    )


_DENSITY = (0.2, 12.0)
"""Least and greatest mass for the volume of body times height, mg/mm3: hollow plastic parts to
lead. Source: common practice, no published source."""


@rule(
    Level.WARNING,
    fails="outlines.soic-8.mass_mg: 500",
    passes="outlines.soic-8.mass_mg: 300",
)
def mass_implausible(look: Inspection) -> Iterator[Problem]:
    """A mass does not fit the volume of the part.

    The volume is body times height; 0.2 to 12 mg/mm3 is accepted.

    On the machine: nothing, if the mass is wrong; but a part that is too heavy is not found. If
    body or height is wrong, the part is pressed too deep or released above the paste.

    To do: weigh ten parts together; correct the mass, the body or the height.

    Source: lead has 11.3 mg/mm3, hollow plastic parts 0.2; common practice, no published source.
    """
    for path, mass, part_height, outline in _stated_masses(look.shop):
        body = outline.body_mm[0], outline.body_mm[1]
        volume = body[0] * body[1] * (part_height or 0.0)
        if volume and not _is_dense(mass / volume):
            fits = [mass * f for f in (0.001, 1000.0) if _is_dense(mass * f / volume)]
            yield Problem(
                path=path,
                message=f"{path[0][:-1]} {path[1]} has a mass of {number(mass)} mg in "
                f"{number(round(volume, 2))} mm³, {number(round(mass / volume, 3))} mg/mm³.",
                observed=f"{number(mass)} mg; body {_size(body)}, height "
                f"{number(part_height or 0.0)} mm; usual {number(_DENSITY[0])} to "
                f"{number(_DENSITY[1])} mg/mm³",
                consequence="If the mass is wrong, a part that no nozzle holds is not found.",
                remedy=(
                    "Weigh ten parts together; correct the mass, the body or the height."
                    + "".join(f" {number(fit)} mg would fit." for fit in fits),
                ),
            )


def _is_dense(density: float) -> bool:
    """Return whether a density, mg/mm3, is that of a part."""
    return _DENSITY[0] <= density <= _DENSITY[1]


def _stated_masses(shop: Shop) -> Iterator[tuple[Path, float, float | None, Outline]]:
    """Yield (path, mass in mg, height in mm, outline) for every described mass."""
    for name, outline in shop.outlines.items():
        if outline.mass_mg is not None:
            yield ("outlines", name, "mass_mg"), outline.mass_mg, outline.height_mm, outline
    for name, part in shop.parts.items():
        known = shop.outlines.get(part.outline)
        if part.mass_mg is not None and known:
            yield ("parts", name, "mass_mg"), part.mass_mg, shop.height_of(name), known


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="outlines.soic-8.press_mm: 0.35",
    passes="outlines.soic-8.press_mm: 0.3",
)
def press_too_deep(look: Inspection) -> Iterator[Problem]:
    """A part is pressed deeper than the paste and a sprung tip allow.

    It is an error if `press_mm` is as large as the height: the tip would be at or below the board's
    surface. Else `limits.press_mm` is allowed.

    On the machine: paste is squeezed out and bridges; the part, the board or the tip breaks.

    To do: correct `press_mm`: the thickness of the paste, or a little more.

    Source: placing height = seat.z + height - press, arithmetic; limits.press_mm (common practice,
    no published source).
    """
    heights: dict[str, tuple[Path, float]] = {}
    for path, stated, name in _stated_heights(look.shop):
        if stated and (name not in heights or stated < heights[name][1]):
            heights[name] = path, stated
    for name, outline in look.shop.outlines.items():
        known = heights.get(name)
        at, height = known or (None, None)
        is_through = height is not None and outline.press_mm >= height
        if not is_through and outline.press_mm <= look.limits.press_mm:
            continue
        below = number(round(outline.press_mm - (height or 0.0), 4))
        yield Problem(
            path=("outlines", name, "press_mm"),
            related=(at,) if at and is_through else (),
            message=f"press_mm {number(outline.press_mm)} of {name} is as large as its height, "
            f"{number(height or 0.0)} mm."
            if is_through
            else f"press_mm {number(outline.press_mm)} of {name} is more than "
            f"{number(look.limits.press_mm)} mm.",
            observed=f"press_mm {number(outline.press_mm)}"
            + (f"; height {number(height)} mm" if height else ""),
            consequence=f"The tip would go {below} mm below the board's surface."
            if is_through
            else "If the tip is not sprung, it would squeeze out the paste and break the part.",
            remedy=("Correct press_mm: the thickness of the paste, or a little more.",),
            level=Level.ERROR if is_through else None,
        )


def _codes(name: str, outline: Outline) -> tuple[str, ...]:
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


def _allowed(outline: Outline, codes: tuple[str, ...]) -> list[Reading]:
    """Return the readings of codes in the outline's system; a code with one reading has that."""
    found: list[Reading] = []
    for code in codes:
        both = readings(code)
        found += [r for r in both if len(both) == 1 or r.system == outline.case_system]
    return found


class _Mixed(NamedTuple):
    """A code that does not fit a body: the reading in force, and one that would fit."""

    meant: Reading
    fits: Reading | None


def _mixed(outline: Outline, codes: tuple[str, ...], slack: float) -> _Mixed | None:
    """Return the readings in question if no code fits the body in the outline's system."""
    body = (outline.body_mm[0], outline.body_mm[1])
    allowed = _allowed(outline, codes)
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


@rule(
    Level.WARNING,
    fails="outlines.chip-0603.case_system: metric",
    passes="outlines.chip-0603.body_mm: [1.7, 0.9]",
)
def chip_code_contradicts_body(look: Inspection) -> Iterator[Problem]:
    """The chip code of an outline or part does not fit the body.

    0402 and 0603 each mean two chips: one in inches, and one in metric that is less than half as
    long.

    On the machine: the wrong size is searched in the picture, lifted and pressed.

    To do: look at the reel; correct the body, the name or `case_system`.

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
    tells: tuple[tuple[str, Path], ...] = (("tip-too-wide", ("outlines", outline_name)),)
    if not is_part and outline.recognition:
        seen = ("recognitions", outline.recognition)
        tells = (*tells, ("recognition-size-contradicts-outline", seen))
    if mixed.fits:
        do = f"{do} If the code is {mixed.fits.system}, write case_system: {mixed.fits.system}."
    return Problem(
        path=path,
        related=(("outlines", outline_name, "body_mm"),) if path[-1] != "body_mm" else (),
        message=f"{named} is {body}, but {code} in {_system(meant)} is "
        f"{_size(meant.case.body_mm)}.",
        observed=f"{body}, which is {mixed.fits.code} in {_system(mixed.fits)}"
        if mixed.fits
        else body,
        consequence="If the body is wrong, the wrong size is searched, lifted and pressed.",
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
    """A polarised outline does not say where pin 1 is at 0, or what pin 1 is.

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
