"""Rules about what a picture is: its directions, the lamps of the room, and motion."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.controls import EXPOSURE_TIMES, is_automatic_on, overridden, show_control
from jobcheck.schema.machine import Camera, ImageDirections
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.optics import (
    bands_under_mains,
    blur_px,
    exposure_us,
    flicker_us,
    is_mirrored,
)
from jobcheck.trade.plane import wrap
from jobcheck.wording import number

_DEGREES = {"+x": 0.0, "+y": 90.0, "-x": 180.0, "-y": -90.0}
_FLIPS = ("horizontal_flip", "vertical_flip")
"""Controls that mirror a picture (Linux kernel, Video for Linux API, user control reference)."""


def _cameras(look: Inspection) -> Iterator[tuple[str, Camera]]:
    for name in sorted(look.shop.cameras, key=natural):
        yield name, look.shop.cameras[name]


def _images(look: Inspection) -> Iterator[tuple[str, Camera, ImageDirections]]:
    for name, camera in _cameras(look):
        if camera.image is not None:
            yield name, camera, camera.image


@rule(
    Level.ERROR,
    fails="cameras.head.image: {right: +x, up: -x}",
    passes="cameras.head.image: {right: -x, up: -y}",
)
def image_directions_on_one_axis(look: Inspection) -> Iterator[Problem]:
    """A camera's picture has its right and its up along one axis of the machine.

    On the machine: a shift across that axis is corrected along it, so parts and marks are never
    met.

    To do: move the head a little to the right, then away from you, and look which way the picture
    goes.

    Source: the two directions of a picture are at right angles.
    """
    for name, camera, image in _images(look):
        if is_mirrored(image.right, image.up, camera.aim) is None:
            path = ("cameras", name, "image")
            yield Problem(
                path=(*path, "up"),
                related=((*path, "right"),),
                message=f"the picture of camera {name} has right and up both along {image.up[1]}.",
                observed=f"right {image.right}, up {image.up}",
                consequence="A shift across that axis would be corrected along it.",
                remedy=(
                    "Move the head along x, then along y, and look which way the picture goes.",
                ),
            )


@rule(
    Level.ERROR,
    fails="cameras.head.image: {right: +x, up: -y}",
    passes="cameras.head.image: {right: +x, up: -y, mirrored: true}",
)
def image_mirrored(look: Inspection) -> Iterator[Problem]:
    """A picture is mirrored by its directions, but nothing mirrors it; or the other way round.

    A camera that aims down sees right and up as they are drawn; one that aims up sees them
    mirrored. Each flip in its controls and `image.mirrored` mirror once more.

    On the machine: along one axis, and in turning, each correction goes the wrong way and doubles
    the error.

    To do: move a part a little along x, then along y, and look which way the picture goes; write
    `mirrored: true` where a mirror or the software does it.

    Source: a picture's right, its up and the way toward the viewer are a right-handed set.
    """
    for name, camera, image in _images(look):
        seen = is_mirrored(image.right, image.up, camera.aim)
        flips = [flip for flip in _FLIPS if (camera.controls or {}).get(flip) == 1]
        expected = (len(flips) + image.mirrored) % 2 == 1
        if seen is None or seen == expected:
            continue
        path = ("cameras", name, "image")
        mirrors = [*flips, *(["mirrored true"] if image.mirrored else [])]
        yield Problem(
            path=path,
            related=(
                *(("cameras", name, "controls", flip) for flip in flips),
                ("cameras", name, "aim"),
            ),
            message=f"the picture of camera {name}, which aims {camera.aim}, is "
            f"{'mirrored' if seen else 'not mirrored'} by its directions, but "
            f"{joined(mirrors) or 'nothing'} {'mirrors' if len(mirrors) < 2 else 'mirror'} it.",
            observed=f"right {image.right}, up {image.up}; {', '.join(mirrors) or 'no flip, no mirror'}",
            consequence="Along one axis, and in turning, each correction would double the error.",
            remedy=(
                "Look: move the head along x, then along y, and see which way the picture goes. "
                "Correct right and up, the flips, or write mirrored.",
            ),
        )


@rule(
    Level.WARNING,
    fails="cameras.head.image.turn_deg: 90.4",
    passes="cameras.head.image.turn_deg: -0.4",
)
def image_turn_contradicted(look: Inspection) -> Iterator[Problem]:
    """The measured turn of a camera's picture does not belong to the direction of its right.

    On the machine: corrections go along the other axis, or the wrong way.

    To do: look which way the picture's right points; correct it, or measure the turn again.

    Source: the direction nearest to an angle is less than 45 degrees from it, arithmetic.
    """
    for name, _, image in _images(look):
        turn = image.turn_deg
        if turn is None or abs(wrap(turn - _DEGREES[image.right])) < 45.0:
            continue
        path = ("cameras", name, "image")
        nearest = _nearest(turn)
        yield Problem(
            path=(*path, "right"),
            related=((*path, "turn_deg"),),
            message=f"the right of camera {name}'s picture is {image.right}, but it was measured at "
            f"{number(turn)} degrees, which is {nearest}.",
            observed=f"right {image.right}, turn_deg {number(turn)}",
            consequence="Corrections from the picture would go another way than the part lies off.",
            remedy=(
                "Look which way the picture's right points, then correct the one that is wrong.",
            ),
        )


def _nearest(turn: float) -> str:
    """Return the machine direction nearest to an angle in degrees."""
    return min(_DEGREES, key=lambda axis: abs(wrap(turn - _DEGREES[axis])))


def _exposure(camera: Camera) -> tuple[str, float] | None:
    """Return the control of a camera's exposure and its time, us; None where the device chooses."""
    controls = camera.controls or {}
    chosen = {
        other
        for name, value in controls.items()
        if is_automatic_on(name, value)
        for other in overridden(name, value)
    }
    for name in EXPOSURE_TIMES:
        if name in controls and name not in chosen:
            return name, exposure_us(controls[name])
    return None


