"""Rules about recognitions: tuned under what, for which size, through which camera and light."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import parts_reached, reach
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Camera
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.shop.paths import Path
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
    """Tell whether a camera has the channel; also where no camera's light is known."""
    known = _channels(shop)
    return recognition.light_channel is None or not known or recognition.light_channel in known


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="recognitions.chip-small.expect_mm: [0.8, 1.6]",
    passes="recognitions.chip-small.expect_mm: [1.8, 1.0]",
)
def recognition_size_contradicts_outline(look: Inspection) -> Iterator[Problem]:
    """The size that a recognition expects is not that of an outline it is used for.

    On the machine: good parts are refused, or a wrong part of the expected size is placed. Sizes
    that fit only when exchanged would turn each part by a quarter turn: an error.

    To do: measure one part, and correct the recognition or the outline; give leads that stand
    out their room in tolerance_mm.

    Source: both state one part's size at 0; the recognition's own tolerance_mm is the limit.
    """
    for name, recognition in sorted(look.shop.recognitions.items()):
        if recognition.expect_mm is None or recognition.tolerance_mm is None:
            continue
        outlines = {
            key: look.shop.outlines[key]
            for key in sorted(look.facts.usage.outlines_of_recognition(name))
        }
        differing = {
            key: outline
            for key, outline in outlines.items()
            if not _fits(recognition.expect_mm, outline.body_mm, recognition.tolerance_mm)
        }
        if differing:
            yield _other_size(look.facts, name, recognition, differing)


def _fits(expected: list[float], body: list[float], tolerance: float) -> bool:
    return all(abs(a - b) <= tolerance + 1e-9 for a, b in zip(expected, body, strict=True))


def _other_size(
    facts: Facts, name: str, recognition: Recognition, outlines: dict[str, Outline]
) -> Problem:
    expected, tolerance = recognition.expect_mm or [], recognition.tolerance_mm or 0
    turned = all(_fits(expected[::-1], entry.body_mm, tolerance) for entry in outlines.values())
    sizes = [f"{key} {_size(entry.body_mm)}" for key, entry in outlines.items()]
    reached = reach(facts, sorted({p for o in outlines for p in facts.usage.parts_of_outline(o)}))
    return Problem(
        path=("recognitions", name, "expect_mm"),
        related=tuple(("outlines", key, "body_mm") for key in outlines),
        message=f"recognition {name} expects {_size(expected)} mm ± {number(tolerance)}, but "
        f"{listed(sizes)} mm {'use' if len(outlines) > 1 else 'uses'} it.",
        observed=f"expect_mm {_size(expected)} ± {number(tolerance)}, body_mm of {listed(sizes)}",
        consequence=f"{reached}: each would be taken for a part turned by a quarter turn, or refused."
        if turned
        else f"{reached}: good ones would be refused, or others of the expected size placed.",
        remedy=(
            "Exchange the two lengths of expect_mm, or draw the outline at 0 as it is tuned."
            if turned
            else f"Measure one part, then correct expect_mm or tolerance_mm of {name}, or the outline.",
        ),
        suppresses=(("part-exceeds-field", ("recognitions", name)),),
        level=Level.ERROR if turned else None,
    )


def _size(lengths: list[float]) -> str:
    return f"{number(lengths[0])} × {number(lengths[1])}"


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
    fails="recognitions.diode.threshold_grey: 256",
    passes="recognitions.diode.threshold_grey: 255",
)
def recognition_threshold_out_of_range(look: Inspection) -> Iterator[Problem]:
    """A threshold lies outside the grey levels that the camera's pixel format has.

    On the machine: every pixel falls on the same side of it, so no part is ever found.

    To do: correct the threshold, or the camera's pixel format if that was changed.

    Source: Linux kernel, Video for Linux API, image formats: 8 bits are 0 to 255, Y10 to 1023,
    Y12 to 4095, Y16 to 65535. Where the format is not known, the widest is taken.
    """
    outside: ByCamera = defaultdict(list)
    for name, recognition, camera in _seen(look.shop):
        threshold = recognition.threshold_grey
        if threshold is not None and not 0 <= threshold <= _greatest(camera):
            outside[recognition.camera].append(name)
    for camera_name, names in outside.items():
        camera = look.shop.cameras[camera_name]
        has = f"0 to {_greatest(camera)}" + (
            f" in {camera.pixel_format}" if camera.pixel_format else ""
        )
        levels = [f"{n} {number(look.shop.recognitions[n].threshold_grey or 0)}" for n in names]
        yield Problem(
            path=_at(names, "threshold_grey")[0],
            related=(*_at(names[1:], "threshold_grey"), ("cameras", camera_name, "pixel_format")),
            message=f"camera {camera_name} has grey levels {has}, but thresholds lie outside: "
            f"{listed(levels)}.",
            observed=f"threshold_grey {listed(levels)}",
            consequence=f"{reach(look.facts, parts_reached(look.facts, names))} would never be found.",
            remedy=(
                f"Correct threshold_grey, or pixel_format of camera {camera_name} if that changed.",
            ),
        )


