"""Rules about what a camera can see of a part: field, pixels, and the height of its scale."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import reach
from jobcheck.facts.shifts import allowed_shift_mm, termination_mm
from jobcheck.facts.travel import is_inside
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Camera, Scale
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.optics import field_of_view, pixels_across, seen_extent, views_needed
from jobcheck.wording import count, listed, number

_MOST_SHOWN = 4
"""Places that a finding shows; the count tells of the rest."""


class _Look(NamedTuple):
    """A recognition with the camera that looks up, whose scale is known."""

    name: str
    recognition: Recognition
    camera: Camera
    scale: Scale
    outlines: dict[str, Outline]


def _looks(facts: Facts) -> Iterator[_Look]:
    """Yield the recognitions that are in use, by name, where their camera's scale is known."""
    for name in sorted(facts.shop.recognitions, key=natural):
        recognition = facts.shop.recognitions[name]
        camera = facts.shop.cameras.get(recognition.camera)
        if camera is None or camera.aim != "up" or camera.mm_per_pixel is None:
            continue
        used = sorted(facts.usage.outlines_of_recognition(name), key=natural)
        outlines = {key: facts.shop.outlines[key] for key in used if key in facts.shop.outlines}
        yield _Look(name, recognition, camera, camera.mm_per_pixel, outlines)


class _Seen(NamedTuple):
    """How much room one outline takes in the picture, mm, and how many pictures that needs."""

    outline: str
    attitude: float
    box: tuple[float, float]
    views: int
    least_views: int


def _field(camera: Camera, scale: Scale) -> tuple[float, float] | None:
    """Return the field along the machine's x and y, mm; None where it is not known."""
    if camera.resolution_px is None:
        return None
    columns, rows = camera.resolution_px
    field = field_of_view((columns, rows), (scale.x, scale.y))
    is_turned = camera.image is not None and camera.image.right[1] == "y"
    return field[::-1] if is_turned else field


def _attitudes(facts: Facts, outline: str) -> list[float]:
    """Return how the parts of an outline lie at pick, degrees, without half turns."""
    feeders = [
        facts.shop.feeders[feeder]
        for part in facts.usage.parts_of_outline(outline)
        for feeder in facts.usage.feeders_of_part(part)
    ]
    return sorted({feeder.pick.rotation % 180 for feeder in feeders if feeder.pick})


def _seen(look: Inspection, entry: _Look, outline: str, field: tuple[float, float]) -> _Seen | None:
    """Return the attitude of an outline that takes the most pictures; None where none is known."""
    body = entry.outlines[outline].body_mm
    size = body[0], body[1]
    worst: _Seen | None = None
    for attitude in _attitudes(look.facts, outline):
        box = seen_extent(size, attitude, look.limits.pocket_turn_deg)
        views = views_needed(box, field, look.limits.field_margin_mm)
        least = views_needed(seen_extent(size, attitude, 0.0), field)
        if worst is None or views > worst.views:
            worst = _Seen(outline, attitude, box, views, least)
    return worst


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="shop.limits: {field_margin_mm: 3.9}",
    passes="shop.limits: {field_margin_mm: 3.8}",
)
def part_exceeds_field(look: Inspection) -> Iterator[Problem]:
    """A part, as it lies in its pocket, needs more pictures than its recognition takes.

    The part may lie turned by `limits.pocket_turn_deg` and off its centre by
    `limits.field_margin_mm`. An error where it does not fit even when it lies as it should.

    On the machine: its ends lie outside the picture, so it is measured too short and its middle
    in the wrong place.

    To do: take as many views as it needs, or correct the size, the scale or the resolution.

    Source: field = resolution × scale, arithmetic; EIA-481-D Table 2 note 1 for the turn.
    """
    for entry in _looks(look.facts):
        field = _field(entry.camera, entry.scale)
        if field is None:
            continue
        found = [_seen(look, entry, outline, field) for outline in entry.outlines]
        large = [seen for seen in found if seen and seen.views > entry.recognition.views]
        if large:
            yield _too_large(look, entry, field, large)


def _too_large(
    look: Inspection, entry: _Look, field: tuple[float, float], large: list[_Seen]
) -> Problem:
    worst = max(large, key=lambda seen: seen.views)
    limits, views = look.limits, entry.recognition.views
    parts = [part for seen in large for part in look.facts.usage.parts_of_outline(seen.outline)]
    names = [seen.outline for seen in large]
    is_impossible = worst.least_views > views
    return Problem(
        path=("recognitions", entry.name, "views"),
        related=(
            *(("outlines", name, "body_mm") for name in names[:_MOST_SHOWN]),
            ("cameras", entry.recognition.camera, "mm_per_pixel"),
        ),
        message=f"{listed(names)} {'needs' if len(names) == 1 else 'need'} "
        f"{count(worst.views, 'picture')} of camera {entry.recognition.camera}, but recognition "
        f"{entry.name} takes {views}.",
        observed=f"{worst.outline} up to {_size(worst.box)} mm at {number(worst.attitude)} degrees "
        f"with {number(limits.pocket_turn_deg)} of play, {number(limits.field_margin_mm)} mm "
        f"around it; field {_size(field)} mm",
        consequence=f"{reach(look.facts, parts)} would be cut off at the edge of the picture"
        f"{'' if is_impossible else ' where they lie turned or off their centre'}.",
        remedy=(f"Take views {worst.views}, or correct body, scale or resolution.",),
        level=Level.ERROR if is_impossible else None,
    )


