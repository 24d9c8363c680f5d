"""Rules about cameras: whether each is there, told apart, calibrated, and to scale."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from datetime import date

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import joined
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Camera, Device, Event
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
    """No camera aims where one is needed: down for marks, up for carried parts.

    A camera that is named but not described is left to the rule about unknown names.

    On the machine: without a camera that looks down neither the home mark nor a board's fiducials
    are found; without one that looks up no carried part is measured before it is placed.

    To do: describe the camera, or correct where it aims.

    Source: a camera sees only what it points at.
    """
    shop = look.shop
    if not shop.understood(("cameras",)):
        return
    marks = _marks(shop)
    if marks and not _aiming(shop, "down") and not _is_home_camera_unknown(shop):
        yield Problem(
            path=_home_camera(shop) or ("cameras",),
            message=f"no camera aims down, but {joined(marks[:3])} must be found.",
            observed=_aims(shop),
            consequence="The place of the board would not be known: every part would land beside its pads.",
            remedy=("Describe the camera on the head with `aim: down`, or correct where it aims.",),
        )
    elif (path := _home_camera(shop)) is not None:
        yield Problem(
            path=path,
            related=(_of(str(shop.plain_at(path)), "aim"),),
            message=f"the home mark lies on the bed, but camera {shop.plain_at(path)} aims up.",
            observed=_aims(shop),
            consequence="The home mark would not be found, and the machine would have no zero.",
            remedy=(f"Name a camera that aims down: {listed(sorted(_aiming(shop, 'down')))}.",),
        )
    looking = [name for name, entry in shop.recognitions.items() if entry.camera in shop.cameras]
    if looking and not _aiming(shop, "up"):
        yield Problem(
            path=("cameras",),
            message=f"no camera aims up, but {count(len(looking), 'recognition')} "
            "must measure carried parts.",
            observed=_aims(shop),
            consequence="A part would be placed as the nozzle caught it: shifted and turned.",
            remedy=("Describe the fixed camera with `aim: up`, or correct where it aims.",),
            suppresses=(
                ("recognition-from-above", ("recognitions",)),
                *(("image-mirrored", _of(name, "image")) for name in sorted(shop.cameras)),
            ),
        )


def _aims(shop: Shop) -> str:
    aims = [f"{name} aims {shop.cameras[name].aim}" for name in sorted(shop.cameras)]
    return listed(aims) or "no camera is described"


def _marks(shop: Shop) -> list[str]:
    """Return what a camera that looks down has to find, in words."""
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
    Level.ERROR,
    fails='cameras.head.device.port: "1-1.2"',
    passes='cameras.head.device: {usb_id: "fff0:0002", serial: "0003", host: usb1, port: "1-1.3"}',
)
def camera_device_shared(look: Inspection) -> Iterator[Problem]:
    """Two cameras are described on one device: one port, or one serial number and no port.

    On the machine: both would show the same picture, or one of them would not open; parts and
    marks would be measured in the wrong picture.

    To do: look which camera is plugged into which port, and correct the other one.

    Source: one port carries one device (USB 2.0 specification, 4.1, from memory). Cheap cameras
    share serial numbers (common practice, no published source), so one serial at two ports is no
    fault.
    """
    ports: dict[Hashable, list[str]] = defaultdict(list)
    serials: dict[Hashable, list[str]] = defaultdict(list)
    for name, device in _devices(look.shop):
        if device.port is not None:
            ports[device.host, device.port].append(name)
        elif device.serial is not None:
            serials[device.usb_id, device.serial].append(name)
    for groups, key in ((ports, "port"), (serials, "serial")):
        for names in groups.values():
            if len(names) > 1:
                yield _shared(look.shop, sorted(names), key)


def _devices(shop: Shop) -> Iterator[tuple[str, Device]]:
    for name, camera in shop.cameras.items():
        if camera.device is not None:
            yield name, camera.device


def _shared(shop: Shop, names: list[str], key: str) -> Problem:
    value = shop.plain_at(_of(names[0], "device", key))
    words = f"at port {value}" if key == "port" else f"with serial number {value}, without a port"
    return Problem(
        path=_of(names[-1], "device", key),
        related=tuple(_of(name, "device", key) for name in names[:-1]),
        message=f"cameras {joined(names)} are one device, {words}.",
        observed=", ".join(f"{name} {key} {value}" for name in names),
        consequence="They would show the same picture, or one of them would not open.",
        remedy=(f"Look where {names[-1]} is plugged in, and correct its {key}.",),
    )


@rule(
    Level.WARNING,
    fails='cameras.head.device: {usb_id: "fff0:0002"}',
    passes='cameras.head.device: {usb_id: "fff0:0002", port: "1-1.3"}',
)
def camera_device_ambiguous(look: Inspection) -> Iterator[Problem]:
    """Cameras of one kind are told apart by nothing: neither a serial of their own nor a port.

    Cheap cameras share serial numbers: one that another camera has, at a port, tells nothing.

    On the machine: the cameras come up in any order; after a power-up the head's settings may be
    in the other camera.

    To do: write the port that each is plugged into, or its serial number.

    Source: common practice, no published source.
    """
    kinds: dict[str | None, list[str]] = defaultdict(list)
    nameless: dict[str | None, list[str]] = defaultdict(list)
    at_ports = {(d.usb_id, d.serial) for _, d in _devices(look.shop) if d.port is not None}
    for name, camera in look.shop.cameras.items():
        device = camera.device or Device()
        kinds[device.usb_id].append(name)
        is_told = device.serial is not None and (device.usb_id, device.serial) not in at_ports
        if device.port is None and not is_told:
            nameless[device.usb_id].append(name)
    for usb_id, names in nameless.items():
        alike = kinds[usb_id] if usb_id is not None else names
        if len(alike) < 2:
            continue
        kind = f"of one kind, {usb_id}" if usb_id else "without a device"
        yield Problem(
            path=_of(min(names), "device"),
            related=tuple(_of(name, "device") for name in sorted(alike) if name != min(names)),
            message=f"cameras {joined(sorted(alike))} are {kind}: nothing tells them apart.",
            observed=f"no port and no serial number of its own: {listed(sorted(names))}",
            consequence="After a power-up they may have changed places, each with the other's settings.",
            remedy=(f"Write the port of {listed(sorted(names))}, or the serial number.",),
        )


@rule(
    Level.ERROR,
    fails="cameras.head.calibrated.resolution_px: [640, 360]",
    passes="""
        cameras.head.resolution_px: [640, 360]
        cameras.head.calibrated.resolution_px: [640, 360]
    """,
)
def camera_resolution_not_calibrated(look: Inspection) -> Iterator[Problem]:
    """A camera runs at another resolution than the one it was calibrated at.

    On the machine: a pixel stands for another length than the scale says, so every correction
    that the picture gives is too large or too small by the same factor.

    To do: go back to the resolution of the calibration, or calibrate anew.

    Source: a pixel's size on the part is the field divided by the number of pixels.
    """
    for name, camera in look.shop.cameras.items():
        done = camera.calibrated and camera.calibrated.resolution_px
        if not done or camera.resolution_px is None or camera.resolution_px == done:
            continue
        yield Problem(
            path=_of(name, "resolution_px"),
            related=(_of(name, "calibrated", "resolution_px"),),
            message=f"camera {name} runs at {_pixels(camera.resolution_px)}, "
            f"but was calibrated at {_pixels(done)}.",
            observed=f"{_pixels(camera.resolution_px)}, calibrated at {_pixels(done)}",
            consequence=_scale_consequence(camera.resolution_px, done),
            remedy=(
                f"Set {_pixels(done)} again, or calibrate {name} at "
                f"{_pixels(camera.resolution_px)}.",
            ),
            suppresses=(("camera-scale-contradicts-field", _of(name)),),
        )


def _pixels(resolution: list[int]) -> str:
    return f"{resolution[0]} × {resolution[1]}"


def _scale_consequence(now: list[int], done: list[int]) -> str:
    if now[0] * done[1] == now[1] * done[0]:
        factor = now[0] / done[0]
        return (
            f"A shift of 1 mm would be measured as {number(round(factor, 3))} mm, unless the "
            "device only cuts out a part of its picture."
        )
    return "Every shift and size would be measured by a scale that is not that of the picture."


@rule(
    Level.WARNING,
    fails="cameras.head.mm_per_pixel.y: 0.0206",
    passes="cameras.head.mm_per_pixel.y: 0.0205",
)
def camera_scale_uneven(look: Inspection) -> Iterator[Problem]:
    """A camera's scales along x and y differ by more than limits.scale_difference_percent.

    On the machine: a part that is turned is measured with the wrong length, and its correction
    points the wrong way.

    To do: look whether the camera is tilted, then calibrate it anew.

    Source: pixels of usual sensors are square (common practice, no published source).
    """
    limit = look.limits.scale_difference_percent
    for name, camera in look.shop.cameras.items():
        scale = camera.mm_per_pixel
        if scale is None:
            continue
        percent = 200 * abs(scale.x - scale.y) / (scale.x + scale.y)
        if percent > limit:
            yield Problem(
                path=_of(name, "mm_per_pixel"),
                message=f"the scales of camera {name} differ by {percent:.1f} %; "
                f"up to {number(limit)} % is usual.",
                observed=f"x {number(scale.x)}, y {number(scale.y)} mm a pixel",
                consequence="A shift along one axis would be corrected by too much, along the other by too "
                "little.",
                remedy=(f"Look whether {name} is tilted or loose, then calibrate it anew.",),
            )


@rule(
    Level.WARNING,
    fails="cameras.head.field_mm: [25.728, 15.1]",
    passes="cameras.head.field_mm: [25, 14.2]",
)
def camera_scale_contradicts_field(look: Inspection) -> Iterator[Problem]:
    """Scale times resolution differs from the measured field of a camera.

    On the machine: one of the two is wrong; with a wrong scale every correction from the picture
    is wrong by the same percentage.

    To do: lay a ruler into the picture at the height of the scale, then correct the wrong one.

    Source: field = resolution × scale, arithmetic; how far they may differ is
    limits.field_difference_percent (common practice, no published source).
    """
    limit = look.limits.field_difference_percent
    for name, camera in look.shop.cameras.items():
        for axis, computed, measured in _fields(camera):
            percent = 100 * abs(computed - measured) / measured
            if percent <= limit:
                continue
            yield Problem(
                path=_of(name, "field_mm"),
                related=(_of(name, "mm_per_pixel", axis), _of(name, "resolution_px")),
                message=f"the picture of camera {name} should be {number(round(computed, 2))} mm "
                f"along {axis}, but {number(measured)} mm were measured: {percent:.1f} % apart.",
                observed=f"scale times resolution {number(round(computed, 2))} mm, "
                f"field {number(measured)} mm",
                consequence="If the scale is wrong, every correction is wrong by as much.",
                remedy=(
                    "Look at a ruler in the picture, at the height of the scale; correct the "
                    "one that is wrong.",
                ),
                suppresses=_of_scale(look.facts, name),
            )
            break


def _of_scale(facts: Facts, name: str) -> tuple[tuple[str, Path], ...]:
    """Return the findings that follow from a wrong scale of a camera."""
    found = facts.usage.recognitions_of_camera(name)
    told = [("part-exceeds-field", ("recognitions", entry)) for entry in found]
    return (
        ("feature-below-pixels", _of(name)),
        ("pixel-coarse-for-shift", _of(name)),
        *told,
    )


def _fields(camera: Camera) -> Iterator[tuple[str, float, float]]:
    """Yield axis, field by scale and resolution, and field as measured, mm."""
    scale, pixels, measured = camera.mm_per_pixel, camera.resolution_px, camera.field_mm
    if scale is not None and pixels is not None and measured is not None:
        yield "x", scale.x * pixels[0], measured[0]
        yield "y", scale.y * pixels[1], measured[1]


@rule(
    Level.WARNING,
    fails="events.2026-11-20-knock: {date: 2026-11-20, touched: [cameras.head], note: knocked}",
    passes="events.2026-11-20-lamp: {date: 2026-11-20, touched: [cameras.head.light, z]}",
)
def camera_calibration_old(look: Inspection) -> Iterator[Problem]:
    """A camera was calibrated long ago, or before something was done that touched it.

    On the machine: scale and position of the picture may be those of a camera, a lens or a belt
    that is no longer there.

    To do: calibrate the camera anew and write the day.

    Source: limits.calibration_days (common practice, no published source). The camera on the head
    is calibrated by moving it, so it depends on the axes x and y too.
    """
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
                consequence="Its scale may have drifted, and every correction with it.",
                remedy=(f"Calibrate {name} anew, or check it on a part of known size.",),
            )


def _by_day(shop: Shop) -> list[tuple[str, Event]]:
    events = shop.machine.events.items() if shop.machine else ()
    return sorted(events, key=lambda entry: (entry[1].date, entry[0]))


def _touches(event: Event, name: str, camera: Camera, after: date, until: date) -> bool:
    """Tell whether an event after a calibration touched what the calibration found out."""
    return after < event.date <= until and is_calibration_touched(event, name, camera)


def is_calibration_touched(event: Event, name: str, camera: Camera) -> bool:
    """Tell whether an event touched what a camera's calibration found out."""
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
