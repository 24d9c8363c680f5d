"""Bytes to text: what a file must be before anything reads it."""

import re
from bisect import bisect_right
from functools import cached_property

from jobcheck.description.findings import Fault, Place

MARK = b"\xef\xbb\xbf"
LARGEST_FILE = 64 * 1024 * 1024

_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff")
_LINE_END = re.compile("\r\n|\n|\r")
_ODD_LINE_END = re.compile("[\x85\u2028\u2029]")


class NotUnderstood(Exception):
    """A file cannot be understood; `fault` says where, why and what to do."""

    def __init__(self, fault: Fault) -> None:
        """Keep the fault."""
        super().__init__(fault.says)
        self.fault = fault


class Text:
    """The text of one file, without its byte order mark, and where its characters stand."""

    def __init__(self, data: bytes, file: str) -> None:
        """Decode strict UTF-8.

        Raises:
            NotUnderstood: another encoding, a NUL byte, or a line end that is none in YAML 1.2.
        """
        self.file = file
        self.mark = len(MARK) if data.startswith(MARK) else 0
        if data.startswith(_WIDE_MARKS):
            self._refuse(data, 0, "is UTF-16 or UTF-32", "Save it as UTF-8.")
        if 0 in data:
            what = "holds a NUL byte: it is no text"
            self._refuse(data, data.index(0), what, "Restore the file, or save it as UTF-8.")
        try:
            self.text = data[self.mark :].decode()
        except UnicodeDecodeError as error:
            what = f"is not UTF-8: byte {data[self.mark + error.start]:#04x}"
            self._refuse(data, self.mark + error.start, what, "Save it as UTF-8.")
        self.is_ascii = len(self.text) == len(data) - self.mark
        odd = None if self.is_ascii else _ODD_LINE_END.search(self.text)
        if odd:
            what = f"holds U+{ord(odd[0]):04X}, which some programs take for a line end"
            place = self.place(odd.start(), odd.end())
            raise NotUnderstood(Fault(place, "encoding-wrong", f"{file} {what}.", "Remove it."))

    def _refuse(self, data: bytes, at: int, what: str, do: str) -> None:
        before = data[:at]
        line_start = max(before.rfind(b"\n"), before.rfind(b"\r")) + 1
        column = len(before[line_start:].decode(errors="replace")) + 1
        line = len(_LINE_END.findall(before.decode("latin-1"))) + 1
        place = Place(self.file, line, column, at, at)
        raise NotUnderstood(Fault(place, "encoding-wrong", f"{self.file} {what}.", do))

    @cached_property
    def line_starts(self) -> list[int]:
        """Character offset of the start of each line."""
        return [0, *(end.end() for end in _LINE_END.finditer(self.text))]

    def byte(self, at: int) -> int:
        """Return the byte offset of a character offset."""
        return self.mark + (at if self.is_ascii else len(self.text[:at].encode()))

    def place(self, start: int, end: int) -> Place:
        """Return the place of a span of characters."""
        line = bisect_right(self.line_starts, start)
        column = start - self.line_starts[line - 1] + 1
        return Place(self.file, line, column, self.byte(start), self.byte(end))
