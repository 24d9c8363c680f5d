"""Lists without a row of names: columns by their number, or by the one reading that fits all."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from jobcheck.sources.lists.aligned import COMMENT, NUMERIC, RULED
from jobcheck.sources.lists.dialect import DELIMITERS, Aligned, Delimited, Dialect
from jobcheck.sources.lists.meanings import Header, Recognised
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.words import side_of

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
    rows = _rows(lines)
    numbered = {m: int(name) - 1 for m, name in options.columns.items() if name.isdecimal()}
    readings = []
    for dialect, cells in _split(rows, options):
        width = len(cells[0])
        columns = _declared(numbered, width) if numbered else _told(cells)
        if columns:
            readings.append((dialect, width, columns))
    if len(readings) != 1:
        return None
    dialect, width, columns = readings[0]
    headers = [Header(f"column {i + 1}", f"column{i + 1}") for i in range(width)]
    return Nameless(dialect, Recognised(headers, dict(columns)))


def likely_columns(lines: Sequence[str], options: ListOptions) -> Mapping[str, int]:
    """Return the columns that such a list may have, from 1, to be asked; none where nothing fits.

    The first column has references, and the only numbers are x, y and the rotation.
    """
    for _, cells in _split(_rows(lines), options):
        by_column = list(zip(*cells, strict=True))
        numeric = [i for i, column in enumerate(by_column) if all(map(_NUMBER.fullmatch, column))]
        if len(numeric) in (2, 3) and all(map(_REFERENCE.fullmatch, by_column[0])):
            names = ("x", "y", "rotation")
            found = dict(zip(names, (at + 1 for at in numeric), strict=False))
            return {"reference": 1, **found}
    return {}


def _rows(lines: Sequence[str]) -> list[str]:
    """Return the lines that are neither blank, comments nor ruled."""
    rows = [line.rstrip("\r\n") for line in lines]
    rows = [row for row in rows if row.strip() and not COMMENT.match(row)]
    return [row for row in rows if not RULED.fullmatch(row)]


def _split(rows: Sequence[str], options: ListOptions) -> Iterator[tuple[Dialect, list[list[str]]]]:
    """Yield each dialect that gives all rows the same number of cells, four at least."""
    for dialect in _dialects(options):
        cells = [[cell.strip() for cell in dialect.cells(row)] for row in rows]
        width = len(cells[0]) if cells else 0
        if width >= 4 and all(len(row) == width for row in cells):
            yield dialect, cells


def _dialects(options: ListOptions) -> list[Dialect]:
    wanted = [name for name in DELIMITERS if options.delimiter in (None, name)]
    found: list[Dialect] = [Delimited(name) for name in wanted]
    return [*found, Aligned()] if options.delimiter in (None, "aligned") else found


def _declared(numbered: Mapping[str, int], width: int) -> Mapping[str, int]:
    is_whole = {"reference", "x", "y"} <= {*numbered} and max(numbered.values()) < width
    return numbered if is_whole and min(numbered.values()) >= 0 else {}


def _told(rows: Sequence[Sequence[str]]) -> Mapping[str, int]:
    """Return the columns of a mount file: reference, x, y, rotation, side, names of the part.

    Nothing where any other reading fits: three numbers are side by side, only the third is a
    rotation in every row, and nothing else is a number.
    """
    by_column = list(zip(*rows, strict=True))
    numeric = [i for i, cells in enumerate(by_column) if all(map(_NUMBER.fullmatch, cells))]
    references = by_column[0]
    is_listed = len(set(references)) == len(references) and len(rows) > 1
    is_listed = is_listed and all(map(_REFERENCE.fullmatch, references))
    if not is_listed or len(numeric) != 3 or numeric[2] - numeric[0] != 2:
        return {}
    if [_is_angle(by_column[i]) for i in numeric] != [False, False, True]:
        return {}
    columns = {"reference": 0, "x": numeric[0], "y": numeric[1], "rotation": numeric[2]}
    others = [at for at in range(1, len(by_column)) if at not in numeric]
    sides = [at for at in others if all(map(side_of, by_column[at]))]
    if len(sides) == 1:
        columns["side"] = sides[0]
    names = [at for at in others if at not in sides]
    if len(names) == 2 and any(map(NUMERIC.match, by_column[names[1]])):
        return {}
    if len(names) > 2 or len(sides) > 1:
        return {}
    return {**columns, **dict(zip(("value", "footprint"), names, strict=False))}


def _is_angle(cells: Sequence[str]) -> bool:
    values = [float(cell.replace(",", ".")) for cell in cells]
    return all(abs(value) <= 360 and value % _ANGLE_STEP == 0 for value in values)
