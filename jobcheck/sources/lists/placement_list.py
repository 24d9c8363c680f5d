"""A placement list in delimited or aligned text: recognised by meaning, read or refused."""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from jobcheck.sources.lists.cells import Cells
from jobcheck.sources.lists.columns import DECISIVE, FITTED, NAMING, NUMBERS, VALUES, WORDS, Column
from jobcheck.sources.lists.meanings import Recognised
from jobcheck.sources.lists.numbers import Numbers, moved, plain_numbers
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.reading import List, ListFormat, PartName
from jobcheck.sources.lists.spelling import spelling
from jobcheck.sources.lists.table import Table, read_table, tail_of
from jobcheck.sources.lists.words import (
    is_fiducial,
    is_not_fitted,
    side_of,
    without_mark,
)
from jobcheck.text import NotUnderstood, Text
from jobcheck.trade.units import MM_PER_UNIT
from jobcheck.wording import listed

_TITLE_SIDE = re.compile(r"\b(?:side|layer)\s*[:=]\s*([\w. ]+)", re.IGNORECASE)
_SURE_REFERENCE = re.compile(r"(?:[A-Z]{1,2}|LED|TP|CON)\d{1,4}")
_UNANNOTATED = re.compile(r"[A-Za-z]+\d*\?[A-Za-z]?")
_NAMES_BOTTOM = re.compile(r"(?<![a-z])(bot|bottom|back)(?![a-z])", re.IGNORECASE)


def read_placement_list(data: bytes, file: str, options: ListOptions) -> List:
    """Read a placement list; positions are in mm on the board, sides are top and bottom.

    An empty cell leaves its value out. Fiducials are not placements.

    Raises:
        NotUnderstood: with the first fault of the list: something unreadable or ambiguous.
    """
    text = decoded(data, file, options)
    table = read_table(text, options, _suits, "placements")
    refuse_unclear(table, DECISIVE)
    _refuse_guessed_reference(table)
    reader = _Reader(table, options, *spelling(table, options))
    return reader.regular() or reader.row_by_row()


def decoded(data: bytes, file: str, options: ListOptions) -> Text:
    """Return the text of a list in its declared encoding, else in UTF-8.

    Raises:
        NotUnderstood: it is in another encoding; the remedy is to declare it.
    """
    is_utf_16 = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        return Text(data, file, options.encoding or ("utf-16" if is_utf_16 else "utf-8"))
    except NotUnderstood as error:
        if error.fault.rule != "encoding-wrong" or options.encoding is not None:
            raise
        remedy = ("Save it as UTF-8, or declare its encoding: windows-1252, utf-16 or another.",)
        raise NotUnderstood(error.fault._replace(remedy=remedy), "encoding=windows-1252") from None


def _suits(found: Recognised) -> bool:
    axes = (found.has(axis) or found.has(f"unsure_{axis}") for axis in ("x", "y"))
    return found.has("reference") and all(axes)


def refuse_unclear(table: Table, decisive: Sequence[str]) -> None:
    """Refuse a row of names with an ambiguous column.

    Raises:
        NotUnderstood: two columns could be one, a declared one is missing, a name is odd.
    """
    found = table.found
    for meaning, name in found.missing.items():
        names = ", ".join(header.text for header in found.headers if header.text)
        says = (
            f"Column {name}, declared as columns.{meaning}, does not exist. It has: {names[:200]}."
        )
        raise table.fault(table.header_line, says, f"Name the column under columns.{meaning}.")
    for meaning in filter(found.several.get, decisive):
        names = " and ".join(found.headers[i].text for i in found.several[meaning])
        raise table.name_fault(
            meaning,
            f"Several columns could be the {meaning}: {names}.",
            f"Name the right one under columns.{meaning}.",
            f"columns.{meaning}={found.headers[found.several[meaning][0]].text}",
        )
    for axis in ("x", "y"):
        if f"unsure_{axis}" in found.columns:
            name = found.headers[found.columns[f"unsure_{axis}"]].text
            raise table.name_fault(
                f"unsure_{axis}",
                f"{name} may be the position of a pad or of the whole part.",
                f"Declare columns.{axis}: {name} if it is the centre of the part.",
                f"columns.{axis}={name}",
            )
    for meaning, at in found.odd.items():
        raise table.name_fault(
            meaning,
            f"The unit of column {found.headers[at].text} is not understood.",
            f"Convert it, or declare columns.{meaning}: the name of another column.",
            f"columns.{meaning}",
        )


