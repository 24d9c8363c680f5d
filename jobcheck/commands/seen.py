"""What a camera's device reports, against the description and the last record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from enum import StrEnum
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.losses import camera_losses
from jobcheck.devices.identify import Identified, Match, identify
from jobcheck.devices.listing import read_listing
from jobcheck.devices.live import DeviceRefused, read_device
from jobcheck.devices.report import DeviceControl, Report, overridden_controls
from jobcheck.devices.system import System
from jobcheck.findings import CallRefused, Command, command_of, sentences
from jobcheck.known_good.known import KnownGood
from jobcheck.schema.controls import (
    AUTOMATICS,
    in_setting_order,
    is_automatic_on,
    present_name,
)
from jobcheck.schema.machine import Camera
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.shop_reader import Reading, read_shop, understood
from jobcheck.sources.state.state import Unreadable, bytes_of, folder_state
from jobcheck.text import LARGEST_FILE, NotUnderstood


class Agreement(StrEnum):
    """How one control of the device agrees with the description."""

    AS_DESCRIBED = "as described"
    DIFFERS = "differs"
    OVERRIDDEN = "overridden"
    MISSING = "not on the device"
    NOT_COMPARED = "not compared"
    UNREADABLE = "not readable"
    AUTOMATIC = "on, not described"
    NOT_DESCRIBED = "not described"


_RIGHT = (Agreement.AS_DESCRIBED, Agreement.NOT_COMPARED, Agreement.NOT_DESCRIBED)


class SeenControl(NamedTuple):
    """One control: the device's, the described and the recorded value; `why` explains a state."""

    name: str
    device: DeviceControl | None
    described: int | None
    recorded: int | None
    state: Agreement
    why: str = ""

    @property
    def differs(self) -> bool:
        """Whether the device is not as it is described."""
        return self.state not in _RIGHT


class SeenPicture(NamedTuple):
    """One property of the picture that is not as described."""

    name: str
    device: str
    described: str


class Seen(NamedTuple):
    """One camera's report, compared; `refused` says why there is none.

    `record` names the record that it is compared with too, empty for none. `lost` are the controls
    that the description lost since that record.
    """

    camera: str
    report: Report | None
    identified: Identified
    controls: tuple[SeenControl, ...] = ()
    picture: tuple[SeenPicture, ...] = ()
    record: str = ""
    lost: tuple[str, ...] = ()
    described: Camera | None = None
    refused: str = ""

    @property
    def differing(self) -> tuple[SeenControl, ...]:
        """Controls that are not on the device as they are described."""
        return tuple(control for control in self.controls if control.differs)

    @property
    def compared(self) -> int:
        """How many described controls were compared."""
        states = (
            Agreement.AS_DESCRIBED,
            Agreement.DIFFERS,
            Agreement.OVERRIDDEN,
            Agreement.MISSING,
        )
        return sum(control.state in states for control in self.controls)

    @property
    def is_as_described(self) -> bool:
        """Whether the identity is proven, something was compared, and all of it agrees."""
        is_proven = self.identified.proof is Match.PROVEN
        return is_proven and self.compared > 0 and not self.differing and not self.picture

    @property
    def to_set(self) -> dict[str, int]:
        """What to set on the device, automatics first; never what the description lost."""
        wanted = {
            control.name: control.described
            for control in self.differing
            if control.described is not None
            and control.device is not None
            and control.name not in self.lost
        }
        return {name: wanted[name] for name in in_setting_order(wanted)}

    @property
    def commands(self) -> tuple[Command, ...]:
        """The same as commands of the system's usual tool: automatics in a call of their own.

        One call of all in the order given is refused where an automatic still governs a value.
        """
        device = (self.report.device if self.report else None) or "DEVICE"
        automatics = {name: value for name, value in self.to_set.items() if name in AUTOMATICS}
        rest = {name: value for name, value in self.to_set.items() if name not in AUTOMATICS}
        return tuple(
            command_of("v4l2-ctl", "--device", device, "--set-ctrl", _assigned(values))
            for values in (automatics, rest)
            if values
        )


def _assigned(values: Mapping[str, int]) -> str:
    return ",".join(f"{name}={value}" for name, value in values.items())


class Looked(NamedTuple):
    """All cameras that were looked at, and what goes into the description."""

    cameras: tuple[Seen, ...]
    proposal: Proposal


