"""The place of each path of a shop, over all its files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from jobcheck.findings import Finding
from jobcheck.shop.paths import Path, is_within
from jobcheck.shop.places import Place
from jobcheck.sources.yaml.places import NodeTable

if TYPE_CHECKING:
    from jobcheck.sources.lists.cells import Cells
    from jobcheck.sources.lists.reading import List


@dataclass(frozen=True)
class ReadFile:
    """One file of a shop as it was read.

    `prefix` is the path of its root; `table` finds places in YAML, `cells` in a list. `model` is
    None where the file as a whole is not understood, `broken` are the entries in it that are not.
    """

    data: bytes = field(repr=False)
    kind: str
    prefix: Path
    plain: dict[str, Any] = field(default_factory=dict, repr=False)
    model: Any = field(default=None, repr=False)
    table: NodeTable | None = field(default=None, repr=False)
    cells: Cells | None = field(default=None, repr=False)
    faults: tuple[Finding, ...] = ()
    broken: frozenset[Path] = frozenset()
    listed: List | None = field(default=None, repr=False)
    asked: Any = None
    document: dict[str, Any] | None = field(default=None, repr=False)
    """A job's file on its own, before its lists were joined to it."""

    def alone(self) -> ReadFile:
        """Return the file as it was before anything beside it was read."""
        if self.document is None:
            return self
        return ReadFile(self.data, self.kind, self.prefix, plain=self.document, table=self.table)

    def depth(self, path: Path) -> int:
        """Return how many keys of a path (from the shop's root) this file holds, -1 for none."""
        if not is_within(path, self.prefix):
            return -1
        inside = path[len(self.prefix) :]
        if self.cells is not None:
            if not inside or inside[0] not in self.cells.rows:
                return -1
            has_cell = len(inside) > 1 and inside[1] in self.cells.columns
            return len(self.prefix) + (2 if has_cell else 1)
        if self.table is None:
            return -1
        found = 0
        for length in range(1, len(inside) + 1):
            if self.table.find(inside[:length]) is None:
                break
            found = length
        return len(self.prefix) + found

    def value_place(self, path: Path) -> Place | None:
        """Return the place of the value at a path inside the file, or of what should hold it."""
        if self.cells is not None:
            return self.cells.place(path[0], path[1] if len(path) > 1 else None)
        return self.table.place(path) if self.table else None

    def key_place(self, path: Path) -> Place | None:
        """Return the place of the key at a path inside the file."""
        return self.table.key_place(path) if self.table else None


class Places(NamedTuple):
    """All files of a shop by name, in the order in which the shop names them."""

    held: Mapping[str, ReadFile]

    def holder(self, path: Path) -> tuple[str, ReadFile] | None:
        """Return the file that holds most of a path, the first of equals."""
        best: tuple[str, ReadFile] | None = None
        deepest = -1
        for name, held in self.held.items():
            depth = held.depth(path)
            if depth > deepest:
                best, deepest = (name, held), depth
        return best

    def files_within(self, path: Path) -> tuple[str, ...]:
        """Return the files that hold the value at a path, or a part of it."""
        return tuple(
            name
            for name, held in self.held.items()
            if is_within(held.prefix, path) or held.depth(path) == len(path)
        )

    def of(self, path: Path) -> Place:
        """Return the place of a value; of its parent if it is missing."""
        found = self.holder(path)
        if found is None:
            return Place(next(iter(self.held), "shop.yaml"))
        name, held = found
        return held.value_place(path[len(held.prefix) :]) or Place(name)
