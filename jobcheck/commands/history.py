"""The known-good records of a shop."""

from __future__ import annotations

from pathlib import Path as FilePath

from jobcheck.known_good.store import Record, RecordRefused, Records
from jobcheck.sources.state.state import folder_state


def history(root: FilePath) -> tuple[Record | RecordRefused, ...]:
    """Return all records of a shop, verified, the newest first; a damaged one says why."""
    return Records(folder_state(root)).verified()[::-1]
