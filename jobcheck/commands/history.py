"""The known-good records of a shop."""

from __future__ import annotations

from pathlib import Path as FilePath

from jobcheck.known_good.store import Record, RecordRefused, Records
from jobcheck.sources.state.state import folder_state


def history(root: FilePath) -> tuple[Record | RecordRefused, ...]:
    """Return all records of a shop, the last one first; one that cannot be read says why."""
    records = Records(folder_state(root))
    found: list[Record | RecordRefused] = []
    for entry in reversed(records.entries):
        try:
            found.append(records.read(entry))
        except RecordRefused as error:
            found.append(error)
    return tuple(found)
