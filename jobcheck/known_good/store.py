"""The known-good records of a shop: finished folders, listed by name, opened when asked for."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from functools import cached_property
from itertools import pairwise
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import Command, Remedy, command
from jobcheck.known_good.record import (
    RECORD_FILE,
    WITHDRAWN_FILE,
    About,
    Withdrawal,
    slug_of,
    sum_of,
    understood,
)
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import (
    RECORDS,
    ROOT_FILE,
    Files,
    State,
    Unreadable,
    folder_state,
    matches,
)
from jobcheck.sources.state.writing import UNFINISHED
from jobcheck.wording import listed

_FOLDER = re.compile(r"(?P<number>[1-9]\d{0,8})-(?P<slug>[a-z0-9-]+)")
_ALL = "."
"""The name of the one entry of a shop whose folder of records cannot be read."""
_DIGITS = re.compile(r"0*(\d{1,9})(?!\d)")
ATTRIBUTES = "known-good/** -text"
"""The line of `.gitattributes` that keeps a checkout from changing line ends in records."""


def withdrawing(label: str) -> Command:
    """Return the command that marks a record as not good."""
    return command("withdraw", label, "--because", "TEXT")


Read = Callable[[State], Reading]


class RecordRefused(Exception):
    """A record that cannot be used; the message names it, says why, and offers the one before."""

    def __init__(
        self, entry: Entry, why: str, before: Entry | None = None, remedy: Remedy = ()
    ) -> None:
        """Take the record, a clause that says why, the record to offer instead, what to do."""
        offer = f" The record before it is {before.title}: good:{before.number}." if before else ""
        super().__init__(f"R{entry.title[1:]}, cannot be used: {why}.{offer}")
        self.entry = entry
        self.why = why
        self.before = before
        self.remedy = remedy


class Entry(NamedTuple):
    """A record as its folder's name has it; nothing in it is read yet.

    A folder that is not named as a record is one all the same, so that it is never taken for
    absent: it keeps its name in `folder_name`, and its number is what that begins with, 0 for none.
    """

    number: int
    slug: str
    is_withdrawn: bool = False
    folder_name: str = ""

    @property
    def folder(self) -> str:
        """Its folder, relative to the shop's root."""
        if self.folder_name == _ALL:
            return RECORDS
        return f"{RECORDS}/{self.folder_name or f'{self.number}-{self.slug}'}"

    @property
    def is_named_right(self) -> bool:
        """Whether its folder is named as records are."""
        return not self.folder_name

    @property
    def title(self) -> str:
        """What it is called in sentences: `record 3, after-lens-swap`."""
        if self.is_named_right:
            return f"record {self.number}, {self.slug}"
        return f"record in the folder {self.folder}"


def _entry(folder: str, is_withdrawn: bool) -> Entry:
    name = _FOLDER.fullmatch(folder)
    if name:
        return Entry(int(name["number"]), name["slug"], is_withdrawn)
    digits = _DIGITS.match(folder)
    return Entry(int(digits[1]) if digits else 0, folder, is_withdrawn, folder)


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
    """The newest whole record that is not withdrawn, as it reads; those that are damaged."""

    record: Record
    reading: Reading
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


