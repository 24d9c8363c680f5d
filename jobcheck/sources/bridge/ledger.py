"""A record of gathered files, and copies of the files that were delivered to.

Both are in a folder of the shop that git ignores: they belong to this computer alone.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import Any

from jobcheck.sources.state.writing import Rewrite

FOLDER = "controller-copies"
_LEDGER = f"{FOLDER}/gathered.json"
_IGNORED = f"{FOLDER}/.gitignore"


class Ledger:
    """The ledger of one shop. Files are known by the SHA-256 of their bytes, not by their date."""

    def __init__(self, root: FilePath) -> None:
        """Open the ledger of a shop's folder."""
        self._root = root

    def _read(self) -> tuple[bytes | None, dict[str, Any]]:
        try:
            data = (self._root / _LEDGER).read_bytes()
        except OSError:
            return None, {}
        try:
            held = json.loads(data)
        except (ValueError, RecursionError):
            return data, {}
        entries = held.items() if isinstance(held, dict) else ()
        return data, {name: entry for name, entry in entries if _is_entry(entry)}

    def gathered(self, name: str) -> str | None:
        """Return the day on which a file was last gathered, None if never."""
        entry = self._read()[1].get(name)
        return str(entry.get("gathered")) if isinstance(entry, dict) else None

    def is_as_gathered(self, name: str, data: bytes) -> bool:
        """Return whether a file has the bytes that were gathered, or delivered since."""
        entry = self._read()[1].get(name)
        return isinstance(entry, dict) and sum_of(data) in entry.get("sums", ())

    def noting(self, files: Mapping[str, bytes], today: date) -> dict[str, Rewrite]:
        """Return the files to write that record others as gathered."""
        known = {
            name: entry
            for name, entry in self._read()[1].items()
            if isinstance(entry, dict) and name not in files
        }
        new = {
            name: {"gathered": today.isoformat(), "sums": [sum_of(data)]}
            for name, data in files.items()
        }
        return self._rewrites({**known, **new})

    def expecting(self, files: Mapping[str, Rewrite]) -> dict[str, Rewrite]:
        """Return the files to write before gathered files are replaced.

        They are a copy of each, and a record that both its old and its new bytes count as
        gathered.
        """
        held = dict(self._read()[1])
        copies: dict[str, Rewrite] = {}
        for name, file in files.items():
            if file.old is not None:
                copies[self.copy_of(name, file.old)] = self._copy(name, file.old)
            if name not in held:
                continue
            sums = [one for one in held[name]["sums"] if one != sum_of(file.new)]
            held[name] = {**held[name], "sums": [*sums[-1:], sum_of(file.new)]}
        return {**copies, **self._rewrites(held)} if files else {}

    def copy_of(self, name: str, data: bytes) -> str:
        """Return the name of a file's copy: the file's name and the hash of its bytes."""
        path = FilePath(name)
        return f"{FOLDER}/{path.stem}-{sum_of(data)[:12]}{path.suffix}"

    def _copy(self, name: str, data: bytes) -> Rewrite:
        there = self._root / self.copy_of(name, data)
        return Rewrite(there.read_bytes() if there.exists() else None, data)

    def _rewrites(self, held: Mapping[str, Any]) -> dict[str, Rewrite]:
        new = (json.dumps(held, indent=1, sort_keys=True) + "\n").encode()
        there = (self._root / _IGNORED).exists()
        rules = {} if there else {_IGNORED: Rewrite(None, b"*\n")}
        return {**rules, _LEDGER: Rewrite(self._read()[0], new)}


def _is_entry(entry: object) -> bool:
    """Return whether an entry is valid; gathering repairs a damaged ledger."""
    if not isinstance(entry, dict) or not isinstance(entry.get("gathered"), str):
        return False
    sums = entry.get("sums")
    return isinstance(sums, list) and all(isinstance(one, str) for one in sums)


def sum_of(data: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()
