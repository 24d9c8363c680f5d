"""The kernel's Video for Linux interface: the structures and requests that are used here.

Source: Linux kernel, include/uapi/linux/videodev2.h and the Video for Linux API documentation
(VIDIOC_QUERY_EXT_CTRL, VIDIOC_QUERYCTRL, VIDIOC_QUERYMENU, VIDIOC_G_EXT_CTRLS, VIDIOC_S_EXT_CTRLS,
VIDIOC_G_FMT, VIDIOC_G_PARM). Sizes are those of this machine: pointers and alignment are native.
"""

from __future__ import annotations

import struct

_READ, _WRITE = 2, 1


def _request(direction: int, number: int, size: int) -> int:
    """Return the number of a request (asm-generic/ioctl.h): direction, size, V, its own number."""
    return direction << 30 | size << 16 | ord("V") << 8 | number


CAPABILITY = struct.Struct("=16s32s32s6I")
FORMAT = struct.Struct("@I0P200s")
PARM = struct.Struct("=I200s")
CONTROL = struct.Struct("=Ii")
QUERY_CTRL = struct.Struct("=II32s4iI2I")
QUERY_EXT_CTRL = struct.Struct("@II32sqqQq4I4I32I")
QUERY_MENU = struct.Struct("=II32sI")
EXT_CONTROL = struct.Struct("=IIIq")
EXT_CONTROLS = struct.Struct("@IIIiIP")

QUERYCAP = _request(_READ, 0, CAPABILITY.size)
G_FMT = _request(_READ | _WRITE, 4, FORMAT.size)
G_PARM = _request(_READ | _WRITE, 21, PARM.size)
QUERYCTRL = _request(_READ | _WRITE, 36, QUERY_CTRL.size)
QUERYMENU = _request(_READ | _WRITE, 37, QUERY_MENU.size)
G_EXT_CTRLS = _request(_READ | _WRITE, 71, EXT_CONTROLS.size)
S_EXT_CTRLS = _request(_READ | _WRITE, 72, EXT_CONTROLS.size)
QUERYEXTCTRL = _request(_READ | _WRITE, 103, QUERY_EXT_CTRL.size)

CAPTURE = 1
"""V4L2_BUF_TYPE_VIDEO_CAPTURE, and the capability of the same number."""

DEVICE_CAPS = 0x80000000
NEXT_CTRL = 0x80000000

KINDS = {
    1: "int",
    2: "bool",
    3: "menu",
    4: "button",
    5: "int64",
    6: "class",
    7: "str",
    8: "bitmask",
    9: "intmenu",
}
"""enum v4l2_ctrl_type, in the words of a listing."""

FLAGS = {
    0x0001: "disabled",
    0x0002: "grabbed",
    0x0004: "read-only",
    0x0008: "update",
    0x0010: "inactive",
    0x0040: "write-only",
    0x0080: "volatile",
}
"""V4L2_CTRL_FLAG_*, in the words of a listing."""


def text_of(raw: bytes) -> str:
    """Return a text of fixed length without its padding."""
    return raw.partition(b"\0")[0].decode("utf-8", "replace")


def variable_name(name: str) -> str:
    """Return a control's name as a listing writes it: `Exposure Time, Absolute` in lower case.

    Letters and digits stay, each run of other characters between them is one underscore.
    """
    lower = "".join(c.lower() if c.isascii() and c.isalnum() else " " for c in name)
    return "_".join(lower.split())