@rule(
    Level.WARNING,
    fails="cameras.head.room_light: true\ncameras.head.controls.exposure_time_absolute: 157",
    passes="cameras.head.room_light: true\ncameras.head.controls.exposure_time_absolute: 200",
)
def exposure_beside_flicker(look: Inspection) -> Iterator[Problem]:
    """A picture lit by room lamps is exposed for no whole number of their flickers.

    On the machine: pictures come out brighter or darker by chance, or with bands, so thresholds
    fit one picture and not the next.

    To do: expose for a whole number of flickers, or keep the light of the room away.

    Source: lamps flicker at twice the mains frequency (common practice, no published source);
    units of 100 us, Linux kernel, Video for Linux API, V4L2_CID_EXPOSURE_ABSOLUTE.
    """
    mains = look.shop.machine.mains_hz if look.shop.machine else None
    if mains is None:
        return
    for name, camera in _cameras(look):
        exposed = _exposure(camera)
        if not camera.room_light or exposed is None or not bands_under_mains(exposed[1], mains):
            continue
        control, time_us = exposed
        period = flicker_us(mains)
        times = max(1, round(time_us / period))
        yield Problem(
            path=("cameras", name, "controls", control),
            related=(("cameras", name, "room_light"), ("mains_hz",)),
            message=f"camera {name} exposes {number(time_us / 1000)} ms under room lamps that flicker "
            f"every {number(round(period / 1000, 3))} ms at {mains} Hz.",
            observed=f"{control} {show_control(control, time_us / 100)}: "
            f"{number(round(time_us / period, 2))} flickers",
            consequence="One picture would come out brighter than the next, or with bands.",
            remedy=(
                f"Expose {number(round(times * period / 100))} = "
                f"{number(round(times * period / 1000, 1))} ms, or keep the room's light away.",
            ),
        )


_LINE_HZ = {1: 50, 2: 60}
"""Values of power_line_frequency (Linux kernel, V4L2_CID_POWER_LINE_FREQUENCY)."""


@rule(
    Level.WARNING,
    fails="cameras.head.controls.power_line_frequency: 2",
    passes="cameras.head.controls.power_line_frequency: 0",
)
def power_line_contradicts_mains(look: Inspection) -> Iterator[Problem]:
    """A camera is set to filter the flicker of another mains frequency than the shop's.

    On the machine: the camera fits its exposures to lamps that are not there, and those that are
    make bands.

    To do: set the mains frequency of the shop, or switch the filter off.

    Source: Linux kernel, Video for Linux API, V4L2_CID_POWER_LINE_FREQUENCY: 1 is 50 Hz, 2 is
    60 Hz.
    """
    mains = look.shop.machine.mains_hz if look.shop.machine else None
    lines = {
        name: line
        for name, camera in _cameras(look)
        if (line := _LINE_HZ.get((camera.controls or {}).get("power_line_frequency", 0)))
        and line != mains
    }
    if mains is None or not lines:
        return
    paths: list[Path] = [("cameras", name, "controls", "power_line_frequency") for name in lines]
    first, *others = [*paths, ("mains_hz",)] if len(paths) == 1 else [("mains_hz",), *paths]
    wanted = next(key for key, hertz in _LINE_HZ.items() if hertz == mains)
    name, line = next(iter(lines.items()))
    filters = "filters" if len(lines) == 1 else "filter"
    yield Problem(
        path=first,
        related=tuple(others),
        message=f"{'camera' if len(lines) == 1 else 'cameras'} {joined(list(lines))} {filters} lamps "
        f"at {line} Hz, but the mains has {mains} Hz.",
        observed=f"power_line_frequency of {name} is {line} Hz; mains_hz {mains}",
        consequence="Exposures would be fitted to lamps that are not there.",
        remedy=(f"Set power_line_frequency {wanted}, or correct mains_hz.",),
    )


@rule(
    Level.WARNING,
    fails="cameras.up.moving_mm_s: 2",
    passes="cameras.up.moving_mm_s: 1.8",
)
def moving_picture_blurred(look: Inspection) -> Iterator[Problem]:
    """A picture taken in motion smears by more pixels than may be, by exposure, speed and scale.

    On the machine: edges are drawn out along the move, so parts are found shifted along it.

    To do: take it standing still or slower, or expose shorter with more light.

    Source: blur = speed × exposure / scale, arithmetic; limits.blur_px (machine-vision handbooks,
    from memory).
    """
    for name, camera in _cameras(look):
        exposed, scale = _exposure(camera), camera.mm_per_pixel
        if camera.moving_mm_s is None or exposed is None or scale is None:
            continue
        blur = blur_px(camera.moving_mm_s, exposed[1], min(scale.x, scale.y))
        if blur <= look.limits.blur_px + 1e-9:
            continue
        at: Path = ("cameras", name, "moving_mm_s")
        yield Problem(
            path=at,
            related=(("cameras", name, "controls", exposed[0]), ("cameras", name, "mm_per_pixel")),
            message=f"a picture of camera {name} at {number(camera.moving_mm_s)} mm/s smears by "
            f"{number(round(blur, 2))} px; up to {number(look.limits.blur_px)} is sharp.",
            observed=f"{number(camera.moving_mm_s)} mm/s, {number(exposed[1] / 1000)} ms, "
            f"{number(min(scale.x, scale.y))} mm a pixel",
            consequence="Edges would be drawn out along the move, and parts found shifted along it.",
            remedy=("Take it standing still or slower, or expose shorter with more light.",),
        )
