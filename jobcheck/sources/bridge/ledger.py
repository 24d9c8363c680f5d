"""What was gathered from the controller's files, and copies of those that were delivered to.

Both are in a folder of the shop that git ignores: they belong to this computer alone.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import Any

from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import same
from jobcheck.sources.state.state import Unreadable, bytes_of
from jobcheck.sources.state.writing import Rewrite

Values = Mapping[Path, Any]
"""Values of one file by their paths, None for one that is missing."""

FOLDER = "controller-copies"
_LEDGER = f"{FOLDER}/gathered.json"
_IGNORED = f"{FOLDER}/.gitignore"


class Ledger:
    """The ledger of one shop: the values of its controller's files when they were gathered."""

    def __init__(self, root: FilePath) -> None:
        """Open the ledger of a shop's folder."""
        self._root = root

    def _read(self) -> tuple[bytes | None, dict[str, Any]]:
        try:
            data = bytes_of(self._root / _LEDGER)
        except (FileNotFoundError, Unreadable):
            return None, {}
        try:
            held = json.loads(data)
        except (ValueError, RecursionError):
            return data, {}
        entries = held.items() if isinstance(held, dict) else ()
        return data, {name: entry for name, entry in entries if _is_entry(entry)}

    def gathered(self, name: str) -> str:
        """Return the day on which a file was last gathered, empty if never."""
        entry = self._read()[1].get(name, {})
        return str(entry.get("gathered", ""))

    def values(self, name: str, path: Path) -> list[Any] | None:
        """Return what a value was in a file when it was gathered or delivered, None for never.

        Two values where a delivery may have been killed before the file was replaced.
        """
        found: list[Any] | None = self._read()[1].get(name, {}).get("values", {}).get(show(path))
        return found

    def has_changed(self, name: str, path: Path, value: object) -> bool:
        """Tell whether a value in a file is another than the one that was gathered last."""
        known = self.values(name, path)
        return known is not None and not any(same(value, one) for one in known)

    def noting(self, values: Mapping[str, Values], today: date) -> dict[str, Rewrite]:
        """Return the files to write that record values as gathered."""
        held = dict(self._read()[1])
        for name, found in values.items():
            known = held.get(name, {}).get("values", {})
            noted = {show(path): [value] for path, value in found.items()}
            held[name] = {"gathered": today.isoformat(), "values": {**known, **noted}}
        return self._rewrites(held)

    def expecting(
        self, files: Mapping[str, Rewrite], values: Mapping[str, Values]
    ) -> dict[str, Rewrite]:
        """Return the files to write before files are replaced, and values in them.

        A copy of each as it is, and a note that both what it holds and what it is to hold count as
        gathered.
        """
        held = dict(self._read()[1])
        copies: dict[str, Rewrite] = {}
        for name, file in files.items():
            if file.old is not None:
                copies[self.copy_of(name, file.old)] = self._copy(name, file.old)
            known = held.get(name, {"gathered": "", "values": {}})
            noted = {
                show(path): _expected(known["values"].get(show(path), []), value)
                for path, value in values[name].items()
            }
            held[name] = {**known, "values": {**known["values"], **noted}}
        return {**copies, **self._rewrites(held)} if files else {}

    def copy_of(self, name: str, data: bytes) -> str:
        """Return the name of a file's copy: the file's name and the hash of its bytes."""
        path = FilePath(name)
        return f"{FOLDER}/{path.stem}-{sum_of(data)[:12]}{path.suffix}"

    def _copy(self, name: str, data: bytes) -> Rewrite:
        try:
            return Rewrite(bytes_of(self._root / self.copy_of(name, data)), data)
        except (FileNotFoundError, Unreadable):
            return Rewrite(None, data)

    def _rewrites(self, held: Mapping[str, Any]) -> dict[str, Rewrite]:
        new = (json.dumps(held, indent=1, sort_keys=True) + "\n").encode()
        there = (self._root / _IGNORED).exists()
        rules = {} if there else {_IGNORED: Rewrite(None, b"*\n")}
        return {**rules, _LEDGER: Rewrite(self._read()[0], new)}


def _expected(known: list[Any], value: Any) -> list[Any]:
    """Return what a value may be while it is delivered; repeating a delivery changes nothing."""
    return known if any(same(value, one) for one in known) else [*known[-1:], value]


def _is_entry(entry: object) -> bool:
    """Return whether an entry is valid; gathering repairs a damaged ledger."""
    if not isinstance(entry, dict) or not isinstance(entry.get("gathered"), str):
        return False
    values = entry.get("values")
    if not isinstance(values, dict) or not all(isinstance(one, list) for one in values.values()):
        return False
    return not any(isinstance(value, (dict, list)) for one in values.values() for value in one)


def sum_of(data: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()
