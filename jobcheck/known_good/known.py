"""The last known-good state of a shop, read only when something needs it."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path as FilePath

from jobcheck.findings import Command, Finding, Remedy, fault
from jobcheck.known_good.record import RECORD_FILE
from jobcheck.known_good.store import (
    LastGood,
    Record,
    RecordRefused,
    Records,
    gaps,
    records_of,
    withdrawing,
)
from jobcheck.shop.places import Place
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import folder_state


class KnownGood:
    """The last known-good record that belongs to a reading.

    Only its record.yaml is read at once. Where its files are those of the reading, byte for byte,
    its shop is the reading's own.
    """

    def __init__(self, reading: Reading, root: FilePath) -> None:
        """Look for the records of the state that was read; `root` is the shop's folder."""
        self._reading = reading
        self._root = root
        self._records = records_of(reading.state, root)
        if not self._records.entries:
            self._records = Records(folder_state(root))
        self.newest: Record | None = self._records.newest()

    @cached_property
    def _last_good(self) -> LastGood | RecordRefused | None:
        try:
            return self._records.last_good(lambda state: read_shop(state, self._reading))
        except RecordRefused as error:
            return error

    @cached_property
    def is_unchanged(self) -> bool:
        """Whether the files are still those of the record, byte for byte."""
        return self.newest is not None and self.newest.is_as(self._reading)

    @cached_property
    def reading(self) -> Reading | None:
        """The values of the record, or None if there is no usable record."""
        if self.is_unchanged:
            return self._reading
        last = self._last_good
        return last.reading if isinstance(last, LastGood) else None

    @property
    def is_withdrawn(self) -> bool:
        """Whether there are records, but all of them were withdrawn."""
        entries = self._records.entries
        return bool(entries) and all(entry.is_withdrawn for entry in entries)

    @property
    def removed(self) -> list[tuple[int, int]]:
        """Ranges of the numbers of records that were removed."""
        return gaps(entry.number for entry in self._records.entries)

    def shop(self) -> Shop | None:
        """Return the last known-good shop, if there is one."""
        return self.reading.shop if self.reading else None

    @property
    def record(self) -> Record | None:
        """The record that `reading` comes from, as far as is known without reading it."""
        if self.newest is None or ("reading" in self.__dict__ and not self.is_unchanged):
            last = self._last_good
            return last.record if isinstance(last, LastGood) else None
        return self.newest

    @property
    def title(self) -> str:
        """The record in a sentence: `record 3, after-lens-swap, 2026-10-02`; empty for none."""
        record = self.record
        return f"{record.entry.title}, {record.about.date.isoformat()}" if record else ""

    @property
    def faults(self) -> tuple[Finding, ...]:
        """Records that are damaged, as far as they were read."""
        if "_verified" in self.__dict__:
            damaged = (found for found in self._verified if isinstance(found, RecordRefused))
            return tuple(_fault(error, self._root) for error in damaged)
        last = self.__dict__.get("_last_good")
        refused = last.refused if isinstance(last, LastGood) else (last,) if last else ()
        return tuple(_fault(error, self._root) for error in refused)

    @cached_property
    def _verified(self) -> tuple[Record | RecordRefused, ...]:
        return self._records.verified(lambda state: read_shop(state, self._reading))

    def verify(self) -> tuple[Record | RecordRefused, ...]:
        """Verify every record, withdrawn ones too; `faults` has the damaged ones from then on."""
        return self._verified


def _fault(error: RecordRefused, root: FilePath) -> Finding:
    """Return a damaged record as a finding."""
    entry = error.entry
    brought_back: Remedy = (
        "Bring the record back from version control:",
        Command(("checkout", "HEAD", "--"), "git", (root / entry.folder,)),
    )
    if entry.is_named_right:
        text = "If it cannot be brought back, withdraw it:"
        brought_back = (*brought_back, text, withdrawing(str(entry.number)))
    place = Place(f"{entry.folder}/{RECORD_FILE}")
    return fault(place, "record-damaged", str(error), error.remedy or brought_back)
