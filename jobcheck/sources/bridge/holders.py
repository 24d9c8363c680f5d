"""Whether another process has a file open, as far as the system reports it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import NamedTuple

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows
    fcntl = None  # type: ignore[assignment]


class Holders(NamedTuple):
    """The users of a file: `names` are processes, `is_locked` means that one locked it.

    `is_known` is False if the system does not report this for all processes.
    """

    names: tuple[str, ...] = ()
    is_locked: bool = False
    is_known: bool = True

    @property
    def is_held(self) -> bool:
        """Whether the file is known to be in use."""
        return bool(self.names) or self.is_locked


def holders_of(file: FilePath) -> Holders:
    """Return the users of a file: from the open files in /proc (Linux), and by trying to lock it.

    Processes of other users may be hidden; then `is_known` is False.
    """
    is_locked = _is_locked(file)
    if not sys.platform.startswith("linux"):
        return Holders(is_locked=is_locked, is_known=False)
    names, is_known = _open_in(file)
    return Holders(names, is_locked, is_known)


def _open_in(file: FilePath) -> tuple[tuple[str, ...], bool]:
    """Return the other processes that have a file open, and whether all could be examined."""
    wanted = _identity(os.stat(file))
    found: list[str] = []
    is_known = True
    for process in _processes():
        try:
            links = os.listdir(f"/proc/{process}/fd")
        except PermissionError:
            is_known = False
            continue
        except OSError:  # it ended meanwhile
            continue
        if any(_leads_to(f"/proc/{process}/fd/{link}", wanted) for link in links):
            found.append(_name(process))
    return tuple(found), is_known


def _processes() -> Iterator[str]:
    own = str(os.getpid())
    try:
        names = os.listdir("/proc")
    except OSError:
        return
    yield from (name for name in names if name.isdecimal() and name != own)


def _leads_to(link: str, wanted: tuple[int, int]) -> bool:
    try:
        return _identity(os.stat(link)) == wanted
    except OSError:
        return False


def _identity(info: os.stat_result) -> tuple[int, int]:
    return info.st_dev, info.st_ino


def _name(process: str) -> str:
    try:
        name = FilePath(f"/proc/{process}/comm").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return f"process {process}"
    return f"{name.strip()} (process {process})"


def _is_locked(file: FilePath) -> bool:
    """Try both kinds of lock (flock and fcntl) and release them at once."""
    if fcntl is None:
        return False
    try:
        opened = os.open(file, os.O_RDWR)
    except OSError:  # a read-only file is refused when it is written
        return False
    try:
        for lock in (fcntl.flock, fcntl.lockf):
            try:
                lock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
                lock(opened, fcntl.LOCK_UN)
            except BlockingIOError:
                return True
            except OSError:  # this file system does not support locks
                continue
        return False
    finally:
        os.close(opened)
