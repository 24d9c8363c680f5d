"""Where a known value stands in a controller's file: how a map is made."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path as FilePath
from typing import NamedTuple, cast

from jobcheck.commands.calls import CallRefused
from jobcheck.findings import sentences
from jobcheck.schema.bridge import ControllerFile, FileKind
from jobcheck.shop.places import Place
from jobcheck.sources.bridge.opening import KINDS_BY_ENDING, open_source
from jobcheck.sources.bridge.source import Hit, Source
from jobcheck.sources.state.state import Unreadable, bytes_of
from jobcheck.text import NotUnderstood

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_SEPARATORS = (";", ",", "/", "|", ":", "x", "@", "=")
_LONGEST = 1000


class Match(NamedTuple):
    """One place at which a value stands: its address, and which part of a text it is.

    `by` and `take` are as in the map's `split`; `by` is empty where the whole text is the value.
    """

    place: Place
    address: str
    text: str
    by: str = ""
    take: int = 0


class Found(NamedTuple):
    """What was looked for, and where it stands; whole values come before parts of texts.

    `others` is how many values the file holds beside.
    """

    file: str
    kind: str
    value: str
    matches: tuple[Match, ...]
    others: int


def find_value(
    file: FilePath,
    value: str,
    kind: str | None = None,
    key_column: str | None = None,
    encoding: str | None = None,
) -> Found:
    """Look for a value in a file of the controller.

    Raises:
        CallRefused: the file cannot be read, or its kind is not known.
    """
    source = open_file(file, kind, key_column, encoding)
    wanted = number_of(value)
    hits: list[tuple[str, Hit, str, int]] = []
    others = 0
    for address, hit in source.everything():
        parts = list(_matches(hit.text, value, wanted))
        hits += [(address, hit, by, take) for by, take in parts]
        others += not parts
    hits.sort(key=lambda found: bool(found[2]))
    places = source.places([hit for _, hit, _, _ in hits]) if hits else []
    matches = tuple(
        Match(place, address, " ".join(hit.text.split()), by, take)
        for (address, hit, by, take), place in zip(hits, places, strict=True)
    )
    return Found(str(file), kind_of(file, kind), value, matches, others)


def open_file(
    file: FilePath, kind: str | None, key_column: str | None, encoding: str | None
) -> Source:
    """Open a file that a command line names.

    Raises:
        CallRefused: it cannot be read, or its kind is not known.
    """
    known = kind_of(file, kind)
    data = read_file(file)
    if known == "csv" and key_column is None:
        key_column = first_column(data, file)
    try:
        described = ControllerFile(
            file=str(file),
            kind=cast(FileKind, known),
            key_column=key_column,
            encoding=encoding,
            delimiter="tab" if file.suffix == ".tsv" else "comma",
        )
        return open_source(described, data)
    except NotUnderstood as error:
        raise CallRefused(
            f"{error.fault.place}: {error.fault.message} {sentences(error.fault.remedy)}"
        ) from None


def kind_of(file: FilePath, kind: str | None = None) -> str:
    """Return the kind of a file: as said, else by its ending.

    Raises:
        CallRefused: the ending tells nothing.
    """
    known = kind or KINDS_BY_ENDING.get(file.suffix.lower())
    if known is None:
        kinds = ", ".join(dict.fromkeys(KINDS_BY_ENDING.values()))
        raise CallRefused(f"What kind of file {file} is cannot be told. Say it: --kind ({kinds}).")
    return known


def read_file(file: FilePath) -> bytes:
    """Return the bytes of a file that a command line names.

    Raises:
        CallRefused: it cannot be read.
    """
    try:
        return bytes_of(file)
    except FileNotFoundError:
        raise CallRefused(f"There is no file {file}.") from None
    except Unreadable as error:
        raise CallRefused(f"{file} {error}.") from None


def first_column(data: bytes, file: FilePath) -> str:
    """Return the name of the first column of a CSV file."""
    mark = "\t" if file.suffix == ".tsv" else ","
    lines = data.decode("utf-8-sig", errors="replace").splitlines() or [""]
    return lines[0].split(mark)[0].strip().strip('"')


def number_of(text: str) -> Fraction | None:
    """Return the number that a text is, exactly, None where it is none."""
    text = text.strip()
    return Fraction(text) if _NUMBER.fullmatch(text) and len(text) <= 40 else None


def _is(text: str, value: str, wanted: Fraction | None) -> bool:
    if text.strip() == value.strip():
        return True
    return wanted is not None and number_of(text) == wanted


def _matches(text: str, value: str, wanted: Fraction | None) -> Iterator[tuple[str, int]]:
    """Yield how a text says a value: as a whole, or as one part of it."""
    if _is(text, value, wanted):
        yield "", 0
        return
    if len(text) > _LONGEST:
        return
    for by in (*_SEPARATORS, " "):
        parts = text.split(by) if by != " " else text.split()
        if len(parts) < 2:
            continue
        takes = [number for number, part in enumerate(parts, 1) if _is(part, value, wanted)]
        if takes:
            yield from ((by, take) for take in takes)
            return