@rule(
    Level.ERROR,
    fails="recognitions.diode.light_channel: ring-upp",
    passes="recognitions.diode.light_channel: ring-up",
)
def recognition_light_missing(look: Inspection) -> Iterator[Problem]:
    """A recognition uses a lighting channel that no camera has.

    On the machine: no lamp is switched on for it, and the part is looked for in the dark.

    To do: correct the name of the channel, or describe the light of the camera.

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
            message=f"{count(len(names), 'recognition')} {'uses' if len(names) == 1 else 'use'} light "
            f"{channel}, but no camera has that channel: {listed(names)}.",
            observed=f"channels {listed(_channels(look.shop))}",
            consequence=f"{reach(look.facts, parts_reached(look.facts, names))} would be looked for without "
            "their light.",
            remedy=(_near_channel(channel, _channels(look.shop)),),
        )


def _near_channel(channel: str, known: list[str]) -> str:
    meant = near(channel, known)
    return f"Did you mean {meant}?" if meant else f"Name one of: {listed(known)}."


@rule(
    Level.ERROR,
    fails="recognitions.diode.camera: head",
    passes="""
        cameras.up-2: {aim: up, position: {x: 210.4, y: 40.2, z: -20.1}}
        cameras.up-2.image: {right: +x, up: -y}
        cameras.up-2.device: {usb_id: "fff0:0002", serial: "0003", host: usb1, port: "1-1.3"}
        cameras.up-2.resolution_px: [1280, 720]
        cameras.up-2.pixel_format: YUYV
        cameras.up-2.mm_per_pixel: {x: 0.0182, y: 0.0182, at_z: -20.1}
        cameras.up-2.light: {channel: ring-up, percent: 55}
        cameras.up-2.controls: {auto_exposure: 1, exposure_time_absolute: 100}
        cameras.up-2.controls.exposure_dynamic_framerate: 0
        cameras.up-2.controls.gain: 4
        cameras.up-2.controls.white_balance_automatic: 0
        cameras.up-2.controls.white_balance_temperature: 4600
        recognitions.diode.camera: up-2
    """,
)
def recognition_from_above(look: Inspection) -> Iterator[Problem]:
    """A carried part is to be measured by a camera that aims down.

    On the machine: the part hangs on the nozzle, and a camera that looks down at the bed never
    has it in its picture.

    To do: name a camera that aims up, or correct where the camera aims.

    Source: a carried part is seen from below, by a camera that looks up.
    """
    above: ByCamera = defaultdict(list)
    for name, recognition, camera in _seen(look.shop):
        if camera.aim == "down" and look.facts.usage.outlines_of_recognition(name):
            above[recognition.camera].append(name)
    upward = sorted(name for name, camera in look.shop.cameras.items() if camera.aim == "up")
    for camera_name, names in above.items():
        yield Problem(
            path=_at(names, "camera")[0],
            related=(*_at(names[1:], "camera"), ("cameras", camera_name, "aim")),
            message=f"camera {camera_name} aims down, but is to measure carried parts for "
            f"{count(len(names), 'recognition')}: {listed(names)}.",
            observed=f"camera {camera_name}, aim down",
            consequence=f"{reach(look.facts, parts_reached(look.facts, names))} would never come into its "
            "picture.",
            remedy=(
                f"Name a camera that aims up: {listed(upward)}."
                if upward
                else f"Describe a camera that aims up, or correct the aim of {camera_name}.",
            ),
        )
