"""The nodes of one YAML file in file order, and paths to them."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from typing import Any, NamedTuple

from jobcheck.shop.paths import Path
from jobcheck.shop.places import Place
from jobcheck.text import Text

MERGE = "".join(["<", "<"])
"""The key of a merge. One object of its own: a quoted << is an ordinary key."""

Step = tuple[int, int]
"""The nodes of a key and of its value; an item of a list has its own node twice."""


class Spot(NamedTuple):
    """A value that was found: the nodes of its key and value, and whether an alias led there."""

    key: int
    value: int
    shared: bool


class NodeTable:
    """A compact table of all nodes, filled by the reader; lookups build only what they need.

    Node n spans the characters `starts[n]` to `ends[n]` and has the value `values[n]`; a mapping's
    keys and values are nodes that alternate. `closes` leads from a mapping or list to the node
    after it. `targets` leads from an
    alias to what it repeats; `merges` from a mapping to the values of its `<<` keys; `empty` are
    the nodes without a value.
    """

    def __init__(self, text: Text) -> None:
        """Begin an empty table."""
        self.text = text
        self.starts = array("I")
        self.ends = array("I")
        self.closes: dict[int, int] = {}
        self.values: list[Any] = []
        self.targets: dict[int, int] = {}
        self.merges: dict[int, list[int]] = {}
        self.empty: list[int] = []
        self._children: dict[int, dict[str, Step]] = {}

    def after(self, node: int) -> int:
        """Return the node that follows a node and all that is in it."""
        return self.closes.get(node, node + 1)

    def resolved(self, node: int) -> int:
        """Return the node that an alias repeats, or the node itself."""
        return self.targets.get(node, node)

    def merged(self, node: int) -> Iterator[int]:
        """Yield the mappings that a mapping merges, the first wins."""
        for source in self.merges.get(node, ()):
            source = self.resolved(source)
            if isinstance(self.values[source], list):
                yield from (self.resolved(item) for item, _ in self.items(source))
            else:
                yield source

    def items(self, node: int) -> Iterator[Step]:
        """Yield all entries of a mapping, merges among them, or the items of a list."""
        at = node + 1
        is_mapping = isinstance(self.values[node], dict)
        while at < self.after(node):
            value = at + is_mapping
            yield at, value
            at = self.after(value)

    def own_children(self, node: int) -> dict[str, Step]:
        """Return the entries of a mapping or list itself, without merges, in order."""
        if node not in self._children:
            if isinstance(self.values[node], dict):
                entries = {
                    self.values[key]: (key, value)
                    for key, value in self.items(node)
                    if self.values[key] is not MERGE
                }
            elif isinstance(self.values[node], list):
                entries = {str(i): step for i, step in enumerate(self.items(node))}
            else:
                entries = {}
            self._children[node] = entries
        return self._children[node]

    def find(self, path: Path) -> Spot | None:
        """Return the value at a path inside the document, or None.

        A value that an alias or a merge repeats is found where it is written.
        """
        key = value = 0
        shared = False
        for name in path:
            shared = shared or value in self.targets
            value = self.resolved(value)
            step = self.own_children(value).get(name)
            if step is None:
                step = self._merged_child(value, name)
                shared = True
            if step is None:
                return None
            key, value = step
        return Spot(key, value, shared)

    def _merged_child(self, node: int, name: str) -> Step | None:
        for source in self.merged(node):
            step = self.own_children(source).get(name) or self._merged_child(source, name)
            if step is not None:
                return step
        return None

    def line(self, node: int) -> int:
        """Return the line in which a node begins, from 1."""
        return self.text.place(self.starts[node], self.starts[node]).line

    def span(self, node: int) -> tuple[int, int]:
        """Return the characters of a node itself, without its anchor and tag."""
        start, end = self.starts[node], self.ends[node]
        if node in self.targets:
            return start, end
        text = self.text.text
        while start < end and text[start] in "&!":
            while start < end and not text[start].isspace():
                start += 1
            while start < end and text[start].isspace():
                start += 1
        if isinstance(self.values[node], (dict, list)) and end > start:
            end = start + len(text[start:end].rstrip())
        return start, end

    def place(self, path: Path) -> Place | None:
        """Return the place of the value at a path, or of the nearest existing key above it."""
        for length in range(len(path), -1, -1):
            spot = self.find(path[:length])
            if spot is None:
                continue
            is_missing = length < len(path)
            node = spot.key if is_missing or self._is_block(spot.value) else spot.value
            start, end = self.span(node)
            return self.text.place(start, start if is_missing else end)
        return None

    def _is_block(self, node: int) -> bool:
        return isinstance(self.values[node], (dict, list))

    def key_place(self, path: Path) -> Place | None:
        """Return the place of the key at a path, or None if it does not exist."""
        spot = self.find(path)
        return self.text.place(*self.span(spot.key)) if spot else None
