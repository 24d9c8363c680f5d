"""The one object that opens a device: everything else asks it, and tests replace it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import NamedTuple, Protocol

_CLASS = FilePath("/sys/class/video4linux")


class Node(NamedTuple):
    """One video device as the system lists it, before anything opens it.

    `stream` is its number within the camera: 0 is the one that gives pictures.
    """

    path: str
    name: str
    stream: int
    usb_id: str | None = None
    serial: str | None = None
    port: str | None = None


class System(Protocol):
    """What is asked of the operating system."""

    def nodes(self) -> list[Node] | None:
        """Return the video devices; None where the system has no Video for Linux."""

    def open(self, path: str, *, write: bool = False) -> int:
        """Open a device and return its descriptor; raises OSError."""

    def close(self, descriptor: int) -> None:
        """Close it."""

    def ioctl(self, descriptor: int, request: int, buffer: bytearray) -> None:
        """Make a request; the answer is in the buffer; raises OSError."""

    def holders(self, path: str) -> tuple[list[str], bool]:
        """Return programs that have a device open, and whether all processes could be seen."""


class Linux:
    """Video for Linux, found through sysfs."""

    def nodes(self) -> list[Node] | None:
        """Return the video devices by their number."""
        if sys.platform != "linux" or not _CLASS.is_dir():
            return None
        folders = sorted(_CLASS.glob("video*"), key=lambda folder: int(folder.name[5:] or 0))
        return [_node(folder) for folder in folders]

    def open(self, path: str, *, write: bool = False) -> int:
        """Open a device without waiting for it."""
        return os.open(path, (os.O_RDWR if write else os.O_RDONLY) | os.O_NONBLOCK | os.O_CLOEXEC)

    def close(self, descriptor: int) -> None:
        """Close it."""
        os.close(descriptor)

    def ioctl(self, descriptor: int, request: int, buffer: bytearray) -> None:
        """Make a request, again where a signal interrupts it."""
        import fcntl

        fcntl.ioctl(descriptor, request, buffer, True)

    def holders(self, path: str) -> tuple[list[str], bool]:
        """Look through the descriptors of all processes that may be seen."""
        found: list[str] = []
        saw_all = True
        real = os.path.realpath(path)
        for folder in FilePath("/proc").glob("[0-9]*"):
            try:
                links = [os.readlink(link) for link in (folder / "fd").iterdir()]
                if real in links and int(folder.name) != os.getpid():
                    found.append((folder / "comm").read_text().strip())
            except PermissionError:
                saw_all = False
            except OSError:  # it ended meanwhile
                continue
        return found, saw_all


def _node(folder: FilePath) -> Node:
    usb = next(_usb_folders(folder), None)
    vendor, product = (_read(usb / name) if usb else "" for name in ("idVendor", "idProduct"))
    return Node(
        path=f"/dev/{folder.name}",
        name=_read(folder / "name"),
        stream=int(_read(folder / "index") or 0),
        usb_id=f"{vendor}:{product}" if vendor and product else None,
        serial=(_read(usb / "serial") or None) if usb else None,
        port=(_read(usb / "devpath") or None) if usb else None,
    )


def _usb_folders(folder: FilePath) -> Iterator[FilePath]:
    """Yield the folder of the USB device that a video device belongs to, if there is one."""
    device = (folder / "device").resolve()
    for above in (device, *device.parents):
        if (above / "idVendor").exists():
            yield above


def _read(file: FilePath) -> str:
    try:
        return file.read_text(errors="replace").strip()
    except OSError:
        return ""
