"""JSON (RFC 8259), strictly: names are unique in an object, NaN and Infinity are refused."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import Any

from jobcheck.sources.bridge.source import ANY, Hit, Slot, as_it_is
from jobcheck.sources.bridge.tree_source import ENDS, Location, TreeSource, Trie, trie_of

_BLANK = re.compile(r"[ \t\r\n]*")
_SURROGATES = r"\\u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}"
TOKEN = re.compile(_SURROGATES + r"|\\u[0-9a-fA-F]{4}|\\.|.", re.S)
_MEMBER_STEP = re.compile(r"(.*)\.([A-Za-z_][A-Za-z0-9_]*)")
_BARE = re.compile(r"-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?|true|false|null")


class _Twice(ValueError):
    """An object has a name twice."""


class JsonSource(TreeSource):
    """One JSON file."""

    def _read(self, data: bytes) -> Any:
        try:
            return json.loads(self.text.text, object_pairs_hook=_object, parse_constant=_no_number)
        except json.JSONDecodeError as error:
            says = f"{self.file} is not whole JSON: {error.msg[0].lower()}{error.msg[1:]}."
            raise self.refused(error.pos, says, "Let the controller write it again.") from None
        except RecursionError:
            raise self.refused(
                0, f"{self.file} nests too deeply to be read.", "Check the file: it looks damaged."
            ) from None
        except ValueError as error:
            says, at = str(error), 0
            if isinstance(error, _Twice):
                name = str(error)
                says = f"The name {name} is twice in one object of {self.file}."
                at = max(self.text.text.rfind(json.dumps(name, ensure_ascii=False)), 0)
            else:
                says = f"{self.file} contains {_brief(says)}, which is not a usable setting."
                at = max(self.text.text.find(str(error)), 0)
            raise self.refused(at, says, "Correct it in the controller.") from None

    def room(self, address: str, inside: Hit | None = None) -> Slot | None:
        """Return the place for a missing member: after the last one of its object."""
        found = _MEMBER_STEP.fullmatch(address)
        holders = list(self.find(found[1], inside)) if found else []
        if found is None or len(holders) != 1 or not isinstance(holders[0].node, dict):
            return None
        slot = self.slots(holders)[0]
        if slot is None or not holders[0].node:
            return None
        end = slot.end - 1 - len(_trailing_blank(self.text.text[slot.start : slot.end - 1]))
        first = slot.start + 1
        blank = self.text.text[first : _after_blank(self.text.text, first)]
        around = (f",{blank}{json.dumps(found[2])}: ", "")
        return Slot(end, end, ANY, _literal, around)

    def _slots_at(self, locations: Sequence[Location]) -> dict[Location, Slot | None]:
        walk = _Walk(self.text.text)
        walk.value(_after_blank(self.text.text, 0), trie_of(locations))
        return walk.found


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        for name, _ in pairs:
            if name in seen:
                raise _Twice(name)
            seen.add(name)
    return found


def _no_number(text: str) -> Any:
    raise ValueError(text)


def _brief(text: str) -> str:
    return text if len(text) <= 40 else "a number of too many digits"


def _after_blank(text: str, at: int) -> int:
    found = _BLANK.match(text, at)
    return found.end() if found else at


def _trailing_blank(text: str) -> str:
    return text[len(text.rstrip(" \t\r\n")) :]


def _literal(content: str) -> str:
    """Write new content: a number or a word as it is, everything else quoted."""
    return content if _BARE.fullmatch(content) else json.dumps(content, ensure_ascii=False)


class _Walk:
    """One walk over a text that is known to be JSON; unwanted values are skipped."""

    def __init__(self, text: str) -> None:
        self.text = text
        decoder: Any = json.JSONDecoder()
        self.scan = decoder.scan_once
        self.found: dict[Location, Slot | None] = {}

    def value(self, at: int, wanted: Trie) -> int:
        """Skip the value that begins at a character; return its end."""
        opening = self.text[at]
        inner = [step for step in wanted if step != ENDS]
        if inner and opening == "{":
            end = self._members(at, wanted)
        elif inner and opening == "[":
            end = self._items(at, wanted)
        else:
            end = self.scan(self.text, at)[1]
        if ENDS in wanted:
            self.found[wanted[ENDS]] = _slot(self.text, at, end)
        return end

    def _members(self, at: int, wanted: Trie) -> int:
        at = _after_blank(self.text, at + 1)
        while self.text[at] != "}":
            name, at = scanstring(self.text, at + 1)
            at = _after_blank(self.text, _after_blank(self.text, at) + 1)
            at = self._step(at, wanted.get(name))
        return at + 1

    def _items(self, at: int, wanted: Trie) -> int:
        at = _after_blank(self.text, at + 1)
        number = 0
        while self.text[at] != "]":
            at = self._step(at, wanted.get(number))
            number += 1
        return at + 1

    def _step(self, at: int, wanted: Trie | None) -> int:
        end = self.value(at, wanted) if wanted else self.scan(self.text, at)[1]
        at = _after_blank(self.text, end)
        return _after_blank(self.text, at + 1) if self.text[at] == "," else at


def _slot(text: str, at: int, end: int) -> Slot:
    if text[at] == '"':
        return Slot(at + 1, end - 1, TOKEN, _escape_like(text[at:end]))
    return Slot(at, end, ANY, as_it_is(_BARE, "JSON"))


def _escape_like(raw: str) -> Any:
    """Return the escape function; it escapes beyond ASCII only if the old text did."""
    is_ascii = raw.isascii() and "\\u" in raw
    return lambda content: json.dumps(content, ensure_ascii=is_ascii)[1:-1]
