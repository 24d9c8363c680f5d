"""The places of entries in a YAML file: their lines, their comments, their brackets."""

from __future__ import annotations

import re
from typing import NamedTuple

from jobcheck.shop.paths import Path
from jobcheck.sources.edits.replacing import EditRefused, Replacing
from jobcheck.sources.yaml.places import NodeTable, Spot, Step

_COLON = re.compile(r"""\s*:(?:[ \t]+[&!]\S+)*""")
_TO_COMMA = re.compile(r"(?:\s|(?<=\s)#[^\r\n]*)*,")


class Entries(NamedTuple):
    """The entries of one file; positions are characters of its text."""

    table: NodeTable
    lines: Replacing

    @property
    def text(self) -> str:
        """The file's text."""
        return self.table.text.text

    def find(self, path: Path) -> Spot:
        """Return the value at a path inside the file.

        Raises:
            EditRefused: it is not there.
        """
        spot = self.table.find(path)
        if spot is None:
            raise EditRefused("it is not in the file")
        return spot

    def is_collection(self, node: int) -> bool:
        """Return whether a node is a mapping or list that is written here."""
        return node not in self.table.targets and isinstance(self.table.values[node], (dict, list))

    def is_flow(self, node: int) -> bool:
        """Tell whether a node is a mapping or list in brackets."""
        start = self.table.span(node)[0]
        return self.is_collection(node) and self.text[start : start + 1] in ("{", "[")

    def is_block(self, node: int) -> bool:
        """Tell whether a node is a mapping or list in lines of its own."""
        return self.is_collection(node) and not self.is_flow(node)

    def end(self, node: int) -> int:
        """Return the end of a node, without the comments and blank lines after it."""
        while self.is_block(node):
            *_, (_, node) = self.table.items(node)
        start, end = self.table.span(node)
        return start + len(self.text[start:end].rstrip())

    def begin(self, key: int) -> int:
        """Return the start of an entry: its key, or the `?` before it."""
        at = before = self.table.starts[key]
        while before and self.text[before - 1] in " \t":
            before -= 1
        return before - 1 if self.text[before - 1 : before] == "?" else at

    def column(self, key: int) -> int:
        """Return the number of characters before an entry in its line."""
        return self.begin(key) - self.lines.line_start(self.table.starts[key])

    def start(self, key: int) -> int:
        """Return the start of an entry's lines.

        Raises:
            EditRefused: something else is before its key in that line.
        """
        at = self.table.starts[key]
        start = self.lines.line_start(at)
        if self.text[start:at].strip(" ?"):
            raise EditRefused("it shares its line with something else")
        return start

    def comments(self, key: int) -> int:
        """Return the start of the comments directly above an entry: its own start without any."""
        start = self.start(key)
        begins = " " * self.column(key) + "#"
        while start:
            above = self.lines.line_start(start - 1)
            if not self.text.startswith(begins, above):
                break
            start = above
        return start

    def after_colon(self, key: int) -> int:
        """Return the place for the value of a key: after the colon, its anchor and its tag."""
        colon = _COLON.match(self.text, self.table.ends[key])
        if colon is None:
            raise EditRefused("its key has no colon")
        return colon.end()

    def own_lines(self, step: Step, *, with_comments: bool = False) -> list[str] | None:
        """Return the lines of an entry without their margin.

        None if they cannot be moved: in brackets, or with anchors and aliases in them.
        """
        key, value = step
        try:
            start = self.comments(key) if with_comments else self.start(key)
        except EditRefused:
            return None
        if self.is_linked(value):
            return None
        column = self.column(key)
        lines = self._split(start, self.lines.line_end(self.end(value)))
        if any(line[:column].strip() for line in lines):
            return None
        return [line[column:].rstrip() if line.isspace() else line[column:] for line in lines]

    def blank_above(self, key: int) -> bool:
        """Return whether a blank line is above an entry and its comments."""
        start = self.comments(key)
        return start > 0 and not self.text[self.lines.line_start(start - 1) : start].strip()

    def _split(self, start: int, end: int) -> list[str]:
        """Return lines without their breaks."""
        found = []
        while start <= end:
            found.append(self.text[start : min(self.lines.line_end(start), end)])
            following = self.lines.next_line(start)
            if following >= end:
                break
            start = following
        return found

    def is_linked(self, value: int, *, only_inside: bool = False) -> bool:
        """Tell whether a value has anchors, tags, aliases or merges."""
        table = self.table
        nodes = range(value + only_inside, table.after(value))
        return any(
            node in table.targets
            or node in table.merges
            or table.span(node)[0] != table.starts[node]
            for node in nodes
        )

    def comma_after(self, node: int) -> int | None:
        """Return the end of the comma after a node in brackets, or None if there is none."""
        comma = _TO_COMMA.match(self.text, self.table.ends[node])
        return comma.end() if comma else None
