"""Which camera of a shop a report is from: by serial, usb id and port, else by its ranges."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple

from jobcheck.devices.report import DeviceControl, Identity, Report, plug_path
from jobcheck.devices.system import Node
from jobcheck.schema.controls import present_name
from jobcheck.schema.machine import Camera, ReportedControl


class Match(StrEnum):
    """How well a report is known to be from one camera."""

    PROVEN = "proven"
    OTHER = "other"
    EXCHANGED = "exchanged"
    UNPROVEN = "unproven"


class Identified(NamedTuple):
    """Whether a report is from a camera, and why.

    `by` is the evidence, for example `serial 0003`; `other` is the camera of the shop that the
    report is from instead, None where none fits.
    """

    proof: Match
    by: str = ""
    other: str | None = None


def identify(report: Report, name: str, cameras: Mapping[str, Camera]) -> Identified:
    """Say whether a report is from the camera `name` of a shop."""
    agreeing = {known: _evidence(report.identity, camera) for known, camera in cameras.items()}
    mine = agreeing[name]
    others = [known for known, found in agreeing.items() if known != name and _is_it(found)]
    if "serial" in mine.contradicted or "usb id" in mine.contradicted:
        other = others[0] if len(others) == 1 else None
        is_exchanged = "port" in mine.agreed and other is not None
        proof = Match.EXCHANGED if is_exchanged else Match.OTHER
        return Identified(proof, str(report.identity), other)
    if _is_it(mine) and not _ambiguous(mine, others, agreeing):
        if other := _owner_of_port(report, name, cameras):
            return Identified(Match.EXCHANGED, str(report.identity), other)
        return Identified(Match.PROVEN, ", ".join(mine.agreed.values()))
    if "port" in mine.contradicted and not mine.agreed:
        other = others[0] if len(others) == 1 else None
        return Identified(Match.OTHER, str(report.identity), other)
    by_ranges = _by_ranges(report, name, cameras)
    if by_ranges.proof is Match.PROVEN and "port" in mine.contradicted:
        where = mine.contradicted["port"]
        return Identified(Match.UNPROVEN, f"it is at {where} and shows no serial")
    return by_ranges


def is_plugged_in(node: Node, camera: Camera) -> bool:
    """Say whether a device that the system lists is a camera's, without opening it."""
    identity = Identity(node.usb_id, node.serial, node.port)
    return node.stream == 0 and _is_it(_evidence(identity, camera))


class _Evidence(NamedTuple):
    """Facts on which a report and a camera's description agree, and on which they do not."""

    agreed: Mapping[str, str]
    contradicted: Mapping[str, str]


def _evidence(seen: Identity, camera: Camera) -> _Evidence:
    device = camera.device
    if device is None:
        return _Evidence({}, {})
    port = plug_path(device.port) if device.port else None
    facts = {
        "serial": (device.serial, seen.serial),
        "usb id": (device.usb_id, seen.usb_id),
        "port": (port, seen.port),
    }
    known = {name: pair for name, pair in facts.items() if None not in pair}
    return _Evidence(
        {name: f"{name} {one}" for name, (one, other) in known.items() if one == other},
        {name: f"{name} {other}" for name, (one, other) in known.items() if one != other},
    )


def _is_it(found: _Evidence) -> bool:
    """Tell whether the facts name one device: its serial, or its plug, and none against it."""
    against = set(found.contradicted) - {"port"}
    by_serial = "serial" in found.agreed
    by_port = "port" in found.agreed
    return not against and (by_serial or by_port)


def _ambiguous(mine: _Evidence, others: list[str], agreeing: Mapping[str, _Evidence]) -> bool:
    """Tell whether another camera is named by the same facts: twins with one serial."""
    return any(set(agreeing[other].agreed.items()) >= set(mine.agreed.items()) for other in others)


def _owner_of_port(report: Report, name: str, cameras: Mapping[str, Camera]) -> str | None:
    """Return another camera that is described at the port where this one is plugged in."""
    for other, camera in cameras.items():
        port = camera.device.port if camera.device else None
        if other != name and port and plug_path(port) == report.identity.port:
            return other
    return None


def _by_ranges(report: Report, name: str, cameras: Mapping[str, Camera]) -> Identified:
    fitting = [known for known, camera in cameras.items() if _ranges_fit(report, camera)]
    if fitting == [name]:
        return Identified(Match.PROVEN, "its controls and their ranges")
    if name in fitting:
        return Identified(Match.UNPROVEN, f"the ranges fit {_listed(fitting)}")
    if cameras[name].reported:
        other = fitting[0] if len(fitting) == 1 else None
        return Identified(Match.OTHER, "its controls and their ranges", other)
    return Identified(Match.UNPROVEN, f"no ranges are described for {name}")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _ranges_fit(report: Report, camera: Camera) -> bool:
    """Tell whether every described range is the device's, and none of its controls is unknown."""
    described = {present_name(name): known for name, known in camera.reported.items()}
    return bool(described) and all(
        name in report.controls and _same_range(known, report.controls[name])
        for name, known in described.items()
    )


def _same_range(known: ReportedControl, control: DeviceControl) -> bool:
    pairs = (
        (known.min, control.min),
        (known.max, control.max),
        (known.step, control.step),
        (known.default, control.default),
    )
    return all(None in pair or pair[0] == pair[1] for pair in pairs)
