"""Which of the controller's files were gathered, and copies of those that were delivered to.

Both lie in a folder of the shop that git does not see: they belong to this machine alone.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import Any

from jobcheck.sources.writing import Rewrite, WriteRefused, write_files

FOLDER = "controller-copies"
_LEDGER = f"{FOLDER}/gathered.json"
_IGNORED = f"{FOLDER}/.gitignore"


class Ledger:
    """The ledger of one shop. Files are known by the SHA-256 of their bytes, not by their date."""

    def __init__(self, root: FilePath) -> None:
        """Look at a shop's folder."""
        self._root = root

    def _read(self) -> tuple[bytes | None, dict[str, Any]]:
        try:
            data = (self._root / _LEDGER).read_bytes()
        except OSError:
            return None, {}
        try:
            held = json.loads(data)
        except ValueError:
            return data, {}
        return data, held if isinstance(held, dict) else {}

    def gathered(self, name: str) -> str | None:
        """Return the day on which a file was gathered last, None for never."""
        entry = self._read()[1].get(name)
        return str(entry.get("gathered")) if isinstance(entry, dict) else None

    def is_as_gathered(self, name: str, data: bytes) -> bool:
        """Tell whether a file is the one that was gathered, or that was delivered since."""
        entry = self._read()[1].get(name)
        return isinstance(entry, dict) and sum_of(data) in entry.get("sums", ())

    def note(self, files: Mapping[str, bytes], today: date) -> None:
        """Note files as gathered.

        Raises:
            WriteRefused: it cannot be written.
        """
        known = {
            name: entry
            for name, entry in self._read()[1].items()
            if isinstance(entry, dict) and name not in files
        }
        new = {
            name: {"gathered": today.isoformat(), "sums": [sum_of(data)]}
            for name, data in files.items()
        }
        self._write({**known, **new})

    def expect(self, name: str, new: bytes) -> None:
        """Note that a gathered file is about to hold other bytes, which then count as gathered.

        Raises:
            WriteRefused: it cannot be written.
        """
        held = self._read()[1]
        sums = [one for one in held[name]["sums"] if one != sum_of(new)]
        self._write({**held, name: {**held[name], "sums": [*sums[-1:], sum_of(new)]}})

    def keep_copy(self, name: str, data: bytes) -> str:
        """Keep a copy of a file, read back; return its name. One that is there already serves.

        Raises:
            WriteRefused: it cannot be written, or does not hold what was written.
        """
        stem, dot, ending = FilePath(name).name.rpartition(".")
        copy = f"{FOLDER}/{stem or ending}-{sum_of(data)[:12]}{dot if stem else ''}"
        copy += ending if stem else ""
        target = self._root / copy
        if not target.exists() or target.read_bytes() != data:
            old = target.read_bytes() if target.exists() else None
            self._write_files({copy: Rewrite(old, data)})
        if target.read_bytes() != data:
            raise WriteRefused(copy, "it does not hold what was written; look at the disk")
        return copy

    def _write(self, held: Mapping[str, Any]) -> None:
        old, _ = self._read()
        new = (json.dumps(held, indent=1, sort_keys=True) + "\n").encode()
        self._write_files({_LEDGER: Rewrite(old, new)})

    def _write_files(self, files: dict[str, Rewrite]) -> None:
        ignored = self._root / _IGNORED
        rules = {} if ignored.exists() else {_IGNORED: Rewrite(None, b"*\n")}
        write_files(self._root, {**rules, **files})


def sum_of(data: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()
