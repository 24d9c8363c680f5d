"""The file of a shop for each edit, and the new bytes of each file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from jobcheck.schema.job import Bill, Placements
from jobcheck.schema.shop_file import COLLECTIONS
from jobcheck.shop.classes import KINDS
from jobcheck.shop.paths import Path, is_within, look_up
from jobcheck.shop.values import MISSING
from jobcheck.sources.edits.csv import CsvEdit
from jobcheck.sources.edits.replacing import EditRefused, LineEdit
from jobcheck.sources.edits.yaml import YamlEdit
from jobcheck.sources.places import ReadFile
from jobcheck.sources.shop_reader import Reading
from jobcheck.sources.state.state import ROOT_FILE, Unreadable, matches

_OPTIONS = {"placements": Placements.model_fields, "bill": Bill.model_fields}
_SPREAD = frozenset(name for names in COLLECTIONS.values() for name in names)
"""Collections whose entries may be in several files."""


WHOLE_FILE = "the whole file, as recorded"
"""The preview's line for a restored file."""


class EditedFiles:
    """The edits of all files of a shop, collected path by path."""

    def __init__(self, reading: Reading, like: Reading | None, wanted: Any) -> None:
        """Take the shop as read, a record to copy from, and the requested plain values."""
        self._state = reading.state
        self._places = reading.places
        self._held = reading.places.held
        self._like = like.places if like else None
        self._wanted = wanted
        self._yaml: dict[str, YamlEdit] = {}
        self._lists: dict[str, CsvEdit] = {}
        self._whole: dict[str, Path] = {}

    def make(self, path: Path, old: Any, new: Any) -> None:
        """Request a new value at a path; MISSING removes it.

        Raises:
            EditRefused: it cannot be written.
        """
        if old is not MISSING:
            found = self._places.holder(path)
            self._change(found[0] if found else ROOT_FILE, path, new)
        elif path[0] == "jobs" and len(path) == 2:
            self._put_back(path, self._recorded_files(path))
        elif isinstance(new, dict) and _is_spread(path, new):
            for key, entry in new.items():
                self.make((*path, key), MISSING, entry)
        else:
            self._insert(path, new)

    def _change(self, name: str, path: Path, new: Any) -> None:
        held = self._held[name]
        inside = path[len(held.prefix) :]
        if not inside or path == ("jobs",):
            raise EditRefused(f"it has its own file, {name}; no file is deleted")
        if held.cells is None and new is MISSING:
            self._document(name).remove(inside)
        elif held.cells is None:
            self._document(name).set(inside, new)
        elif len(inside) == 2:
            self._list(name).set(inside, new)
        elif new is MISSING:
            self._list(name).remove(inside[0])
        else:
            raise EditRefused("a row cannot be that")

    def _insert(self, path: Path, new: Any) -> None:
        name = self._home(path)
        held = self._held.get(name)
        if held is None and name == self._list_of(path) and self._is_there(name):
            return  # a list that is named again is read again, and its values are compared then
        if held is None or (held.table is None and held.cells is None):
            self._put_back(path, [name])
            return
        inside = path[len(held.prefix) :]
        if held.cells is None:
            self._document(name).insert(inside, new)
        elif len(inside) == 2:
            self._list(name).set(inside, new)
        elif isinstance(new, dict):
            self._list(name).insert(inside[0], new)
        else:
            raise EditRefused("a row cannot be that")

    def _home(self, path: Path) -> str:
        """Return the file for a new value: that of the record, else by its kind."""
        listed = self._list_of(path)
        if listed:
            return listed
        recorded = self._recorded_home(path)
        if recorded:
            return recorded
        candidates = [name for name, held in self._held.items() if _may_hold(held, path)]
        if not candidates:
            raise EditRefused("no file of the shop is for its kind")
        return max(candidates, key=lambda name: self._held[name].depth(path))

    def _recorded_home(self, path: Path) -> str | None:
        """Return the record's file for a path, if the shop still names that file."""
        found = self._like.holder(path) if self._like else None
        if found is None or found[1].depth(path) < len(path):
            return None
        name, held = found
        patterns = look_up(self._wanted, ("shop", held.kind))
        named = [patterns] if isinstance(patterns, str) else patterns
        is_named = isinstance(named, list) and any(matches(name, str(p)) for p in named)
        return name if name in self._held or is_named else None

    def _list_of(self, path: Path) -> str | None:
        """Return the list for a row of a job, which may be missing."""
        is_row = len(path) > 3 and path[0] == "jobs" and path[2] in _OPTIONS
        if not is_row or path[3] in _OPTIONS[path[2]]:
            return None
        named = look_up(self._wanted, (*path[:3], "file"))
        job = next((name for name, held in self._held.items() if held.prefix == path[:2]), None)
        if not isinstance(named, str) or job is None:
            return None
        folder = job.rpartition("/")[0]
        return f"{folder}/{named}" if folder else named

    def _document(self, name: str) -> YamlEdit:
        if self._held[name].table is None:
            raise EditRefused(f"{name} is unreadable now")
        if name not in self._yaml:
            self._yaml[name] = YamlEdit(self._held[name], self._recorded(name))
        return self._yaml[name]

    def _list(self, name: str) -> CsvEdit:
        if name not in self._lists:
            held = self._held[name]
            units = look_up(self._wanted, (*held.prefix, "units"))
            self._lists[name] = CsvEdit(held, units, self._recorded(name))
        return self._lists[name]

    # missing files

    def _recorded(self, name: str) -> ReadFile | None:
        return self._like.held.get(name) if self._like else None

    def _recorded_files(self, path: Path) -> list[str]:
        """Return the recorded files of a job, its lists first: they are named by the job."""
        held = self._like.held if self._like else {}
        return [name for name in held if is_within(held[name].prefix, path)][::-1]

    def _put_back(self, path: Path, names: list[str]) -> None:
        if not names:
            raise EditRefused("it has its own files, and no record has them")
        for name in names:
            if self._recorded(name) is None:
                raise EditRefused(f"{name} is missing, and no record has it")
            if self._is_there(name):
                raise EditRefused(f"{name} exists, but is not a readable part of the shop")
            self._whole[name] = path

    def _is_there(self, name: str) -> bool:
        try:
            self._state.files[name]
        except KeyError:
            return False
        except Unreadable:
            return True
        return True

    # the result

    def result(self) -> dict[str, bytes]:
        """Return the new bytes of each file that changes, in the order to write them.

        Restored files come first, shop.yaml last: a file is written before the file that names it.

        Raises:
            EditRefused: an edit cannot be made.
        """
        new = {name: held.data for name in self._whole if (held := self._recorded(name))}
        for name in self._held:
            edit = self._lists.get(name) or self._yaml.get(name)
            if edit and (data := edit.result()) != self._held[name].data:
                new[name] = data
        if ROOT_FILE in new:
            new[ROOT_FILE] = new.pop(ROOT_FILE)
        return new

    def lines(self) -> tuple[LineEdit, ...]:
        """Return the lines of the preview, file by file, from the top down."""
        shown = [LineEdit(name, 0, path, "", WHOLE_FILE) for name, path in self._whole.items()]
        for name in self._held:
            edit = self._lists.get(name) or self._yaml.get(name)
            edits = edit.shown if edit else []
            shown += sorted(edits, key=lambda one: (one.line, not one.before))
        return tuple(shown)

    def notes(self) -> Iterator[str]:
        """Yield the notes beside the preview."""
        for edit in self._yaml.values():
            yield from edit.notes


def _is_spread(path: Path, new: dict[str, Any]) -> bool:
    """Return whether a new value may be in several files: a collection, a block with a list."""
    is_block = len(path) == 3 and path[0] == "jobs" and path[2] in _OPTIONS
    return (len(path) == 1 and path[0] in _SPREAD) or (is_block and "file" in new)


def _may_hold(held: ReadFile, path: Path) -> bool:
    """Return whether a file is of the kind for a path, or has its parent."""
    if held.table is None or not is_within(path, held.prefix):
        return False
    key = path[len(held.prefix)]
    return key in KINDS[held.kind].model_fields or held.depth(path) > len(held.prefix)