def gaps(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Return the numbers of records that are no longer there, as ranges: a new one has the next.

    >>> gaps([2, 5])
    [(1, 1), (3, 4)]
    """
    known = sorted({0, *numbers})
    return [(one + 1, other - 1) for one, other in pairwise(known) if other - one > 1]


class Records:
    """The records in one state of a shop: its folder, the index, a revision."""

    def __init__(self, state: State) -> None:
        """Look at a state; nothing is read yet."""
        self._files = state.files
        self._shop = state.name

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """All records, the oldest first, from the names of their folders alone."""
        try:
            names = self._files.folders(RECORDS)
        except Unreadable:
            return (Entry(0, RECORDS, folder_name=_ALL),)
        marks = self._files.names(f"{RECORDS}/*/{WITHDRAWN_FILE}") if names else []
        withdrawn = {mark.split("/")[1] for mark in marks}
        found = [_entry(name, name in withdrawn) for name in names if self._is_record(name)]
        return tuple(sorted(found))

    def _is_record(self, name: str) -> bool:
        """Tell whether a folder is a record: a hidden one is where it holds a record.yaml."""
        is_hidden = name.startswith(".")
        return not is_hidden or (
            not name.startswith(UNFINISHED)
            and bool(self._files.names(f"{RECORDS}/{name}/{RECORD_FILE}"))
        )

    def read(self, entry: Entry) -> Record:
        """Read what a record says of itself; its copies are not looked at.

        Raises:
            RecordRefused: it is damaged.
        """
        if entry.folder_name == _ALL:
            raise self._refused(entry, f"{RECORDS} is not a folder that can be read")
        if not entry.is_named_right:
            why = "its folder is not named as a number and a label"
            raise self._refused(entry, why, self._renaming(entry))
        try:
            about = understood(self._own(entry, RECORD_FILE), RECORD_FILE, About)
            withdrawal = None
            if entry.is_withdrawn:
                data = self._own(entry, WITHDRAWN_FILE)
                withdrawal = understood(data, WITHDRAWN_FILE, Withdrawal)
        except ValueError as error:
            raise self._refused(entry, str(error).rstrip(".")) from None
        self._check(entry, about)
        return Record(entry, about, withdrawal)

    def _check(self, entry: Entry, about: About) -> None:
        """Refuse a record that lists nothing, was renamed, or shares its number."""
        if ROOT_FILE not in about.sums:
            raise self._refused(entry, f"{RECORD_FILE} does not list {ROOT_FILE}")
        if (about.number, _slug(about.label)) != (entry.number, entry.slug):
            name = f"{about.number}-{_slug(about.label)}"
            why = f"its folder was renamed or copied: {RECORD_FILE} is that of {name}"
            raise self._refused(entry, why, self._renaming(entry))
        twins = [
            other
            for other in self.entries
            if other.number == entry.number and other != entry and not other.is_withdrawn
        ]
        if twins and not entry.is_withdrawn:
            remedy = ("If this one is not good, withdraw it:", withdrawing(entry.slug))
            raise self._refused(entry, f"{twins[0].folder} has the same number", remedy)

    def _renaming(self, entry: Entry) -> Remedy:
        """Say how a folder gets its name back; nothing if record.yaml is not understood."""
        try:
            about = understood(self._own(entry, RECORD_FILE), RECORD_FILE, About)
        except ValueError:
            return ()
        name = f"{about.number}-{_slug(about.label)}"
        if name in self._files.folders(RECORDS):
            return (f"It is a copy of {RECORDS}/{name}: move it out of {RECORDS}.",)
        return (f"Rename the folder to {RECORDS}/{name}.",)

    def _refused(self, entry: Entry, why: str, remedy: Remedy = ()) -> RecordRefused:
        return RecordRefused(entry, why, self._before(entry), remedy)

    def _own(self, entry: Entry, file: str) -> bytes:
        try:
            return self._files[f"{entry.folder}/{file}"]
        except (KeyError, Unreadable) as error:
            why = str(error) if isinstance(error, Unreadable) else "is missing"
            raise ValueError(f"{file} {why}") from None

    def newest(self) -> Record | None:
        """Return the newest record that is not withdrawn, by its record.yaml alone.

        None where there is none, or where it is damaged: `last_good` says which.
        """
        if not self._standing:
            return None
        try:
            return self.read(self._standing[0])
        except RecordRefused:
            return None

    def last_good(self, read: Read = read_shop) -> LastGood | None:
        """Return the newest whole record that is not withdrawn, or None where there is none.

        Raises:
            RecordRefused: there are records, but all are damaged; the newest one is named.
        """
        refused: list[RecordRefused] = []
        for entry in self._standing:
            try:
                record = self.read(entry)
                return LastGood(record, self._whole(record, read), tuple(refused))
            except RecordRefused as error:
                refused.append(error)
        if refused:
            raise refused[0]
        return None

    def verified(self, read: Read = read_shop) -> tuple[Record | RecordRefused, ...]:
        """Return every record, the oldest first: each is whole, or says how it is damaged."""
        return tuple(self._verified(entry, read) for entry in self.entries)

    def _verified(self, entry: Entry, read: Read) -> Record | RecordRefused:
        try:
            record = self.read(entry)
            self._whole(record, read)
        except RecordRefused as error:
            return error
        return record

    def _whole(self, record: Record, read: Read) -> Reading:
        """Return what a record reads as.

        Raises:
            RecordRefused: a copy is not as it was recorded, or is not understood.
        """
        reading = read(self.open(record))
        if reading.faults:
            fault = reading.faults[0]
            why = f"its copies are not understood: {fault.place}: {fault.message}"
            raise self._refused(record.entry, why.rstrip("."))
        return reading

    def open(self, record: Record) -> State:
        """Return the state that a record holds, labelled `good:NUMBER`.

        Raises:
            RecordRefused: a file in it is not as it was recorded.
        """
        entry, sums = record.entry, {**record.about.controller, **record.about.sums}
        files = RecordFiles(self._files, entry.folder, sums)
        for name, recorded in sums.items():
            try:
                why = _difference(files[name], recorded)
            except KeyError:
                why = "is missing"
            except Unreadable as error:
                why = str(error)
            if why == _LINE_ENDS:
                text = f"Write {ATTRIBUTES} into .gitattributes and check the record out again."
                raise self._refused(entry, f"its copy of {name} {why}", (text,))
            if why:
                raise self._refused(entry, f"its copy of {name} {why}")
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
            return f"Record {label} does not exist: nothing was recorded yet."
        known = [entry.slug for entry in self.entries]
        near = get_close_matches(_slug(label), known, n=3, cutoff=0.5)
        hint = f"Near: {', '.join(near)}." if near else f"Records: {listed(known)}."
        return f"Record {label} does not exist. {hint}"

    @cached_property
    def _standing(self) -> tuple[Entry, ...]:
        """Records that are not withdrawn, the newest first.

        A folder that is not named as a record comes first: it could be the newest.
        """
        newest_first = sorted(self.entries, key=lambda e: (not e.is_named_right, e), reverse=True)
        return tuple(entry for entry in newest_first if not self._is_withdrawn(entry))

    def _is_withdrawn(self, entry: Entry) -> bool:
        """Tell whether a record says that it is withdrawn; a damaged mark does not count."""
        if not entry.is_withdrawn:
            return False
        try:
            understood(self._own(entry, WITHDRAWN_FILE), WITHDRAWN_FILE, Withdrawal)
        except ValueError:
            return False
        return True

    def _before(self, entry: Entry) -> Entry | None:
        return next((other for other in self._standing if other.number < entry.number), None)


_LINE_ENDS = "has other line ends than were recorded"


def _difference(data: bytes, recorded: str) -> str:
    """Say how a copy differs from its sum; empty where it is as recorded."""
    if sum_of(data) == recorded:
        return ""
    lf = data.replace(b"\r\n", b"\n")
    if recorded in (sum_of(lf), sum_of(lf.replace(b"\n", b"\r\n"))):
        return _LINE_ENDS
    return "was changed after it was recorded"


def _slug(label: str) -> str:
    try:
        return slug_of(label)
    except ValueError:
        return label


def records_of(state: State, root: FilePath) -> Records:
    """Return the records that belong to a state: the index's for the index, else the folder's."""
    return Records(state if state.label == "staged" else folder_state(root))
