"""One YAML file under edit, beside the same file of the record that is restored."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import same
from jobcheck.sources.edits.replacing import Replacing
from jobcheck.sources.edits.yaml_entries import Entries
from jobcheck.sources.places import ReadFile
from jobcheck.sources.yaml.places import NodeTable, Step
from jobcheck.sources.yaml.scalars import Scalar
from jobcheck.sources.yaml.spelling import block_lines, spell_key, spell_scalar

_INSIDE_BRACKETS = frozenset(",[]{}")


@dataclass(frozen=True)
class Recorded:
    """A file in a record: spellings, blocks and the order of entries."""

    entries: Entries

    @cached_property
    def lines(self) -> frozenset[str]:
        """The recorded lines, stripped."""
        return frozenset(line.strip() for line in self.entries.text.splitlines())

    def spelling(self, path: Path, value: Any, in_flow: bool) -> str | None:
        """Return the record's spelling of a value on one line, if it fits here."""
        table = self.entries.table
        spot = table.find(path)
        if spot is None or not self._says(spot.value, value):
            return None
        node = table.resolved(spot.value)
        start, end = table.span(node)
        written = self.entries.text[start:end]
        if not written or "\n" in written or "\r" in written or self.entries.is_block(node):
            return None
        if self.entries.is_flow(node):
            return None if self.entries.is_linked(node, only_inside=True) else written
        is_risky = written[0] not in "\"'" and _INSIDE_BRACKETS & set(written)
        return None if in_flow and is_risky else written

    def block(self, path: Path, value: Any) -> list[str] | None:
        """Return the recorded lines of an entry and of its comments, without their margin."""
        spot = self.entries.table.find(path)
        if spot is None or spot.shared or not self._says(spot.value, value):
            return None
        lines = self.entries.own_lines((spot.key, spot.value), with_comments=True)
        if lines is None:
            spelling = self.spelling(path, value, False)
            return [f"{spell_key(path[-1])}: {spelling}"] if spelling else None
        return ["", *lines] if self.entries.blank_above(spot.key) else lines

    def is_linked(self, path: Path, value: Any) -> bool:
        """Return whether anchors or aliases prevent copying an entry."""
        spot = self.entries.table.find(path)
        if spot is None or not self._says(spot.value, value):
            return False
        return spot.shared or self.entries.is_linked(spot.value)

    def _says(self, node: int, value: Any) -> bool:
        return same(self.entries.table.values[node], value)

    def order(self, path: Path) -> list[str]:
        """Return the keys of a recorded mapping, in order."""
        spot = self.entries.table.find(path)
        if spot is None:
            return []
        return list(self.entries.table.own_children(self.entries.table.resolved(spot.value)))


@dataclass
class Worksheet:
    """One file under edit: its places, the same file in the record, the edits.

    Paths are those inside the file; `prefix` leads to it.
    """

    prefix: Path
    entries: Entries
    recorded: Recorded | None
    notes: list[str] = field(default_factory=list)
    placed: dict[int, int] = field(default_factory=dict)
    """End or start of a line -> where the last entry was put that goes below or above it."""

    @classmethod
    def of(cls, held: ReadFile, recorded: ReadFile | None) -> Worksheet:
        """Lay out a file that was read as YAML."""
        assert held.table is not None
        known = recorded.table and recorded if recorded else None
        return cls(
            held.prefix,
            Entries(held.table, Replacing(held.table.text)),
            Recorded(_entries(known)) if known else None,
        )

    @property
    def table(self) -> NodeTable:
        """The nodes of the file."""
        return self.entries.table

    @property
    def replacing(self) -> Replacing:
        """What is replaced in it."""
        return self.entries.lines

    def spell(self, path: Path, value: Scalar, in_flow: bool) -> str:
        """Write a scalar, spelled as in the record if the value is the same."""
        recorded = self.recorded and self.recorded.spelling(path, value, in_flow)
        return recorded or spell_scalar(value)

    def recorded_lines(self, path: Path, value: Any) -> list[str]:
        """Return the recorded lines of an entry, blank lines and comments first; may be none."""
        found = (self.recorded and self.recorded.block(path, value)) or []
        if not found and self.recorded and self.recorded.is_linked(path, value):
            where = show((*self.prefix, *path))
            self.notes.append(
                f"{where} has anchors or aliases in the record: its values alone are written."
            )
        return found

    def fresh_lines(self, path: Path, value: Any, parent: int) -> list[str]:
        """Return new lines of an entry, indented and on one line as its siblings are."""
        mappings = [
            node
            for _, node in self.table.own_children(parent).values()
            if isinstance(self.table.values[node], dict) and self.table.values[node]
        ]
        on_one_line = bool(mappings) and all(map(self.entries.is_flow, mappings))
        return list(block_lines(path, value, self.spell, self._indent(), on_one_line))

    def _indent(self) -> int:
        """Return the file's indentation in columns: that of its first nested mapping."""
        for key, value in self.table.items(0):
            if self.entries.is_block(value) and isinstance(self.table.values[value], dict):
                inner = next(self.table.items(value))[0]
                return max(1, self.entries.column(inner) - self.entries.column(key))
        return 2

    def joined(self, lines: Iterable[str], column: int, at: int) -> str:
        """Return lines for the file: with a margin, and with its line breaks."""
        margin = " " * column
        return self.replacing.newline(at).join(margin + line if line else "" for line in lines)

    def standing_comments(self, at: int, lines: list[str]) -> tuple[int, list[str]]:
        """Skip the recorded comments of an entry that are at and below a line's start.

        Return the start of the next line and the lines that are still missing; if the comments
        are not there, return both unchanged.
        """
        comments, entry = split_comments(lines)
        following = at
        for comment in comments:
            end = self.replacing.line_end(following)
            if self.entries.text[following:end].strip() != comment.strip():
                return at, lines
            following = self.replacing.next_line(following)
        return (following, entry) if any(comments) else (at, lines)

    def own_text(self, step: Step) -> str:
        """Return an entry unchanged, for a preview."""
        lines = self.entries.own_lines(step)
        if lines:
            return "\n".join(lines)
        return self.entries.text[self.table.starts[step[0]] : self.entries.end(step[1])]

    def show(self, path: Path, at: int, before: str, after: str) -> None:
        """Note the preview of an edit at a character."""
        self.replacing.show((*self.prefix, *path), at, before, after)


def _entries(held: ReadFile) -> Entries:
    assert held.table is not None
    return Entries(held.table, Replacing(held.table.text))


def split_comments(lines: list[str]) -> tuple[list[str], list[str]]:
    """Return the blank lines and comments that lead, and the lines of the entry itself."""
    is_comment = [line.lstrip()[:1] in ("", "#") for line in lines]
    first = is_comment.index(False) if False in is_comment else len(lines)
    return lines[:first], lines[first:]
