"""A list's table: the row that names its columns, its rows, and the lines around them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import NamedTuple

from jobcheck.findings import fault
from jobcheck.sources.lists.aligned import NUMERIC, RULED, Suits, choose_columns
from jobcheck.sources.lists.dialect import (
    DELIMITERS,
    Aligned,
    Delimited,
    Dialect,
    Torn,
)
from jobcheck.sources.lists.meanings import UNITS, Recognised, recognise
from jobcheck.sources.lists.nameless import Nameless, likely_columns, read_nameless
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.refusing import RULE, fault_at
from jobcheck.sources.lists.words import looks_like_reference
from jobcheck.text import NotUnderstood, Text, lines_of

_LONGEST_HEADER = 10_000
NO_HEADER = -1
"""The line of the names in a list that has none: its rows begin in line 0."""

_SEARCHED = 500
"""The names of the columns must be within this number of lines."""

_BLANKS = " \t\v\f\x1c\x1d\x1e\x1f"
_NEVER_BLANK = ("x", "y", "rotation", "side")
_TAIL = re.compile(r"(end|total|sum|count|page|printed|note|generated|exported|created)\b")


class Skipped(NamedTuple):
    """A row that is not a placement: its line from 1, its beginning, the reason."""

    line: int
    text: str
    why: str


@dataclass
class Table:
    """The contents of a list; `lines` are the lines of its rows, from 0, as is `header_line`."""

    text: Text
    dialect: Dialect
    found: Recognised
    names: list[str]
    header_line: int
    lines: list[int] = field(default_factory=list)
    skipped: list[Skipped] = field(default_factory=list)
    around: list[str] = field(default_factory=list)
    unit_row: dict[str, str] = field(default_factory=dict)
    _columns: dict[str, list[str]] = field(default_factory=dict)
    _rows: list[list[str]] | None = None
    _flat: list[str] = field(default_factory=list)

    @property
    def rows(self) -> list[list[str]]:
        """The cells of each row, made when first needed."""
        if self._rows is None:
            width = len(self.names)
            starts = range(0, len(self._flat), width)
            self._rows = [self._flat[start : start + width] for start in starts]
        return self._rows

    def hold(self, rows: list[list[str]], lines: list[int]) -> None:
        """Take the rows and the lines in which they begin."""
        if '"' in self.text.text:
            rows = [[" ".join(c.split()) if "\n" in c else c for c in row] for row in rows]
        self._rows, self.lines = rows, lines

    def hold_flat(self, cells: list[str], lines: list[int]) -> None:
        """Take the cells of rows that all have as many as there are names, one after the other."""
        self._flat, self.lines = cells, lines

    def cells(self, column: int) -> list[str]:
        """Return the cells of a column by its position, unchanged."""
        if self._rows is None:
            return self._flat[column :: len(self.names)]
        return list(map(itemgetter(column), self._rows))

    def start(self, line: int) -> int:
        """Return the start of a line, counted from 0."""
        return self.text.line_starts[max(line, 0)]

    def column(self, meaning: str) -> list[str]:
        """Return the cells of a column, without the blanks around them."""
        if meaning not in self._columns:
            cells = self.cells(self.found.columns[meaning])
            has_blanks = any(map(self.text.text.__contains__, _BLANKS)) or not self.text.is_ascii
            self._columns[meaning] = list(map(str.strip, cells)) if has_blanks else cells
        return self._columns[meaning]

    def name_of(self, column: int) -> str:
        """Return the name of a column, or its number if it has none."""
        return self.found.headers[column].text or f"number {column + 1}"

    def skip(self, line: int, why: str) -> None:
        """Note a row that is left out."""
        start = self.start(line)
        text = self.text.text[start : start + 200].splitlines()
        self.skipped.append(Skipped(line + 1, text[0].strip()[:60] if text else "", why))

    def fault(self, line: int, says: str, do: str, declare: str = "") -> NotUnderstood:
        """Return a fault at the beginning of a line, counted from 0."""
        return fault_at(self.text, line, says, do, declare)

    def cell_fault(
        self, line: int, column: int, says: str, do: str, declare: str = ""
    ) -> NotUnderstood:
        """Return a fault at a cell."""
        start = self.start(line)
        whole = self.text.text[start:]
        if line == self.header_line:
            whole = _unmarked(whole)
        spans = self.dialect.spans(whole, 0)
        at, end = spans[min(column, len(spans) - 1)]
        place = self.text.place(start + at, start + end)
        return NotUnderstood(fault(place, RULE, says, do), declare)

    def name_fault(self, meaning: str, says: str, do: str, declare: str = "") -> NotUnderstood:
        """Return a fault at the name of a column."""
        places = self.found.several.get(meaning) or [self.found.columns.get(meaning, 0)]
        return self.cell_fault(self.header_line, places[0], says, do, declare)


def read_table(text: Text, options: ListOptions, suits: Suits, kind: str) -> Table:
    """Find the table in a text: its row of names is the first that fits.

    Raises:
        NotUnderstood: no row fits, several delimiters fit, or a row is incomplete.
    """
    lines = lines_of(text.text)
    try:
        line, dialects = _find_header(text, lines, options, suits, kind)
    except NotUnderstood as error:
        nameless = read_nameless(lines, options) if kind == "placements" else None
        if nameless is None and kind == "placements" and not options.columns:
            raise _asking(error, likely_columns(lines, options)) from None
        if nameless is None:
            raise
        return _nameless_table(text, lines, nameless)
    header = _unmarked(lines[line].rstrip("\r\n"))
    dialect = dialects[0]
    if isinstance(dialect, Aligned):
        dialect = choose_columns(text, header, lines, line, options, suits)
    names = [cell.strip() for cell in dialect.cells(header)]
    found = recognise(names, options.columns)
    table = Table(text, dialect, found, names, line)
    table.around = [held.strip() for held in lines[:line] if held.strip()]
    _fill(table, lines)
    return table


def _asking(error: NotUnderstood, columns: Mapping[str, int]) -> NotUnderstood:
    """Return a fault that asks whether a list without names has these columns."""
    if not columns:
        return error
    declare = [f"columns.{meaning}={at}" for meaning, at in columns.items()]
    said = ", ".join(f"{meaning} {at}" for meaning, at in columns.items())
    remedy = (f"Name them by their numbers; they may be {said}.",)
    return NotUnderstood(error.fault._replace(remedy=remedy), "\n".join(declare))


def _nameless_table(text: Text, lines: Sequence[str], nameless: Nameless) -> Table:
    names = [header.text for header in nameless.found.headers]
    table = Table(text, nameless.dialect, nameless.found, names, NO_HEADER)
    _fill(table, lines)
    return table


def _unmarked(line: str) -> str:
    """Return a line with its comment character replaced by blanks."""
    found = re.match(r"\s*#+", line)
    return " " * found.end() + line[found.end() :] if found else line


# the row of names


def _dialects(options: ListOptions) -> Iterator[Dialect]:
    for name in DELIMITERS:
        if options.delimiter in (None, name):
            yield Delimited(name)
    if options.delimiter in (None, "aligned"):
        yield Aligned()
        yield Aligned(by_phrase=True)


def _find_header(
    text: Text, lines: Sequence[str], options: ListOptions, suits: Suits, kind: str
) -> tuple[int, list[Dialect]]:
    best: tuple[int, int, Recognised] | None = None
    for number, line in enumerate(lines[:_SEARCHED]):
        if not line.strip() or len(line) > _LONGEST_HEADER:
            continue
        suiting: list[Dialect] = []
        for dialect in _dialects(options):
            found = recognise(dialect.cells(_unmarked(line.rstrip("\r\n"))), options.columns)
            if suits(found):
                suiting.append(dialect)
            known = len(found.columns) + len(found.several)
            if known > (best[0] if best else 1):
                best = (known, number, found)
        if suiting:
            _refuse_several(text, number, suiting)
            return number, suiting
    raise _no_header(text, best, options, kind)


def _refuse_several(text: Text, line: int, suiting: list[Dialect]) -> None:
    delimited = [dialect.name for dialect in suiting if isinstance(dialect, Delimited)]
    if len(delimited) > 1:
        raise fault_at(
            text,
            line,
            f"The delimiter may be {' or '.join(delimited)}.",
            f"Declare delimiter: {delimited[0]} or {delimited[1]}.",
            f"delimiter={delimited[0]}",
        )


def _no_header(
    text: Text, best: tuple[int, int, Recognised] | None, options: ListOptions, kind: str
) -> NotUnderstood:
    needed = "reference, x and y" if kind == "placements" else "reference and part"
    if not text.text.strip():
        return fault_at(text, 0, f"{text.file} is empty.", "Its first row names the columns.")
    if best is None:
        return fault_at(
            text,
            0,
            f"No row names the columns: {needed} are needed.",
            "Give the list a row of names, or name its columns by number: columns.x: 2.",
        )
    _, line, found = best
    if found.missing:
        meaning, name = next(iter(found.missing.items()))
        says = f"Column {name}, declared as columns.{meaning}, does not exist."
    else:
        wanted = ("reference", "x", "y") if kind == "placements" else ("reference", "part")
        absent = [meaning for meaning in wanted if not found.has(meaning)]
        says = f"No column of this row is recognised as {' or '.join(absent)}."
    names = ", ".join(header.text for header in found.headers if header.text)
    meaning = next(iter(found.missing), "") or absent[0]
    return fault_at(
        text, line, f"{says} It has: {names[:200]}.", f"Name the column under columns.{meaning}."
    )


# its rows


def _fill(table: Table, lines: Sequence[str]) -> None:
    body = lines[table.header_line + 1 :]
    first = table.header_line + 1
    body = _without_rules(table, body, first)
    marks = ("#", "//") if table.dialect.name == "semicolon" else ("#", "//", ";")
    if any(mark in table.text.text for mark in marks):
        body = _without_comments(table, body, first, marks)
    width = len(table.names)
    if isinstance(table.dialect, Delimited) and body and not _is_unit_row(table, body[0]):
        flat = table.dialect.flat(body, width)
        if flat is not None:
            table.hold_flat(flat, list(range(first, first + len(body))))
            return
    try:
        rows, starts = table.dialect.rows(body)
    except Torn as torn:
        raise table.fault(
            first + torn.row, f"The row is incomplete: {torn}.", "Check the quotes of this row."
        ) from None
    table.hold(rows, [first + start for start in starts])
    is_sorted_out = bool(rows) and _take_unit_row(table, rows)
    if not is_sorted_out and not {width}.issuperset(map(len, rows)):
        _sort_out_widths(table)
    if isinstance(table.dialect, Aligned):
        _refuse_cut_off(table)


def _without_rules(table: Table, body: Sequence[str], first: int) -> Sequence[str]:
    """Blank out ruled lines between the rows; the row of units takes those below the names."""
    if not any(char * 3 in table.text.text for char in "-=_~*") and "-,-" not in table.text.text:
        return body
    delimiter = DELIMITERS.get(table.dialect.name, "")
    kept = list(body)
    begun = False
    for number, line in enumerate(body):
        bare = line.replace(delimiter, "").strip() if delimiter else line.strip()
        if begun and len(bare) > 2 and not set(bare) - set("-=_~*+| "):
            table.skip(first + number, "ruled line")
            kept[number] = "\n"
        begun = begun or (bool(bare) and not RULED.fullmatch(bare))
    return kept


def _without_comments(
    table: Table, body: Sequence[str], first: int, marks: tuple[str, ...]
) -> list[str]:
    kept = []
    for number, line in enumerate(body):
        if line.lstrip().startswith(marks) and not _is_row(table, line):
            table.skip(first + number, "comment")
            table.around.append(line.strip())
            kept.append("\n")
        else:
            kept.append(line)
    return kept


def _refuse_cut_off(table: Table) -> None:
    """Refuse an aligned row that may be truncated or shifted: a required cell is blank.

    Raises:
        NotUnderstood: with the first such row.
    """
    columns = table.found.columns
    for row, line in list(zip(table.rows, table.lines, strict=True))[: tail_of(table)]:
        last = max((i for i, cell in enumerate(row) if cell.strip()), default=-1)
        for meaning, at in columns.items():
            if not row[at].strip() and last >= 0 and (at > last or meaning in _NEVER_BLANK):
                says = f"The row has no {meaning}: it is truncated, or its columns do not line up."
                raise table.fault(line, says, "Correct it, or export the list with a delimiter.")


def _is_row(table: Table, line: str) -> bool:
    """Return whether a line only looks like a comment: its first cell is a remark."""
    columns, width = table.found.columns, len(table.names)
    if columns.get("reference", 0) == 0:
        return False
    cells = table.dialect.cells(line.rstrip("\r\n"))
    if len(cells) == width:
        numeric = any(NUMERIC.match(cells[columns[a]].strip()) for a in ("x", "y") if a in columns)
        return numeric or _is_data(table, cells)
    # a row that lost or gained cells is refused, not left out
    return isinstance(table.dialect, Delimited) and len(cells) > 1


def _unit_cells(row: Sequence[str]) -> list[str]:
    return [cell.strip().strip("()[]").lower() for cell in row]


def _is_unit_row(table: Table, line: str) -> bool:
    cells = _unit_cells(table.dialect.cells(line.rstrip("\r\n")))
    return all(not cell or cell in UNITS or RULED.fullmatch(cell) for cell in cells)


def _take_unit_row(table: Table, rows: list[list[str]]) -> bool:
    """Skip a row of units or of dashes below the names."""
    at = next((i for i, row in enumerate(rows) if any(cell.strip() for cell in row)), None)
    if at is None:
        return False
    cells = _unit_cells(rows[at])
    said = [cell for cell in cells if cell and not RULED.fullmatch(cell)]
    is_told = bool(said) or len("".join(cells)) > 2
    if not (is_told and all(cell in UNITS for cell in said)):
        return False
    for meaning, column in table.found.columns.items():
        if column < len(cells) and cells[column] in UNITS:
            table.unit_row[meaning] = UNITS[cells[column]]
    table.skip(table.lines[at], "row of units" if said else "ruled line")
    del rows[at], table.lines[at]
    if not said and _take_unit_row(table, rows):
        return True
    width = len(table.names)
    if not {width}.issuperset(map(len, rows)):
        _sort_out_widths(table)
    return True


def _sort_out_widths(table: Table) -> None:
    """Leave out blank rows, repeated names and the text after the table.

    Raises:
        NotUnderstood: a row has more or fewer cells than the row of names.
    """
    width = len(table.names)
    tail = tail_of(table)
    rows, lines = [], []
    for number, (row, line) in enumerate(zip(table.rows, table.lines, strict=True)):
        if not any(cell.strip() for cell in row):
            continue
        if number >= tail:
            table.skip(line, "after the table")
            table.around.append(" ".join(row).strip())
            continue
        if len(row) > width and not any(cell.strip() for cell in row[width:]):
            row = row[:width]
        if len(row) != width and RULED.fullmatch(whole := "".join(row)) and len(whole) > 2:
            table.skip(line, "ruled line")
            continue
        if len(row) != width:
            raise _wrong_width(table, row, line)
        rows.append(row)
        lines.append(line)
    table.hold(rows, lines)


def _wrong_width(table: Table, row: list[str], line: int) -> NotUnderstood:
    says = f"The row has {len(row)} cells, the row of names has {len(table.names)}."
    do = "Give it as many, and quote a cell that contains the delimiter."
    if table.dialect.name == "comma" and len(row) > len(table.names):
        do += " Decimal commas: quote them, or export with semicolons."
    return table.fault(line, says, do)


def tail_of(table: Table) -> int:
    """Return the first row after the table, or the number of rows if there is none.

    Such a row has no reference and no position, and comes after a blank line or a comment, or
    begins with a word such as `total`.
    """
    rows = table.rows
    last = max((i for i, row in enumerate(rows) if _is_data(table, row)), default=-1)
    if last < 0:
        return len(rows)
    tail = next((i for i in range(last + 1, len(rows)) if any(map(str.strip, rows[i]))), len(rows))
    if tail == len(rows):
        return tail
    is_apart = tail > last + 1 or table.lines[tail] > table.lines[last] + 1
    for row in rows[tail:]:
        is_blank = not any(map(str.strip, row))
        if not is_blank and not _may_follow(table, row, is_apart):
            return len(rows)
        is_apart = True
    return tail


def _may_follow(table: Table, row: list[str], is_apart: bool) -> bool:
    filled = [cell.strip() for cell in row if cell.strip()]
    needed = [
        table.found.columns[name] for name in ("x", "y", "part") if name in table.found.columns
    ]
    is_odd = len(row) != len(table.names) or not all(row[at].strip() for at in needed)
    return bool(_TAIL.match(filled[0].lower())) or (is_odd and is_apart)


def _is_data(table: Table, row: list[str]) -> bool:
    columns = table.found.columns
    at = columns.get("reference", 0)
    pieces = re.split(r"[,;\s-]", row[at].strip()) if at < len(row) else []
    if pieces and looks_like_reference(pieces[0]):
        return True
    axes = [columns[axis] for axis in ("x", "y") if axis in columns]
    return bool(axes) and all(i < len(row) and NUMERIC.match(row[i].strip()) for i in axes)
