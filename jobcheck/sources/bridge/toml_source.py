"""TOML 1.0: values by the standard library, places by the tree-sitter grammar, JSONPath for both.

The grammar only finds places; reading the file again checks them.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from jobcheck.sources.bridge.source import ANY, Slot, as_it_is
from jobcheck.sources.bridge.tree_source import Location, TreeSource

_TOKEN = re.compile(r"\\u[0-9a-fA-F]{4}|\\U[0-9a-fA-F]{8}|\\.|.", re.S)
_BARE = re.compile(
    r"[+-]?(?:0|[1-9](?:_?\d)*)(?:\.\d(?:_?\d)*)?(?:[eE][+-]?\d+)?|true|false"
    r"|\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)?)?"
)
_AT = re.compile(r"line (\d+), column (\d+)")
_ESCAPED = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}


class TomlSource(TreeSource):
    """One TOML file."""

    def _read(self, data: bytes) -> Any:
        try:
            return tomllib.loads(self.text.text)
        except tomllib.TOMLDecodeError as error:
            found = _AT.search(str(error))
            starts = self.text.line_starts
            line, column = (int(found[1]), int(found[2])) if found else (len(starts), 1)
            at = starts[min(line, len(starts)) - 1] + column - 1
            why = str(error).partition(" (at")[0]
            says = f"{self.file} is not whole TOML: {why[:1].lower()}{why[1:]}."
            raise self.refused(at, says, "Let the controller write it again.") from None
        except RecursionError:
            says = f"{self.file} nests too deeply to be read."
            raise self.refused(0, says, "Check the file: it looks damaged.") from None

    def _slots_at(self, locations: Sequence[Location]) -> dict[Location, Slot | None]:
        wanted = set(locations)
        nodes = {place: node for place, node in self._nodes() if place in wanted}
        return {place: self._slot(node) for place, node in nodes.items()}

    def _slot(self, node: Any) -> Slot | None:
        """Return the slot of a scalar; None for text over several lines."""
        start, end = self._char(node.start_byte), self._char(node.end_byte)
        raw = self.text.text[start:end]
        if raw.startswith(('"""', "'''")) or node.type in ("array", "inline_table"):
            return None
        if raw[:1] == '"':
            return Slot(start + 1, end - 1, _TOKEN, _basic)
        if raw[:1] == "'":
            return Slot(start + 1, end - 1, ANY, _literal)
        return Slot(start, end, ANY, _like(raw))

    def _nodes(self) -> Iterator[tuple[Location, Any]]:
        import tree_sitter_toml
        from tree_sitter import Language, Parser

        parser = Parser(Language(tree_sitter_toml.language()))
        self._utf8 = self.text.text.encode()
        document = parser.parse(self._utf8).root_node
        counted: dict[Location, int] = {}
        for child in document.named_children:
            if child.type == "pair":
                yield from self._pair(child, ())
            elif child.type in ("table", "table_array_element"):
                keys = self._keys(child.named_children[0])
                base = _resolved(keys, counted, child.type == "table_array_element")
                for pair in child.named_children[1:]:
                    if pair.type == "pair":
                        yield from self._pair(pair, base)

    def _pair(self, pair: Any, base: Location) -> Iterator[tuple[Location, Any]]:
        key, value = pair.named_children[:2]
        yield from self._value(value, (*base, *self._keys(key)))

    def _value(self, node: Any, place: Location) -> Iterator[tuple[Location, Any]]:
        yield place, node
        inner = [child for child in node.named_children if child.type != "comment"]
        if node.type == "inline_table":
            for pair in inner:
                yield from self._pair(pair, place)
        elif node.type == "array":
            for number, item in enumerate(inner):
                yield from self._value(item, (*place, number))

    def _keys(self, node: Any) -> tuple[str, ...]:
        if node.type == "dotted_key":
            return tuple(key for child in node.named_children for key in self._keys(child))
        raw = self._utf8[node.start_byte : node.end_byte].decode()
        if node.type == "quoted_key":
            return (str(next(iter(tomllib.loads(f"{raw} = 0")))),)
        return (raw,)

    def _char(self, byte: int) -> int:
        return byte if self.text.is_ascii else len(self._utf8[:byte].decode())


def _resolved(keys: tuple[str, ...], counted: dict[Location, int], is_array: bool) -> Location:
    """Return the location that a table's name means: its lists at their last entry."""
    place: Location = ()
    for number, key in enumerate(keys):
        place = (*place, key)
        if is_array and number == len(keys) - 1:
            counted[place] = counted.get(place, -1) + 1
        if place in counted:
            place = (*place, counted[place])
    return place


def _basic(content: str) -> str:
    return "".join(
        _ESCAPED.get(c) or (c if c.isprintable() else f"\\u{ord(c):04x}") for c in content
    )


def _literal(content: str) -> str:
    if "'" in content or not content.isprintable():
        raise ValueError("it cannot be between single quotes in TOML")
    return content


def _like(raw: str) -> Callable[[str], str]:
    """Return the function that writes a value without quotes; a float stays one."""
    write = as_it_is(_BARE, "TOML")
    is_float = bool(re.fullmatch(r"[+-]?\d[\d_]*(\.[\d_]+|[eE][+-]?\d+|\.[\d_]+[eE][+-]?\d+)", raw))

    def like(content: str) -> str:
        written = write(content)
        whole = re.fullmatch(r"[+-]?[\d_]+", written)
        return f"{written}.0" if is_float and whole else written

    return like
