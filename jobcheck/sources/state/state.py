"""States: a label and the bytes of a shop's files, whatever holds them."""

from __future__ import annotations

import os
import stat
from abc import abstractmethod
from collections.abc import Iterator, Mapping
from fnmatch import fnmatchcase
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.text import LARGEST_FILE

ROOT_FILE = "shop.yaml"
RECORDS = "known-good"


class Unreadable(Exception):
    """A file exists but cannot be read; the message is a clause, for example `is a folder`."""


class Files(Mapping[str, bytes]):
    """Relative path (with `/`) -> bytes, read on request.

    A lookup raises KeyError if the file does not exist, Unreadable if it cannot be read.
    """

    @abstractmethod
    def names(self, pattern: str) -> list[str]:
        """Return the names that match a pattern, sorted; `*` matches any name of one level."""

    def folders(self, inside: str) -> list[str]:
        """Return the names of the folders directly inside a folder, sorted."""
        prefix = f"{inside}/"
        below = (name[len(prefix) :] for name in self if name.startswith(prefix))
        return sorted({name.partition("/")[0] for name in below if "/" in name})

    def __len__(self) -> int:
        """Count the files."""
        return sum(1 for _ in self)


class HeldFiles(Files):
    """Files whose bytes are held."""

    def __init__(self, held: Mapping[str, bytes]) -> None:
        """Take the bytes."""
        self._held = dict(held)

    def __getitem__(self, name: str) -> bytes:
        """Return the bytes of a file."""
        return self._held[name]

    def __iter__(self) -> Iterator[str]:
        """Yield the names."""
        return iter(self._held)

    def names(self, pattern: str) -> list[str]:
        """Return the names that match."""
        return sorted(name for name in self._held if matches(name, pattern))


class FolderFiles(Files):
    """Files of a folder, read from the disk."""

    def __init__(self, root: FilePath) -> None:
        """Look at a folder; nothing is read yet."""
        self.root = root
        self._read: dict[str, bytes] = {}

    def __getitem__(self, name: str) -> bytes:
        """Read a file once."""
        if name not in self._read:
            self._read[name] = self._bytes(name)
        return self._read[name]

    def _bytes(self, name: str) -> bytes:
        try:
            return bytes_of(self.root / name, within=self.root)
        except FileNotFoundError:
            raise KeyError(name) from None

    def __iter__(self) -> Iterator[str]:
        """Yield every file below the folder."""
        for folder, folders, files in os.walk(self.root):
            folders.sort()
            base = FilePath(folder).relative_to(self.root)
            yield from ((base / name).as_posix() for name in sorted(files))

    def folders(self, inside: str) -> list[str]:
        """Return the names of the folders directly inside a folder, sorted.

        Raises:
            Unreadable: it is there, but is not a folder that can be read.
        """
        folder = self.root / inside
        if folder.is_symlink() and not folder.resolve().is_relative_to(self.root.resolve()):
            raise Unreadable("is outside the shop's folder")
        try:
            with os.scandir(folder) as entries:
                return sorted(entry.name for entry in entries if entry.is_dir())
        except OSError as error:
            if os.path.lexists(folder):
                raise Unreadable(f"is not a folder that can be read: {error.strerror}") from None
            return []

    def names(self, pattern: str) -> list[str]:
        """Return the names that match; only the folders that the pattern names are looked at."""
        found = [""]
        parts = pattern.split("/")
        for depth, part in enumerate(parts):
            is_last = depth == len(parts) - 1
            found = [
                base + name + ("" if is_last else "/")
                for base in found
                for name in self._level(base, part)
                if is_last or self._leads_down(base + name)
            ]
        return sorted(found)

    def _leads_down(self, name: str) -> bool:
        """Return whether a name is a folder in the shop, and not a link to one that contains it."""
        folder = self.root / name
        if not folder.is_dir():
            return False
        if not folder.is_symlink():
            return True
        end = folder.resolve()
        is_inside = end.is_relative_to(self.root.resolve())
        return is_inside and not folder.parent.resolve().is_relative_to(end)

    def _level(self, base: str, part: str) -> list[str]:
        if "*" not in part:
            return [part] if os.path.lexists(self.root / base / part) else []
        try:
            names = os.listdir(self.root / base)
        except OSError:
            return []
        return [name for name in names if matches(name, part)]


