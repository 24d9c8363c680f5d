"""The number format of one list: its decimal mark, its unit and the source of the unit."""

from __future__ import annotations

import re
from collections.abc import Iterator

from jobcheck.sources.lists.columns import LENGTHS, NUMBERS
from jobcheck.sources.lists.meanings import UNITS
from jobcheck.sources.lists.numbers import AmbiguousNumbers, Numbers, decide_decimal, has_unit
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.reading import ListFormat
from jobcheck.sources.lists.table import Table
from jobcheck.trade.units import MM_PER_UNIT

_WRITTEN_UNIT = re.compile(
    r"\b(?:positions?|coordinates?|dimensions?|locations?|distances|measurements|einheit(?:en)?|"
    r"unités?|unidad(?:es)?)\b[^.;\n]*?(?:\bin\b|\bare\b|\ben\b|[:=(\[])\s*"
    r"(mm|millimet(?:er|re)s?|mils?|inch(?:es)?|um|µm|microns?)\b",
    re.IGNORECASE,
)
_TITLE_UNIT = re.compile(r"\bunits?\b(?:\s+(?:used|are|is))?\s*[:=]?\s*(\w+|\")", re.IGNORECASE)


def spelling(table: Table, options: ListOptions) -> tuple[dict[str, Numbers], ListFormat]:
    """Return how each column of numbers is written, and the report of the list's format.

    Raises:
        NotUnderstood: it can be read in two ways, or the unit is unknown.
    """
    decimal = options.decimal or _decimal(table)
    units: dict[str, str | None] = {}
    sources = set()
    numbers: dict[str, Numbers] = {}
    for meaning in (m for m in LENGTHS if m in table.found.columns):
        units[meaning], source, named = _unit(table, options, meaning)
        sources.add(source)
        numbers[meaning] = Numbers(decimal, units[meaning], named)
    numbers["rotation"] = Numbers(decimal)
    list_format = ListFormat(
        shape=table.dialect.name,
        encoding=table.text.encoding,
        decimal=decimal,
        unit=", ".join(dict.fromkeys(unit or "in each cell" for unit in units.values())),
        unit_from=", ".join(sorted(sources)),
        columns={m: table.found.headers[i].text for m, i in table.found.columns.items()},
        unknown=[h.text for i in table.found.unknown if (h := table.found.headers[i]).text],
    )
    return numbers, list_format


def _decimal(table: Table) -> str:
    meanings = [m for m in NUMBERS if m in table.found.columns]
    whole = table.text.text
    has_commas = '"' in whole if table.dialect.name == "comma" else "," in whole
    if not has_commas or not any("," in cell for m in meanings for cell in table.column(m)):
        return "."
    try:
        return decide_decimal(c for meaning in meanings for c in _data_cells(table, meaning))
    except AmbiguousNumbers as doubt:
        at = table.found.columns["x"]
        lines = (
            line
            for row, line in zip(table.rows, table.lines, strict=True)
            if any("," in row[table.found.columns[m]] for m in meanings)
        )
        raise table.cell_fault(next(lines), at, doubt.says, doubt.do, doubt.declare) from None


def _data_cells(table: Table, meaning: str) -> Iterator[str]:
    at = table.found.columns[meaning]
    return (row[at].strip() for row in table.rows if any(map(str.isdigit, row[at])))


def _unit(table: Table, options: ListOptions, meaning: str) -> tuple[str | None, str, str | None]:
    """Return the unit of a column (None: each cell has one), its source, the column's name.

    Raises:
        NotUnderstood: it is unknown, or two sources differ.
    """
    named = table.found.units.get(meaning) or table.unit_row.get(meaning)
    if options.units and named and named != options.units:
        raise table.name_fault(
            meaning,
            f"Column {table.found.headers[table.found.columns[meaning]].text} is in {named}, "
            f"but units declares {options.units}.",
            "Check which is right, and correct units or the list.",
        )
    if named or options.units:
        source = "the row of names" if named else "as declared"
        return named or options.units, source, named or options.units
    said = _title_unit(table)
    if any(map(has_unit, _data_cells(table, meaning))):
        return said, "each cell", None
    if said:
        return said, "the title", said
    raise table.name_fault(
        meaning,
        "The unit of the positions is unknown.",
        "Declare units: mm, mil or inch.",
        f"units={_likely_unit(table, meaning)}",
    )


def _likely_unit(table: Table, meaning: str) -> str:
    """Return the unit to propose: positions of more than a thousand are rarely millimetres.

    Source: common practice, no published source.
    """
    digits = (re.sub(r"\D.*", "", cell.lstrip("-+")) for cell in _data_cells(table, meaning))
    return "mil" if any(len(whole) > 3 for whole in digits) else "mm"


def _title_unit(table: Table) -> str | None:
    said = {
        UNITS[word.lower()]: line
        for line in table.around
        for word in (*_TITLE_UNIT.findall(line), *_WRITTEN_UNIT.findall(line))
        if UNITS.get(word.lower()) in MM_PER_UNIT
    }
    if len(said) > 1:
        raise table.fault(
            table.header_line,
            f"The lines around the table name several units: {' and '.join(said)}.",
            "Declare units: the one of the positions.",
            f"units={next(iter(said))}",
        )
    return next(iter(said), None)
