"""Rules about pictures: their directions, flicker, waiting and motion."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.controls import EXPOSURE_TIMES, is_automatic_on, overridden, show_control
from jobcheck.schema.machine import Camera, ImageDirections
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.optics import (
    blur_px,
    exposure_us,
    flicker_us,
    frame_interval_us,
    is_mirrored,
    ripple_percent,
)
from jobcheck.trade.plane import wrap
from jobcheck.wording import count, listed, number

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
    fails="cameras.head.image: {right: +x, up: -y}",
    passes="cameras.head.image: {right: +x, up: -y, mirrored: true}",
)
def image_directions_wrong(look: Inspection) -> Iterator[Problem]:
    """The directions of a picture contradict each other, its flips or its measured turn.

    A camera that aims down sees right and up as they are drawn; one that aims up sees them
    mirrored. Each flip in its controls and `image.mirrored` mirror the picture once more.

    On the machine: along one axis at least, a correction goes the wrong way.

    To do: move the head, or a part, a little along x and then along y, and look which way the
    picture goes. Write `mirrored: true` if a mirror or the software mirrors the picture.

    Source: a picture's right, its up and the direction toward the viewer are a right-handed set
    (ISO 841 for the machine's); the flips: Linux kernel, Video for Linux API.
    """
    for name, camera, image in _images(look):
        seen = is_mirrored(image.right, image.up, camera.aim)
        flips = [flip for flip in _FLIPS if (camera.controls or {}).get(flip) == 1]
        turn = image.turn_deg
        if seen is None:
            yield _on_one_axis(name, image)
        elif turn is not None and abs(wrap(turn - _DEGREES[image.right])) >= 45.0:
            yield _turned(name, image, turn)
        elif seen != ((len(flips) + image.mirrored) % 2 == 1):
            yield _mirrored(look, name, camera, flips, seen)


def _on_one_axis(name: str, image: ImageDirections) -> Problem:
    path = ("cameras", name, "image")
    return Problem(
        path=(*path, "up"),
        related=((*path, "right"),),
        message=f"right and up of the picture of camera {name} are both along {image.up[1]}.",
        observed=f"right {image.right}, up {image.up}",
        consequence="Shifts across that axis are corrected along it.",
        remedy=("Move the head along x, then along y, and look which way the picture goes.",),
    )


def _turned(name: str, image: ImageDirections, turn: float) -> Problem:
    path = ("cameras", name, "image")
    return Problem(
        path=(*path, "right"),
        related=((*path, "turn_deg"), (*path, "up")),
        message=f"right of the picture of camera {name} is {image.right}, but its measured turn is "
        f"{number(turn)} degrees, which is {_nearest(turn)}.",
        observed=f"right {image.right}, turn_deg {number(turn)}",
        consequence="If turn_deg is right, corrections go another way than the part is off.",
        remedy=("Look which way the picture's right points, then correct the wrong value.",),
    )


def _mirrored(look: Inspection, name: str, camera: Camera, flips: list[str], seen: bool) -> Problem:
    image = camera.image
    assert image
    path: Path = ("cameras", name, "image")
    mirrors = [*flips, *(["image.mirrored"] if image.mirrored else [])]
    lost = [flip for flip in _FLIPS if flip not in flips and _was_on(look, name, flip)]
    controls: Path = ("cameras", name, "controls")
    return Problem(
        path=(*controls, lost[0]) if lost else path,
        related=(
            *([path] if lost else []),
            *((*controls, flip) for flip in flips),
            ("cameras", name, "aim"),
        ),
        message=f"camera {name} aims {camera.aim} and its picture is "
        f"{'mirrored' if seen else 'not mirrored'} by right and up, but "
        f"{joined(mirrors) or 'nothing'} {'mirrors' if len(mirrors) < 2 else 'mirror'} it.",
        observed=f"right {image.right}, up {image.up}; "
        f"{', '.join(mirrors) or 'no flip, no mirror'}",
        expected=", ".join(f"{flip} 1" for flip in lost),
        consequence="If the device is as described, each correction along one axis doubles the "
        "error.",
        remedy=(
            "Put the recorded flip back:",
            command("restore", *(f"cameras.{name}.controls.{flip}" for flip in lost)),
        )
        if lost
        else (
            "Move the head along x, then along y, and look which way the picture goes. Correct "
            "right and up, the flips, or write mirrored: true.",
        ),
        suppresses=tuple(("camera-settings-lost", ("cameras", name, "controls", f)) for f in lost),
    )


def _was_on(look: Inspection, name: str, flip: str) -> bool:
    good = look.good.cameras.get(name) if look.good else None
    return good is not None and (good.controls or {}).get(flip) == 1


def _nearest(turn: float) -> str:
    """Return the machine direction nearest to an angle in degrees."""
    return min(_DEGREES, key=lambda axis: abs(wrap(turn - _DEGREES[axis])))


def _exposure(camera: Camera) -> tuple[str, float] | None:
    """Return the control of a camera's exposure and its time, us; None if it is automatic."""
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


_RIPPLE_PERCENT = 2.0
"""A change of brightness that thresholds endure (common practice, no published source)."""


@rule(
    Level.WARNING,
    fails="cameras.head.room_light: true\ncameras.head.controls.exposure_time_absolute: 157",
    passes="cameras.head.room_light: true\ncameras.head.controls.exposure_time_absolute: 200",
)
def picture_flickers(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The brightness of a picture lit by room lamps changes by more than 2 %.

    Lamps that go dark between two half waves are assumed; lamps without flicker do no harm.

    On the machine: one picture is brighter than the next, or has bands, so a threshold may fit one
    and not the other.

    To do: expose for a whole number of the lamps' periods, or keep room light away.

    Source: lamps flicker at twice the mains frequency (common practice, no published source);
    ripple 2 |sin(pi F T)| / (pi F T), the integral of 1 + cos over the exposure; units of 100 us,
    Linux kernel, Video for Linux API, V4L2_CID_EXPOSURE_ABSOLUTE.
    """
    mains = look.shop.machine.mains_hz if look.shop.machine else None
    for name, camera in _cameras(look):
        exposed = _exposure(camera)
        if not camera.room_light or exposed is None:
            continue
        control, time_us = exposed
        if mains is None:
            yield Unchecked(
                f"flicker in the picture of camera {name}",
                "no mains_hz",
                "mains_hz",
                (("mains_hz",),),
            )
            continue
        ripple = ripple_percent(time_us, mains)
        if ripple <= _RIPPLE_PERCENT:
            continue
        period = flicker_us(mains)
        better = max(1, round(time_us / period)) * period
        yield Problem(
            path=("cameras", name, "controls", control),
            related=(("cameras", name, "room_light"), ("mains_hz",)),
            message=f"the brightness of camera {name}'s picture may change by {ripple:.0f} % under "
            f"room lamps at {mains} Hz; up to {number(_RIPPLE_PERCENT)} % is steady.",
            observed=f"{control} {show_control(control, time_us / 100)}, "
            f"{number(round(time_us / period, 2))} periods of {number(round(period / 1000, 3))} ms",
            consequence="A threshold may fit one picture and not the next.",
            remedy=(
                f"Expose for {number(round(better / 100))} = {number(round(better / 1000, 1))} ms, "
                "or keep room light away.",
            ),
        )


@rule(
    Level.WARNING,
    fails="motion.picture_wait_ms: 209",
    passes="motion.picture_wait_ms: 210",
)
def picture_in_motion(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A picture may be taken while the head moves, or is blurred by more than limits.blur_px.

    At rest, the wait before a picture must be one frame and its exposure. A camera that sends
    frames all the time, and a controller that takes the next one, are assumed.

    On the machine: edges are blurred along the move, so parts may be found shifted along it.

    To do: wait longer, move slower, raise the frame rate, or expose shorter with more light.

    Source: a frame that arrives after the wait began up to one frame interval and one exposure
    before; blur = speed × exposure / scale; arithmetic. limits.blur_px (machine-vision handbooks,
    from memory).
    """
    yield from _picture_wait_short(look)
    yield from _moving_picture_blurred(look)


def _picture_wait_short(look: Inspection) -> Iterator[Problem | Unchecked]:
    machine = look.shop.machine
    if machine is None or machine.motion is None:
        return
    wait = machine.motion.picture_wait_ms
    needed: dict[str, float] = {}
    unknown: list[str] = []
    for name, camera in _cameras(look):
        exposed = _exposure(camera)
        if not exposed or camera.moving_mm_s is not None:
            continue
        if camera.frame_rate_hz:
            needed[name] = (frame_interval_us(camera.frame_rate_hz) + exposed[1]) / 1000
        else:
            unknown.append(name)
    if wait is not None and unknown:
        yield Unchecked(
            f"wait before pictures of {count(len(unknown), 'camera')}",
            f"no frame_rate_hz on {listed([f'cameras.{name}' for name in unknown])}",
            "frame_rate_hz",
            tuple(("cameras", name, "frame_rate_hz") for name in unknown),
            len(unknown),
        )
    if wait is None and needed:
        yield Unchecked(
            f"wait before pictures of {count(len(needed), 'camera')}",
            "no motion.picture_wait_ms",
            "picture_wait_ms",
            (("motion", "picture_wait_ms"),),
            len(needed),
        )
        return
    short = {name: ms for name, ms in needed.items() if wait is not None and wait < ms - 1e-6}
    if not short or wait is None:
        return
    worst = max(short, key=lambda name: short[name])
    each = [f"{name} {number(round(ms, 1))} ms" for name, ms in short.items()]
    yield Problem(
        path=("motion", "picture_wait_ms"),
        related=tuple(("cameras", name, "frame_rate_hz") for name in short),
        message=f"picture_wait_ms {number(wait)} is shorter than one frame and exposure of camera "
        f"{joined(list(short))}.",
        observed=f"frame and exposure: {listed(each)}",
        consequence="If the controller takes the next frame, its exposure may begin in motion.",
        remedy=(
            f"Set picture_wait_ms to {number(round(short[worst] + 0.499))}, raise the frame rate, "
            "or expose shorter.",
        ),
    )


def _moving_picture_blurred(look: Inspection) -> Iterator[Problem]:
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
            message=f"pictures of camera {name} at {number(camera.moving_mm_s)} mm/s are blurred "
            f"by {number(round(blur, 2))} px; up to {number(look.limits.blur_px)} px is sharp.",
            observed=f"{number(camera.moving_mm_s)} mm/s, {number(exposed[1] / 1000)} ms, "
            f"{number(min(scale.x, scale.y))} mm per pixel",
            consequence="Parts may be found shifted along the move.",
            remedy=("Take them at rest or slower, or expose shorter with more light.",),
        )
