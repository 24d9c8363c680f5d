"""A bill of materials: groups of references, and the part of each group."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from jobcheck.sources.lists.cells import Cells
from jobcheck.sources.lists.columns import FITTED, NAMING
from jobcheck.sources.lists.meanings import Recognised
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.placement_list import decoded, refuse_unclear
from jobcheck.sources.lists.reading import List, ListFormat, PartName
from jobcheck.sources.lists.references import expand
from jobcheck.sources.lists.table import Table, read_table, tail_of
from jobcheck.sources.lists.words import without_mark

_DECISIVE = ("reference", "part", *(column.meaning for column in FITTED))


def read_bill(data: bytes, file: str, options: ListOptions) -> List:
    """Read a bill: several references in one cell, and their part or its other names.

    Raises:
        NotUnderstood: with the first fault of the bill.
    """
    text = decoded(data, file, options)
    table = read_table(text, options, _suits, "bill")
    refuse_unclear(table, _DECISIVE)
    columns = table.found.columns
    own = {m: i for m, i in columns.items() if m in ("reference", "part", "fitted")}
    cells = Cells(text, own, table.dialect)
    cells.header_line = table.header_line
    stand_in = [columns[name] for name in NAMING if name in columns]
    if "part" not in own and stand_in:
        cells.stands_for = {"part": stand_in[0]}
    list_format = ListFormat(
        shape=table.dialect.name,
        encoding=text.encoding,
        columns={m: table.found.headers[i].text for m, i in columns.items()},
        unknown=[h.text for i in table.found.unknown if (h := table.found.headers[i]).text],
    )
    result = List({}, cells, skipped=table.skipped, format=list_format)
    _read_rows(table, result)
    return result


def _suits(found: Recognised) -> bool:
    return found.has("reference") and any(map(found.has, ("part", *NAMING)))


def _read_rows(table: Table, result: List) -> None:
    tail = tail_of(table)
    for number, (row, line) in enumerate(zip(table.rows, table.lines, strict=True)):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        if number >= tail:
            table.skip(line, "after the table")
        elif cells == table.names:
            table.skip(line, "names of the columns again")
        else:
            _add(table, result, cells, line)


def _add(table: Table, result: List, cells: list[str], line: int) -> None:
    at = table.found.columns["reference"]
    try:
        references = expand(cells[at])
    except ValueError as error:
        raise table.cell_fault(line, at, f"{error}.", "Write the references out.") from None
    if not references:
        raise table.fault(line, "The row has no reference.", "Name the reference.")
    values, named = _values(table, cells, line)
    start = table.text.line_starts[line]
    for reference in references:
        if reference in result.rows:
            first = result.cells.rows[reference]
            result.repeated.setdefault(reference, [first]).append(start)
            continue
        result.rows[reference] = dict(values)
        result.cells.rows[reference] = start
        if named:
            result.named[reference] = named


def _values(table: Table, cells: list[str], line: int) -> tuple[dict[str, Any], PartName]:
    columns = table.found.columns
    values: dict[str, Any] = {}

    def cell(meaning: str) -> str:
        return cells[columns[meaning]] if meaning in columns else ""

    part, is_marked = without_mark(cell("part"))
    named = PartName(cell("value"), cell("footprint"), cell("maker_number"))
    value, is_value_marked = without_mark(named.value or cell("comment"))
    if part:
        values["part"] = part
    if is_marked or is_value_marked:
        values["fitted"] = False
    for column in FITTED:
        try:
            answer = column.read(cell(column.meaning))
        except ValueError as error:
            raise table.cell_fault(
                line, columns[column.meaning], f"{error}.", "Correct the cell."
            ) from None
        if answer is not None and values.get("fitted") is not False:
            values["fitted"] = answer
    return values, replace(named, value=value)
