"""What a camera's device says of itself, against the description and the last record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from enum import StrEnum
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.losses import camera_losses
from jobcheck.devices.listing import ListedControl, read_listing
from jobcheck.findings import CallRefused, sentences
from jobcheck.known_good.known import KnownGood
from jobcheck.schema.controls import in_setting_order
from jobcheck.schema.machine import Camera
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.text import LARGEST_FILE, NotUnderstood


class Verdict(StrEnum):
    """What a control of the device agrees with."""

    AS_DESCRIBED = "as described"
    AS_RECORDED = "as in the record"
    NEITHER = "neither"
    NOT_LISTED = "not listed"
    NOT_DESCRIBED = "not described"


class SeenControl(NamedTuple):
    """One control: its value on the device, in the description and in the record."""

    name: str
    device: int | None
    described: int | None
    recorded: int | None
    is_inactive: bool = False

    @property
    def verdict(self) -> Verdict:
        """Say what the device agrees with."""
        if self.described is None and self.recorded is None:
            return Verdict.NOT_DESCRIBED
        if self.device is None:
            return Verdict.NOT_LISTED
        if self.device == self.described:
            return Verdict.AS_DESCRIBED
        return Verdict.AS_RECORDED if self.device == self.recorded else Verdict.NEITHER

    @property
    def differs(self) -> bool:
        """Whether the device is not as it is described."""
        return self.verdict not in (Verdict.AS_DESCRIBED, Verdict.NOT_DESCRIBED)


class Seen(NamedTuple):
    """A device's listing compared, control by control, in the order of the listing.

    `record` names the record that it is compared with too, empty for none. `lost` are the controls
    that the description lost since that record.
    """

    camera: str
    listing: str
    controls: tuple[SeenControl, ...]
    record: str
    lost: tuple[str, ...]
    proposal: Proposal

    @property
    def differing(self) -> tuple[SeenControl, ...]:
        """Controls that are not on the device as they are described."""
        return tuple(control for control in self.controls if control.differs)

    @property
    def to_set(self) -> tuple[tuple[str, int], ...]:
        """What to set on the device to make it as described: automatics come first.

        What the description lost is not among it: the device is not made as wrong as that.
        """
        wanted = {
            control.name: control.described
            for control in self.differing
            if control.described is not None
            and control.device is not None
            and control.name not in self.lost
        }
        return tuple((name, wanted[name]) for name in in_setting_order(wanted))


def look_at(root: FilePath, camera: str, listing: FilePath, today: date, *, write: bool) -> Seen:
    """Compare a saved listing of a camera's device with its description and the record.

    With `write` the ranges and defaults that the device reports go into the description, and, where
    its controls are as described, the day on which it was seen.

    Raises:
        CallRefused: there is no such camera or file, or the file is no listing.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    if camera not in shop.cameras:
        known = ", ".join(shop.cameras) or "none"
        raise CallRefused(f"There is no camera {camera}. Cameras: {known}.")
    known_good = KnownGood(reading, root)
    good = known_good.shop()
    listed = _listed(listing)
    controls = _compared(listed, shop, good, camera)
    edits = _reported(camera, listed, shop)
    if not any(control.differs for control in controls):
        edits.append(Edit(("cameras", camera, "seen"), today.isoformat()))
    proposal = propose(root, reading, edits, write=write)
    lost = tuple(_lost(shop, good, camera)) if good else ()
    return Seen(camera, str(listing), controls, known_good.title, lost, proposal)


def _lost(shop: Shop, good: Shop, camera: str) -> Iterator[str]:
    """Yield the controls of a camera that the description lost since a record."""
    at = ("cameras", camera, "controls")
    for change in camera_losses(good, shop):
        yield from (path[3] for path, _, _ in change.leaves() if path[:3] == at)


def _compared(
    listed: Mapping[str, ListedControl], shop: Shop, good: Shop | None, camera: str
) -> tuple[SeenControl, ...]:
    described = _controls(shop.cameras[camera])
    recorded = _controls(good.cameras.get(camera)) if good else {}
    return tuple(
        SeenControl(
            name,
            listed[name].value if name in listed else None,
            described.get(name),
            recorded.get(name),
            name in listed and listed[name].is_inactive,
        )
        for name in dict.fromkeys([*listed, *described, *recorded])
    )


def _reported(camera: str, listed: Mapping[str, ListedControl], shop: Shop) -> list[Edit]:
    """Return what the description does not yet hold of the ranges that a device reports."""
    known = shop.cameras[camera].reported
    edits = []
    for name, control in listed.items():
        found = reported_of(control)
        path = ("cameras", camera, "reported", name)
        if found and name not in known:
            edits.append(Edit(path, found))
        elif found:
            edits += [
                Edit((*path, key), value)
                for key, value in found.items()
                if getattr(known[name], key) != value
            ]
    return edits


def _controls(camera: Camera | None) -> Mapping[str, int]:
    return (camera.controls or {}) if camera else {}


def _listed(listing: FilePath) -> dict[str, ListedControl]:
    try:
        with listing.open("rb") as stream:
            data = stream.read(LARGEST_FILE)
    except OSError as error:
        raise CallRefused(f"{listing} cannot be read: {error.strerror}.") from None
    try:
        return read_listing(data, str(listing))
    except NotUnderstood as error:
        raise CallRefused(
            f"{error.fault.place}: {error.fault.message} {sentences(error.fault.remedy)}"
        ) from None


def reported_of(control: ListedControl) -> dict[str, object] | None:
    """Return what the description holds of a listed control, None where the range is not told."""
    if control.min is None or control.max is None:
        return None
    told = {
        "min": control.min,
        "max": control.max,
        "step": control.step,
        "default": control.default,
    }
    found: dict[str, object] = {key: value for key, value in told.items() if value is not None}
    if control.menu:
        found["menu"] = dict(control.menu)
    return found
