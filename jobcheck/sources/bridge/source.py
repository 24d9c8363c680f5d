"""The interface of every kind of controller's file: values and places by address."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, NamedTuple

from jobcheck.findings import fault
from jobcheck.shop.places import Place
from jobcheck.text import NotUnderstood, Text

MALFORMED = "controller-file-malformed"


class MapWrong(Exception):
    """An address or a conversion of the map does not fit the file; the message is a clause."""


class Native(Enum):
    """The type of a value in the file itself; most formats have only text."""

    TEXT = "text"
    NUMBER = "number"
    SWITCH = "true or false"
    NOTHING = "no value"
    BLOCK = "several values"


@dataclass(frozen=True)
class Hit:
    """A value at an address.

    `key` identifies it to the source, `name` is its name in the file, `text` its unescaped content.
    Addresses inside it begin at `node`.
    """

    key: Any
    name: str
    text: str
    native: Native = Native.TEXT
    node: Any = None


class Slot(NamedTuple):
    """The span of one value's content in a file, without its quotes.

    `token` matches the spelling of one character of the content; `escape` spells new content.
    The slot begins after `skipped` characters of the content.
    If there is no content yet, the whole slot is replaced, and `around` encloses the new content.
    """

    start: int
    end: int
    token: re.Pattern[str]
    escape: Callable[[str], str]
    around: tuple[str, str] = ("", "")
    skipped: int = 0

    def part(self, text: str, first: int, last: int) -> tuple[int, int]:
        """Return the span in the file of the content from `first` up to `last`."""
        first, last = first - self.skipped, last - self.skipped
        if not self._has_escapes(text):
            return self.start + first, self.start + last
        ends = [self.start]
        while ends[-1] < self.end:
            found = self.token.match(text, ends[-1], self.end)
            ends.append(found.end() if found else ends[-1] + 1)
        most = len(ends) - 1
        return ends[min(first, most)], ends[min(last, most)]

    def _has_escapes(self, text: str) -> bool:
        return any(mark in text[self.start : self.end] for mark in "&\\'\"\r")


class Source(ABC):
    """One file of the controller, read once; places are searched only when requested."""

    def __init__(self, data: bytes, file: str, encoding: str) -> None:
        """Decode the file.

        Raises:
            NotUnderstood: it is not text of that encoding.
        """
        try:
            self.text = Text(data, file, encoding)
        except NotUnderstood as error:
            declare = "Or declare its encoding in the map, for example windows-1252."
            remedy = (*error.fault.remedy, declare)
            raise NotUnderstood(error.fault._replace(remedy=remedy)) from None
        if not self.text.text.strip():
            raise self.refused(0, f"{file} is empty.", "Let the controller write it again.")

    @property
    def file(self) -> str:
        """Its name."""
        return self.text.file

    @abstractmethod
    def find(self, address: str, inside: Hit | None = None) -> Iterator[Hit]:
        """Yield the values at an address, in the whole file or inside an element.

        Raises:
            MapWrong: it is not an address, or it computes a value.
        """

    @abstractmethod
    def slots(self, hits: Sequence[Hit]) -> list[Slot | None]:
        """Return the slots of values, None for one that cannot be replaced in place."""

    @abstractmethod
    def everything(self) -> Iterator[tuple[str, Hit]]:
        """Yield every value of the file with its unique address."""

    def room(self, address: str, inside: Hit | None = None) -> Slot | None:
        """Return the place for a missing value, None if it is unknown.

        The slot is empty; its `around` is the text to write on both sides of the value.
        """
        return None

    def starts(self, hits: Sequence[Hit]) -> list[int]:
        """Return the character at which each value, or its container, begins."""
        return [slot.start if slot else 0 for slot in self.slots(hits)]

    def places(self, hits: Sequence[Hit]) -> list[Place]:
        """Return the place of each value."""
        slots = self.slots(hits)
        starts = self.starts(hits) if None in slots else []
        return [
            self.text.place(slot.start, slot.end)
            if slot
            else self.text.place(starts[number], starts[number])
            for number, slot in enumerate(slots)
        ]

    def refused(self, at: int, says: str, do: str) -> NotUnderstood:
        """Return a fault at a character of the file."""
        return NotUnderstood(fault(self.text.place(at, at), MALFORMED, says, do))


ANY = re.compile(r"\r\n|.", re.S)
"""One unescaped character."""


def as_it_is(token: re.Pattern[str], what: str) -> Callable[[str], str]:
    """Return the function that writes content without quotes.

    It raises ValueError, with a clause, for content that would not be read as `what`.
    """

    def write(content: str) -> str:
        if not token.fullmatch(content):
            raise ValueError(f"{content!r} would not be read as {what} there")
        return content

    return write