def _size(lengths: tuple[float, float]) -> str:
    return f"{number(round(lengths[0], 2))} × {number(round(lengths[1], 2))}"


class _Feature(NamedTuple):
    """Something that must be seen: its size in pixels, its name, and where its size is written."""

    pixels: float
    name: str
    path: Path


def _features(entry: _Look) -> Iterator[_Feature]:
    """Yield what a recognition must tell apart: bodies, narrowest terminals, its tolerance."""
    coarse = max(entry.scale.x, entry.scale.y)
    if entry.recognition.tolerance_mm is not None:
        path = ("recognitions", entry.name, "tolerance_mm")
        pixels = pixels_across(entry.recognition.tolerance_mm, coarse)
        yield _Feature(pixels, f"the tolerance of {entry.name}", path)
    for name, outline in entry.outlines.items():
        size, path = min(outline.body_mm), ("outlines", name, "body_mm")
        yield _Feature(pixels_across(size, coarse), f"the body of {name}", path)
        if outline.terminal_mm is not None:
            path = ("outlines", name, "terminal_mm")
            pixels = pixels_across(outline.terminal_mm, coarse)
            yield _Feature(pixels, f"a terminal of {name}", path)


@rule(
    Level.WARNING,
    fails="recognitions.diode.tolerance_mm: 0.05",
    passes="recognitions.diode.tolerance_mm: 0.055",
)
def feature_below_pixels(look: Inspection) -> Iterator[Problem]:
    """A body, a narrowest terminal or a tolerance covers fewer pixels than a feature needs.

    On the machine: the picture cannot show it: parts are found by chance, and good ones refused.

    To do: bring the camera nearer, take a higher resolution, or correct the size or the scale.

    Source: two to three pixels across the smallest feature, machine-vision handbooks;
    limits.least_pixels.
    """
    small: dict[str, list[_Feature]] = defaultdict(list)
    for entry in _looks(look.facts):
        for feature in _features(entry):
            if feature.pixels < look.limits.least_pixels - 1e-9:
                small[entry.recognition.camera].append(feature)
    for camera, features in small.items():
        scale = ("cameras", camera, "mm_per_pixel")
        paths = [scale, *(feature.path for feature in features)]
        worst = min(features, key=lambda feature: feature.pixels)
        path, *others = paths if len(features) > 1 else paths[::-1]
        more = f" and {len(features) - 1} more" if len(features) > 1 else ""
        shown = [f"{entry.name} {number(round(entry.pixels, 2))} px" for entry in features]
        yield Problem(
            path=path,
            related=tuple(others[:_MOST_SHOWN]),
            message=f"{worst.name}{more} covers {number(round(worst.pixels, 2))} px of camera "
            f"{camera}; a feature needs {number(look.limits.least_pixels)}."
            if not more
            else f"{worst.name}{more} cover fewer than {number(look.limits.least_pixels)} px of "
            f"camera {camera}, which a feature needs.",
            observed=f"{listed(shown, _MOST_SHOWN)}",
            consequence="The picture cannot show it: parts would be found by chance, and good ones refused.",
            remedy=("Bring the camera nearer or take a higher resolution, or correct the size.",),
            suppresses=_told(paths),
        )


def _told(paths: list[Path]) -> tuple[tuple[str, Path], ...]:
    """Return what follows from features that are too small: of the camera, and of a terminal."""
    told: list[tuple[str, Path]] = [("pixel-coarse-for-shift", path) for path in paths]
    if any(path[-1] == "terminal_mm" for path in paths):
        told += [("tip-eccentricity-exceeds-shift", ()), ("fiducial-error-too-large", ())]
    return tuple(told)


@rule(
    Level.WARNING,
    fails="outlines.soic-8.terminal_mm: 0.14\nspindles.a.tip_eccentricity_mm: 0.01",
    passes="outlines.soic-8.terminal_mm: 0.15\nspindles.a.tip_eccentricity_mm: 0.01",
)
def pixel_coarse_for_shift(look: Inspection) -> Iterator[Problem]:
    """One pixel is too large a share of the shift that a part's narrowest terminal allows.

    The land is taken to be as wide as the terminal; the terminal of a chip is as wide as the chip.

    On the machine: an error of one pixel in the picture uses up what the solder joint allows.

    To do: bring the camera nearer, take a higher resolution, or correct the terminal or the scale.

    Source: side overhang, IPC-A-610F 8.3.2.1, by limits.ipc_class; a measure four times finer
    than what it judges, ANSI/NCSL Z540-1 (from memory), limits.pixel_percent_of_shift.
    """
    coarse: dict[str, dict[str, float]] = defaultdict(dict)
    for entry in _looks(look.facts):
        pixel = max(entry.scale.x, entry.scale.y)
        for name, outline in entry.outlines.items():
            allowed = allowed_shift_mm(outline, look.limits)
            share = 100 * pixel / allowed if allowed else 0.0
            if share > look.limits.pixel_percent_of_shift + 1e-9:
                coarse[entry.recognition.camera][name] = share
    for camera, outlines in coarse.items():
        yield _coarse(look, camera, outlines)


