"""Edits of one YAML file: the bytes of the touched values change, every other byte stays."""

from __future__ import annotations

from typing import Any

from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import same
from jobcheck.sources.edits.replacing import LineEdit
from jobcheck.sources.edits.yaml_mappings import Changed, change_mapping
from jobcheck.sources.edits.yaml_recorded import Worksheet
from jobcheck.sources.edits.yaml_values import inline, set_inline, set_value
from jobcheck.sources.places import ReadFile


class YamlEdit:
    """Edits of one file, collected by their path inside it, made by `result`."""

    def __init__(self, held: ReadFile, recorded: ReadFile | None = None) -> None:
        """Take the file as it was read, and the same file of the record that is restored."""
        self._sheet = Worksheet.of(held, recorded)
        self._changed: dict[int, Changed] = {}
        self._written: dict[int, Any] = {}
        self._aliases: list[tuple[Path, int, Any]] = []

    def set(self, path: Path, value: Any) -> None:
        """Give the value at a path another content.

        An alias is replaced there alone; a merged value is overridden.

        Raises:
            EditRefused: it cannot be reached by its span.
        """
        table = self._sheet.table
        parent = table.resolved(self._sheet.entries.find(path[:-1]).value)
        step = table.own_children(parent).get(path[-1])
        if step is None:
            self.insert(path, value)
        elif step[1] in table.targets:
            self._aliases.append((path, step[1], value))
        elif step[1] not in self._written:
            self._written[step[1]] = value
            set_value(self._sheet, path, step, value, parent)

    def insert(self, path: Path, value: Any) -> None:
        """Add an entry to its parent mapping, with any mapping that is missing."""
        while self._sheet.table.find(path[:-1]) is None:
            path, value = path[:-1], {path[-1]: value}
        put = self._of_parent(path).put
        put[path[-1]] = _joined(put.get(path[-1]), value)

    def remove(self, path: Path) -> None:
        """Remove an entry from its parent mapping."""
        self._of_parent(path).taken.add(path[-1])

    def _of_parent(self, path: Path) -> Changed:
        node = self._sheet.table.resolved(self._sheet.entries.find(path[:-1]).value)
        return self._changed.setdefault(node, Changed(path[:-1], node))

    def result(self) -> bytes:
        """Return the bytes of the edited file.

        Raises:
            EditRefused: one of the edits cannot be made.
        """
        sheet = self._sheet
        for path, node, value in self._aliases:
            if not same(self._written.get(sheet.table.targets[node]), value):
                set_inline(sheet, path, node, inline(sheet, path, value, node, True))
                where = show((*sheet.prefix, *path))
                sheet.notes.append(f"{where} was an alias: it gets its own value.")
        # the innermost first: an entry below a block goes below all additions to the block
        for changed in sorted(self._changed.values(), key=lambda one: -len(one.path)):
            change_mapping(sheet, changed)
        return sheet.replacing.result()

    @property
    def shown(self) -> list[LineEdit]:
        """The edits that were made, for a preview."""
        return self._sheet.replacing.shown

    @property
    def notes(self) -> list[str]:
        """The notes on the edits."""
        return self._sheet.notes


def _joined(one: Any, other: Any) -> Any:
    """Return two mappings as one."""
    if not isinstance(one, dict) or not isinstance(other, dict):
        return other
    return {**one, **{key: _joined(one.get(key), value) for key, value in other.items()}}
