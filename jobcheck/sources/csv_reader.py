"""Placement lists and bills in CSV: rows by reference, with the place of every cell."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from jobcheck.description.findings import Fault, Place
from jobcheck.sources.scalars import resolve
from jobcheck.sources.text import NotUnderstood, Text

USUAL_COLUMNS = {
    "reference": ("reference", "ref", "references", "designator"),
    "part": ("part",),
    "x": ("x", "x_mm", "pos_x"),
    "y": ("y", "y_mm", "pos_y"),
    "rotation": ("rotation", "rot", "angle"),
    "side": ("side", "layer"),
    "fitted": ("fitted",),
    "pin1_x": ("pin1_x",),
    "pin1_y": ("pin1_y",),
}
MM_PER_UNIT = {"mm": 1.0, "mil": 0.0254, "inch": 25.4}
_YES = {"yes": True, "true": True, "1": True, "y": True}
_NO = {"no": False, "false": False, "0": False, "n": False}


@dataclass
class List:
    """A list as it was read.

    `rows` holds the plain values by reference; `repeated` how often a reference is listed where
    that is more than once (the first row counts); `cells` finds places.
    """

    rows: dict[str, dict[str, Any]]
    cells: Cells
    repeated: dict[str, list[int]] = field(default_factory=dict)


class Cells:
    """Where the cells of a list stand: row starts are kept, the rest is found on demand."""

    def __init__(self, text: Text, columns: dict[str, int]) -> None:
        """Take the text and the place of each known column in a row."""
        self.text = text
        self.columns = columns
        self.rows: dict[str, int] = {}

    def place(self, reference: str, column: str | None = None) -> Place | None:
        """Return the place of a cell, or of the row's reference where no such cell stands."""
        start = self.rows.get(reference)
        if start is None:
            return None
        spans = cell_spans(self.text.text, start)
        at = self.columns.get(column or "reference", self.columns["reference"])
        return self.text.place(*spans[min(at, len(spans) - 1)])


def cell_spans(text: str, start: int) -> list[tuple[int, int]]:
    """Return the span of each cell of the row that begins at `start`, quotes included."""
    spans = []
    at = cell = start
    quoted = False
    while True:
        char = text[at] if at < len(text) else "\n"
        if char == '"':
            quoted = not quoted
        elif (char in ",\r\n" and not quoted) or at >= len(text):
            spans.append((cell, at))
            if char != "," or at >= len(text):
                return spans
            cell = at + 1
        at += 1


class _Lines:
    """Lines of a text for the CSV reader, noting where each row begins."""

    def __init__(self, text: Text) -> None:
        self.text = text.text
        self.starts = text.line_starts
        self.line = 0

    def __iter__(self) -> Iterator[str]:
        ends = [*self.starts[1:], len(self.text)]
        for start, end in zip(self.starts, ends, strict=True):
            self.line += 1
            yield self.text[start:end]


class _Reader:
    def __init__(self, text: Text, columns: dict[str, str]) -> None:
        self.text = text
        self.named = columns
        self.lines = _Lines(text)

    def fault(self, line: int, says: str, do: str) -> NotUnderstood:
        start = self.text.line_starts[line - 1]
        return NotUnderstood(Fault(self.text.place(start, start), "list-malformed", says, do))

    def cell_fault(self, line: int, column: int, says: str) -> NotUnderstood:
        span = cell_spans(self.text.text, self.text.line_starts[line - 1])[column]
        place = self.text.place(*span)
        return NotUnderstood(Fault(place, "list-malformed", says, "Correct the cell."))

    def records(self) -> Iterator[tuple[int, list[str]]]:
        """Yield (line, cells) of each row that is not blank."""
        reader = csv.reader(iter(self.lines), strict=True)
        line = 1
        try:
            for cells in reader:
                if any(cells):
                    yield line, cells
                line = self.lines.line + 1
        except csv.Error as error:
            raise self.fault(
                line, f"The row breaks off here: {error}.", "Look at the quotes of this row."
            ) from None

    def header(self, line: int, cells: list[str], needed: tuple[str, ...]) -> dict[str, int]:
        """Return the place of each known column in a row."""
        names = [cell.strip().lower() for cell in cells]
        found: dict[str, int] = {}
        for column, usual in USUAL_COLUMNS.items():
            wanted = (self.named[column].lower(),) if column in self.named else usual
            at = [i for i, name in enumerate(names) if name in wanted]
            if len(at) > 1:
                raise self.fault(
                    line,
                    f"Two columns could be the {column}: {', '.join(cells[i] for i in at)}.",
                    f"Name the one that is meant under columns.{column} in the job.",
                )
            if at:
                found[column] = at[0]
            elif column in needed or column in self.named:
                raise self.fault(
                    line,
                    f"No column {' or '.join(wanted)} stands in the first row.",
                    f"Name the column of the {column} under columns.{column} in the job.",
                )
        return found


