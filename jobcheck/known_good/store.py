"""The known-good records of a shop: finished folders, listed by name, opened when asked for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cached_property
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.known_good.record import (
    RECORD_FILE,
    WITHDRAWN_FILE,
    About,
    Malformed,
    Withdrawal,
    slug_of,
    sum_of,
    understood,
)
from jobcheck.sources.shop_reader import Reading
from jobcheck.sources.state.state import RECORDS, Files, State, Unreadable, folder_state, matches

_FOLDER = re.compile(r"(?P<number>[1-9]\d{0,8})-(?P<slug>[a-z0-9-]+)")


class RecordRefused(Exception):
    """A record that cannot be used; the message names it, says why, and offers the one before."""

    def __init__(self, entry: Entry, why: str, before: Entry | None = None) -> None:
        """Take the record, a clause that says why, and the record to offer instead."""
        offer = f" Before it stands {before.title}: good:{before.number}." if before else ""
        super().__init__(f"R{entry.title[1:]}, is not used: {why}.{offer}")
        self.entry = entry
        self.why = why
        self.before = before


class Entry(NamedTuple):
    """A record as its folder's name tells it; nothing in it is read yet."""

    number: int
    slug: str
    is_withdrawn: bool = False

    @property
    def folder(self) -> str:
        """Its folder, relative to the shop's root."""
        return f"{RECORDS}/{self.number}-{self.slug}"

    @property
    def title(self) -> str:
        """What it is called in sentences: `record 3, after-lens-swap`."""
        return f"record {self.number}, {self.slug}"


class Record(NamedTuple):
    """A record whose record.yaml was read."""

    entry: Entry
    about: About
    withdrawal: Withdrawal | None = None

    def is_as(self, reading: Reading) -> bool:
        """Tell whether the files that were read are, byte for byte, those of the record.

        Only their sums are compared: nothing in the record is read.
        """
        held = reading.places.held
        return set(held) == set(self.about.sums) and all(
            sum_of(file.data) == self.about.sums[name] for name, file in held.items()
        )


class LastGood(NamedTuple):
    """The last record not withdrawn whose sums fit, with its state; those refused before it."""

    record: Record
    state: State
    refused: tuple[RecordRefused, ...] = ()


class RecordFiles(Files):
    """The description's files of a record, without what the record adds of its own."""

    def __init__(self, files: Files, folder: str, names: Iterable[str]) -> None:
        """Take the files that hold the record, its folder and the names in it."""
        self._files = files
        self._folder = folder
        self._names = tuple(names)

    def __getitem__(self, name: str) -> bytes:
        """Return the bytes of a file as they were recorded."""
        if name not in self._names:
            raise KeyError(name)
        return self._files[f"{self._folder}/{name}"]

    def __iter__(self) -> Iterator[str]:
        """Yield the names."""
        return iter(self._names)

    def names(self, pattern: str) -> list[str]:
        """Return the names that match."""
        return sorted(name for name in self._names if matches(name, pattern))


class Records:
    """The records that stand in one state of a shop: its folder, the index, a revision."""

    def __init__(self, state: State) -> None:
        """Look at a state; nothing is read yet."""
        self._files = state.files
        self._shop = state.name

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """All records, the oldest first, from the names of their folders alone."""
        withdrawn = set(self._folders(WITHDRAWN_FILE))
        found = []
        for folder in self._folders(RECORD_FILE):
            name = _FOLDER.fullmatch(folder)
            if name:
                found.append(Entry(int(name["number"]), name["slug"], folder in withdrawn))
        return tuple(sorted(found))

    def _folders(self, file: str) -> list[str]:
        return [name.split("/")[1] for name in self._files.names(f"{RECORDS}/*/{file}")]

    def read(self, entry: Entry) -> Record:
        """Read what a record says of itself; its copies are not looked at.

        Raises:
            RecordRefused: that cannot be understood.
        """
        try:
            about = understood(self._own(entry, RECORD_FILE), RECORD_FILE, About)
            withdrawal = None
            if entry.is_withdrawn:
                data = self._own(entry, WITHDRAWN_FILE)
                withdrawal = understood(data, WITHDRAWN_FILE, Withdrawal)
        except Malformed as error:
            raise RecordRefused(entry, str(error).rstrip("."), self._before(entry)) from None
        return Record(entry, about, withdrawal)

    def _own(self, entry: Entry, file: str) -> bytes:
        try:
            return self._files[f"{entry.folder}/{file}"]
        except (KeyError, Unreadable) as error:
            why = str(error) if isinstance(error, Unreadable) else "is missing"
            raise Malformed(f"{file} {why}") from None

    def newest(self) -> Record | None:
        """Return the last record not withdrawn, by its record.yaml alone.

        None where there is none, or where it cannot be read: `last_good` tells the two apart.
        """
        for entry in self._standing():
            try:
                return self.read(entry)
            except RecordRefused:
                return None
        return None

    def last_good(self) -> LastGood | None:
        """Return the last record not withdrawn whose sums fit, or None where there is none.

        Raises:
            RecordRefused: there are records, but none of them fits; the last one is named.
        """
        refused: list[RecordRefused] = []
        for entry in self._standing():
            try:
                record = self.read(entry)
                return LastGood(record, self.open(record), tuple(refused))
            except RecordRefused as error:
                refused.append(error)
        if refused:
            raise refused[0]
        return None

    def open(self, record: Record) -> State:
        """Return the state that a record holds, labelled `good:NUMBER`.

        Raises:
            RecordRefused: a file in it is not as it was recorded.
        """
        entry = record.entry
        sums = record.about.sums
        files = RecordFiles(self._files, entry.folder, sums)
        for name, recorded in sums.items():
            try:
                fits = sum_of(files[name]) == recorded
                why = "" if fits else "was changed after it was recorded"
            except KeyError:
                why = "is missing"
            except Unreadable as error:
                why = str(error)
            if why:
                raise RecordRefused(entry, f"its copy of {name} {why}", self._before(entry))
        return State(f"good:{entry.number}", files, self._shop)

    def find(self, label: str) -> Entry:
        """Return the record that a number or a label names; of several alike the last.

        Raises:
            LookupError: there is none; the message names near ones.
        """
        wanted = label.strip()
        for name in (wanted, wanted.removeprefix("good:")):
            slug = _slug(name)
            for entry in reversed(self.entries):
                if name == str(entry.number) or slug == entry.slug:
                    return entry
        raise LookupError(self._none_called(wanted))

    def _none_called(self, label: str) -> str:
        from difflib import get_close_matches

        if not self.entries:
            return f"There is no record {label}: nothing was recorded yet."
        known = [entry.slug for entry in self.entries]
        near = get_close_matches(_slug(label), known, n=3, cutoff=0.5)
        hint = f"Near: {', '.join(near)}." if near else "`jobcheck history` lists them."
        return f"There is no record {label}. {hint}"

    def _standing(self) -> Iterator[Entry]:
        return (entry for entry in reversed(self.entries) if not entry.is_withdrawn)

    def _before(self, entry: Entry) -> Entry | None:
        return next((other for other in self._standing() if other.number < entry.number), None)


def _slug(label: str) -> str:
    try:
        return slug_of(label)
    except ValueError:
        return label


def records_of(state: State, root: FilePath) -> Records:
    """Return the records that belong to a state: the index's for the index, else the folder's."""
    return Records(state if state.label == "staged" else folder_state(root))
