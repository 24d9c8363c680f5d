"""Addresses of files that hold texts by two names: `[section] key` or `[row] column`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatchcase
from typing import NamedTuple

from jobcheck.sources.bridge.source import MapWrong

_ADDRESS = re.compile(r"\s*(?:\[(?P<section>[^\]\r\n]*)\])?\s*(?P<key>[^\[\]\r\n]*?)\s*")


class Address(NamedTuple):
    """A parsed address; a section of None is the head of a file, before any section."""

    section: str | None
    key: str


def parse_address(text: str) -> Address:
    """Read an address.

    Raises:
        MapWrong: it is not an address.
    """
    found = _ADDRESS.fullmatch(text)
    if found is None or not (found["key"] or found["section"]):
        raise MapWrong(f"{text!r} is not an address: write [section] key")
    section = found["section"]
    return Address(None if section is None else section.strip(), found["key"])


def matching(pattern: str, names: Iterator[str]) -> Iterator[str]:
    """Yield the names that match a pattern: itself, or `*` for any run of characters."""
    if "*" not in pattern:
        yield from (name for name in names if name == pattern)
        return
    escaped = pattern.replace("?", "[?]")
    yield from (name for name in names if fnmatchcase(name, escaped))
