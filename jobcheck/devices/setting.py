"""Setting a connected camera: automatics off first, then the rest, one by one, then read again."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import NamedTuple

from jobcheck.devices.live import (
    UNPLUGGED,
    DeviceRefused,
    LiveControl,
    controls,
    opened,
    set_control,
)
from jobcheck.devices.report import overridden_controls
from jobcheck.devices.system import Node, System
from jobcheck.schema.controls import AUTOMATICS, is_automatic_on, present_name


class SetResult(StrEnum):
    """What came of setting one control."""

    AS_IT_WAS = "was so already"
    SET = "set"
    MISSING = "the device has no such control"
    REFUSED = "refused"
    CLAMPED = "the device took another value"
    NOT_TAKEN = "accepted, but reads another value"
    RESET = "reset when the device was opened again"
    UNREADABLE = "cannot be read"
    OVERRIDDEN = "an automatic of the device overrides it"


class Step(NamedTuple):
    """One control that was to be set.

    `reads` is its value at the end, None if it cannot be read; `reason` is the system's.
    """

    name: str
    before: int | None
    wanted: int
    reads: int | None
    outcome: SetResult
    reason: str = ""

    @property
    def is_right(self) -> bool:
        """Whether the control reads as wanted, and no automatic overrides it."""
        return self.reads == self.wanted and self.outcome is not SetResult.OVERRIDDEN


def set_device(system: System, path: str, wanted: Mapping[str, int]) -> tuple[Step, ...]:
    """Set controls, close, open again and read all; nothing is undone where one fails.

    Raises:
        DeviceRefused: the device cannot be opened, was unplugged in the middle (the message says
            how many controls were set), or another one is at its path when it is opened again.
    """
    done: dict[str, _Tried] = {}
    device = _device_at(system, path)
    try:
        with opened(system, path, write=True) as descriptor:
            for name, value in _in_order(wanted):
                done[name] = _set(system, descriptor, name, value)
            after = _values(system, descriptor)
        if _device_at(system, path) != device:
            raise DeviceRefused(
                f"Another device is at {path} now: the camera was plugged in again while it was "
                "set. Compare both cameras before you run."
            )
        with opened(system, path) as descriptor:
            again = _values(system, descriptor)
            live = _by_name(system, descriptor)
            governed = overridden_controls({name: one.control for name, one in live.items()})
    except OSError as error:
        if error.errno in UNPLUGGED:
            number = sum(tried.outcome is SetResult.SET for tried in done.values())
            raise DeviceRefused(
                f"{path} was unplugged. {number} of {len(wanted)} controls were set before."
            ) from None
        raise DeviceRefused(f"{path} cannot be read: {error.strerror}.") from None
    judged = (
        _judged(name, wanted[name], tried, after.get(name), again.get(name))
        for name, tried in done.items()
    )
    return tuple(
        step._replace(outcome=SetResult.OVERRIDDEN)
        if step.is_right and step.name in governed
        else step
        for step in judged
    )


def _device_at(system: System, path: str) -> Node | None:
    return next((node for node in system.nodes() or () if node.path == path), None)


class _Tried(NamedTuple):
    before: int | None
    outcome: SetResult
    reason: str = ""


def _in_order(wanted: Mapping[str, int]) -> Iterator[tuple[str, int]]:
    """Yield automatics that are to be off, then the rest, then automatics that are to be on."""
    names = list(wanted)
    names.sort(key=lambda name: _rank(name, wanted[name]))
    yield from ((name, wanted[name]) for name in names)


def _rank(name: str, value: int) -> int:
    if name not in AUTOMATICS:
        return 1
    return 2 if is_automatic_on(name, value) else 0


def _set(system: System, descriptor: int, name: str, value: int) -> _Tried:
    """Set one control; its flags are asked again, since an automatic may have changed them."""
    live = _by_name(system, descriptor).get(name)
    if live is None:
        return _Tried(None, SetResult.MISSING)
    before = live.control.value if isinstance(live.control.value, int) else None
    if before == value and not live.control.is_inactive:
        return _Tried(before, SetResult.AS_IT_WAS)
    if live.control.kind == "button":
        return _Tried(before, SetResult.REFUSED, "it is a button, which has no value")
    for flag in ("read-only", "grabbed"):
        if flag in live.control.flags:
            return _Tried(before, SetResult.REFUSED, f"it is {flag}")
    try:
        took = set_control(system, descriptor, live, value)
    except OSError as error:
        if error.errno in UNPLUGGED:
            raise
        return _Tried(before, SetResult.REFUSED, _reason(error))
    if took != value:
        return _Tried(before, SetResult.CLAMPED, f"{took}")
    return _Tried(before, SetResult.SET)


def _reason(error: OSError) -> str:
    words = {
        errno.EBUSY: "it is in use",
        errno.ERANGE: "the value is out of its range",
        errno.EACCES: "it may not be written",
        errno.EINVAL: "the value is not valid",
    }
    return words.get(error.errno or 0) or os.strerror(error.errno or 0)


def _by_name(system: System, descriptor: int) -> dict[str, LiveControl]:
    return {present_name(name): live for name, live in controls(system, descriptor).items()}


def _values(system: System, descriptor: int) -> dict[str, int | None]:
    return {
        name: live.control.value if isinstance(live.control.value, int) else None
        for name, live in _by_name(system, descriptor).items()
    }


def _judged(name: str, wanted: int, tried: _Tried, after: int | None, again: int | None) -> Step:
    outcome = tried.outcome
    if outcome in (SetResult.SET, SetResult.AS_IT_WAS) and again != wanted:
        if again is None:
            outcome = SetResult.UNREADABLE
        else:
            outcome = SetResult.RESET if after == wanted else SetResult.NOT_TAKEN
    return Step(name, tried.before, wanted, again, outcome, tried.reason)
