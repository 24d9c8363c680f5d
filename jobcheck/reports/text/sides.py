"""Values of several sides beside each other: recorded, described, controller now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from jobcheck.schema.controls import show_control
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import is_absent


def said(path: Path, value: Any) -> str:
    """Return a value in words; a camera's control with its meaning."""
    if is_absent(value):
        return "missing"
    if path[2:3] == ("controls",) and isinstance(value, int):
        return show_control(path[-1], value).removeprefix(path[-1]).strip()
    return str(value).lower() if isinstance(value, bool) else str(value)


def columns(rows: Sequence[tuple[Path, str, str, str]], heads: Sequence[str]) -> list[str]:
    """Return rows as a table, by the block that holds the values."""
    lines: list[str] = []
    blocks = list(dict.fromkeys(path[:-1] for path, *_ in rows))
    names = [max(len(show(block)) for block in blocks), *(len(path[-1]) for path, *_ in rows)]
    widths = [max(names)]
    for number, head in enumerate(heads, 1):
        widths.append(max(len(head), *(len(str(row[number])) for row in rows)))
    for block in blocks:
        lines += ["", _row((show(block), *heads), widths)]
        lines += [_row((path[-1], *cells), widths) for path, *cells in rows if path[:-1] == block]
    return lines


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    pairs = zip(cells, widths, strict=True)
    return "  " + "  ".join(f"{cell:<{width}}" for cell, width in pairs).rstrip()
