"""A controller's file named on the command line: its kind, its bytes, its numbers."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path as FilePath
from typing import cast

from jobcheck.findings import CallRefused, sentences
from jobcheck.schema.bridge import ControllerFile, FileKind
from jobcheck.sources.bridge.opening import KINDS_BY_ENDING, open_source
from jobcheck.sources.bridge.source import Source
from jobcheck.sources.state.state import Unreadable, bytes_of
from jobcheck.text import NotUnderstood

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")


def open_file(
    file: FilePath, kind: str | None, key_column: str | None, encoding: str | None
) -> Source:
    """Open a file named on the command line.

    Raises:
        CallRefused: it cannot be read, or its kind is unknown.
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
    """Return the kind of a file: the given one, else by its extension.

    Raises:
        CallRefused: the extension is unknown.
    """
    known = kind or KINDS_BY_ENDING.get(file.suffix.lower())
    if known is None:
        kinds = ", ".join(dict.fromkeys(KINDS_BY_ENDING.values()))
        raise CallRefused(f"The kind of file {file} is unknown. Give it: --kind ({kinds}).")
    return known


def read_file(file: FilePath) -> bytes:
    """Return the bytes of a file named on the command line.

    Raises:
        CallRefused: it cannot be read.
    """
    try:
        return bytes_of(file)
    except FileNotFoundError:
        raise CallRefused(f"{file} does not exist.") from None
    except Unreadable as error:
        raise CallRefused(f"{file} {error}.") from None


def first_column(data: bytes, file: FilePath) -> str:
    """Return the name of the first column of a CSV file."""
    mark = "\t" if file.suffix == ".tsv" else ","
    lines = data.decode("utf-8-sig", errors="replace").splitlines() or [""]
    return lines[0].split(mark)[0].strip().strip('"')


def number_of(text: str) -> Fraction | None:
    """Return the exact number in a text, None if it is not a number."""
    text = text.strip()
    return Fraction(text) if _NUMBER.fullmatch(text) and len(text) <= 40 else None
