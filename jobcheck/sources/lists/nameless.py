"""Lists without a row of names: columns by their number, or by the one reading that fits all."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from jobcheck.sources.lists.aligned import COMMENT, NUMERIC, RULED
from jobcheck.sources.lists.dialect import DELIMITERS, Aligned, Delimited, Dialect
from jobcheck.sources.lists.meanings import Header, Recognised
from jobcheck.sources.lists.options import ListOptions

_REFERENCE = re.compile(r"[A-Za-z]{1,4}\d{1,5}[A-Za-z]?|FID\w*", re.IGNORECASE)
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d*)?|[-+]?[.,]\d+")
_ANGLE_STEP = 15
"""Rotations of a list are whole multiples of it: common practice, no published source."""


class Nameless(NamedTuple):
    """How the rows of such a list are parted, and which column holds what."""

    dialect: Dialect
    found: Recognised


def read_nameless(lines: Sequence[str], options: ListOptions) -> Nameless | None:
    """Return the columns of a list that names none; None where they are not certain."""
    rows = [line.rstrip("\r\n") for line in lines]
    rows = [row for row in rows if row.strip() and not COMMENT.match(row)]
    rows = [row for row in rows if not RULED.fullmatch(row)]
    numbered = {m: int(name) - 1 for m, name in options.columns.items() if name.isdecimal()}
    readings = []
    for dialect in _dialects(options):
        cells = [[cell.strip() for cell in dialect.cells(row)] for row in rows]
        width = len(cells[0]) if cells else 0
        if width < 4 or any(len(row) != width for row in cells):
            continue
        columns = _declared(numbered, width) if numbered else _told(cells)
        if columns:
            readings.append((dialect, width, columns))
    if len(readings) != 1:
        return None
    dialect, width, columns = readings[0]
    headers = [Header(f"column {i + 1}", f"column{i + 1}") for i in range(width)]
    return Nameless(dialect, Recognised(headers, dict(columns)))


def _dialects(options: ListOptions) -> list[Dialect]:
    wanted = [name for name in DELIMITERS if options.delimiter in (None, name)]
    found: list[Dialect] = [Delimited(name) for name in wanted]
    return [*found, Aligned()] if options.delimiter in (None, "aligned") else found


def _declared(numbered: Mapping[str, int], width: int) -> Mapping[str, int]:
    is_whole = {"reference", "x", "y"} <= {*numbered} and max(numbered.values()) < width
    return numbered if is_whole and min(numbered.values()) >= 0 else {}


def _told(rows: Sequence[Sequence[str]]) -> Mapping[str, int]:
    """Return the columns of a mount file: reference, x, y, rotation, then names of the part.

    Nothing where any other reading fits: the three numbers stand side by side behind the
    reference, only the third is a rotation in every row, and nothing else is a number.
    """
    by_column = list(zip(*rows, strict=True))
    numeric = [i for i, cells in enumerate(by_column) if all(map(_NUMBER.fullmatch, cells))]
    some = [i for i, cells in enumerate(by_column) if any(map(NUMERIC.match, cells))]
    references = by_column[0]
    is_listed = len(set(references)) == len(references) and len(rows) > 1
    if numeric != [1, 2, 3] or not is_listed or not all(map(_REFERENCE.fullmatch, references)):
        return {}
    if [_is_angle(by_column[i]) for i in numeric] != [False, False, True]:
        return {}
    names = list(range(4, len(by_column)))
    columns = {"reference": 0, "x": 1, "y": 2, "rotation": 3}
    if len(names) == 1:
        return {**columns, "value": 4}
    if len(names) == 2 and 5 not in some:
        return {**columns, "value": 4, "footprint": 5}
    return {} if names else columns


def _is_angle(cells: Sequence[str]) -> bool:
    values = [float(cell.replace(",", ".")) for cell in cells]
    return all(abs(value) <= 360 and value % _ANGLE_STEP == 0 for value in values)
