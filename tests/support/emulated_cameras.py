"""Cameras that answer as the kernel documents, behind the object that opens devices.

Byte for byte: requests are known by their number, buffers must have the size of the structure, and
the list of an extended call is read and written through its pointer. Source: Linux kernel, Video
for Linux API documentation, and include/uapi/linux/videodev2.h; numbers and offsets are written
here anew, so that a slip in one of the two shows.
"""

from __future__ import annotations

import ctypes
import errno
import struct
from collections.abc import Callable
from dataclasses import dataclass, field

from jobcheck.devices.system import Node

QUERYCAP, G_FMT, G_PARM = 0x80685600, 0xC0D05604, 0xC0CC5615
QUERYCTRL, QUERYMENU, QUERY_EXT_CTRL = 0xC0445624, 0xC02C5625, 0xC0E85667
G_EXT_CTRLS, S_EXT_CTRLS = 0xC0205647, 0xC0205648
SIZES = {
    QUERYCAP: 104,
    G_FMT: 208,
    G_PARM: 204,
    QUERYCTRL: 68,
    QUERYMENU: 44,
    QUERY_EXT_CTRL: 232,
    G_EXT_CTRLS: 32,
    S_EXT_CTRLS: 32,
}
INT, BOOL, MENU, BUTTON, INT64, CLASS, STRING, BITMASK, INTMENU = range(1, 10)
READ_ONLY, INACTIVE, WRITE_ONLY, VOLATILE, GRABBED = 0x04, 0x10, 0x40, 0x80, 0x02
NEXT = 0x80000000


@dataclass
class Control:
    """One control of an emulated device."""

    number: int
    name: str
    kind: int
    min: int = 0
    max: int = 1
    step: int = 1
    default: int = 0
    value: int = 0
    flags: int = 0
    menu: dict[int, str] = field(default_factory=dict)
    read_error: int = 0
    write_error: int = 0
    ignores: bool = False
    """Accepts a value and keeps its own."""


@dataclass
class Camera:
    """An emulated device; `inactive` is control -> the automatic, and the value that frees it."""

    node: Node
    controls: list[Control]
    inactive: dict[str, tuple[str, int]] = field(default_factory=dict)
    size: tuple[int, int] = (1280, 720)
    code: bytes = b"YUYV"
    rate: tuple[int, int] = (1, 10)
    capabilities: int = 0x84200001
    own: int = 0x04200001
    has_extended_query: bool = True
    open_error: int = 0
    holders: tuple[str, ...] = ()
    saw_all: bool = True
    resets_at_open: dict[str, int] = field(default_factory=dict)
    unplugged_after: int | None = None
    """How many writes succeed before it is pulled out."""

    def named(self, name: str) -> Control:
        """Return a control by the name that its driver gives it."""
        return next(control for control in self.controls if control.name == name)

    def flags_of(self, control: Control) -> int:
        governor = self.inactive.get(control.name)
        is_governed = governor is not None and self.named(governor[0]).value != governor[1]
        return control.flags | (INACTIVE if is_governed else 0)