def _coarse(look: Inspection, camera: str, shares: dict[str, float]) -> Problem:
    worst = max(shares, key=lambda name: shares[name])
    outline = look.shop.outlines[worst]
    scale = look.shop.cameras[camera].mm_per_pixel
    assert scale is not None
    paths: list[Path] = [("cameras", camera, "mm_per_pixel")]
    for name in shares:
        field = "terminal_mm" if look.shop.outlines[name].terminal_mm else "body_mm"
        paths.append(("outlines", name, field))
    path, *others = paths if len(shares) > 1 else paths[::-1]
    allowed = allowed_shift_mm(outline, look.limits) or 0.0
    more = f" and of {len(shares) - 1} more" if len(shares) > 1 else ""
    return Problem(
        path=path,
        related=tuple(others[:_MOST_SHOWN]),
        message=f"one pixel of camera {camera} is {shares[worst]:.0f} % of the shift that "
        f"{worst}{more} allows; up to {number(look.limits.pixel_percent_of_shift)} % is fine "
        "enough.",
        observed=f"pixel {number(max(scale.x, scale.y))} mm; terminal "
        f"{number(termination_mm(outline) or 0)} mm allows {number(round(allowed, 4))} mm in "
        f"class {look.limits.ipc_class}, its land taken as wide",
        consequence="An error of one pixel would use up what the joint allows.",
        remedy=(
            "Bring the camera nearer or take a higher resolution, or correct terminal or scale.",
        ),
    )


@rule(
    Level.WARNING,
    fails="cameras.head.mm_per_pixel.at_z: -18.9",
    passes="cameras.head.mm_per_pixel.at_z: -19",
)
def scale_at_other_height(look: Inspection) -> Iterator[Problem]:
    """A camera's scale was measured at another height than that of what it looks at.

    A camera that looks up sees carried parts in its focal plane, one that looks down sees the
    surface of the board.

    On the machine: what is nearer looks larger, so each correction is too large or too small.

    To do: measure the scale at that height, or correct the height that is wrong.

    Source: size in the picture goes with 1 / (distance - focal length), thin-lens equation;
    limits.scale_height_mm (common practice, no published source).
    """
    machine = look.shop.machine
    if machine is None:
        return
    for name in sorted(machine.cameras, key=natural):
        camera = machine.cameras[name]
        scale = camera.mm_per_pixel
        if scale is None or scale.at_z is None or not is_inside(machine.travel.z, scale.at_z):
            continue
        used = [
            (path, what, z)
            for path, what, z in _looked_at(look.shop, name, camera)
            if is_inside(machine.travel.z, z)
            and abs(z - scale.at_z) > look.limits.scale_height_mm + 1e-9
        ]
        if used:
            yield _other_height(look, name, scale.at_z, used)


def _looked_at(shop: Shop, name: str, camera: Camera) -> Iterator[tuple[Path, str, float]]:
    """Yield (path, words, z in mm) of what a camera looks at."""
    if camera.aim == "up" and camera.position:
        yield ("cameras", name, "position", "z"), "its focal plane", camera.position.z
    if camera.aim == "down":
        for job in sorted(shop.jobs, key=natural):
            yield ("jobs", job, "seat", "z"), f"the board of {job}", shop.jobs[job].seat.z


def _other_height(
    look: Inspection, name: str, at_z: float, used: list[tuple[Path, str, float]]
) -> Problem:
    path: Path = ("cameras", name, "mm_per_pixel", "at_z")
    _, what, z = used[0]
    more = f" ({len(used) - 1} more like it)" if len(used) > 1 else ""
    places: list[Path] = [path, *(entry[0] for entry in used[:_MOST_SHOWN])]
    first = next((place for place in places if _differs(look, place)), path)
    return Problem(
        path=first,
        related=tuple(place for place in places if place != first),
        message=f"the scale of camera {name} was measured {number(round(abs(z - at_z), 3))} mm "
        f"{'below' if z > at_z else 'above'} {what}{more}.",
        observed=f"at_z {number(at_z)}, {what} {number(z)}",
        consequence="What lies nearer looks larger: each correction would be too large or too small.",
        remedy=("Measure the scale at that height, or correct the height that is wrong.",),
    )


def _differs(look: Inspection, path: Path) -> bool:
    """Tell whether the last known-good shop has another value at a path."""
    good = look.good
    return good is not None and good.plain_at(path) not in (None, look.shop.plain_at(path))
