"""Rules about cameras: their roles, devices, scales and calibrations."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from datetime import date

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, at_level, rule
from jobcheck.rules.cameras.recognitions import recognition_from_above
from jobcheck.schema.machine import Camera, Device, Event, Scale
from jobcheck.shop.paths import Path, is_within, parse
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed, number


def _of(name: str, *keys: str) -> Path:
    return ("cameras", name, *keys)


def _aiming(shop: Shop, aim: str) -> list[str]:
    return [name for name, camera in shop.cameras.items() if camera.aim == aim]


@rule(
    Level.ERROR,
    fails="cameras.head: ~\nhome_mark.camera: up",
    passes="""
        cameras.over: {aim: down, image: {right: +x, up: +y}, light: {channel: over, percent: 40}}
        cameras.over.device: {usb_id: "fff0:0001", serial: "0008", host: usb1, port: "1-1.4"}
        cameras.over.controls: {auto_exposure: 1, exposure_time_absolute: 100}
        cameras.over.resolution_px: [1280, 720]
        cameras.over.pixel_format: YUYV
        cameras.over.mm_per_pixel: {x: 0.0201, y: 0.0202, at_z: -20}
        cameras.over.calibrated: {date: 2026-11-02, resolution_px: [1280, 720]}
        cameras.head: ~
        home_mark.camera: over
    """,
)
def camera_missing(look: Inspection) -> Iterator[Problem]:
    """No camera aims where one is needed: down for fiducials, up for carried parts.

    It includes a recognition that measures carried parts with a camera that aims down. A camera
    that is named but not described is reported as an unknown name.

    On the machine: without a camera that aims down, no fiducial is found; without one that aims up,
    no carried part is measured before it is placed.

    To do: describe or name a camera that aims there, or correct the camera's `aim`.

    Source: a camera sees only what it points at.
    """
    yield from _camera_missing(look)
    yield from recognition_from_above(look)


def _camera_missing(look: Inspection) -> Iterator[Problem]:
    shop = look.shop
    if not shop.understood(("cameras",)):
        return
    marks = _marks(shop)
    if marks and not _aiming(shop, "down") and not _is_home_camera_unknown(shop):
        yield Problem(
            path=_home_camera(shop) or ("cameras",),
            message=f"no camera aims down, but {joined(marks[:3])} must be found.",
            observed=_aims(shop),
            consequence="The position of the board stays unknown.",
            remedy=("Describe the camera on the head with `aim: down`, or correct `aim`.",),
        )
    elif (path := _home_camera(shop)) is not None:
        yield Problem(
            path=path,
            related=(_of(str(shop.plain_at(path)), "aim"),),
            message=f"the home mark is on the bed, but camera {shop.plain_at(path)} aims up.",
            observed=_aims(shop),
            consequence="The home mark is not found, and the machine has no zero.",
            remedy=(f"Name a camera that aims down: {listed(sorted(_aiming(shop, 'down')))}.",),
        )
    looking = [name for name, entry in shop.recognitions.items() if entry.camera in shop.cameras]
    if looking and not _aiming(shop, "up"):
        yield Problem(
            path=("cameras",),
            message=f"no camera aims up, but {count(len(looking), 'recognition')} "
            "must measure carried parts.",
            observed=_aims(shop),
            consequence="Parts are placed as the nozzle holds them: shifted and turned.",
            remedy=("Describe the fixed camera with `aim: up`, or correct `aim`.",),
            suppresses=(
                ("camera-missing", ("recognitions",)),
                *(("image-directions-wrong", _of(name, "image")) for name in sorted(shop.cameras)),
            ),
        )


def _aims(shop: Shop) -> str:
    aims = [f"{name} aims {shop.cameras[name].aim}" for name in sorted(shop.cameras)]
    return listed(aims) or "no camera is described"


def _marks(shop: Shop) -> list[str]:
    """Return what a camera that aims down must find, in words."""
    marks = ["the home mark"] if shop.machine and shop.machine.home_mark else []
    for name, job in sorted(shop.jobs.items()):
        if job.board.fiducials or (job.panel and job.panel.fiducials):
            marks.append(f"the fiducials of {name}")
    return marks


def _is_home_camera_unknown(shop: Shop) -> bool:
    mark = shop.machine.home_mark if shop.machine else None
    return mark is not None and mark.camera not in shop.cameras


def _home_camera(shop: Shop) -> Path | None:
    """Return the path that names the home mark's camera where that camera aims up."""
    mark = shop.machine.home_mark if shop.machine else None
    camera = shop.cameras.get(mark.camera) if mark else None
    return ("home_mark", "camera") if camera and camera.aim != "down" else None