class Emulated:
    """A system with emulated cameras."""

    def __init__(self, *cameras: Camera, has_video: bool = True) -> None:
        self.cameras = list(cameras)
        self.has_video = has_video
        self.opened: dict[int, Camera] = {}
        self.opens = 0
        self.writes: list[tuple[str, int]] = []

    def nodes(self) -> list[Node] | None:
        return [camera.node for camera in self.cameras] if self.has_video else None

    def holders(self, path: str) -> tuple[list[str], bool]:
        camera = next(c for c in self.cameras if c.node.path == path)
        return list(camera.holders), camera.saw_all

    def open(self, path: str, *, write: bool = False) -> int:
        camera = next((c for c in self.cameras if c.node.path == path), None)
        if camera is None:
            raise OSError(errno.ENOENT, "No such file or directory")
        if camera.open_error:
            raise OSError(camera.open_error, "refused")
        self.opens += 1
        if self.writes:
            for name, value in camera.resets_at_open.items():
                camera.named(name).value = value
        self.opened[self.opens] = camera
        return self.opens

    def close(self, descriptor: int) -> None:
        del self.opened[descriptor]

    def ioctl(self, descriptor: int, request: int, buffer: bytearray) -> None:
        camera = self.opened[descriptor]
        if camera.unplugged_after is not None and len(self.writes) >= camera.unplugged_after:
            raise OSError(errno.ENODEV, "No such device")
        assert len(buffer) == SIZES[request], "the buffer has the size of the structure"
        answers: dict[int, Callable[[Camera, bytearray], None]] = {
            QUERYCAP: _capability,
            G_FMT: _format,
            G_PARM: _parm,
            QUERYCTRL: _query,
            QUERY_EXT_CTRL: _query_extended,
            QUERYMENU: _menu,
            G_EXT_CTRLS: self._get,
            S_EXT_CTRLS: self._set,
        }
        answers[request](camera, buffer)

    def _get(self, camera: Camera, buffer: bytearray) -> None:
        pointer, control = _one(camera, buffer)
        if control.flags & WRITE_ONLY:
            raise OSError(errno.EACCES, "Permission denied")
        if control.read_error:
            raise OSError(control.read_error, "Input/output error")
        _answer(pointer, control)

    def _set(self, camera: Camera, buffer: bytearray) -> None:
        pointer, control = _one(camera, buffer)
        raw = bytearray(ctypes.string_at(pointer, 20))
        wide = control.kind == INT64
        (value,) = struct.unpack_from("=q" if wide else "=i", raw, 12)
        if control.flags & (READ_ONLY | GRABBED):
            raise OSError(errno.EBUSY if control.flags & GRABBED else errno.EACCES, "refused")
        if control.write_error:
            raise OSError(control.write_error, "Input/output error")
        if control.kind in (MENU, INTMENU) and value not in control.menu:
            raise OSError(errno.EINVAL, "Invalid argument")
        step = control.step or 1
        value = min(max(value, control.min), control.max)
        value = control.min + round((value - control.min) / step) * step
        if not control.ignores:
            control.value = value
        self.writes.append((control.name, value))
        struct.pack_into("=q" if wide else "=i", raw, 12, value)
        ctypes.memmove(pointer, bytes(raw), 20)


def _one(camera: Camera, buffer: bytearray) -> tuple[int, Control]:
    which, count, _index, _descriptor, _reserved = struct.unpack_from("=IIIiI", buffer, 0)
    (pointer,) = struct.unpack_from("=Q", buffer, 24)
    assert (which, count) == (0, 1), "one control in each call, its current value"
    (number,) = struct.unpack_from("=I", ctypes.string_at(pointer, 20), 0)
    return pointer, _find(camera, number)


def _answer(pointer: int, control: Control) -> None:
    raw = bytearray(ctypes.string_at(pointer, 20))
    struct.pack_into("=q" if control.kind == INT64 else "=i", raw, 12, control.value)
    ctypes.memmove(pointer, bytes(raw), 20)


def _find(camera: Camera, number: int) -> Control:
    for control in camera.controls:
        if control.number == number:
            return control
    raise OSError(errno.EINVAL, "Invalid argument")


def _next(camera: Camera, number: int) -> Control:
    if not number & NEXT:
        return _find(camera, number)
    later = [c for c in camera.controls if c.number > number & ~NEXT]
    if not later:
        raise OSError(errno.EINVAL, "Invalid argument")
    return min(later, key=lambda control: control.number)


def _capability(camera: Camera, buffer: bytearray) -> None:
    buffer[16:48] = camera.node.name.encode().ljust(32, b"\0")
    struct.pack_into("=II", buffer, 84, camera.capabilities, camera.own)


def _format(camera: Camera, buffer: bytearray) -> None:
    assert struct.unpack_from("=I", buffer, 0) == (1,), "video capture is asked for"
    struct.pack_into("=II4s", buffer, 8, *camera.size, camera.code)


def _parm(camera: Camera, buffer: bytearray) -> None:
    assert struct.unpack_from("=I", buffer, 0) == (1,), "video capture is asked for"
    struct.pack_into("=II", buffer, 12, *camera.rate)


