"""Setting a connected camera to its description, or to a recorded state of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.commands.seen import Seen, compare_device, controls_of
from jobcheck.devices.identify import Match
from jobcheck.devices.live import DeviceRefused
from jobcheck.devices.report import Report, overridden_controls
from jobcheck.devices.setting import Step, set_device
from jobcheck.devices.system import System
from jobcheck.findings import CallRefused, command
from jobcheck.known_good.known import KnownGood
from jobcheck.known_good.states import read_state
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state


class Set(NamedTuple):
    """The controls to set, or the result of setting them.

    `steps` is empty in a preview. `holders` are programs that have the camera open; `unseen` says
    that other users' processes could not be looked at for one.
    """

    camera: str
    report: Report
    seen: Seen
    wanted: Mapping[str, int]
    steps: tuple[Step, ...] = ()
    holders: tuple[str, ...] = ()
    unseen: bool = False

    @property
    def is_right(self) -> bool:
        """Whether every control reads as described."""
        if self.steps:
            return all(step.is_right for step in self.steps)
        return not self.wanted


def set_camera(
    root: FilePath, camera: str, state: str, system: System, today: date, *, write: bool
) -> Set:
    """Set the device of a camera to the controls of a state of the shop, one after another.

    Raises:
        CallRefused: the description lost settings, the device is not surely this camera's, a value
            is out of its range, another program has the device open, or it cannot be used.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    known = KnownGood(reading, root)
    seen = compare_device(camera, shop, known, system, today)
    report = _device_of(seen)
    if state == "now" and seen.lost:
        raise CallRefused(
            f"The description of camera {camera} lost {', '.join(seen.lost)} since "
            f"{seen.record}. Nothing was set. Put that back first:",
            command("restore", f"cameras.{camera}"),
        )
    source = shop if state == "now" else understood(read_state(state, root))
    controls = _controls(source, camera, state)
    _require_legal(report, camera, controls)
    governed = overridden_controls(report.controls)
    wanted = {
        name: value
        for name, value in controls.items()
        if name not in report.controls or report.controls[name].value != value or name in governed
    }
    holders, saw_all = system.holders(report.source)
    if holders and write:
        raise CallRefused(f"{report.source} is open in {', '.join(holders)}. Close it first.")
    if not write:
        return Set(camera, report, seen, wanted, holders=tuple(holders), unseen=not saw_all)
    try:
        steps = set_device(system, report.source, controls)
    except DeviceRefused as error:
        raise CallRefused(str(error)) from None
    return Set(camera, report, seen, wanted, steps, unseen=not saw_all)


def _device_of(seen: Seen) -> Report:
    if seen.report is None:
        raise CallRefused(f"Camera {seen.camera}: {seen.refused}")
    if seen.identified.proof is not Match.PROVEN:
        raise CallRefused(
            f"{seen.report.source} is not surely camera {seen.camera}. Nothing was set. See:",
            command("seen", seen.camera),
        )
    return seen.report


def _controls(shop: Shop, camera: str, state: str) -> dict[str, int]:
    described = shop.cameras.get(camera)
    found = controls_of(described) if described else {}
    if not found:
        where = "The description" if state == "now" else f"The state {state}"
        raise CallRefused(f"{where} has no controls of camera {camera}.")
    return found


def _require_legal(report: Report, camera: str, controls: Mapping[str, int]) -> None:
    wrong = [
        f"{name} {value}, {takes}"
        for name, value in controls.items()
        if name in report.controls and (takes := report.controls[name].takes(value))
    ]
    if wrong:
        raise CallRefused(
            f"Camera {camera} cannot be set as described: {'; '.join(wrong)}. Nothing was set."
        )
