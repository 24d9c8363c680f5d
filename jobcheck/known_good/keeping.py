"""Records are added and withdrawn; none is ever changed or deleted."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import NamedTuple

from jobcheck import __version__
from jobcheck.known_good.record import (
    RECORD_FILE,
    WITHDRAWN_FILE,
    About,
    Withdrawal,
    slug_of,
    sum_of,
    written,
)
from jobcheck.known_good.store import Entry, Record, RecordRefused
from jobcheck.sources.shop_reader import Reading
from jobcheck.sources.state.state import RECORDS
from jobcheck.sources.state.writing import (
    UNFINISHED,
    Rewrite,
    holding,
    make_folders,
    refusing,
    settle,
    sync_folder,
    write_files,
    write_new,
)

_ATTRIBUTES = b"# Records are compared by their sums: git must not change their bytes.\n* -text\n"


class Keeping(NamedTuple):
    """The words of a record: label, day and everything that was signed for."""

    label: str
    today: date
    note: str | None = None
    author: str | None = None
    commit: str | None = None
    evidence: tuple[str, ...] = ()
    on_purpose: tuple[str, ...] = ()
    accepted: tuple[str, ...] = ()
    stamped: tuple[str, ...] = ()
    not_checked: tuple[str, ...] = ()


def keep_record(
    root: FilePath,
    reading: Reading,
    keeping: Keeping,
    controller: Mapping[str, bytes] = MappingProxyType({}),
) -> Record:
    """Record the files that were read as known-good, and whole files of the controller.

    The record is made in a folder beside the others, brought down to the disk and renamed once:
    a run that is killed leaves no record or a whole one.

    Raises:
        ValueError: the label has no letter, or a file's name is one that a record needs.
        WriteRefused: the record cannot be written.
    """
    slug = slug_of(keeping.label)
    files = {name: held.data for name, held in reading.places.held.items()}
    for reserved in (RECORD_FILE, WITHDRAWN_FILE):
        if reserved in files or reserved in controller:
            raise ValueError(f"a file of a shop cannot be called {reserved}: records need the name")
    records = root / RECORDS
    with holding(root) as alone, refusing(f"{RECORDS}/{slug}"):
        make_folders(records, root)
        _remove_unfinished(records, alone)
        _write_attributes(records)
        entry = Entry(_next_number(records), slug)
        about = About(
            number=entry.number,
            date=keeping.today,
            label=keeping.label,
            note=keeping.note,
            author=keeping.author,
            commit=keeping.commit,
            tool=f"jobcheck {__version__}",
            evidence=list(keeping.evidence),
            on_purpose=list(keeping.on_purpose),
            accepted=list(keeping.accepted),
            stamped=list(keeping.stamped),
            not_checked=list(keeping.not_checked),
            sums={name: sum_of(data) for name, data in files.items()},
            controller={name: sum_of(data) for name, data in controller.items()},
        )
        _add(root / entry.folder, {**controller, **files, RECORD_FILE: written(about)})
        settle(records, entry.folder)
    return Record(entry, about)


def _remove_unfinished(records: FilePath, alone: bool) -> None:
    for left in records.glob(f"{UNFINISHED}*") if alone else ():
        shutil.rmtree(left, ignore_errors=True) if left.is_dir() else left.unlink()


def _write_attributes(records: FilePath) -> None:
    """Keep git from translating line ends in records, unless the shop says how it wants that."""
    attributes = records / ".gitattributes"
    if not attributes.exists():
        unfinished = records / f"{UNFINISHED}{os.getpid()}-attributes"
        write_new(unfinished, _ATTRIBUTES)
        os.replace(unfinished, attributes)


def _next_number(records: FilePath) -> int:
    """Return one more than any folder's number, with or without a record in it."""
    numbers = (re.match(r"\d+", name) for name in os.listdir(records))
    return 1 + max((int(number[0]) for number in numbers if number), default=0)


def _add(folder: FilePath, files: Mapping[str, bytes]) -> None:
    """Make a folder with files in it, all at once."""
    unfinished = folder.parent / f"{UNFINISHED}{os.getpid()}"
    try:
        unfinished.mkdir()
        for name, data in files.items():
            make_folders((unfinished / name).parent, unfinished)
            write_new(unfinished / name, data)
        for inner in _folders(files):
            sync_folder(unfinished / inner)
        os.rename(unfinished, folder)
    except BaseException:
        shutil.rmtree(unfinished, ignore_errors=True)
        raise


def _folders(names: Iterable[str]) -> list[str]:
    """Return the folders of files, the innermost first."""
    found = {""}
    for name in names:
        while name := name.rpartition("/")[0]:
            found.add(name)
    return sorted(found, key=len, reverse=True)


def withdraw(root: FilePath, entry: Entry, because: str, today: date) -> None:
    """Mark a record as not good after all; everything in it stays.

    Raises:
        RecordRefused: it is withdrawn already.
        WriteRefused: the mark cannot be written.
    """
    if entry.is_withdrawn:
        raise RecordRefused(entry, "it is withdrawn already")
    data = written(Withdrawal(date=today, because=because))
    write_files(root, {f"{entry.folder}/{WITHDRAWN_FILE}": Rewrite(None, data)})