def look_at_listing(
    root: FilePath,
    camera: str,
    listing: str,
    data: bytes,
    day: date | None,
    *,
    ranges: bool,
    write: bool,
) -> Looked:
    """Compare a saved listing of a camera's device; `day` is the day of the listing.

    With `write` the day goes into the description where the device is as described, and with
    `ranges` the ranges and defaults that it reports.

    Raises:
        CallRefused: the camera does not exist, or the data is not a listing.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    _require_camera(shop, camera)
    try:
        report = read_listing(data, listing, day)
    except NotUnderstood as error:
        found = error.fault
        commands = tuple(step for step in found.remedy if isinstance(step, Command))
        text = f"{found.place}: {found.message} {sentences(found.remedy)}"
        raise CallRefused(text, *commands) from None
    known = KnownGood(reading, root)
    return _looked(
        root, reading, [_compared(report, camera, shop, known)], ranges=ranges, write=write
    )


def look_at_devices(
    root: FilePath, camera: str | None, system: System, today: date, *, ranges: bool, write: bool
) -> Looked:
    """Compare the connected devices of one camera, or of all described ones.

    Raises:
        CallRefused: the camera does not exist, or the system has no Video for Linux.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    if camera is not None:
        _require_camera(shop, camera)
    known = KnownGood(reading, root)
    reports = connected(system, today)
    names = [camera] if camera is not None else list(shop.cameras)
    seen = [_find(name, reports, shop, known) for name in names]
    return _looked(root, reading, seen, ranges=ranges, write=write)


def compare_device(camera: str, shop: Shop, known: KnownGood, system: System, today: date) -> Seen:
    """Return what the connected device of one camera reports, compared.

    Raises:
        CallRefused: the camera does not exist, or the system has no Video for Linux.
    """
    _require_camera(shop, camera)
    return _find(camera, connected(system, today), shop, known)


def bytes_of_listing(listing: FilePath) -> tuple[bytes, date]:
    """Return a saved listing and its day, that of the file.

    Raises:
        CallRefused: it cannot be read.
    """
    try:
        data = bytes_of(listing)[:LARGEST_FILE]
        return data, date.fromtimestamp(listing.stat().st_mtime)
    except FileNotFoundError:
        raise CallRefused(f"{listing} does not exist.") from None
    except (OSError, Unreadable) as error:
        raise CallRefused(f"{listing} {error}.") from None


def connected(system: System, today: date) -> list[Report | str]:
    """Return the report of each connected camera, or why one could not be read.

    Raises:
        CallRefused: the system has no Video for Linux.
    """
    nodes = system.nodes()
    if nodes is None:
        raise CallRefused(
            "This system has no Video for Linux. Save a listing where the camera is connected, and "
            "give it to `seen`; or send it over the network, with your own host name for BENCH:\n"
            "  ssh BENCH v4l2-ctl --device /dev/video0 --all | jobcheck seen CAMERA -"
        )
    found: list[Report | str] = []
    for node in nodes:
        if node.stream != 0:
            continue
        try:
            found.append(read_device(system, node, today))
        except DeviceRefused as error:
            found.append(str(error))
    return found


def _require_camera(shop: Shop, camera: str) -> None:
    if camera not in shop.cameras:
        known = ", ".join(shop.cameras) or "none"
        raise CallRefused(f"Camera {camera} does not exist. Cameras: {known}.")


def _find(name: str, reports: Sequence[Report | str], shop: Shop, known: KnownGood) -> Seen:
    """Return the report of a camera's only device, or the reason if there is not exactly one."""
    judged = [
        (report, identify(report, name, shop.cameras))
        for report in reports
        if isinstance(report, Report)
    ]
    proven, exchanged, unproven = (
        [report for report, identified in judged if identified.proof is proof]
        for proof in (Match.PROVEN, Match.EXCHANGED, Match.UNPROVEN)
    )
    if len(proven) > 1:
        where = ", ".join(str(report.device) for report in proven)
        return _absent(name, f"{len(proven)} connected devices fit it: {where}.")
    device = shop.cameras[name].device
    own = [report for report in exchanged if device and report.identity.serial == device.serial]
    for found in (proven, own, exchanged, unproven):
        if found:
            return _compared(found[0], name, shop, known)
    return _absent(name, _not_connected(reports))


def _not_connected(reports: Sequence[Report | str]) -> str:
    if not reports:
        return "No camera is connected."
    there = [
        f"{report.device} is {report.identity}." if isinstance(report, Report) else report
        for report in reports
    ]
    is_sure = all(isinstance(report, Report) for report in reports)
    missing = "is not connected" if is_sure else "was not found among those that can be read"
    return f"Its device {missing}. {' '.join(there)}"


def _absent(name: str, why: str) -> Seen:
    return Seen(name, None, Identified(Match.UNPROVEN), refused=why)


def _compared(report: Report, name: str, shop: Shop, known: KnownGood) -> Seen:
    camera = shop.cameras[name]
    identified = identify(report, name, shop.cameras)
    good = known.shop()
    if identified.proof in (Match.OTHER, Match.EXCHANGED):
        return Seen(name, report, identified, described=camera)
    recorded = controls_of(good.cameras.get(name)) if good else {}
    return Seen(
        name,
        report,
        identified,
        controls=tuple(_rows(report.controls, controls_of(camera), recorded)),
        picture=tuple(_picture(report, camera)),
        record=known.title,
        lost=tuple(_lost(shop, good, name)) if good else (),
        described=camera,
    )


