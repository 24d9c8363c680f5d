"""Edits of one list in CSV: cells and rows change, every other byte stays."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from jobcheck.shop.paths import Path
from jobcheck.shop.values import is_absent, same
from jobcheck.sources.edits.replacing import EditRefused, LineEdit, Replacing
from jobcheck.sources.lists.cells import Cells
from jobcheck.sources.lists.columns import BY_MEANING, LENGTHS, Content
from jobcheck.sources.places import ReadFile
from jobcheck.trade.units import MM_PER_UNIT

_MOST_DECIMALS = 12
_PAIRS = (("yes", "no"), ("true", "false"), ("1", "0"), ("y", "n"))
_ROWS_LOOKED_AT = 100


@dataclass
class _RowEdit:
    """The edits of one row: cells by reference and column, and references to remove."""

    cells: dict[str, dict[str, Any]] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class _Grid:
    """The cells of a list by row and column; a row is identified by its start."""

    cells: Cells

    @property
    def text(self) -> str:
        return self.cells.text.text

    def spans(self, start: int) -> list[tuple[int, int]]:
        return self.cells.spans(start)

    def raw(self, start: int) -> list[str]:
        """Return the cells of a row as written, quotes included."""
        return [self.text[at:end] for at, end in self.spans(start)]

    def end(self, start: int) -> int:
        """Return the end of a row, before its line break."""
        return self.spans(start)[-1][1]

    @property
    def header(self) -> int:
        """Return the start of the row of column names."""
        return self.cells.header

    @cached_property
    def by_row(self) -> dict[int, list[str]]:
        """Return the references that each row lists."""
        found: dict[int, list[str]] = {}
        for reference, start in self.cells.rows.items():
            found.setdefault(start, []).append(reference)
        return found


class CsvEdit:
    """Edits of one list, collected by reference and column, made by `result`.

    `units` are the declared units for positions, if any.
    """

    def __init__(
        self, held: ReadFile, units: object = None, recorded: ReadFile | None = None
    ) -> None:
        """Take the list as it was read, and the same list of the record that is restored.

        Raises:
            EditRefused: its cells cannot be edited one by one.
        """
        assert held.cells is not None
        if held.cells.delimiter is None:
            raise EditRefused(
                f"{held.cells.text.file} is not a delimited list; jobcheck import makes one"
            )
        self._delimiter = held.cells.delimiter
        self._prefix = held.prefix
        self._grid = _Grid(held.cells)
        self._columns = held.cells.columns
        self._recorded = _Grid(recorded.cells) if recorded and recorded.cells else None
        self._units = units if isinstance(units, str) and units in MM_PER_UNIT else None
        self._replacing = Replacing(held.cells.text)
        self._row_edits: dict[int, _RowEdit] = {}
        self._new: dict[str, dict[str, Any]] = {}

    @property
    def shown(self) -> list[LineEdit]:
        """The edits that were made, for a preview."""
        return self._replacing.shown

    def set(self, path: Path, value: Any) -> None:
        """Replace the content of a cell (reference, column); an absent value empties it.

        Raises:
            EditRefused: the list has no such column.
        """
        reference, column = path
        self._known(column)
        self._of(reference).cells.setdefault(reference, {})[column] = value

    def insert(self, reference: str, values: dict[str, Any]) -> None:
        """Add a row; a value common to all rows of the list needs no cell."""
        common = self._grid.cells.common
        self._new[reference] = {k: v for k, v in values.items() if common.get(k) != v}

    def remove(self, reference: str) -> None:
        """Take a reference out of the list."""
        self._of(reference).gone.add(reference)

    def _of(self, reference: str) -> _RowEdit:
        return self._row_edits.setdefault(self._grid.cells.rows[reference], _RowEdit())

    def _known(self, column: str) -> None:
        if column not in self._columns:
            raise EditRefused(f"{self._grid.cells.text.file} has no column for {column}")

    def result(self) -> bytes:
        """Return the bytes of the edited list.

        Raises:
            EditRefused: two edits overlap, or the list has no column for a value of a new row.
        """
        for start, wanted in self._row_edits.items():
            self._change(start, wanted)
        for reference, at in list(self._places()):
            values = self._new[reference]
            line = self._recorded_row(reference, values) or self._composed(reference, values)
            self._put(reference, at, line)
        return self._replacing.result()

    def _show(self, path: Path, at: int, before: str, after: str) -> None:
        self._replacing.show((*self._prefix, *path), at, before, after)

    # existing rows

    def _change(self, start: int, edit: _RowEdit) -> None:
        sharing = self._grid.by_row[start]
        wanted = [edit.cells.get(name) for name in sharing]
        if edit.gone.issuperset(sharing):
            end = self._grid.end(start)
            self._replacing.drop(start, self._replacing.next_line(end))
            self._show((sharing[0],), start, self._grid.text[start:end], "")
        elif wanted[0] and not edit.gone and all(cells == wanted[0] for cells in wanted):
            self._set_cells(start, sharing, wanted[0])
        else:
            self._part(start, edit, [name for name in sharing if name not in edit.gone])

    def _set_cells(self, start: int, sharing: list[str], cells: dict[str, Any]) -> None:
        for column, value in cells.items():
            at, end = self._grid.spans(start)[self._columns[column]]
            old = self._grid.text[at:end]
            new = self._spelled(sharing[0], column, value, old)
            self._replacing.replace(at, end, new)
            for name in sharing if new != old else ():
                before, after = (f"{name} {column}: {cell.strip()}" for cell in (old, new))
                self._show((name, column), at, before, after)

    def _part(self, start: int, edit: _RowEdit, left: list[str]) -> None:
        """Give references of a shared row their own rows; removed ones leave it."""
        staying = [name for name in left if name not in edit.cells] or left[:1]
        if staying[0] in edit.cells:
            self._set_cells(start, staying, edit.cells[staying[0]])
        at, end = self._grid.spans(start)[self._columns["reference"]]
        old = self._grid.text[at:end]
        mark = ";" if ";" in old else ","
        space = " " if f"{mark} " in old else ""
        new = self._cell(f"{mark}{space}".join(staying), old)
        if new != old:
            self._replacing.replace(at, end, new)
            self._show((staying[0],), at, old.strip(), new.strip())
        for name in left:
            if name not in staying:
                row = self._grid.raw(start)
                row[self._columns["reference"]] = self._cell(name)
                for column, value in edit.cells[name].items():
                    place = self._columns[column]
                    row[place] = self._spelled(name, column, value, row[place])
                self._put(name, self._grid.end(start), self._delimiter.join(row))

    # new rows

    def _places(self) -> Iterator[tuple[str, int]]:
        """Yield the place of each new row: below the nearest recorded row that is still above."""
        standing = {
            name: start
            for name, start in self._grid.cells.rows.items()
            if start not in self._row_edits
            or not self._row_edits[start].gone.issuperset(self._grid.by_row[start])
        }
        recorded = self._recorded.cells.rows if self._recorded else {}
        above = self._grid.header
        for name in recorded:
            above = standing.get(name, above)
            if name in self._new:
                yield name, self._grid.end(above)
        last = max(standing.values(), default=self._grid.header)
        for name in self._new:
            if name not in recorded:
                yield name, self._grid.end(last)

    def _put(self, reference: str, at: int, line: str) -> None:
        self._replacing.put(at, self._replacing.newline(at) + line)
        self._show((reference,), at, "", line)

    def _composed(self, reference: str, values: dict[str, Any]) -> str:
        for column in values:
            self._known(column)
        row = [""] * len(self._grid.raw(self._grid.header))
        row[self._columns["reference"]] = self._cell(reference)
        for column, value in values.items():
            row[self._columns[column]] = self._spelled(reference, column, value, "")
        return self._delimiter.join(row)

    def _recorded_row(self, reference: str, values: dict[str, Any]) -> str | None:
        """Return the recorded row if it has the same values under the same column names."""
        recorded = self._recorded
        if recorded is None or reference not in recorded.cells.rows:
            return None
        is_alike = recorded.cells.delimiter == self._delimiter
        if not is_alike or recorded.raw(recorded.header) != self._grid.raw(self._grid.header):
            return None
        start = recorded.cells.rows[reference]
        row = recorded.raw(start)
        if _content(row[self._columns["reference"]]) != reference:
            return None
        for column, place in self._columns.items():
            if column != "reference" and not self._says(column, row[place], values.get(column)):
                return None
        return recorded.text[start : recorded.end(start)]

    # cells

    def _cell(self, content: str, old: str = "") -> str:
        return _written(content, old, self._delimiter)

    def _says(self, column: str, cell: str, value: Any) -> bool:
        try:
            return same(self._grid.cells.read(column, _content(cell), self._units), value)
        except ValueError:
            return False

    def _spelled(self, reference: str, column: str, value: Any, old: str) -> str:
        """Write a cell in the format of the old one, or of the record."""
        if self._says(column, old, value):
            return old
        if is_absent(value):
            return self._cell("", old)
        if self._recorded and reference in self._recorded.cells.rows:
            place = self._recorded.cells.columns.get(column)
            start = self._recorded.cells.rows[reference]
            if place is not None and self._says(column, self._recorded.raw(start)[place], value):
                return self._cell(_content(self._recorded.raw(start)[place]), old)
        return self._cell(self._worded(column, value, _content(old)), old)

    def _worded(self, column: str, value: Any, old: str) -> str:
        if isinstance(value, bool):
            yes, no = self._pair(column, old)
            return _cased(yes if value else no, old)
        if isinstance(value, str):
            return _cased(value, old) if BY_MEANING[column].content is Content.WORD else value
        cells = self._grid.cells
        number = cells.in_list(column, value, self._units)
        unit = "mm" if column in LENGTHS and not (self._units or cells.numbers.unit) else ""
        texts = (text.replace(".", cells.numbers.decimal) + unit for text in _numbers(number))
        return next((text for text in texts if self._says(column, text, value)), repr(value))

    def _pair(self, column: str, old: str) -> tuple[str, str]:
        """Return the words for yes and no that the column uses."""
        place = self._columns[column]
        rows = list(self._grid.by_row)[:_ROWS_LOOKED_AT]
        words = [old, *(_content(self._grid.raw(start)[place]) for start in rows)]
        pairs = (pair for word in words for pair in _PAIRS if word.lower() in pair)
        return next(pairs, _PAIRS[0])


def _numbers(value: float) -> Iterator[str]:
    """Yield ever longer decimal spellings of a number."""
    for decimals in range(_MOST_DECIMALS + 1):
        yield f"{value:.{decimals}f}"


def _content(cell: str) -> str:
    """Return the content of a cell, without padding and quotes."""
    cell = cell.strip()
    if len(cell) > 1 and cell[0] == cell[-1] == '"':
        return cell[1:-1].replace('""', '"').strip()
    return cell


def _written(content: str, old: str, delimiter: str) -> str:
    """Write a cell with the padding and the quotes of the old one, and quotes if needed."""
    core = old.strip()
    needs = content != content.strip() or any(char in content for char in delimiter + '"\r\n')
    if needs or (core[:1] == '"' and content):
        content = '"' + content.replace('"', '""') + '"'
    return old.replace(core, content, 1) if core else content


def _cased(word: str, old: str) -> str:
    """Write a word in capitals if the old one is."""
    if old.isupper() and len(old) > 1:
        return word.upper()
    return word.capitalize() if old[:1].isupper() else word
