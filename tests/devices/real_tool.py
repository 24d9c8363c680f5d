"""The real v4l2-ctl against an emulated camera, through umockdev.

Run by the tests as `umockdev-wrapper python3 real_tool.py STATE ARGUMENT... [+ ARGUMENT...]` with a
Python that has the GObject bindings of umockdev: it makes /dev/video0 in a test bed, answers its
requests by `tests.support.emulated_cameras`, and runs `v4l2-ctl --device /dev/video0 ARGUMENT...`,
once for each group of arguments. STATE is one of `CAMERAS`. It ends with the sum of exit codes.
"""

from __future__ import annotations

import ctypes
import errno
import subprocess
import sys
import threading
from typing import Any

import gi  # type: ignore[import-not-found]

gi.require_version("UMockdev", "1.0")
from gi.repository import GLib, UMockdev  # type: ignore[import-not-found]  # noqa: E402

from tests.devices.real_tool_cameras import CAMERAS  # noqa: E402
from tests.support.emulated_cameras import (  # noqa: E402
    G_EXT_CTRLS,
    QUERY_EXT_CTRL,
    QUERYCAP,
    S_EXT_CTRLS,
    SIZES,
    Emulated,
)

G_CTRL, S_CTRL = 0xC008561B, 0xC008561C
NEXT_COMPOUND = 0x40
"""In the highest byte of a control's number (V4L2_CTRL_FLAG_NEXT_COMPOUND)."""

CONTROL, POINTER_AT = 20, 24
"""Size of a struct v4l2_ext_control, and where v4l2_ext_controls points to them."""


class Answers(UMockdev.IoctlBase):  # type: ignore[misc]
    """Answers requests of another process as the emulated camera does."""

    def __init__(self, system: Emulated, path: str) -> None:
        super().__init__()
        self._system = system
        self._descriptor = system.open(path)

    def do_handle_ioctl(self, client: Any) -> bool:
        """Copy the structure here, let the camera answer, and copy it back."""
        request = client.get_request() & 0xFFFFFFFF
        size = 8 if request in (G_CTRL, S_CTRL) else SIZES.get(request)
        if size is None:
            client.complete(-1, errno.ENOTTY)
            return True
        there = client.get_arg().resolve(0, size)
        buffer = bytearray(there.retrieve())
        try:
            if request in (G_EXT_CTRLS, S_EXT_CTRLS):
                self._controls(request, there, buffer)
            elif request in (G_CTRL, S_CTRL):
                self._control(G_EXT_CTRLS if request == G_CTRL else S_EXT_CTRLS, buffer)
            else:
                if request == QUERY_EXT_CTRL:
                    buffer[3] &= ~NEXT_COMPOUND  # the cameras have no compound controls
                self._system.ioctl(self._descriptor, request, buffer)
        except OSError as error:
            client.complete(-1, error.errno or errno.EIO)
            return True
        except AssertionError:  # asked for something that is not video capture
            client.complete(-1, errno.EINVAL)
            return True
        if request == QUERYCAP:
            buffer[:8], buffer[48:73] = b"uvcvideo", b"usb-0000:00:14.0-1.2".ljust(25, b"\0")
        there.update(0, bytes(buffer))
        client.complete(0, 0)
        return True

    def _control(self, request: int, buffer: bytearray) -> None:
        """One control by the older call: its number, then its value."""
        control = bytearray(CONTROL)
        control[:4], control[12:16] = buffer[:4], buffer[4:]
        self._exchange(request, control, bytearray(SIZES[request]))
        buffer[4:] = control[12:16]

    def _exchange(self, request: int, control: bytearray, call: bytearray) -> None:
        one = (ctypes.c_char * CONTROL).from_buffer(control)
        call[:4] = bytes(4)  # the class, which may be named
        call[4:8] = (1).to_bytes(4, sys.byteorder)
        call[POINTER_AT:] = ctypes.addressof(one).to_bytes(8, sys.byteorder)
        self._system.ioctl(self._descriptor, request, call)

    def _controls(self, request: int, there: Any, buffer: bytearray) -> None:
        """The list of controls is behind a pointer of the other process."""
        count = int.from_bytes(buffer[4:8], sys.byteorder)
        listed = there.resolve(POINTER_AT, CONTROL * count)
        controls = bytearray(listed.retrieve())
        for at in range(0, CONTROL * count, CONTROL):
            control = bytearray(controls[at : at + CONTROL])
            self._exchange(request, control, bytearray(buffer))
            controls[at : at + CONTROL] = control
        listed.update(0, bytes(controls))


def main() -> int:
    """Run the tool; what it prints is what this prints."""
    state, *arguments = sys.argv[1:]
    system = Emulated(CAMERAS[state]())
    bed = UMockdev.Testbed.new()
    bed.add_from_string(
        "P: /devices/pci/usb1/1-1.2/1-1.2:1.0/video4linux/video0\n"
        "N: video0\nE: DEVNAME=/dev/video0\nE: SUBSYSTEM=video4linux\n"
        "A: index=0\\n\nA: dev=81:0\\n\n"
    )
    answers = Answers(system, "/dev/video0")
    bed.attach_ioctl("/dev/video0", answers)
    loop, ended = GLib.MainLoop(), list[int]()

    def run() -> None:
        for group in " ".join(arguments).split(" + "):
            command = ["v4l2-ctl", "--device", "/dev/video0", *group.split()]
            ended.append(subprocess.run(command, check=False).returncode)
        loop.quit()

    threading.Thread(target=run, daemon=True).start()
    loop.run()
    return sum(ended)


if __name__ == "__main__":
    sys.exit(main())