def read_placement_list(data: bytes, file: str, columns: dict[str, str], units: str) -> List:
    """Read a placement list: columns reference, x, y; part, rotation, side, fitted where given.

    Positions come back in mm.

    Raises:
        NotUnderstood: with the first fault of the list.
    """
    reader = _Reader(Text(data, file), columns)
    return _read(reader, ("reference", "x", "y"), MM_PER_UNIT[units], grouped=False)


def read_bill(data: bytes, file: str, columns: dict[str, str]) -> List:
    """Read a bill: columns reference (several in one cell) and part; fitted where given.

    Raises:
        NotUnderstood: with the first fault of the bill.
    """
    reader = _Reader(Text(data, file), columns)
    result = _read(reader, ("reference", "part"), 1.0, grouped=True)
    for row in result.rows.values():
        for only_listed in ("x", "y", "rotation", "side", "pin1_x", "pin1_y"):
            row.pop(only_listed, None)
    return result


def _read(reader: _Reader, needed: tuple[str, ...], scale: float, *, grouped: bool) -> List:
    records = reader.records()
    first = next(records, None)
    if first is None:
        raise reader.fault(1, f"{reader.text.file} is empty.", "Its first row names the columns.")
    columns = reader.header(*first, needed)
    cells = Cells(reader.text, columns)
    result = List({}, cells)
    width = len(first[1])
    starts = reader.text.line_starts
    convert = {name: cell_reader(name, scale) for name in columns if name != "reference"}
    for line, row in records:
        if len(row) != width:
            raise reader.fault(
                line,
                f"The row has {len(row)} cells, the first row has {width}.",
                "Give it as many, and quote a cell that holds a comma.",
            )
        values = {}
        for name, to_value in convert.items():
            try:
                value = to_value(row[columns[name]].strip())
            except ValueError as error:
                raise reader.cell_fault(line, columns[name], f"{error}.") from None
            if value is not None:
                values[name] = value
        for reference in _references(row[columns["reference"]], grouped):
            if not reference:
                raise reader.fault(line, "The row has no reference.", "Name the reference.")
            if reference in result.rows:
                result.repeated.setdefault(reference, [cells.rows[reference]]).append(
                    starts[line - 1]
                )
                continue
            result.rows[reference] = dict(values) if grouped else values
            cells.rows[reference] = starts[line - 1]
    return result


def _references(cell: str, grouped: bool) -> list[str]:
    if not grouped:
        return [cell.strip()]
    return [name.strip() for name in cell.replace(";", ",").split(",")]


def cell_reader(column: str, scale: float) -> Callable[[str], Any]:
    """Return what turns a stripped cell of a column into its plain value, positions into mm.

    It raises ValueError for a cell that cannot be understood; an empty one is None.
    """

    def number(cell: str) -> float | int | None:
        value = resolve(cell) if cell else None
        if value is not None and (isinstance(value, (str, bool))):
            raise ValueError(f"{cell!r} in column {column} is no number")
        if value is None or scale == 1.0 or column == "rotation":
            return value
        return round(value * scale, 6)

    def yes_or_no(cell: str) -> bool | None:
        if cell and cell.lower() not in {**_YES, **_NO}:
            raise ValueError(f"{cell!r} in column {column} is neither yes nor no")
        return {**_YES, **_NO}[cell.lower()] if cell else None

    def side(cell: str) -> str | None:
        return cell.lower() or None

    def text(cell: str) -> str | None:
        return cell or None

    if column in ("x", "y", "rotation", "pin1_x", "pin1_y"):
        return number
    return {"fitted": yes_or_no, "side": side}.get(column, text)
