"""Rules about recognitions: expected size, threshold, light and camera."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import needed_parts, parts_reached, reach
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, at_level, rule
from jobcheck.schema.machine import Camera
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.shop.paths import Path, show
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed, near, number

ByCamera = dict[str, list[str]]
"""Camera -> recognitions, both by name."""


def _at(names: list[str], key: str) -> tuple[Path, ...]:
    return tuple(("recognitions", name, key) for name in names)


def _seen(shop: Shop) -> Iterator[tuple[str, Recognition, Camera]]:
    """Yield recognitions with their camera, by name; one whose camera is not known is left out."""
    for name, recognition in sorted(shop.recognitions.items()):
        camera = shop.cameras.get(recognition.camera)
        if camera is not None:
            yield name, recognition, camera


def _channels(shop: Shop) -> list[str]:
    return sorted({camera.light.channel for camera in shop.cameras.values() if camera.light})


def _has_channel(shop: Shop, recognition: Recognition) -> bool:
    """Return whether a camera has the channel; true if no camera's light is known."""
    known = _channels(shop)
    return recognition.light_channel is None or not known or recognition.light_channel in known


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="recognitions.chip-small.expect_mm: [0.8, 1.6]",
    passes="recognitions.chip-small.expect_mm: [1.7, 0.9]",
)
def recognition_size_contradicts_outline(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The size that a recognition expects is not that of an outline that it is used for.

    An error if the sizes fit only when exchanged and over_terminals_mm is known. If it is unknown,
    the picture may be larger than the body by the leads, up to twice as large.

    On the machine: good parts are refused, or wrong parts of the expected size are placed.

    To do: measure one part, and correct the recognition or the outline; write over_terminals_mm.

    Source: both state the size of one part at 0; the recognition's own tolerance_mm is the limit.
    Leads: common practice, no published source.
    """
    bare: list[str] = []
    leaded: list[str] = []
    for name, recognition in sorted(look.shop.recognitions.items()):
        outlines = _outlines(look, name)
        if recognition.expect_mm is None or recognition.tolerance_mm is None:
            bare += [name] if outlines else []
            continue
        expected, tolerance = recognition.expect_mm, recognition.tolerance_mm
        off = {
            key: outline
            for key, outline in outlines.items()
            if not _fits(expected, outline.size_mm, tolerance)
        }
        with_leads = [key for key, entry in off.items() if _has_leads(entry, expected, tolerance)]
        leaded += with_leads
        wrong = {key: outline for key, outline in off.items() if key not in with_leads}
        if wrong:
            yield _other_size(look.facts, name, recognition, wrong)
    if bare:
        what = f"expected size of {count(len(bare), 'recognition')}"
        cause = f"no expect_mm with tolerance_mm on {listed(bare)}"
        yield Unchecked(what, cause, "expect_mm", _at(bare, "expect_mm"), len(bare))
    if leaded:
        what = f"expected size of {count(len(leaded), 'outline')}"
        cause = f"no over_terminals_mm on {listed(leaded)}"
        paths = tuple(("outlines", key, "over_terminals_mm") for key in leaded)
        yield Unchecked(what, cause, "over_terminals_mm", paths, len(leaded))


def _outlines(look: Inspection, name: str) -> dict[str, Outline]:
    """Return the outlines that a recognition is used for, by name."""
    found = look.facts.usage.outlines_of_recognition(name)
    return {key: look.shop.outlines[key] for key in sorted(found) if key in look.shop.outlines}


def _fits(expected: Sequence[float], size: Sequence[float], tolerance: float) -> bool:
    return all(abs(a - b) <= tolerance + 1e-9 for a, b in zip(expected, size, strict=True))


def _has_leads(outline: Outline, expected: list[float], tolerance: float) -> bool:
    """Return whether an expected size may be that of a body with leads of unknown length."""
    if outline.over_terminals_mm:
        return False
    sides = list(zip(expected, outline.body_mm, strict=True))
    return all(side - tolerance <= seen <= 2 * side + tolerance for seen, side in sides)


def _other_size(
    facts: Facts, name: str, recognition: Recognition, outlines: dict[str, Outline]
) -> Problem:
    expected, tolerance = recognition.expect_mm or [], recognition.tolerance_mm or 0
    is_turned = all(_fits(expected[::-1], entry.size_mm, tolerance) for entry in outlines.values())
    is_certain = is_turned and all(entry.over_terminals_mm for entry in outlines.values())
    sizes = [f"{key} {_size(entry.size_mm)}" for key, entry in outlines.items()]
    reached = reach(facts, sorted({p for o in outlines for p in facts.usage.parts_of_outline(o)}))
    first = next(iter(outlines.values()))
    return Problem(
        path=("recognitions", name, "expect_mm"),
        related=tuple(("outlines", key, entry.size_field) for key, entry in outlines.items()),
        message=f"recognition {name} expects {_size(expected)} mm ± {number(tolerance)}, but is "
        f"used for {listed(sizes)} mm.",
        observed=f"expect_mm {_size(expected)} ± {number(tolerance)}; {first.size_field} of "
        f"{listed(sizes)}",
        consequence=f"{reached}: good parts may be refused, or found a quarter turn off."
        if is_turned
        else f"{reached}: good parts may be refused, or others of the expected size placed.",
        remedy=(
            "Exchange the two lengths of expect_mm, or draw the outline at 0 as it is tuned."
            if is_turned
            else f"Measure one part, then correct expect_mm or tolerance_mm of {name}, or the "
            "outline.",
        ),
        suppresses=(
            ("part-exceeds-field", ("recognitions", name)),
            ("recognition-too-tolerant", ("recognitions", name)),
        ),
        level=Level.ERROR if is_certain else None,
    )


def _size(lengths: Sequence[float]) -> str:
    return f"{number(lengths[0])} × {number(lengths[1])}"


_ALIKE_MM = 0.25
"""Outlines whose sizes differ by no more are alike: no recognition distinguishes them.

Source: common practice, no published source; bodies of chips vary by 0.1 to 0.2 mm.
"""


@rule(
    Level.WARNING,
    fails="recognitions.chip-large.tolerance_mm: 0.45",
    passes="recognitions.chip-large.tolerance_mm: 0.4",
)
def recognition_too_tolerant(look: Inspection) -> Iterator[Problem]:
    """A recognition accepts another outline in use, or its own a quarter turn off.

    Outlines whose sizes differ by no more than 0.25 mm are not compared.

    On the machine: a wrong part in the feeder, or a turned part, is accepted and placed.

    To do: lower tolerance_mm, or correct the sizes.

    Source: an outline is accepted if both lengths are within the tolerance, arithmetic; 0.25 mm is
    common practice, no published source.
    """
    used = {look.shop.parts[part].outline for part in needed_parts(look.facts)}
    others = {key: look.shop.outlines[key] for key in sorted(used & set(look.shop.outlines))}
    for name, recognition in sorted(look.shop.recognitions.items()):
        expected, tolerance = recognition.expect_mm, recognition.tolerance_mm
        own = _outlines(look, name)
        if expected is None or tolerance is None or not own:
            continue
        accepted = {
            key: outline.size_mm
            for key, outline in others.items()
            if _fits(expected, outline.size_mm, tolerance) and not _is_alike(outline.size_mm, own)
        }
        turned = {
            f"{key} a quarter turn off": outline.size_mm[::-1]
            for key, outline in own.items()
            if _fits(expected, outline.size_mm[::-1], tolerance)
            and not _is_alike(outline.size_mm[::-1], own)
        }
        if accepted or turned:
            yield _tolerant(name, recognition, accepted, turned)


def _is_alike(size: Sequence[float], outlines: dict[str, Outline]) -> bool:
    return any(_fits(size, outline.size_mm, _ALIKE_MM) for outline in outlines.values())


def _tolerant(
    name: str,
    recognition: Recognition,
    accepted: dict[str, tuple[float, float]],
    turned: dict[str, tuple[float, float]],
) -> Problem:
    expected = recognition.expect_mm or []
    both = accepted | turned
    sizes = [f"{key} {_size(size)}" for key, size in both.items()]
    # the tolerance that refuses all of them: less than the nearest differs from what is expected
    least = min(
        max(abs(a - b) for a, b in zip(expected, size, strict=True)) for size in both.values()
    )
    return Problem(
        path=("recognitions", name, "tolerance_mm"),
        related=(
            ("recognitions", name, "expect_mm"),
            *(("outlines", key, "body_mm") for key in list(accepted)[:4]),
        ),
        message=f"recognition {name} also accepts {listed(list(both))}: tolerance_mm is "
        f"{number(recognition.tolerance_mm or 0)}.",
        observed=f"expect_mm {_size(expected)} ± {number(recognition.tolerance_mm or 0)}; "
        f"{listed(sizes)} mm",
        consequence="If such a part is on the nozzle, it is accepted and placed.",
        remedy=(f"Set tolerance_mm below {number(round(least, 3))}, or correct the sizes.",),
    )


_EIGHT_BIT = (
    *("GREY", "YUYV", "UYVY", "YVYU", "VYUY", "NV12", "NV21", "YU12", "YV12", "MJPG", "JPEG"),
    *("RGB3", "BGR3", "BA81", "GBRG", "GRBG", "RGGB"),
)
GREATEST_GREY = {
    **dict.fromkeys(_EIGHT_BIT, 255),
    **{"Y10": 1023, "Y12": 4095, "Y14": 16383, "Y16": 65535},
}
"""Greatest grey level by V4L2 four-character code without blanks.

Source: Linux kernel, Video for Linux API, image formats Y10, Y12, Y14 and Y16; those of 8 bits
from memory.
"""
_UNKNOWN_FORMAT = max(GREATEST_GREY.values())


def _greatest(camera: Camera) -> int:
    return GREATEST_GREY.get((camera.pixel_format or "").strip(), _UNKNOWN_FORMAT)


@rule(
    Level.ERROR,
    Level.WARNING,
    Level.NOTE,
    fails="recognitions.diode.threshold_grey: 256",
    passes="recognitions.diode.threshold_grey: 254",
)
def light_or_threshold_at_limit(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A threshold is at or beyond the camera's grey levels, or a light is at 0 % or 100 %.

    A threshold outside the grey levels is an error, the first or last level a warning. A light that
    is used at 0 % is a warning, at 100 % a note.

    On the machine: all pixels, or nearly all, are on one side of the threshold, so no part is
    found. At 0 % only room light is left; at 100 % there is no reserve when the lamp ages.

    To do: correct the threshold or the pixel format; set the brightness that it was tuned with.

    Source: Linux kernel, Video for Linux API, image formats: 8 bits are 0 to 255, Y10 to 1023,
    Y12 to 4095, Y16 to 65535. If the format is unknown, the widest is taken. Light: common
    practice, no published source.
    """
    yield from _recognition_threshold_out_of_range(look)
    yield from at_level(Level.WARNING, _light_at_limit(look))


def _recognition_threshold_out_of_range(look: Inspection) -> Iterator[Problem | Unchecked]:
    outside: ByCamera = defaultdict(list)
    at_end: ByCamera = defaultdict(list)
    missing: ByCamera = defaultdict(list)
    with_threshold = set()
    for name, recognition, camera in _seen(look.shop):
        threshold, greatest = recognition.threshold_grey, _greatest(camera)
        if threshold is None:
            missing[recognition.camera] += [name] if _outlines(look, name) else []
            continue
        with_threshold.add(recognition.camera)
        if not 0 <= threshold <= greatest:
            outside[recognition.camera].append(name)
        elif threshold in (0, greatest):
            at_end[recognition.camera].append(name)
    yield from (_beyond(look, camera, names, True) for camera, names in outside.items())
    yield from (_beyond(look, camera, names, False) for camera, names in at_end.items())
    # where some recognitions of a camera have a threshold, the others need one too
    bare = [name for camera in sorted(with_threshold) for name in missing.get(camera, [])]
    if bare:
        what = f"threshold of {count(len(bare), 'recognition')}"
        cause = f"no threshold_grey on {listed(bare)}"
        yield Unchecked(what, cause, "threshold_grey", _at(bare, "threshold_grey"), len(bare))


def _beyond(look: Inspection, camera_name: str, names: list[str], is_outside: bool) -> Problem:
    camera = look.shop.cameras[camera_name]
    pixel_format = f" in {camera.pixel_format}" if camera.pixel_format else ""
    levels = [f"{number(look.shop.recognitions[n].threshold_grey or 0)} of {n}" for n in names]
    verb = "are outside" if is_outside else "are the first or last of"
    if len(names) == 1:
        verb = "is outside" if is_outside else "is the first or last of"
    reached = reach(look.facts, parts_reached(look.facts, names))
    return Problem(
        path=_at(names, "threshold_grey")[0],
        related=(*_at(names[1:], "threshold_grey"), ("cameras", camera_name, "pixel_format")),
        message=f"threshold_grey {listed(levels)} {verb} the grey levels of camera {camera_name}, "
        f"0 to {_greatest(camera)}{pixel_format}.",
        observed=f"threshold_grey {listed(levels)}",
        consequence=f"{reached} {'are' if is_outside else 'may be'} never found.",
        remedy=(
            f"Correct threshold_grey, or pixel_format of camera {camera_name} if that changed.",
        ),
        level=None if is_outside else Level.WARNING,
    )


def _light_at_limit(look: Inspection) -> Iterator[Problem]:
    lights: list[tuple[Path, float]] = [
        (("cameras", name, "light", "percent"), camera.light.percent)
        for name, camera in sorted(look.shop.cameras.items())
        if camera.light
    ]
    lights += [
        (("recognitions", name, "light_percent"), recognition.light_percent)
        for name, recognition in sorted(look.shop.recognitions.items())
        if recognition.light_percent is not None and _outlines(look, name)
    ]
    for percent in (0.0, 100.0):
        paths = [path for path, value in lights if value == percent]
        if paths:
            yield _light(paths, percent)


def _light(paths: list[Path], percent: float) -> Problem:
    names = [show(path[:2]) for path in paths]
    is_dark = percent == 0.0
    return Problem(
        path=paths[0],
        related=tuple(paths[1:]),
        message=f"the light of {listed(names)} is at {number(percent)} %.",
        observed=f"{paths[0][-1]} {number(percent)}",
        consequence="If no other light falls on the part, the picture is dark."
        if is_dark
        else "There is no reserve when the lamp ages.",
        remedy=("Set the brightness that it was tuned with.",)
        if is_dark
        else ("Lower the light and expose longer, then tune again.",),
        level=None if is_dark else Level.NOTE,
    )


@rule(
    Level.WARNING,
    fails="recognitions.diode.light_channel: ring-upp",
    passes="recognitions.diode.light_channel: ring-up",
)
def recognition_light_missing(look: Inspection) -> Iterator[Problem]:
    """A recognition uses a lighting channel that no camera has.

    The machine may have a channel that belongs to no camera.

    On the machine: if the channel does not exist, no lamp is switched on for the picture.

    To do: correct the name of the channel, or describe it as the light of a camera.

    Source: common practice, no published source.
    """
    missing: dict[str, list[str]] = defaultdict(list)
    if not look.shop.understood(("cameras",)):
        return
    for name, recognition in sorted(look.shop.recognitions.items()):
        if recognition.light_channel is not None and not _has_channel(look.shop, recognition):
            missing[recognition.light_channel].append(name)
    for channel, names in missing.items():
        yield Problem(
            path=_at(names, "light_channel")[0],
            related=_at(names[1:], "light_channel"),
            message=f"light channel {channel} of {listed(names)} is not that of any camera.",
            observed=f"channels {listed(_channels(look.shop))}",
            consequence="If there is no such channel, these may be seen without their light: "
            f"{reach(look.facts, parts_reached(look.facts, names))}.",
            remedy=(_near_channel(channel, _channels(look.shop)),),
        )


def _near_channel(channel: str, known: list[str]) -> str:
    meant = near(channel, known)
    return f"Did you mean {meant}?" if meant else f"Name one of: {listed(known)}."


def recognition_from_above(look: Inspection) -> Iterator[Problem]:
    """A recognition measures carried parts with a camera that aims down."""
    above: ByCamera = defaultdict(list)
    for name, recognition, camera in _seen(look.shop):
        if camera.aim == "down" and look.facts.usage.outlines_of_recognition(name):
            above[recognition.camera].append(name)
    upward = sorted(name for name, camera in look.shop.cameras.items() if camera.aim == "up")
    for camera_name, names in above.items():
        yield Problem(
            path=_at(names, "camera")[0],
            related=(*_at(names[1:], "camera"), ("cameras", camera_name, "aim")),
            message=f"camera {camera_name} aims down, but measures carried parts for "
            f"{count(len(names), 'recognition')}: {listed(names)}.",
            observed=f"camera {camera_name}, aim down",
            consequence="Its picture never shows them: "
            f"{reach(look.facts, parts_reached(look.facts, names))}.",
            remedy=(
                f"Name a camera that aims up: {listed(upward)}."
                if upward
                else f"Describe a camera that aims up, or correct the aim of {camera_name}.",
            ),
        )
