"""What every kind of controller's file offers: values by address, and where they stand."""

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
    """What a file itself says that a value is; most forms know text alone."""

    TEXT = "text"
    NUMBER = "number"
    SWITCH = "true or false"
    NOTHING = "no value"
    BLOCK = "no single value"


@dataclass(frozen=True)
class Hit:
    """A value that an address leads to.

    `key` is what the source finds it by, `name` its own name in the file, `text` what it says with
    everything unescaped. `node` is where addresses inside it begin.
    """

    key: Any
    name: str
    text: str
    native: Native = Native.TEXT
    node: Any = None


class Slot(NamedTuple):
    """The characters of a file in which the content of one value stands, without its quotes.

    `token` matches what stands for one character of the content; `escape` writes content anew.
    `skipped` characters of the content stand before it.
    Where there is no content yet the whole slot is replaced, with `around` put about what is new.
    """

    start: int
    end: int
    token: re.Pattern[str]
    escape: Callable[[str], str]
    around: tuple[str, str] = ("", "")
    skipped: int = 0

    def part(self, text: str, first: int, last: int) -> tuple[int, int]:
        """Return the characters of the file that say the content from `first` up to `last`."""
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
    """One file of the controller, read once; places are looked for only when they are asked for."""

    def __init__(self, data: bytes, file: str, encoding: str) -> None:
        """Decode the file.

        Raises:
            NotUnderstood: it is no such text.
        """
        try:
            self.text = Text(data, file, encoding)
        except NotUnderstood as error:
            declare = "Or declare its encoding, for example windows-1252, in the map."
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
        """Yield what an address leads to, in the file as a whole or inside an element.

        Raises:
            MapWrong: it cannot be understood, or computes something instead of leading there.
        """

    @abstractmethod
    def slots(self, hits: Sequence[Hit]) -> list[Slot | None]:
        """Return where values stand, None for one that cannot be written as it stands."""

    @abstractmethod
    def everything(self) -> Iterator[tuple[str, Hit]]:
        """Yield every value of the file with an address that leads to it alone."""

    def room(self, address: str, inside: Hit | None = None) -> Slot | None:
        """Return where a value that is missing would stand, None where that cannot be told.

        The slot is empty; its `around` is what must be written about the value.
        """
        return None

    def starts(self, hits: Sequence[Hit]) -> list[int]:
        """Return the character at which each value begins, or what holds it."""
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
"""One character that stands as it is."""


def as_it_is(token: re.Pattern[str], what: str) -> Callable[[str], str]:
    """Return how content is written that stands without quotes.

    The returned function raises ValueError, with a clause, for what would not be read as `what`.
    """

    def write(content: str) -> str:
        if not token.fullmatch(content):
            raise ValueError(f"{content!r} would not be read as {what} there")
        return content

    return write