def controls_of(camera: Camera | None) -> dict[str, int]:
    """Return the described controls of a camera by their present names."""
    controls = (camera.controls or {}) if camera else {}
    return {present_name(name): value for name, value in controls.items()}


def _lost(shop: Shop, good: Shop, camera: str) -> Iterator[str]:
    """Yield the controls of a camera that the description lost since a record."""
    at = ("cameras", camera, "controls")
    for change in camera_losses(good, shop):
        yield from (present_name(p[3]) for p, _, _ in change.leaves() if p[:3] == at)


def _rows(
    device: Mapping[str, DeviceControl], described: Mapping[str, int], recorded: Mapping[str, int]
) -> Iterator[SeenControl]:
    governed = overridden_controls(device)
    for name in dict.fromkeys([*device, *described, *recorded]):
        control = device.get(name)
        state, why = _state(name, control, described.get(name), governed)
        if state is Agreement.NOT_DESCRIBED and name in recorded and control is not None:
            state, why = Agreement.DIFFERS, "not described, but recorded"
        yield SeenControl(name, control, described.get(name), recorded.get(name), state, why)


def _state(
    name: str, control: DeviceControl | None, described: int | None, governed: frozenset[str]
) -> tuple[Agreement, str]:
    if described is None:
        is_on = control is not None and is_automatic_on(name, control.value)
        return (Agreement.AUTOMATIC, "") if is_on else (Agreement.NOT_DESCRIBED, "")
    if control is None:
        return Agreement.MISSING, ""
    if name in governed:
        return Agreement.OVERRIDDEN, ""
    if control.error:
        return Agreement.UNREADABLE, control.error
    if control.not_compared:
        return Agreement.NOT_COMPARED, control.not_compared
    if control.value == described:
        return Agreement.AS_DESCRIBED, ""
    return Agreement.DIFFERS, control.takes(described)


def _picture(report: Report, camera: Camera) -> Iterator[SeenPicture]:
    device = report.picture
    size = tuple(camera.resolution_px) if camera.resolution_px else None
    if device.size_px and size and device.size_px != size:
        yield SeenPicture("resolution_px", _size(device.size_px), _size(size))
    if device.pixel_format and camera.pixel_format and device.pixel_format != camera.pixel_format:
        yield SeenPicture("pixel_format", device.pixel_format, camera.pixel_format)
    rate, described = device.frame_rate_hz, camera.frame_rate_hz
    if rate and described and abs(rate - described) > 0.05 * described:
        yield SeenPicture("frame_rate_hz", f"{rate:g}", f"{described:g}")


def _size(size: tuple[int, ...]) -> str:
    return " x ".join(map(str, size))


# what goes into the description


def _looked(
    root: FilePath, reading: Reading, seen: list[Seen], *, ranges: bool, write: bool
) -> Looked:
    edits = [edit for one in seen for edit in _edits(one, ranges=ranges)]
    return Looked(tuple(seen), propose(root, reading, edits, write=write))


def _edits(seen: Seen, *, ranges: bool) -> Iterator[Edit]:
    """Yield the values of an identified device that the description lacks."""
    if seen.report is None or seen.described is None or seen.identified.proof is not Match.PROVEN:
        return
    at = ("cameras", seen.camera)
    if ranges:
        yield from _ranges(seen.camera, seen.report, seen.described)
    if not seen.described.controls:
        for control in seen.controls:
            device = control.device
            if device is not None and not device.not_compared and isinstance(device.value, int):
                yield Edit((*at, "controls", control.name), device.value)
    elif seen.is_as_described and seen.report.day is not None:
        yield Edit((*at, "seen"), seen.report.day.isoformat())


def _ranges(camera: str, report: Report, described: Camera) -> Iterator[Edit]:
    names = {present_name(name): name for name in described.reported}
    for name, control in report.controls.items():
        found = reported_of(control)
        if found is None:
            continue
        known = described.reported.get(names.get(name, ""))
        path = ("cameras", camera, "reported", names.get(name, name))
        if known is None:
            yield Edit(path, found)
            continue
        for key, value in found.items():
            if getattr(known, key) != value:
                yield Edit((*path, key), value)


def reported_of(control: DeviceControl) -> dict[str, object] | None:
    """Return the description's entry of a control, None if its range is not reported."""
    if control.min is None or control.max is None:
        return None
    figures = {
        "min": control.min,
        "max": control.max,
        "step": control.step,
        "default": control.default,
    }
    found: dict[str, object] = {key: value for key, value in figures.items() if value is not None}
    if control.menu:
        found["menu"] = dict(control.menu)
    return found
