"""A connected camera: reading what it reports, and setting one control after another."""

from __future__ import annotations

import ctypes
import errno
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from struct import Struct, pack_into
from typing import NamedTuple

from jobcheck.devices import v4l2
from jobcheck.devices.report import DeviceControl, Identity, Picture, Report, by_present_name
from jobcheck.devices.system import Node, System

UNPLUGGED = (errno.ENODEV, errno.ENXIO)
_LARGEST_MENU = 256


class DeviceRefused(Exception):
    """A device cannot be used; the message says why."""


@contextmanager
def opened(system: System, path: str, *, write: bool = False) -> Iterator[int]:
    """Open a device for as long as the block runs.

    Raises:
        DeviceRefused: it is not there, may not be opened, or is in use.
    """
    try:
        descriptor = system.open(path, write=write)
    except OSError as error:
        raise DeviceRefused(_why_not_opened(path, error)) from None
    try:
        yield descriptor
    finally:
        system.close(descriptor)


def _why_not_opened(path: str, error: OSError) -> str:
    if error.errno in (errno.EACCES, errno.EPERM):
        return f"{path} may not be opened: its users are those of the group `video`."
    if error.errno == errno.EBUSY:
        return f"{path} is in use by another program."
    if error.errno in (errno.ENOENT, *UNPLUGGED):
        return f"{path} is not there."
    return f"{path} cannot be opened: {error.strerror}."


class LiveControl(NamedTuple):
    """A control with the number that the kernel knows it by."""

    number: int
    control: DeviceControl


def read_device(system: System, node: Node, today: date) -> Report:
    """Return what a connected device reports today.

    Raises:
        DeviceRefused: it cannot be opened, gives no pictures, or was unplugged meanwhile.
    """
    with opened(system, node.path) as descriptor:
        try:
            _require_capture(system, descriptor, node.path)
            found = controls(system, descriptor)
            picture = _picture(system, descriptor)
        except OSError as error:
            if error.errno in UNPLUGGED:
                raise DeviceRefused(f"{node.path} was unplugged while it was read.") from None
            raise DeviceRefused(f"{node.path} cannot be read: {error.strerror}.") from None
    identity = Identity(node.usb_id, node.serial, node.port, node.name)
    named = {name: live.control for name, live in found.items()}
    return Report(node.path, identity, picture, by_present_name(named), today, node.path)


def _require_capture(system: System, descriptor: int, path: str) -> None:
    buffer = bytearray(v4l2.CAPABILITY.size)
    system.ioctl(descriptor, v4l2.QUERYCAP, buffer)
    *_, whole, own, _r1, _r2, _r3 = v4l2.CAPABILITY.unpack(buffer)
    if not (own if whole & v4l2.DEVICE_CAPS else whole) & v4l2.CAPTURE:
        raise DeviceRefused(f"{path} gives no pictures.")


def controls(system: System, descriptor: int) -> dict[str, LiveControl]:
    """Return the controls of an open device by their listed names, with values and menus."""
    queries = (
        (v4l2.QUERYEXTCTRL, v4l2.QUERY_EXT_CTRL),
        (v4l2.QUERYCTRL, v4l2.QUERY_CTRL),  # for kernels without the extended query
    )
    for request, layout in queries:
        try:
            return dict(_walk(system, descriptor, request, layout))
        except OSError as error:
            if error.errno != errno.ENOTTY:
                raise
    return {}


def _walk(
    system: System, descriptor: int, request: int, layout: Struct
) -> Iterator[tuple[str, LiveControl]]:
    """Walk the controls by one of the two queries; ENOTTY at the first if a kernel lacks it.

    Both structures begin with number, kind, name, least, greatest, step, default and flags.
    """
    number = 0
    while True:
        buffer = bytearray(layout.size)
        pack_into("=I", buffer, 0, number | v4l2.NEXT_CTRL)
        try:
            system.ioctl(descriptor, request, buffer)
        except OSError as error:
            if error.errno == errno.EINVAL or (error.errno == errno.ENOTTY and number):
                return
            raise
        number, kind, name, *figures, flags = layout.unpack(buffer)[:8]
        yield from _named(system, descriptor, number, kind, name, tuple(figures), flags)


