"""How the rows of a list are split into cells: by a delimiter, or aligned by spaces."""

from __future__ import annotations

import csv
import re
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from operator import methodcaller

Span = tuple[int, int]

DELIMITERS = {"tab": "\t", "semicolon": ";", "comma": ",", "exclamation": "!", "pipe": "|"}
"""Delimiters by the name that a job declares."""

_WORD = re.compile(r'"[^"\r\n]*"(?!\S)|\S+')
_PHRASE = re.compile(r"\S+(?: \S+)*")
_LINE_END = re.compile("\r\n|\n|\r")


class Torn(Exception):
    """A row is incomplete; `row` is its number from 0, the message a clause."""

    def __init__(self, row: int, why: str) -> None:
        """Keep where and why."""
        super().__init__(why)
        self.row = row


class Dialect(ABC):
    """One way to split rows into cells."""

    name: str
    """Its name in a job and on a screen."""

    @abstractmethod
    def cells(self, line: str) -> list[str]:
        """Return the cells of one row."""

    @abstractmethod
    def rows(self, lines: Sequence[str]) -> tuple[list[list[str]], list[int]]:
        """Return the cells of all rows, and the line in which each row begins.

        Raises:
            Torn: a row is incomplete.
        """

    @abstractmethod
    def spans(self, text: str, start: int) -> list[Span]:
        """Return the span of each cell of the row that begins at `start`, quotes included."""


@dataclass(frozen=True)
class Delimited(Dialect):
    """Cells separated by one character, and quoted if they contain it."""

    name: str

    @property
    def delimiter(self) -> str:
        """The character."""
        return DELIMITERS[self.name]

    def cells(self, line: str) -> list[str]:
        """Return the cells of one row; an incomplete row has none."""
        try:
            return next(csv.reader([line], delimiter=self.delimiter, skipinitialspace=True), [])
        except csv.Error:
            return []

    def rows(self, lines: Sequence[str]) -> tuple[list[list[str]], list[int]]:
        """Return the cells of all rows, and the line in which each row begins."""
        reader = csv.reader(lines, delimiter=self.delimiter, strict=True, skipinitialspace=True)
        starts: list[int] = []
        rows: list[list[str]] = []
        at = 0
        try:
            for row in reader:
                rows.append(row)
                starts.append(at)
                at = reader.line_num
        except csv.Error as error:
            raise Torn(at, str(error)) from None
        return rows, starts

    def flat(self, lines: Sequence[str], width: int) -> list[str] | None:
        """Return the cells of plain rows one after the other: as csv does, but faster.

        None if a row has a quote, or not `width` cells.
        """
        whole = "".join(lines)
        counts = set(map(methodcaller("count", self.delimiter), lines))
        if '"' in whole or counts != {width - 1} or width == 1:
            return None
        whole = whole.replace("\r\n", "\n").replace("\r", "\n").removesuffix("\n")
        return whole.replace("\n", self.delimiter).split(self.delimiter)

    def spans(self, text: str, start: int) -> list[Span]:
        """Return the span of each cell; a quote opens a quoted cell at its beginning only."""
        found: list[Span] = []
        at = start
        while True:
            end = self._cell_end(text, at)
            found.append((at, end))
            if end >= len(text) or text[end] != self.delimiter:
                return found
            at = end + 1

    def _cell_end(self, text: str, at: int) -> int:
        opening = at
        while text[opening : opening + 1] == " ":
            opening += 1
        if text[opening : opening + 1] == '"':
            at = opening + 1
            while at < len(text):
                if text[at] == '"' and text[at + 1 : at + 2] != '"':
                    break
                at += 2 if text[at] == '"' else 1
        while at < len(text) and text[at] not in (self.delimiter, "\r", "\n"):
            at += 1
        return at


@dataclass(frozen=True)
class Aligned(Dialect):
    """Cells aligned by spaces: in columns of characters if they line up, else word by word.

    `columns` are the spans of characters of each column, empty if words or phrases are counted;
    a phrase is words with single blanks between them.
    """

    columns: tuple[Span, ...] = ()
    by_phrase: bool = False
    name: str = "aligned"

    def cells(self, line: str) -> list[str]:
        """Return the cells of one row."""
        return [_unquoted(line[start:end]) for start, end in self._within(line)]

    def rows(self, lines: Sequence[str]) -> tuple[list[list[str]], list[int]]:
        """Return the cells of all rows, and the line in which each row begins."""
        return [self.cells(line.rstrip("\r\n")) for line in lines], list(range(len(lines)))

    def spans(self, text: str, start: int) -> list[Span]:
        """Return the span of each cell."""
        found = _LINE_END.search(text, start)
        line = text[start : found.start() if found else len(text)]
        return [(start + a, start + b) for a, b in self._within(line)]

    def _within(self, line: str) -> list[Span]:
        if not line.strip():
            return []
        if not self.columns:
            pattern = _PHRASE if self.by_phrase else _WORD
            return [found.span() for found in pattern.finditer(line)]
        return [_trimmed(line, span) for span in self.columns]


def _unquoted(cell: str) -> str:
    return cell[1:-1] if len(cell) > 1 and cell[0] == cell[-1] == '"' else cell


def _trimmed(line: str, span: Span) -> Span:
    start, end = span[0], min(span[1], len(line))
    if start >= end:
        return len(line), len(line)
    content = line[start:end]
    lead = len(content) - len(content.lstrip())
    return start + lead, start + lead + len(content.strip())


def standing(lines: Sequence[str], *, by_phrase: bool) -> list[Span]:
    """Return the spans of characters that are used in some line, with blanks between them.

    With `by_phrase` a single blank does not separate.
    """
    taken = bytearray(max(map(len, lines), default=0))
    for line in lines:
        for piece in (_PHRASE if by_phrase else _WORD).finditer(line):
            start, end = piece.span()
            taken[start:end] = b"\1" * (end - start)
    return [found.span() for found in re.finditer(b"\x01+", bytes(taken))]