def _query(camera: Camera, buffer: bytearray) -> None:
    control = _next(camera, struct.unpack_from("=I", buffer, 0)[0])
    figures = (control.min, control.max, control.step, control.default)
    struct.pack_into(
        "=II32s4iI",
        buffer,
        0,
        control.number,
        control.kind,
        control.name.encode(),
        *figures,
        camera.flags_of(control),
    )


def _query_extended(camera: Camera, buffer: bytearray) -> None:
    if not camera.has_extended_query:
        raise OSError(errno.ENOTTY, "Inappropriate ioctl for device")
    control = _next(camera, struct.unpack_from("=I", buffer, 0)[0])
    struct.pack_into("=II32s", buffer, 0, control.number, control.kind, control.name.encode())
    struct.pack_into("=qqQq", buffer, 40, control.min, control.max, control.step, control.default)
    struct.pack_into("=I", buffer, 72, camera.flags_of(control))


def _menu(camera: Camera, buffer: bytearray) -> None:
    number, index = struct.unpack_from("=II", buffer, 0)
    control = _find(camera, number)
    if index not in control.menu:
        raise OSError(errno.EINVAL, "Invalid argument")
    if control.kind == INTMENU:
        struct.pack_into("=q", buffer, 8, int(control.menu[index]))
    else:
        buffer[8:40] = control.menu[index].encode().ljust(32, b"\0")


# cameras


def ordinary(path: str = "/dev/video0", serial: str | None = "0003", port: str = "1.2") -> Camera:
    """Return the camera `up` of the example shop as its description has it."""
    node = Node(path, "Bench camera", 0, "fff0:0002", serial, port)
    modes = {1: "Manual Mode", 3: "Aperture Priority Mode"}
    controls = [
        Control(0x00980900, "Brightness", INT, -64, 64, 1, 0, 12),
        Control(0x00980901, "Contrast", INT, 0, 64, 1, 32, 36),
        Control(0x0098090C, "White Balance, Automatic", BOOL, 0, 1, 1, 1, 0),
        Control(0x00980910, "Gamma", INT, 72, 500, 1, 100, 110),
        Control(0x00980913, "Gain", INT, 0, 100, 1, 0, 4),
        Control(
            0x00980918,
            "Power Line Frequency",
            MENU,
            0,
            2,
            0,
            2,
            1,
            menu={0: "Disabled", 1: "50 Hz", 2: "60 Hz"},
        ),
        Control(0x0098091A, "White Balance Temperature", INT, 2800, 6500, 10, 5000, 4600),
        Control(0x0098091B, "Sharpness", INT, 0, 6, 1, 3, 2),
        Control(0x009A0901, "Auto Exposure", MENU, 0, 3, 1, 3, 1, menu=modes),
        Control(0x009A0902, "Exposure Time, Absolute", INT, 1, 5000, 1, 157, 100),
        Control(0x009A0903, "Exposure, Dynamic Framerate", BOOL, 0, 1, 1, 1, 0),
    ]
    inactive = {
        "White Balance Temperature": ("White Balance, Automatic", 0),
        "Exposure Time, Absolute": ("Auto Exposure", 1),
    }
    return Camera(node, controls, inactive)


def after_power_up(camera: Camera) -> Camera:
    """Return the camera with every control at its default, as after a reset."""
    for control in camera.controls:
        control.value = control.default
    return camera


def with_older_names(camera: Camera) -> Camera:
    """Return the camera as an older kernel names its controls."""
    older = {
        "White Balance, Automatic": "White Balance Temperature, Auto",
        "Auto Exposure": "Exposure, Auto",
        "Exposure Time, Absolute": "Exposure (Absolute)",
        "Exposure, Dynamic Framerate": "Exposure, Auto Priority",
    }
    for control in camera.controls:
        control.name = older.get(control.name, control.name)
    camera.inactive = {
        older.get(name, name): (older.get(by, by), value)
        for name, (by, value) in camera.inactive.items()
    }
    return camera