def _named(
    system: System,
    descriptor: int,
    number: int,
    kind: int,
    name: bytes,
    figures: tuple[int, ...],
    flags: int,
) -> Iterator[tuple[str, LiveControl]]:
    word = v4l2.KINDS.get(kind, "compound")
    words = frozenset(text for bit, text in v4l2.FLAGS.items() if flags & bit)
    if word in ("class", "compound") or "disabled" in words:
        return
    least, most, step, default = figures
    value, error = _value(system, descriptor, number, word, words)
    control = DeviceControl(
        kind=word,
        value=value,
        min=least,
        max=most,
        step=step or 1,
        default=default,
        flags=words,
        menu=_menu(system, descriptor, number, word, range(least, most + 1)),
        error=error,
    )
    yield v4l2.variable_name(v4l2.text_of(name)), LiveControl(number, control)


def _menu(
    system: System, descriptor: int, number: int, kind: str, values: range
) -> Mapping[str, str]:
    """Return the entries of a menu; those that a driver leaves out answer EINVAL."""
    found: dict[str, str] = {}
    for index in values[:_LARGEST_MENU] if kind in ("menu", "intmenu") else ():
        buffer = bytearray(v4l2.QUERY_MENU.size)
        v4l2.QUERY_MENU.pack_into(buffer, 0, number, index, b"", 0)
        try:
            system.ioctl(descriptor, v4l2.QUERYMENU, buffer)
        except OSError as error:
            if error.errno in UNPLUGGED:
                raise
            continue
        raw = v4l2.QUERY_MENU.unpack(buffer)[2]
        is_number = kind == "intmenu"
        found[str(index)] = (
            str(int.from_bytes(raw[:8], sys.byteorder, signed=True))
            if is_number
            else v4l2.text_of(raw)
        )
    return found


def _value(
    system: System, descriptor: int, number: int, kind: str, flags: frozenset[str]
) -> tuple[int | None, str]:
    """Return a control's value, or None with the reason; a failure costs this value alone."""
    if kind in ("button", "str") or "write-only" in flags:
        return None, ""
    try:
        return _exchange(system, descriptor, v4l2.G_EXT_CTRLS, number, 0, kind), ""
    except OSError as error:
        if error.errno in UNPLUGGED:
            raise
        return None, f"not readable: {os.strerror(error.errno or 0)}"


def set_control(system: System, descriptor: int, live: LiveControl, value: int) -> int:
    """Set one control and return the value that the driver says it took.

    Raises:
        OSError: the driver refuses.
    """
    return _exchange(system, descriptor, v4l2.S_EXT_CTRLS, live.number, value, live.control.kind)


def _exchange(
    system: System, descriptor: int, request: int, number: int, value: int, kind: str
) -> int:
    """Get or set one control through the extended interface.

    A failed call of several controls sets those before the fault; so there is one in each call.
    """
    one = bytearray(v4l2.EXT_CONTROL.size)
    v4l2.EXT_CONTROL.pack_into(one, 0, number, 0, 0, value)
    held = (ctypes.c_char * len(one)).from_buffer(one)
    call = bytearray(v4l2.EXT_CONTROLS.size)
    v4l2.EXT_CONTROLS.pack_into(call, 0, 0, 1, 0, 0, 0, ctypes.addressof(held))
    system.ioctl(descriptor, request, call)
    answer: int = v4l2.EXT_CONTROL.unpack(one)[3]
    if kind == "int64":
        return answer
    return int.from_bytes(
        (answer & 0xFFFFFFFF).to_bytes(4, sys.byteorder), sys.byteorder, signed=True
    )


def _picture(system: System, descriptor: int) -> Picture:
    size, code = None, None
    buffer = bytearray(v4l2.FORMAT.size)
    v4l2.FORMAT.pack_into(buffer, 0, v4l2.CAPTURE, b"")
    if _answers(system, descriptor, v4l2.G_FMT, buffer):
        pixels = v4l2.FORMAT.unpack(buffer)[1]
        width, height = (int.from_bytes(pixels[at : at + 4], sys.byteorder) for at in (0, 4))
        size, code = (width, height), pixels[8:12].decode("ascii", "replace").strip()
    buffer = bytearray(v4l2.PARM.size)
    v4l2.PARM.pack_into(buffer, 0, v4l2.CAPTURE, b"")
    rate = None
    if _answers(system, descriptor, v4l2.G_PARM, buffer):
        figures = v4l2.PARM.unpack(buffer)[1]
        seconds, parts = (int.from_bytes(figures[at : at + 4], sys.byteorder) for at in (8, 12))
        rate = parts / seconds if seconds and parts else None
    return Picture(size, code, rate)


def _answers(system: System, descriptor: int, request: int, buffer: bytearray) -> bool:
    try:
        system.ioctl(descriptor, request, buffer)
    except OSError as error:
        if error.errno in UNPLUGGED:
            raise
        return False
    return True
