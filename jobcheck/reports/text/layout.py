"""Laying out text: at most 80 columns, labels at the left, no boxes; styles are data."""

from __future__ import annotations

import json
import re
import textwrap

WIDTH = 80
_LABEL = 8


class Line(str):
    """A line of a report whose first `styled` characters have a style, which may be shown."""

    style: str
    styled: int

    def __new__(cls, text: str, style: str, styled: int | None = None) -> Line:
        """Keep the style of a text; all of it where `styled` is not given."""
        made = super().__new__(cls, text)
        made.style = style
        made.styled = len(text) if styled is None else styled
        return made


def amount(number: int, one: str, many: str = "") -> str:
    """Write an amount with its noun: `no errors`, `1 error`, `2,300 errors`."""
    noun = one if number == 1 else many or one + "s"
    return f"{number:,} {noun}" if number else f"no {noun}"


def visible(text: str) -> str:
    """Write characters that do not print, as those that turn the text's direction, as JSON does."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in text)


_LONG = re.compile(r"\S{256,}")


def paragraph(text: str, indent: str = "", first: str | None = None) -> list[str]:
    """Wrap a text; its own line breaks stay, a name that is longer than a file's may be is cut."""
    lines: list[str] = []
    for part in _LONG.sub(lambda word: f"{word[0][:60]}...", text).split("\n"):
        lead = first if first is not None and not lines else indent
        wrapped = textwrap.wrap(
            part,
            WIDTH,
            initial_indent=lead,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
        lines += wrapped or [lead.rstrip()]
    return lines


def titled(style: str, word: str, text: str) -> list[str]:
    """Wrap a paragraph that begins with a word in a style: `Error: ...`."""
    first, *more = paragraph(f"{word} {text}", "  ", "")
    return [Line(first, style, len(word)), *more]


def labelled(label: str, text: str, *, is_whole: bool = False) -> list[str]:
    """Write a labelled paragraph: `do    Look at the tape.`; a whole one is not wrapped."""
    lead = f"  {label:<{_LABEL - 2}}"
    first, *more = [lead + text] if is_whole else paragraph(text, " " * _LABEL, lead)
    return [Line(first, "label", 2 + len(label)) if label else first, *more]


def proposed(title: str, *commands: str) -> list[str]:
    """Write commands below a title, each whole and alone on its line."""
    return ["", Line(title, "next"), *(f"  {command}" for command in commands)]


def columns(rows: list[tuple[str, ...]], indent: str = "  ", gap: int = 2) -> list[str]:
    """Lay rows out in columns; the last one is not padded."""
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return [
        (
            indent
            + (" " * gap).join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