def _refuse_guessed_reference(table: Table) -> None:
    """Refuse a column that was taken for the reference and holds anything else."""
    if not table.found.is_reference_guessed:
        return
    rows = table.column("reference")[: tail_of(table)]
    rows = [cell for cell in rows if cell and not is_fiducial(cell)]
    if len(set(rows)) == len(rows) and all(map(_SURE_REFERENCE.fullmatch, rows)):
        return
    name = table.name_of(table.found.columns["reference"])
    raise table.name_fault(
        "reference",
        f"No column is called reference, and {name} may be it or not.",
        f"Declare columns.reference: {name} where it is.",
        f"columns.reference={name}",
    )


# its rows


def _rows(columns: dict[str, list[Any]]) -> list[dict[str, Any]]:
    """Return whole columns as rows; the columns of every list first."""
    x, y = columns.pop("x"), columns.pop("y")
    rows: list[dict[str, Any]] = [{"x": at_x, "y": at_y} for at_x, at_y in zip(x, y, strict=True)]
    for name, values in columns.items():
        for row, value in zip(rows, values, strict=True):
            row[name] = value
    return rows


@dataclass
class _Reader:
    table: Table
    options: ListOptions
    numbers: dict[str, Numbers]
    format: ListFormat

    def __post_init__(self) -> None:
        found = self.table.found
        self.columns = found.columns
        self.side = self._side_of_all()
        self._refuse_hidden_marks()
        own = {m: i for m, i in self.columns.items() if m in VALUES or m == "reference"}
        self.cells = Cells(
            self.table.text,
            own,
            self.table.dialect,
            self.numbers["x"],
            self.options.origin_mm,
        )
        self.cells.header_line = self.table.header_line
        self.cells.common = {"side": self.side} if self.side else {}
        if "part" not in self.columns:
            stand_in = [self.columns[name] for name in NAMING if name in self.columns]
            self.cells.stands_for = {"part": stand_in[0]} if stand_in else {}

    # common to all rows

    def _side_of_all(self) -> str | None:
        """Return the side of all rows, None if a column has it.

        Raises:
            NotUnderstood: it is unknown.
        """
        if "side" in self.columns or "mirror" in self.columns:
            return None
        if self.options.side:
            self.format = replace(self.format, side_from=f"{self.options.side}, as declared")
            return self.options.side
        suspect = next(filter(self._holds_sides, self.table.found.unknown), None)
        if suspect is not None:
            name = self.table.name_of(suspect)
            raise self.table.cell_fault(
                self.table.header_line,
                suspect,
                f"Column {name} has sides, but its name is unknown.",
                f"Declare columns.side: {name}.",
                f"columns.side={name}",
            )
        said = {side_of(w) for line in self.table.around for w in _TITLE_SIDE.findall(line)}
        said.discard(None)
        if len(said) == 1:
            side = str(said.pop())
            self.format = replace(self.format, side_from=f"{side}, from the title")
            return side
        if len(said) > 1 or _NAMES_BOTTOM.search(self.table.text.file.rpartition("/")[2]):
            raise self.table.fault(
                self.table.header_line,
                "No column has the side of the parts, and the list mentions the bottom.",
                "Declare side: top or bottom if all are on one, or columns.side.",
                "side=bottom",
            )
        return None

    def _holds_sides(self, column: int) -> bool:
        cells = set(map(str.strip, self.table.cells(column)))
        return bool(cells - {""}) and all(side_of(cell) for cell in cells if cell)

    def _holds_numbers(self, column: int) -> bool:
        cells = set(map(str.strip, self.table.cells(column))) - {""}
        return bool(cells) and all(any(map(str.isdigit, cell)) for cell in cells)

    def _refuse_hidden_marks(self) -> None:
        suspects = self.table.found.unknown if "rotation" not in self.columns else []
        suspect = next(filter(self._holds_numbers, suspects), None)
        if suspect is not None:
            name = self.table.name_of(suspect)
            raise self.table.cell_fault(
                self.table.header_line,
                suspect,
                f"No column is recognised as rotation, and {name} has numbers.",
                f"Declare columns.rotation: {name}, or rename that column rotation.",
                f"columns.rotation={name}",
            )
        for column in self.table.found.unknown:
            if any(map(is_not_fitted, set(self.table.cells(column)))):
                name = self.table.name_of(column)
                raise self.table.cell_fault(
                    self.table.header_line,
                    column,
                    f"Column {name} marks parts that are not fitted, but is not recognised by its "
                    "name.",
                    f"Declare columns.not_fitted: {name}.",
                    f"columns.not_fitted={name}",
                )

    def _result(self) -> List:
        return List({}, self.cells, skipped=self.table.skipped, format=self.format)

    # all rows at once

    def regular(self) -> List | None:
        """Read all rows by columns, or return None if a row must be read on its own."""
        references = self.table.column("reference")
        if not self._are_plain(references):
            return None
        columns: dict[str, list[Any]] = {}
        for meaning in NUMBERS:
            if meaning in self.columns:
                values = self._plain_column(meaning)
                if values is None:
                    return None
                columns[meaning] = values
        if not self._add_words(columns):
            return None
        result = self._result()
        result.rows = dict(zip(references, _rows(columns), strict=True))
        starts = self.table.text.line_starts
        lines = map(starts.__getitem__, self.table.lines)
        self.cells.rows = dict(zip(references, lines, strict=True))
        self._name_all(result, references)
        return result

    def _are_plain(self, references: list[str]) -> bool:
        joined = "\n".join(references).lower()
        naming = ("part", *NAMING)
        others = (set(self.table.column(name)) for name in naming if name in self.columns)
        return (
            len(set(references)) == len(references)
            and "" not in references
            and "fid" not in joined
            and "," not in joined
            and ";" not in joined
            and '"' not in joined
            and "?" not in joined
            and not any("fiducial" in cell.lower() for cells in others for cell in cells)
        )

    def _plain_column(self, meaning: str) -> list[Any] | None:
        values: list[Any] | None = plain_numbers(self.table.column(meaning))
        numbers = self.numbers[meaning]
        if values is None or meaning == "rotation":
            return values
        if numbers.unit is None:
            return None
        scale, origin = MM_PER_UNIT[numbers.unit], self.cells.axis_origin(meaning)
        if scale == 1.0 and not origin:
            return values
        return [moved(value, scale, origin) for value in values]

    def _add_words(self, columns: dict[str, list[Any]]) -> bool:
        """Add the columns of words; return whether every row has a plain one."""
        if "part" in self.columns:
            parts = self.table.column("part")
            if any(not part or without_mark(part)[1] for part in set(parts)):
                return False
            columns["part"] = parts
        elif any(
            without_mark(cell)[1]
            for name in NAMING
            if name in self.columns
            for cell in set(self.table.column(name))
        ):
            return False
        if any(column.meaning in self.columns for column in FITTED):
            return False
        for column in filter(self._counts, WORDS):
            cells = self.table.column(column.meaning)
            try:
                values = {cell: column.read(cell) for cell in set(cells)}
            except ValueError:
                return False
            if None in values.values():
                return False
            columns[column.gives] = [values[cell] for cell in cells]
        if self.side:
            columns["side"] = [self.side] * len(self.table.lines)
        return True

    def _counts(self, column: Column) -> bool:
        """Return whether a column of words is read: not a mirror, if a column has sides."""
        is_second = column.gives != column.meaning and column.gives in self.columns
        return column.meaning in self.columns and (column in FITTED or not is_second)

    def _name_all(self, result: List, references: list[str]) -> None:
        if "part" in self.columns:
            return
        columns = [
            self.table.column(name) if name in self.columns else [""] * len(references)
            for name in NAMING
        ]
        for reference, value, footprint, number, comment in zip(references, *columns, strict=True):
            result.named[reference] = PartName(value or comment, footprint, number)

    # one row after the other

    def row_by_row(self) -> List:
        """Read each row on its own.

        Raises:
            NotUnderstood: with the first that cannot be read.
        """
        result = self._result()
        tail = tail_of(self.table)
        for number, (row, line) in enumerate(zip(self.table.rows, self.table.lines, strict=True)):
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if self.options.skips_unnamed and not self._cell(cells, "reference") and number < tail:
                self.table.skip(line, "no reference")
            elif number >= tail:
                self.table.skip(line, "after the table")
            elif cells == self.table.names:
                self.table.skip(line, "names of the columns again")
            else:
                self._add(result, cells, line)
        return result

    def _add(self, result: List, cells: list[str], line: int) -> None:
        reference = self._reference(cells, line)
        value, footprint, number = (self._cell(cells, name) for name in NAMING[:3])
        named = PartName(value, footprint, number)
        comment = self._cell(cells, "comment")
        values = self._values(cells, line)
        if is_fiducial(reference, self._cell(cells, "part"), comment, named.value, named.footprint):
            self.table.skip(line, "fiducial")
            result.fiducials[reference] = values
            result.named[reference] = named
            return
        start = self.table.text.line_starts[line]
        if reference in result.rows:
            first = self.cells.rows[reference]
            result.repeated.setdefault(reference, [first]).append(start)
            return
        if "part" not in self.columns:
            value, is_marked = without_mark(named.value or comment)
            if is_marked or any(is_not_fitted(self._cell(cells, name)) for name in NAMING):
                values["fitted"] = False
            result.named[reference] = replace(named, value=value)
        result.rows[reference] = values
        self.cells.rows[reference] = start

    def _cell(self, cells: list[str], meaning: str) -> str:
        at = self.columns.get(meaning)
        return cells[at] if at is not None else ""

    def _reference(self, cells: list[str], line: int) -> str:
        reference = self._cell(cells, "reference")
        at = self.columns["reference"]
        if not reference:
            raise self.table.cell_fault(
                line, at, "The row has no reference.", "Name the reference."
            )
        if "," in reference or ";" in reference:
            says = f"{reference!r} lists several references at one place."
            raise self.table.cell_fault(line, at, says, "Give each a row of its own.")
        if _UNANNOTATED.fullmatch(reference):
            rows = zip(self.table.column("reference"), self.table.lines, strict=True)
            others = [row + 1 for cell, row in rows if _UNANNOTATED.fullmatch(cell)]
            lines = f"line{'s' * (len(others) > 1)} {listed(list(map(str, others)), 12)}"
            says = f"References without a number, such as {reference}, are in {lines}."
            raise self.table.cell_fault(line, at, says, "Annotate the design and export again.")
        if '"' in reference:
            says = f"{reference!r} contains a quote: a cell is split at the wrong place."
            raise self.table.cell_fault(line, at, says, "Check the quotes of this row.")
        return reference

    def _values(self, cells: list[str], line: int) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for meaning in NUMBERS:
            if meaning in self.columns:
                self._take(values, meaning, cells, line, self._number(meaning))
        if "part" in self.columns:
            part, is_marked = without_mark(self._cell(cells, "part"))
            if part:
                values["part"] = part
            if is_marked:
                values["fitted"] = False
        if self.side:
            values["side"] = self.side
        for column in filter(self._counts, WORDS):
            if values.get(column.gives) is not False:
                self._take(values, column.meaning, cells, line, column.read, column.gives)
        return values

    def _number(self, meaning: str) -> Callable[[str], Any]:
        numbers = self.numbers[meaning]
        if meaning == "rotation":
            return numbers.angle
        origin = self.cells.axis_origin(meaning)
        return lambda cell: numbers.length(cell, origin)

    def _take(
        self,
        values: dict[str, Any],
        meaning: str,
        cells: list[str],
        line: int,
        read: Callable[[str], Any],
        into: str = "",
    ) -> None:
        try:
            value = read(self._cell(cells, meaning))
        except ValueError as error:
            name = self.table.found.headers[self.columns[meaning]].text
            raise self.table.cell_fault(
                line, self.columns[meaning], f"{error}, in column {name}.", "Correct the cell."
            ) from None
        if value is not None:
            values[into or meaning] = value