@rule(
    Level.WARNING,
    Level.ERROR,
    fails='cameras.head.device: {usb_id: "fff0:0002"}',
    passes='cameras.head.device: {usb_id: "fff0:0002", port: "1-1.3"}',
)
def camera_device_ambiguous(look: Inspection) -> Iterator[Problem]:
    """Two cameras are described with one port, or nothing distinguishes cameras of one kind.

    One port is an error; without its bus and `host`, a warning. Cheap cameras share serial numbers,
    so a serial number distinguishes a camera only if no other camera of that kind has it.

    On the machine: after a power-up each camera may have the settings of the other one.

    To do: look which camera is at which port, and write port or serial number.

    Source: one port carries one device (USB 2.0 specification, 4.1, from memory). Shared serial
    numbers: common practice, no published source.
    """
    ports: dict[Hashable, list[str]] = defaultdict(list)
    kinds: dict[str | None, list[str]] = defaultdict(list)
    for name in sorted(look.shop.cameras):
        device = look.shop.cameras[name].device or Device()
        if device.port is not None:
            ports[device.host, device.port].append(name)
        kinds[device.usb_id].append(name)
    yield from (_at_one_port(look.shop, names) for names in ports.values() if names[1:])
    for usb_id, names in kinds.items():
        alike = [name for name in names if not _is_distinct(look.shop, name)]
        if alike and len(names if usb_id else alike) > 1:
            yield _alike(usb_id, alike, names if usb_id else alike)


def _is_distinct(shop: Shop, name: str) -> bool:
    """Return whether a camera has a port, or a serial number that no other of its kind has."""
    device = shop.cameras[name].device or Device()
    others = [camera.device for key, camera in shop.cameras.items() if key != name]
    own = (device.usb_id, device.serial)
    is_shared = any((other.usb_id, other.serial) == own for other in others if other)
    return device.port is not None or (device.serial is not None and not is_shared)


def _at_one_port(shop: Shop, names: list[str]) -> Problem:
    port = shop.plain_at(_of(names[0], "device", "port"))
    is_one_host = "-" in str(port) or bool(shop.plain_at(_of(names[0], "device", "host")))
    return Problem(
        path=_of(names[-1], "device", "port"),
        related=tuple(_of(name, "device", "port") for name in names[:-1]),
        message=f"cameras {joined(names)} are described at one port, {port}.",
        observed=", ".join(f"{name} port {port}" for name in names),
        consequence="One port carries one camera: one of the descriptions is wrong."
        if is_one_host
        else "If both are at one host, one of the descriptions is wrong.",
        remedy=(f"Look where {names[-1]} is plugged in, and correct its port.",)
        if is_one_host
        else (f"Correct the port of {names[-1]}, or give the host of each.",),
        level=Level.ERROR if is_one_host else Level.WARNING,
    )