class Replaced(Files):
    """Files of which one has other bytes: those of an editor, not yet saved."""

    def __init__(self, files: Files, name: str, data: bytes) -> None:
        """Take the files, and the one that is replaced or added."""
        self._files, self._name, self._data = files, name, data

    def __getitem__(self, name: str) -> bytes:
        """Return the bytes of a file."""
        return self._data if name == self._name else self._files[name]

    def __iter__(self) -> Iterator[str]:
        """Yield the names."""
        return iter({**dict.fromkeys(self._files), self._name: None})

    def names(self, pattern: str) -> list[str]:
        """Return the names that match."""
        added = {self._name} if matches(self._name, pattern) else set()
        return sorted({*self._files.names(pattern), *added})

    def folders(self, inside: str) -> list[str]:
        """Return the names of the folders directly inside a folder, sorted."""
        return self._files.folders(inside)


def bytes_of(path: FilePath, within: FilePath | None = None) -> bytes:
    """Return the bytes of an ordinary file; `within` is the folder that must contain it.

    Raises:
        FileNotFoundError: it does not exist.
        Unreadable: it is not an ordinary file, too large, outside, or the system refuses.
    """
    try:
        info = path.stat()
        if within is not None and not path.resolve().is_relative_to(within.resolve()):
            raise Unreadable("is outside the shop's folder")
        if stat.S_ISDIR(info.st_mode):
            raise Unreadable("is a folder")
        if not stat.S_ISREG(info.st_mode):
            raise Unreadable("is not an ordinary file")
        if info.st_size > LARGEST_FILE:
            raise Unreadable(f"is larger than {LARGEST_FILE // 1024 // 1024} MiB")
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise FileNotFoundError(str(path)) from None
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise Unreadable(f"cannot be read: {reason}") from None


def matches(name: str, pattern: str) -> bool:
    """Return whether a name matches a pattern, level by level; only `*` is special.

    As in a shell, `*` does not match hidden names.
    """
    names, patterns = name.split("/"), pattern.replace("[", "[[]").replace("?", "[?]").split("/")
    return len(names) == len(patterns) and all(map(_level_matches, names, patterns))


def _level_matches(name: str, pattern: str) -> bool:
    return fnmatchcase(name, pattern) and (name[:1] != "." or pattern[:1] == ".")


class State(NamedTuple):
    """A label and relative path -> bytes. `name` is that of the shop: its folder's."""

    label: str
    files: Files
    name: str


def named_files(files: Files, pattern: str) -> list[str]:
    """Return the files that shop.yaml names by a pattern or a name; a name need not exist.

    A pattern that leads outside the shop is returned as it is: names outside are never listed.
    """
    is_outside = pattern.startswith("/") or ".." in pattern.split("/") or "\\" in pattern
    return files.names(pattern) if "*" in pattern and not is_outside else [pattern]


def folder_state(root: FilePath, label: str = "now") -> State:
    """Return the state of a folder as it is on the disk now."""
    return State(label, FolderFiles(root), root.resolve().name)


def shop_above(start: FilePath) -> FilePath | None:
    """Return the nearest folder at or above `start` that holds shop.yaml.

    Copies in known-good records are never taken for a shop of their own.
    """
    start = start.resolve()
    for folder in (start, *start.parents):
        if (folder / ROOT_FILE).exists() and not is_record(folder):
            return folder
    return None


def is_record(folder: FilePath) -> bool:
    """Tell whether a folder is a known-good record: a copy under `known-good` of a shop."""
    return folder.parent.name == RECORDS and (folder.parent.parent / ROOT_FILE).exists()
