"""The addresses of a known value in a controller's file, to write the map."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.shop.places import Place
from jobcheck.sources.bridge.naming import kind_of, number_of, open_file
from jobcheck.sources.bridge.source import Hit
from jobcheck.sources.yaml.spelling import flow_text

_SEPARATORS = (";", ",", "/", "|", ":", "x", "@", "=")
_LONGEST = 1000


class Match(NamedTuple):
    """One place of a value: its address, and which part of a text it is.

    `by` and `take` are as in the map's `split`; `by` is empty where the whole text is the value.
    """

    place: Place
    address: str
    text: str
    by: str = ""
    take: int = 0

    @property
    def entry(self) -> str:
        """The address as a map takes it, quoted if YAML needs that."""
        if not self.by:
            return f"at: {flow_text(('at',), self.address)}"
        return flow_text((), {"at": self.address, "split": {"by": self.by, "take": self.take}})


class Found(NamedTuple):
    """The value and its places; whole values come before parts of texts.

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
        CallRefused: the file cannot be read, or its kind is unknown.
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


def _is(text: str, value: str, wanted: Fraction | None) -> bool:
    if text.strip() == value.strip():
        return True
    return wanted is not None and number_of(text) == wanted


def _matches(text: str, value: str, wanted: Fraction | None) -> Iterator[tuple[str, int]]:
    """Yield the matches of a value in a text: the whole text, or one part of it."""
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
