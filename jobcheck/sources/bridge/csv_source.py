"""CSV (RFC 4180): a row of names, then rows; addresses are `[row] column`, `[*]` all rows."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Sequence

from jobcheck.sources.bridge.sections import matching, parse_address
from jobcheck.sources.bridge.source import ANY, Hit, MapWrong, Native, Slot, Source
from jobcheck.sources.lists.dialect import Delimited, Torn
from jobcheck.text import lines_of

_IN_QUOTES = re.compile(r'""|.', re.S)


class CsvSource(Source):
    """One CSV file; one of its columns names the rows."""

    def __init__(
        self, data: bytes, file: str, encoding: str | None, delimiter: str, key_column: str
    ) -> None:
        """Read the rows.

        Raises:
            NotUnderstood: the column is missing, or a row is ragged, truncated or named twice.
        """
        super().__init__(data, file, encoding or "utf-8")
        csv.field_size_limit(1 << 24)
        self._dialect = Delimited(delimiter)
        lines = lines_of(self.text.text)
        try:
            rows, begins = self._dialect.rows(lines)
        except Torn as error:
            at = self.text.line_starts[min(error.row, len(self.text.line_starts) - 1)]
            says = f"{file} is incomplete: {error}."
            raise self.refused(at, says, "Let the controller write it again.") from None
        filled = [number for number, row in enumerate(rows) if any(map(str.strip, row))]
        self._names = [cell.strip() for cell in rows[filled[0]]]
        self._refuse_names(begins[filled[0]], key_column)
        self._rows: dict[str, tuple[int, list[str]]] = {}
        self._key = self._names.index(key_column)
        for number in filled[1:]:
            self._add(rows[number], self.text.line_starts[begins[number]])

    def _refuse_names(self, line: int, key_column: str) -> None:
        at = self.text.line_starts[line]
        twice = next((name for name in self._names if name and self._names.count(name) > 1), None)
        if twice is not None:
            says = f"{self.file} has two columns named {twice}."
            raise self.refused(at, says, "Correct it in the controller.")
        if key_column not in self._names:
            says = f"{self.file} has no column {key_column}. It has: {', '.join(self._names)}."
            raise self.refused(at, says[:300], "Correct key_column in the map.")

    def _add(self, row: list[str], at: int) -> None:
        if len(row) != len(self._names):
            says = f"A row of {self.file} has {len(row)} cells; the header has {len(self._names)}."
            raise self.refused(at, says, "Let the controller write it again.")
        name = row[self._key].strip()
        if name in self._rows:
            says = f"{self.file} has two rows named {name}."
            raise self.refused(at, says, "Correct it in the controller.")
        self._rows[name] = (at, row)

    def find(self, address: str, inside: Hit | None = None) -> Iterator[Hit]:
        """Yield cells by `[row] column`; `[row]` alone, with `*`, yields rows."""
        named = parse_address(address)
        if inside is not None:
            if named.section is not None:
                raise MapWrong("inside a row, an address is only a column")
            yield from self._cell(str(inside.node), named.key)
        elif named.section is None:
            raise MapWrong("it does not name a row: write [row] column")
        elif named.key:
            yield from self._cell(named.section, named.key)
        else:
            for name in matching(named.section, iter(self._rows)):
                yield Hit((name, self._key), name, "", Native.BLOCK, name)

    def _cell(self, row: str, column: str) -> Iterator[Hit]:
        if column not in self._names:
            raise MapWrong(f"no column {column}; columns: {', '.join(self._names)[:200]}")
        if row in self._rows:
            yield self._hit(row, self._names.index(column))

    def _hit(self, row: str, column: int) -> Hit:
        text = self._rows[row][1][column]
        native = Native.TEXT if text.strip() else Native.NOTHING
        return Hit((row, column), self._names[column], text, native)

    def slots(self, hits: Sequence[Hit]) -> list[Slot | None]:
        """Return the spans of cells."""
        return [self._slot(*hit.key) for hit in hits]

    def _slot(self, row: str, column: int) -> Slot:
        text = self.text.text
        start, end = self._dialect.spans(text, self._rows[row][0])[column]
        while text[start:end].startswith(" "):
            start += 1
        if text[start : start + 1] == '"':
            closing = text.rindex('"', start, end)
            return Slot(start + 1, closing, _IN_QUOTES, lambda content: content.replace('"', '""'))
        return Slot(start, end, ANY, self._bare())

    def _bare(self) -> Callable[[str], str]:
        special = re.compile(f'[{re.escape(self._dialect.delimiter)}"\r\n]')

        def write(content: str) -> str:
            return '"' + content.replace('"', '""') + '"' if special.search(content) else content

        return write

    def everything(self) -> Iterator[tuple[str, Hit]]:
        """Yield every cell with its address, without the keys."""
        for row in self._rows:
            for number, name in enumerate(self._names):
                if number != self._key:
                    yield f"[{row}] {name}", self._hit(row, number)
