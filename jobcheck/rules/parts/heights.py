"""Rules about heights, masses and how deep parts are pressed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.derived import STARTER
from jobcheck.facts.reach import in_a_run, needed_by
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.rules.parts.outlines import codes_of, readings_of, size
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.trade.cases import Heights, family_in, has_body, plausible_heights
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
    not checked. A height that is marked in `derived` is used, and named as not measured.

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
        yield lacking(f"heights of {count(len(unchecked), 'outline')}", "height_mm", unchecked)
    if derived := _derived_heights(look):
        names = listed([name for _, name, _ in derived])
        concerns = f"measured heights of {count(len(derived), 'outline')}"
        cause = f"height_mm is used, but derived and not measured, on {names}"
        yield Unchecked(concerns, cause, "height_mm", tuple(derived), len(derived))
    for path, height, _ in _stated_heights(look.shop):
        if height == 0:
            yield _no_height(look, path, [], look.good.plain_at(path) if look.good else None, None)


def _derived_heights(look: Inspection) -> list[tuple[str, str, str]]:
    """Return the heights of placed outlines that nobody has measured."""
    placed = look.facts.usage.placed_parts() & set(look.shop.parts)
    used = {part.outline for name in placed if (part := look.shop.parts[name]).height_mm is None}
    return [
        ("outlines", name, "height_mm")
        for name in sorted(used & set(look.shop.outlines), key=natural)
        if look.shop.outlines[name].derived.get("height_mm", STARTER) != STARTER
    ]


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
    """Return the path of the recorded height, else the path for it in the outline."""
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
def height_or_mass_implausible(look: Inspection) -> Iterator[Problem]:
    """A height does not fit the case that the outline names, or a mass does not fit the volume.

    Heights are compared for package families by name, and for chips whose code and body agree. The
    published limits are widened by `limits.height_slack_percent`. The name is only a hint. The
    volume is body times height; 0.2 to 12 mg/mm3 is accepted.

    On the machine: a height that is too low presses the part into the board. A height that is too
    high releases it above the paste, where it turns or falls. With a wrong mass, a part that is too
    heavy is not found.

    To do: measure the part and correct the height; weigh ten parts together and correct the mass.

    Source: datasheets and JEDEC outlines, each named beside its numbers in trade/cases.py. Lead
    has 11.3 mg/mm3, hollow plastic parts 0.2; common practice, no published source.
    """
    yield from _height_implausible(look)
    yield from _mass_implausible(look)


def _height_implausible(look: Inspection) -> Iterator[Problem]:
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
    family = family_in(case)
    if family and not (family == "sma" and outline.terminals != 2):  # a connector, no diode
        return plausible_heights(case)
    for reading in readings_of(outline, codes_of(name, outline)):
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
        suppresses=(
            ("height-contradicts-pocket", path),
            ("height-or-mass-implausible", ("outlines", name, "mass_mg")),
        ),
    )


_DENSITY = (0.2, 12.0)
"""Least and greatest mass for the volume of body times height, mg/mm3: hollow plastic parts to
lead. Source: common practice, no published source."""


def _mass_implausible(look: Inspection) -> Iterator[Problem]:
    for path, mass, part_height, outline in _stated_masses(look.shop):
        body = outline.body_mm[0], outline.body_mm[1]
        volume = body[0] * body[1] * (part_height or 0.0)
        if volume and not _is_dense(mass / volume):
            fits = [mass * f for f in (0.001, 1000.0) if _is_dense(mass * f / volume)]
            yield Problem(
                path=path,
                message=f"{path[0][:-1]} {path[1]} has a mass of {number(mass)} mg in "
                f"{number(round(volume, 2))} mm³, {number(round(mass / volume, 3))} mg/mm³.",
                observed=f"{number(mass)} mg; body {size(body)}, height "
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
    surface. Else `limits.press_mm` is allowed, and twice the paste if a run states it.

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
        if not outline.press_mm:
            continue
        known = heights.get(name)
        at, height = known or (None, None)
        is_through = height is not None and outline.press_mm >= height
        most = min([look.limits.press_mm, *_twice_paste(look, name)])
        if not is_through and outline.press_mm <= most + 1e-9:
            continue
        below = number(round(outline.press_mm - (height or 0.0), 4))
        yield Problem(
            path=("outlines", name, "press_mm"),
            related=(at,) if at and is_through else (),
            message=f"press_mm {number(outline.press_mm)} of {name} is as large as its height, "
            f"{number(height or 0.0)} mm."
            if is_through
            else f"press_mm {number(outline.press_mm)} of {name} is more than the "
            f"{number(most)} mm that paste and tip allow.",
            observed=f"press_mm {number(outline.press_mm)}"
            + (f"; height {number(height)} mm" if height else ""),
            consequence=f"The tip would go {below} mm below the board's surface."
            if is_through
            else "If the tip is not sprung, it may squeeze out the paste or break the part.",
            remedy=("Correct press_mm: the thickness of the paste, or a little more.",),
            level=Level.ERROR if is_through else None,
        )


def _twice_paste(look: Inspection, outline: str) -> Iterator[float]:
    """Yield twice the thickness of the paste in mm, of each run that places an outline."""
    placed = look.facts.usage.placements_of_parts(look.facts.usage.parts_of_outline(outline))
    for job in placed:
        run = look.shop.jobs[job].run
        if run and run.paste_um:
            yield run.paste_um / 500