def _alike(usb_id: str | None, alike: list[str], kind: list[str]) -> Problem:
    which = f"of one kind, {usb_id}" if usb_id else "without a device"
    return Problem(
        path=_of(alike[0], "device"),
        related=tuple(_of(name, "device") for name in kind if name != alike[0]),
        message=f"cameras {joined(kind)} are {which}, and nothing distinguishes them.",
        observed=f"no port and no serial number of its own: {listed(alike)}",
        consequence="After a power-up each may have the settings of the other.",
        remedy=(f"Write the port of {listed(alike)}, or its serial number.",),
    )


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="cameras.head.calibrated.resolution_px: [640, 360]",
    passes="""
        cameras.head.resolution_px: [640, 360]
        cameras.head.calibrated.resolution_px: [640, 360]
    """,
)
def camera_calibration_outdated(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A camera's calibration is for another resolution, is old, or is older than an event.

    An error if the camera runs at another resolution than at its calibration. It is a warning if
    the scale was measured later, if an event touched the camera since, or if the calibration is
    older than `limits.calibration_days`.

    On the machine: the scale is that of another picture, so each correction may be too large or too
    small by one factor.

    To do: set the resolution of the calibration again, or calibrate the camera again.

    Source: scale = field / number of pixels, arithmetic; limits.calibration_days (common practice,
    no published source). The camera on the head is calibrated by moving it, so it depends on the
    axes x and y too.
    """
    yield from _camera_resolution_not_calibrated(look)
    yield from at_level(Level.WARNING, _camera_calibration_old(look))


def _camera_resolution_not_calibrated(look: Inspection) -> Iterator[Problem]:
    for name, camera in look.shop.cameras.items():
        done = camera.calibrated and camera.calibrated.resolution_px
        if not done or camera.resolution_px is None or camera.resolution_px == done:
            continue
        scaled = camera.mm_per_pixel and camera.mm_per_pixel.measured
        is_later = bool(scaled and camera.calibrated and scaled > camera.calibrated.date)
        now, then = _pixels(camera.resolution_px), _pixels(done)
        yield Problem(
            path=_of(name, "resolution_px"),
            related=(_of(name, "calibrated", "resolution_px"),),
            message=f"camera {name} runs at {now}, but was calibrated at {then}.",
            observed=f"{now}, calibrated at {then}",
            consequence=_scale_consequence(camera.resolution_px, done),
            remedy=(f"Set {then} again, or calibrate {name} at {now}.",),
            suppresses=(("camera-scale-contradicted", _of(name)),),
            level=Level.WARNING if is_later else None,
        )


def _pixels(resolution: list[int]) -> str:
    return f"{resolution[0]} × {resolution[1]} px"


def _scale_consequence(now: list[int], done: list[int]) -> str:
    if now[0] * done[1] == now[1] * done[0]:
        return (
            f"A shift of 1 mm may be measured as {number(round(now[0] / done[0], 3))} mm; not if "
            "the device only crops its picture."
        )
    return "Each shift and size may be measured with the scale of another picture."


_CERTAIN_PERCENT = 10.0
"""A scale that differs so much from a measured field is wrong, or the field is: no lens distorts
or ruler errs so much. Source: common practice, no published source."""


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="cameras.head.mm_per_pixel.y: 0.0206",
    passes="cameras.head.mm_per_pixel.y: 0.0205",
)
def camera_scale_contradicted(look: Inspection) -> Iterator[Problem]:
    """The scale of a camera contradicts its measured field, the record, or its other axis.

    The field may differ from scale × resolution by limits.field_difference_percent, and so may the
    scale from the recorded one if it was not measured again; the two axes may differ by
    limits.scale_difference_percent. A difference from the field of more than 10 % is an error.

    On the machine: with a wrong scale each correction is wrong by as many percent.

    To do: lay a ruler into the picture at the height of the scale, and correct the wrong value.

    Source: field = resolution × scale, arithmetic. Pixels of usual sensors are square; how far
    scale and field may differ: common practice, no published source.
    """
    for name, camera in look.shop.cameras.items():
        scale = camera.mm_per_pixel
        if scale is None:
            continue
        problem = (
            _against_field(look, name, camera, scale)
            or _against_record(look, name, scale)
            or _uneven(look, name, scale)
        )
        if problem:
            yield problem


def _against_field(look: Inspection, name: str, camera: Camera, scale: Scale) -> Problem | None:
    if camera.resolution_px is None or camera.field_mm is None:
        return None
    computed = {
        "x": scale.x * camera.resolution_px[0],
        "y": scale.y * camera.resolution_px[1],
    }
    measured = dict(zip("xy", camera.field_mm, strict=True))
    percent = {axis: 100 * abs(computed[axis] / measured[axis] - 1) for axis in "xy"}
    worst = max(percent, key=lambda axis: percent[axis])
    if percent[worst] <= look.limits.field_difference_percent:
        return None
    places = [_of(name, key) for key in ("mm_per_pixel", "resolution_px", "field_mm")]
    changed = [place for place in places if _is_changed(look, place)]
    first, *others = [*changed, *(place for place in places if place not in changed)]
    return Problem(
        path=first,
        related=tuple(others),
        message=f"the picture of camera {name} is {number(round(computed[worst], 2))} mm along "
        f"{worst} by its scale, but {number(measured[worst])} mm as measured.",
        observed=f"scale {number(getattr(scale, worst))} mm per pixel × "
        f"{camera.resolution_px[worst == 'y']} px; field_mm {number(measured[worst])}",
        consequence=f"If the scale is wrong, each correction is wrong by {percent[worst]:.0f} %.",
        remedy=("Lay a ruler into the picture at the height of the scale; correct the wrong one.",),
        suppresses=_of_scale(look.facts, name),
        level=Level.ERROR if percent[worst] > _CERTAIN_PERCENT else None,
    )


def _is_changed(look: Inspection, path: Path) -> bool:
    """Return whether the last known-good record has another value at a path."""
    recorded = look.good.plain_at(path) if look.good else None
    return recorded is not None and recorded != look.shop.plain_at(path)


def _against_record(look: Inspection, name: str, scale: Scale) -> Problem | None:
    known = look.good.cameras.get(name) if look.good else None
    recorded = known.mm_per_pixel if known else None
    if known is None or recorded is None or recorded.measured != scale.measured:
        return None
    percent = max(100 * abs(scale.x / recorded.x - 1), 100 * abs(scale.y / recorded.y - 1))
    is_same_picture = known.resolution_px == look.shop.cameras[name].resolution_px
    if percent <= look.limits.field_difference_percent or not is_same_picture:
        return None
    return Problem(
        path=_of(name, "mm_per_pixel"),
        message=f"the scale of camera {name} differs by {percent:.0f} % from the recorded one, but "
        "has no new day of measurement.",
        observed=_scale(scale),
        expected=_scale(recorded),
        consequence=f"If it was not measured, each correction is wrong by {percent:.0f} %.",
        remedy=(
            "If it was not measured again, put it back:",
            command("restore", f"cameras.{name}.mm_per_pixel"),
            "If it was, write its day, mm_per_pixel.measured.",
        ),
        suppresses=_of_scale(look.facts, name),
    )


def _scale(scale: Scale) -> str:
    return f"x {number(scale.x)}, y {number(scale.y)} mm per pixel"


def _uneven(look: Inspection, name: str, scale: Scale) -> Problem | None:
    percent = 200 * abs(scale.x - scale.y) / (scale.x + scale.y)
    limit = look.limits.scale_difference_percent
    if percent <= limit:
        return None
    return Problem(
        path=_of(name, "mm_per_pixel"),
        message=f"the scales of camera {name} along x and y differ by {percent:.1f} %; up to "
        f"{number(limit)} % is usual.",
        observed=_scale(scale),
        consequence="If pixels are square, corrections along one axis are too large or too small.",
        remedy=(f"Look whether {name} is tilted or loose, then calibrate it again.",),
        suppresses=_of_scale(look.facts, name) if percent > 10 * limit else (),
    )


def _of_scale(facts: Facts, name: str) -> tuple[tuple[str, Path], ...]:
    """Return the findings that follow from a wrong scale of a camera."""
    found = facts.usage.recognitions_of_camera(name)
    return (
        ("picture-too-coarse", ()),
        ("search-beyond-field", ()),
        ("scale-at-other-height", _of(name)),
        ("picture-in-motion", _of(name)),
        *(("part-exceeds-field", ("recognitions", entry)) for entry in found),
    )


def _camera_calibration_old(look: Inspection) -> Iterator[Problem]:
    limit = look.limits.calibration_days
    events = _by_day(look.shop)
    for name, camera in look.shop.cameras.items():
        if camera.calibrated is None:
            continue
        day = camera.calibrated.date
        since = [key for key, event in events if _touches(event, name, camera, day, look.today)]
        age = (look.today - day).days
        if since:
            yield _touched(look, name, day, since)
        elif age > limit:
            yield Problem(
                path=_of(name, "calibrated", "date"),
                message=f"camera {name} was calibrated {count(age, 'day')} ago, on {day}; "
                f"the limit is {count(round(limit), 'day')}.",
                observed=f"{day}",
                consequence="Its scale may have drifted, and each correction with it.",
                remedy=(f"Calibrate {name} again, or check it on a part of known size.",),
            )


def _by_day(shop: Shop) -> list[tuple[str, Event]]:
    events = shop.machine.events.items() if shop.machine else ()
    return sorted(events, key=lambda entry: (entry[1].date, entry[0]))


def _touches(event: Event, name: str, camera: Camera, after: date, until: date) -> bool:
    """Return whether an event after a calibration touched what a calibration measured."""
    return after < event.date <= until and is_calibration_touched(event, name, camera)


def is_calibration_touched(event: Event, name: str, camera: Camera) -> bool:
    """Return whether an event touched what a camera's calibration measured."""
    return any(_is_touched(text, name, camera) for text in event.touched)


_CALIBRATED = ("aim", "device", "position", "image", "resolution_px", "mm_per_pixel", "field_mm")


def _is_touched(text: str, name: str, camera: Camera) -> bool:
    if text in ("x", "y"):
        return camera.aim == "down"
    try:
        path = parse(text)
    except ValueError:
        return False
    return is_within(_of(name), path) or any(is_within(path, _of(name, key)) for key in _CALIBRATED)


def _touched(look: Inspection, name: str, day: date, events: list[str]) -> Problem:
    last = events[-1]
    described = look.shop.machine.events[last] if look.shop.machine else None
    note = f": {described.note}" if described and described.note else ""
    when = f" ({described.date}{note})" if described else ""
    more = f" and {count(len(events) - 1, 'earlier event')}" if events[1:] else ""
    tuned = look.facts.usage.recognitions_of_camera(name)
    return Problem(
        path=_of(name, "calibrated", "date"),
        related=tuple(("events", key, "touched") for key in events),
        message=f"camera {name} was calibrated on {day}, before event {last}{when}{more}.",
        observed=f"calibrated {day}; touched since by {listed(events)}",
        consequence="Its scale, and the place and directions of its picture, may have changed.",
        remedy=(
            f"Calibrate {name} again and write the day. If recognitions were tuned before the "
            "event, look whether they still find their parts.",
        ),
        suppresses=tuple(
            ("recognition-tuning-stale", ("recognitions", entry, "tuned")) for entry in tuned
        ),
    )
