"""Marking a record as not good after all."""

from __future__ import annotations

from datetime import date
from pathlib import Path as FilePath

from jobcheck.findings import CallRefused
from jobcheck.known_good.keeping import withdraw
from jobcheck.known_good.store import Record, RecordRefused, Records
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import WriteRefused


def take_back(root: FilePath, label: str, because: str, today: date) -> Record:
    """Mark a record as not good after all and return it as it was.

    Raises:
        CallRefused: the record does not exist or is already withdrawn, or no reason is given.
    """
    if not because.strip():
        raise CallRefused("Say why it is not good after all: --because TEXT.")
    records = Records(folder_state(root))
    try:
        record = records.read(records.find(label))
        withdraw(root, record.entry, because, today)
    except (LookupError, RecordRefused, WriteRefused) as error:
        raise CallRefused(str(error.args[0])) from None
    return record
