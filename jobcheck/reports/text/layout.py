"""Laying out text: at most 80 columns, labels at the left, no boxes."""

from __future__ import annotations

import json
import textwrap

WIDTH = 80
_LABEL = 8


def amount(number: int, one: str, many: str = "") -> str:
    """Write an amount with its noun: `no errors`, `1 error`, `2,300 errors`."""
    noun = one if number == 1 else many or one + "s"
    return f"{number:,} {noun}" if number else f"no {noun}"


def visible(text: str) -> str:
    """Write characters that do not print, as those that turn the text's direction, as JSON does."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in text)


def paragraph(text: str, indent: str = "", first: str | None = None) -> list[str]:
    """Wrap a text; its own line breaks stay."""
    lines: list[str] = []
    for part in text.split("\n"):
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


def labelled(label: str, text: str) -> list[str]:
    """Write a labelled paragraph: `do    Look at the tape.`, indented."""
    return paragraph(text, " " * _LABEL, f"  {label:<{_LABEL - 2}}")


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
