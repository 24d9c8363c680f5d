"""Lists written in the one form that needs no options: comma, UTF-8, mm, usual names."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from jobcheck.shop.paths import natural
from jobcheck.sources.lists.columns import BY_MEANING, LENGTHS, NAMING, VALUES


def placements_csv(rows: Mapping[str, Mapping[str, Any]], *, name_units: bool = False) -> bytes:
    """Return a placement list with positions in mm, in the order given.

    `name_units` puts the unit into the names of the columns. A missing value is an empty cell.
    """
    present = {name for row in rows.values() for name in row}
    used = [name for name in VALUES if BY_MEANING[name].is_basic or name in present]
    used += [name for name in NAMING if name in present]
    names = [f"{name}_mm" if name_units and name in LENGTHS else name for name in used]
    lines = [
        [reference, *(_cell(row.get(name)) for name in used)] for reference, row in rows.items()
    ]
    return _csv([["reference", *names], *lines])


def bill_csv(parts: Mapping[str, str], fitted: Mapping[str, bool]) -> bytes:
    """Return a bill: the references of each part in one row, in natural order."""
    groups: dict[tuple[str, bool], list[str]] = {}
    for reference, part in parts.items():
        groups.setdefault((part, fitted.get(reference, True)), []).append(reference)
    has_unfitted = not all(is_fitted for _, is_fitted in groups)
    lines = [["reference", "part", "quantity", *(["fitted"] if has_unfitted else [])]]
    for (part, is_fitted), references in groups.items():
        shown = ", ".join(sorted(references, key=natural))
        last = [_cell(is_fitted)] if has_unfitted else []
        lines.append([shown, part, str(len(references)), *last])
    return _csv(lines)


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = f"{value:.6f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text
    return str(value)


def _csv(lines: list[list[str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(lines)
    return text.getvalue().encode()
