"""What one camera's device reports: who it is, its picture, its controls."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from jobcheck.schema.controls import overridden, present_name


class Identity(NamedTuple):
    """The identity of a device; None if it is not in the report.

    `port` is the path of plugs after the bus number: numbers of buses and hosts change.
    """

    usb_id: str | None = None
    serial: str | None = None
    port: str | None = None
    card: str | None = None

    def __str__(self) -> str:
        known = {"serial": self.serial, "port": self.port, "usb id": self.usb_id}
        named = [f"{name} {value}" for name, value in known.items() if value is not None]
        return ", ".join(named) or self.card or "unknown"


class Picture(NamedTuple):
    """The format that the device has now; None where the report does not say."""

    size_px: tuple[int, int] | None = None
    pixel_format: str | None = None
    frame_rate_hz: float | None = None


@dataclass(frozen=True)
class DeviceControl:
    """One control as the device reports it; None if the report omits it.

    `flags` are the words of a listing, such as `inactive` or `read-only`; `error` says why the
    value could not be read.
    """

    kind: str
    value: int | str | None = None
    min: int | None = None
    max: int | None = None
    step: int | None = None
    default: int | None = None
    flags: frozenset[str] = frozenset()
    menu: Mapping[str, str] = field(default_factory=dict)
    error: str = ""

    @property
    def is_inactive(self) -> bool:
        """Whether an automatic overrides it at present."""
        return "inactive" in self.flags

    @property
    def not_compared(self) -> str:
        """Why its value says nothing about the settings; empty where it does."""
        if self.error:
            return self.error
        for flag in ("write-only", "volatile", "disabled"):
            if flag in self.flags and not (flag == "volatile" and self.is_inactive):
                return flag
        if self.kind in ("button", "class"):
            return self.kind
        return "" if isinstance(self.value, int) else "not a number"

    def takes(self, value: int) -> str:
        """Say which values the device takes, where `value` is not one of them; else empty."""
        if self.menu and self.kind != "bitmask":
            if str(value) in self.menu:
                return ""
            return "the device takes " + ", ".join(
                f"{key} {text}" for key, text in self.menu.items()
            )
        if self.min is None or self.max is None:
            return ""
        step = self.step or 1
        if self.min <= value <= self.max and (value - self.min) % step == 0:
            return ""
        steps = f" in steps of {step}" if step > 1 else ""
        return f"the device takes {self.min} to {self.max}{steps}"


@dataclass(frozen=True)
class Report:
    """What one device reports; controls by the name that a present kernel gives them.

    `source` is the listing or the device file; `day` is the day of the report, None for unknown.
    """

    source: str
    identity: Identity
    picture: Picture
    controls: Mapping[str, DeviceControl]
    day: date | None = None
    device: str | None = None


def by_present_name(controls: Mapping[str, DeviceControl]) -> dict[str, DeviceControl]:
    """Return controls by the names that a present kernel gives them."""
    return {present_name(name): control for name, control in controls.items()}


def overridden_controls(controls: Mapping[str, DeviceControl]) -> frozenset[str]:
    """Return the controls that an automatic of the device sets at present."""
    return frozenset(
        present_name(other)
        for name, control in controls.items()
        for other in overridden(name, control.value)
    ) | frozenset(name for name, control in controls.items() if control.is_inactive)


def plug_path(port: str) -> str:
    """Return a port without the number of its bus: `2-1.2` and `usb-0000:00:14.0-1.2` are `1.2`."""
    return port.rpartition("-")[2]
