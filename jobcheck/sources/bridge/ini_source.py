"""INI: sections in brackets, `key = value` or `key: value`; no published standard; common forms.

A line that begins with `;` or `#` is a comment; so is the text after a blank and one of them
behind a value. Double quotes around a value are not part of it. An indented line that is not an
entry continues the value above it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from jobcheck.sources.bridge.sections import matching, parse_address
from jobcheck.sources.bridge.source import ANY, Hit, MapWrong, Native, Slot, Source
from jobcheck.text import lines_of

_SECTION = re.compile(r"[ \t]*\[(?P<name>[^\]\r\n]*)\][ \t]*(?:[;#].*)?")
_ENTRY = re.compile(r"(?P<lead>[ \t]*)(?P<key>[^=:\s;#\[][^=:\r\n]*?)[ \t]*[=:][ \t]*(?P<rest>.*)")
_VALUE = re.compile(r"""(?:"(?P<quoted>[^"]*)"|(?P<bare>(?:(?![ \t]+[;#]).)*?))[ \t]*(?:[;#].*)?""")


@dataclass(frozen=True)
class _Entry:
    section: str | None
    key: str
    start: int
    end: int
    is_quoted: bool
    is_continued: bool = False


class IniSource(Source):
    """One INI file."""

    def __init__(self, data: bytes, file: str, encoding: str | None = None) -> None:
        """Read the file's lines.

        Raises:
            NotUnderstood: a section has a key twice, or a line is not INI.
        """
        super().__init__(data, file, encoding or "utf-8")
        self._entries: dict[tuple[str | None, str], _Entry] = {}
        self._sections: dict[str, int] = {}
        self._read()

    def _read(self) -> None:
        section: str | None = None
        last: tuple[str | None, str] | None = None
        at = 0
        for whole in lines_of(self.text.text):
            line = whole.rstrip("\r\n")
            titled, entry = _SECTION.fullmatch(line), _ENTRY.fullmatch(line)
            if not line.strip() or line.lstrip()[0] in ";#":
                pass
            elif titled:
                section, last = titled["name"].strip(), None
                self._sections.setdefault(section, at)
            elif entry:
                last = (section, entry["key"].strip())
                self._add(last, entry, at)
            elif last and line[0] in " \t":
                self._entries[last] = replace(self._entries[last], is_continued=True)
            else:
                says = f"{self.file} has a line that is not a section and has no = or colon."
                raise self.refused(at, says, "Let the controller write it again.")
            at += len(whole)

    def _add(self, name: tuple[str | None, str], entry: re.Match[str], at: int) -> None:
        if name in self._entries:
            where = f"section {name[0]}" if name[0] is not None else "the head"
            says = f"The key {name[1]} is twice in {where} of {self.file}."
            raise self.refused(at + len(entry["lead"]), says, "Correct it in the controller.")
        value = _VALUE.fullmatch(entry["rest"])
        start = at + entry.start("rest")
        if value is None:
            self._entries[name] = _Entry(*name, start, start + len(entry["rest"].rstrip()), False)
            return
        group = "quoted" if value["quoted"] is not None else "bare"
        first, last = value.span(group)
        self._entries[name] = _Entry(*name, start + first, start + last, group == "quoted")

    # addresses

    def find(self, address: str, inside: Hit | None = None) -> Iterator[Hit]:
        """Yield values by `[section] key`; `[section]` alone, with `*`, yields sections."""
        named = parse_address(address)
        if inside is not None:
            if named.section is not None:
                raise MapWrong("inside a section, an address is only a key")
            yield from self._values(str(inside.node), named.key)
        elif named.key:
            yield from self._values(named.section, named.key)
        else:
            for name in matching(named.section or "", iter(self._sections)):
                yield Hit((name, None), name, "", Native.BLOCK, name)

    def _values(self, section: str | None, key: str) -> Iterator[Hit]:
        entry = self._entries.get((section, key))
        if entry:
            yield self._hit(entry)

    def _hit(self, entry: _Entry) -> Hit:
        text = self.text.text[entry.start : entry.end]
        native = Native.TEXT if text.strip() else Native.NOTHING
        if entry.is_continued:
            native = Native.BLOCK
        return Hit((entry.section, entry.key), entry.key, text, native)

    def slots(self, hits: Sequence[Hit]) -> list[Slot | None]:
        """Return the spans of values."""
        return [self._slot(self._entries.get(hit.key)) for hit in hits]

    def _slot(self, entry: _Entry | None) -> Slot | None:
        if entry is None or entry.is_continued:
            return None
        return Slot(entry.start, entry.end, ANY, _quoted if entry.is_quoted else _bare)

    def room(self, address: str, inside: Hit | None = None) -> Slot | None:
        """Return the place for a missing key: below the last entry of its section."""
        named = parse_address(address)
        section = str(inside.node) if inside else named.section
        last = max(
            (entry for entry in self._entries.values() if entry.section == section),
            key=lambda entry: entry.start,
            default=None,
        )
        if last is None or last.is_continued:
            return None
        text = self.text.text
        begin = max(text.rfind("\n", 0, last.start), text.rfind("\r", 0, last.start)) + 1
        line_end = re.compile("\r\n|\n|\r|$").search(text, last.end)
        entry = _ENTRY.match(text, begin)
        if line_end is None or entry is None:
            return None
        before = entry["lead"] + named.key + text[entry.end("key") : entry.start("rest")]
        at = line_end.start()
        newline = line_end[0] or "\n"
        return Slot(at, at, ANY, _bare, (newline + before, ""))

    def starts(self, hits: Sequence[Hit]) -> list[int]:
        """Return where each value or section begins."""
        return [
            self._entries[hit.key].start
            if hit.key in self._entries
            else self._sections.get(hit.key[0], 0)
            for hit in hits
        ]

    def everything(self) -> Iterator[tuple[str, Hit]]:
        """Yield every value with its address."""
        for entry in self._entries.values():
            section = f"[{entry.section}] " if entry.section is not None else ""
            yield f"{section}{entry.key}", self._hit(entry)


def _bare(content: str) -> str:
    if content != content.strip() or re.search(r"[\r\n]|^[;#\"]|[ \t][;#]", content):
        raise ValueError("that needs quotes to keep its value")
    return content


def _quoted(content: str) -> str:
    if re.search(r'[\r\n"]', content):
        raise ValueError("it cannot be between double quotes")
    return content
