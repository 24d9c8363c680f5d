"""Bytes to text: the requirements on a file before anything reads it."""

import codecs
import io
import re
from bisect import bisect_right
from functools import cached_property
from itertools import accumulate

from jobcheck.findings import Finding, fault
from jobcheck.shop.places import Place

MARK = b"\xef\xbb\xbf"
LARGEST_FILE = 64 * 1024 * 1024

_NO_ENCODINGS = frozenset(("idna", "punycode", "undefined", "unicode_escape"))
_NO_ENCODINGS |= {"raw_unicode_escape", "utf-7", "utf-8-sig", "mbcs", "oem"}
"""Encodings of Python that are not for files."""

_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff")
_LINE_END = re.compile("\r\n|\n|\r")
_ODD_LINE_END = re.compile("[\x85\u2028\u2029]")


_MERGE_BEGINS = "<<<<<<< "
_MERGE = re.compile(
    r"^<{7} (?P<ours>[^\n\r]*)$.*?^={7}\r?$.*?^>{7} (?P<theirs>[^\n\r]*)$", re.M | re.S
)
"""A conflict as git writes it into a file (gitmerge, HOW CONFLICTS ARE PRESENTED)."""


def lines_of(text: str) -> list[str]:
    """Return the lines of a text with their ends: line feed, return, or both."""
    return io.StringIO(text, newline="").readlines()


class NotUnderstood(Exception):
    """A file cannot be understood; `fault` says where, why and what to do.

    `declare` would decide how a list is read, with a value to propose: `units=mm`,
    `columns.side=Layer`; several are in lines of their own.
    """

    def __init__(self, fault: Finding, declare: str = "") -> None:
        """Keep the fault, and what to declare."""
        super().__init__(fault.message)
        self.fault = fault
        self.declare = declare


class Text:
    """The text of one file, without its byte order mark, and the places of its characters."""

    def __init__(self, data: bytes, file: str, encoding: str = "utf-8") -> None:
        """Decode strictly, as UTF-8 where no other encoding is declared.

        Raises:
            NotUnderstood: another encoding, a NUL byte, or a line end that is none in YAML 1.2.
        """
        self.file = file
        self.encoding, self.mark = self._codec(data, encoding)
        if self.encoding == "utf-8":
            self._refuse_other(data)
        try:
            self.text = data[self.mark :].decode(self.encoding)
        except UnicodeDecodeError as error:
            at = self.mark + error.start
            what = f"is not {self.encoding.upper()}: byte {data[at]:#04x}"
            self._refuse(data, at, what, "Save it as UTF-8.")
        self.is_single = len(self.text) == len(data) - self.mark
        self.is_ascii = self.text.isascii()
        self._refuse_odd_characters()
        self._refuse_unfinished_merge()

    def _codec(self, data: bytes, encoding: str) -> tuple[str, int]:
        """Return the name of an encoding and how many bytes the mark before the text has."""
        try:
            name = codecs.lookup(encoding).name
            known = name not in _NO_ENCODINGS and not name.startswith(("iso2022", "utf-32"))
            "".encode(name)
        except (LookupError, ValueError):
            known = False
        if not known:
            do = "Write its usual name, for example windows-1252 or utf-16."
            self._refuse(b"", 0, f"has no encoding called {encoding[:40]}", do)
        if name == "utf-16":
            name = "utf-16-be" if data.startswith(codecs.BOM_UTF16_BE) else "utf-16-le"
        for mark in (MARK,) if name == "utf-8" else _WIDE_MARKS[:2] if "16" in name else ():
            if data.startswith(mark):
                return name, len(mark)
        return name, 0

    def _refuse_other(self, data: bytes) -> None:
        if data.startswith(_WIDE_MARKS):
            self._refuse(data, 0, "is UTF-16 or UTF-32", "Save it as UTF-8.")
        if 0 in data:
            what = "holds a NUL byte: it is not text"
            self._refuse(data, data.index(0), what, "Restore the file, or save it as UTF-8.")

    def _refuse_odd_characters(self) -> None:
        odd = None if self.is_ascii else _ODD_LINE_END.search(self.text)
        if odd:
            what = f"holds U+{ord(odd[0]):04X}, which some programs take for a line end"
        elif "\0" in self.text:
            what = "holds a NUL character: it is not text"
        else:
            return
        at = odd.start() if odd else self.text.index("\0")
        place = self.place(at, at + 1)
        raise NotUnderstood(fault(place, "encoding-wrong", f"{self.file} {what}.", "Remove it."))

    def _refuse_unfinished_merge(self) -> None:
        found = _MERGE.search(self.text) if _MERGE_BEGINS in self.text else None
        if found is None:
            return
        place = self.place(found.start(), found.end())
        last = place.line + found[0].count("\n")
        message = (
            f"{self.file} has an unfinished merge, lines {place.line} to {last}: {found['ours']} "
            f"against {found['theirs']}."
        )
        remedy = "Decide which lines are right, remove the others and the marks, then save it."
        raise NotUnderstood(fault(place, "merge-unfinished", message, remedy))

    def _refuse(self, data: bytes, at: int, what: str, do: str) -> None:
        before = data[:at]
        line_start = max(before.rfind(b"\n"), before.rfind(b"\r")) + 1
        column = len(before[line_start:].decode(errors="replace")) + 1
        line = len(_LINE_END.findall(before.decode("latin-1"))) + 1
        place = Place(self.file, line, column, at, at)
        raise NotUnderstood(fault(place, "encoding-wrong", f"{self.file} {what}.", do))

    @cached_property
    def line_starts(self) -> list[int]:
        """Character offset of the start of each line."""
        starts = [0, *accumulate(map(len, lines_of(self.text)))]
        if len(starts) > 1 and self.text[-1] not in "\r\n":
            starts.pop()
        return starts

    def byte(self, at: int) -> int:
        """Return the byte offset of a character offset."""
        return self.mark + (at if self.is_single else len(self.text[:at].encode(self.encoding)))

    def encode(self, text: str) -> bytes:
        """Return another text as the bytes of this file: its encoding, its mark.

        Raises:
            UnicodeEncodeError: the encoding has no such character.
        """
        mark = MARK if self.encoding == "utf-8" else codecs.BOM_UTF16_LE
        mark = codecs.BOM_UTF16_BE if self.encoding == "utf-16-be" else mark
        return (mark if self.mark else b"") + text.encode(self.encoding)

    def place(self, start: int, end: int) -> Place:
        """Return the place of a span of characters."""
        line = bisect_right(self.line_starts, start)
        column = start - self.line_starts[line - 1] + 1
        return Place(self.file, line, column, self.byte(start), self.byte(end))
