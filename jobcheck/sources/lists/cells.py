"""The places of a list's cells: row starts are kept, the rest is found on demand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from jobcheck.shop.places import Place
from jobcheck.sources.lists.columns import BY_MEANING, LENGTHS
from jobcheck.sources.lists.dialect import Delimited, Dialect, Span
from jobcheck.sources.lists.numbers import Numbers
from jobcheck.text import Text
from jobcheck.trade.units import MM_PER_UNIT


class Cells:
    """The places of a list: `rows` are the starts of rows by reference, `columns` places in a row.

    `common` are values that all rows have without a cell of their own: a side that is declared.
    `stands_for` are columns from which a value was derived: a part from its value and footprint.
    """

    def __init__(
        self,
        text: Text,
        columns: Mapping[str, int],
        dialect: Dialect | None = None,
        numbers: Numbers | None = None,
        origin_mm: tuple[float, float] = (0, 0),
    ) -> None:
        """Take the text and the place of each known column in a row."""
        self.text = text
        self.columns = dict(columns)
        self.dialect = dialect or Delimited("comma")
        self.numbers = numbers or Numbers(unit="mm")
        self.origin_mm = origin_mm
        self.header_line = 0
        self.stands_for: dict[str, int] = {}
        self.common: dict[str, Any] = {}
        self.rows: dict[str, int] = {}

    def spans(self, start: int) -> list[Span]:
        """Return the span of each cell of the row that begins at `start`, quotes included."""
        return self.dialect.spans(self.text.text, start)

    def place(self, reference: str, column: str | None = None) -> Place | None:
        """Return the place of a cell, or of the row's reference if the cell is missing."""
        start = self.rows.get(reference)
        if start is None:
            return None
        spans = self.spans(start)
        name = column or "reference"
        at = self.columns.get(name, self.stands_for.get(name, self.columns["reference"]))
        return self.text.place(*spans[min(at, len(spans) - 1)])

    @property
    def header(self) -> int:
        """The start of the row of column names."""
        return self.text.line_starts[max(self.header_line, 0)]

    @property
    def delimiter(self) -> str | None:
        """The delimiter of the cells, None if rows cannot be edited cell by cell."""
        return self.dialect.delimiter if isinstance(self.dialect, Delimited) else None

    def read(self, column: str, cell: str, units: str | None = None) -> Any:
        """Return the plain value of a cell without quotes and padding, None for an empty one.

        `units` are the units for positions, if not the list's own.

        Raises:
            ValueError: the cell cannot be understood; the message is a clause.
        """
        if column in LENGTHS:
            numbers = replace(self.numbers, unit=units or self.numbers.unit)
            return numbers.length(cell, self.axis_origin(column))
        if column == "rotation":
            return self.numbers.angle(cell)
        return BY_MEANING[column].read(cell)

    def in_list(self, column: str, value: float, units: str | None = None) -> float:
        """Return a number in the list's own unit, from its own origin."""
        if column not in LENGTHS:
            return value
        unit = units or self.numbers.unit or "mm"
        return (value - self.axis_origin(column)) / MM_PER_UNIT[unit]

    def axis_origin(self, column: str) -> float:
        """Return the offset added to a position of a column, mm."""
        return self.origin_mm[1 if column.endswith("y") else 0]


class SpanCells(Cells):
    """Places noted one by one, for files whose rows have no cells."""

    def __init__(self, text: Text) -> None:
        """Take the text; places are noted with `note`."""
        super().__init__(text, {"reference": 0})
        self.noted: dict[tuple[str, str], Span] = {}

    @property
    def delimiter(self) -> str | None:
        """None: there are no cells."""
        return None

    def note(self, reference: str, column: str, span: Span) -> None:
        """Note the place of a value; the first one counts."""
        self.noted.setdefault((reference, column), span)
        self.columns.setdefault(column, len(self.columns))

    def place(self, reference: str, column: str | None = None) -> Place | None:
        """Return the place of a value, or of its reference if it has none."""
        wanted = (reference, column or "reference")
        span = self.noted.get(wanted) or self.noted.get((reference, "reference"))
        return self.text.place(*span) if span else None
