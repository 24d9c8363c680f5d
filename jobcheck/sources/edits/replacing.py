"""Replaced spans of one text, and the lines of their preview."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field

from jobcheck.shop.paths import Path
from jobcheck.text import Text

_LINE_END = re.compile("\r\n|\n|\r")


@dataclass(frozen=True, order=True)
class LineEdit:
    """One edit in a preview: `before` is empty for an addition, `after` for a removal.

    `line` is the line in the old file, from 1; an addition follows that line. A block has
    several lines in `before` or `after`, the outermost without indentation.
    """

    file: str
    line: int
    path: Path
    before: str
    after: str

    @property
    def is_whole(self) -> bool:
        """Whether it is a whole new file: edits of a file count lines from 1."""
        return self.line == 0


_Span = tuple[int, int, int, str]
"""Start, end, rank among those that start and end there, content."""


class EditRefused(Exception):
    """A span cannot be edited; the message is a clause that says why."""


@dataclass
class Replacing:
    """Edits of one text, collected and then made all at once."""

    text: Text
    spans: list[_Span] = field(default_factory=list)
    gone: list[tuple[int, int]] = field(default_factory=list)
    shown: list[LineEdit] = field(default_factory=list)

    def line(self, at: int) -> int:
        """Return the line of a character, from 1."""
        return bisect_right(self.text.line_starts, at)

    def line_start(self, at: int) -> int:
        """Return the start of a character's line."""
        return self.text.line_starts[self.line(at) - 1]

    def next_line(self, at: int) -> int:
        """Return the start of the line after a character's: the text's end for the last."""
        number = self.line(at)
        starts = self.text.line_starts
        return starts[number] if number < len(starts) else len(self.text.text)

    def line_end(self, at: int) -> int:
        """Return the end of a character's line, before its line break."""
        return self.line_start(at) + len(
            self.text.text[self.line_start(at) : self.next_line(at)].rstrip("\r\n")
        )

    def newline(self, at: int) -> str:
        """Return the line break that is used around a character."""
        found = _LINE_END.match(self.text.text, self.line_end(at))
        found = found or _LINE_END.search(self.text.text)
        return found[0] if found else "\n"

    def replace(self, start: int, end: int, content: str) -> None:
        """Replace the content of a span."""
        self.spans.append((start, end, 0, content))

    def put(self, at: int, content: str) -> None:
        """Insert text; insertions at one place are in the order of the calls."""
        self.spans.append((at, at, 1, content))

    def drop(self, start: int, end: int) -> None:
        """Remove a span; spans may touch or overlap."""
        self.gone.append((start, end))

    def beyond(self, at: int) -> int:
        """Return the first place from there on that is not removed."""
        while ends := [end for start, end in self.gone if start <= at < end]:
            at = max(ends)
        return at

    def show(self, path: Path, at: int, before: str, after: str) -> None:
        """Note the preview of an edit that begins at a character."""
        self.shown.append(LineEdit(self.text.file, self.line(at), path, before, after))

    def result(self) -> bytes:
        """Return the bytes of the edited file.

        Raises:
            EditRefused: two edits replace the same span.
        """
        text = self.text.text
        gone = list(self._dropped())
        spans = [self._moved(span, gone) for span in self.spans]
        spans += ((start, end, 2, "") for start, end in gone)
        parts: list[str] = []
        done = 0
        for start, end, _, content in sorted(spans, key=lambda span: span[:3]):
            if start < done:
                raise EditRefused("two edits replace the same text")
            parts += (text[done:start], content)
            done = end
        parts.append(text[done:])
        try:
            return self.text.encode("".join(parts))
        except UnicodeEncodeError as error:
            raise EditRefused(f"its encoding has no {error.object[error.start]!r}") from None

    def _moved(self, span: _Span, gone: list[tuple[int, int]]) -> _Span:
        """Move insertions below a removed line to below the line above it."""
        start, end, order, content = span
        around = bisect_right(gone, (start, -1)) - 1
        if start != end or around < 0 or not gone[around][0] < start < gone[around][1]:
            return span
        above = self.line_end(gone[around][0] - 1)
        return above, above, order, content

    def _dropped(self) -> Iterator[tuple[int, int]]:
        """Yield the removed spans, joined; a file without a final line break keeps that."""
        text = self.text.text
        joined: list[tuple[int, int]] = []
        for start, end in sorted(self.gone):
            if joined and start <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
            else:
                joined.append((start, end))
        for start, end in joined:
            is_whole_line = start == self.line_start(start)
            if end == len(text) and start and is_whole_line and text[-1] not in "\r\n":
                yield self.line_end(start - 1), end
            else:
                yield start, end
