"""Edits of a shop by span: values by path become new bytes of its files.

Only the bytes of the touched values change. The result is read again before it is returned:
every requested value is there, and no other value changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from jobcheck.schema.shop_file import BRINGS
from jobcheck.shop.paths import Path, is_within, show
from jobcheck.shop.values import MISSING, is_absent, same
from jobcheck.sources.edits.files import EditedFiles
from jobcheck.sources.edits.replacing import EditRefused, LineEdit
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import Files, State, matches


class Edit(NamedTuple):
    """A path and its new plain value; MISSING removes it."""

    path: Path
    value: Any


class Edited(NamedTuple):
    """The new bytes of the changed files, the lines of a preview, and its notes.

    `reading` is the shop as it will be; `files` are in the order of writing.
    """

    files: Mapping[str, bytes]
    lines: tuple[LineEdit, ...]
    notes: tuple[str, ...]
    reading: Reading


def edit_shop(reading: Reading, edits: Iterable[Edit], like: Reading | None = None) -> Edited:
    """Return the files of a shop with values added, changed and removed.

    If the reading `like` (a record) has the same value at the same path, its bytes are copied:
    the spelling of a scalar, a whole block with its comments, a row, a missing file.

    Raises:
        EditRefused: an edit cannot be made, or would change another value as well.
    """
    edits = sorted(edits, key=lambda edit: len(edit.path))
    if reading.shop is None:
        raise _refused(("shop",), "shop.yaml is unreadable now")
    wanted: Any = reading.shop.plain
    for edit in edits:
        wanted = with_value(wanted, edit.path, edit.value)
    files = EditedFiles(reading, like, wanted)
    for path, old, new in _differences((), reading.shop.plain, wanted):
        try:
            files.make(path, old, new)
        except EditRefused as error:
            raise _refused(path, str(error)) from None
    try:
        new_bytes = files.result()
    except EditRefused as error:
        raise _refused(edits[0].path, str(error)) from None
    after = _read(reading, new_bytes)
    _check(reading, after, wanted, [edit.path for edit in edits])
    return Edited(new_bytes, files.lines(), tuple(files.notes()), after)


def with_value(plain: Any, path: Path, value: Any) -> Any:
    """Return plain values with a new one at a path; the other branches are shared."""
    if not path:
        return value
    key, rest = path[0], path[1:]
    if isinstance(plain, list) and key.isdecimal() and int(key) < len(plain):
        inner = with_value(plain[int(key)], rest, value)
        return [inner if i == int(key) else item for i, item in enumerate(plain)]
    entries: dict[str, Any] = plain if isinstance(plain, dict) else {}
    if value is MISSING and key not in entries:
        return plain
    inner = with_value(entries.get(key), rest, value)
    if inner is MISSING:
        return {name: item for name, item in entries.items() if name != key}
    return {**entries, key: inner}


def _differences(path: Path, old: Any, new: Any) -> Iterator[tuple[Path, Any, Any]]:
    """Yield (path, old, new) of the smallest values to write, MISSING if absent."""
    if old is new:
        return
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys([*old, *new]):
            yield from _differences((*path, key), old.get(key, MISSING), new.get(key, MISSING))
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for index, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from _differences((*path, str(index)), one, other)
    elif not same(old, new) or (new is MISSING):
        yield path, old, new


# the result


class _Overlay(Files):
    """Files of a state with other bytes for some of them."""

    def __init__(self, files: Files, new: Mapping[str, bytes]) -> None:
        self._files = files
        self._new = new

    def __getitem__(self, name: str) -> bytes:
        return self._new[name] if name in self._new else self._files[name]

    def __iter__(self) -> Iterator[str]:
        return iter(dict.fromkeys([*self._files, *self._new]))

    def names(self, pattern: str) -> list[str]:
        new = {name for name in self._new if matches(name, pattern)}
        return sorted(new.union(self._files.names(pattern)))


def _read(reading: Reading, new: Mapping[str, bytes]) -> Reading:
    """Read a shop with new bytes; unedited files are not read again."""
    held = {name: file.data for name, file in reading.places.held.items()}
    files = _Overlay(reading.state.files, {**held, **new})
    return read_shop(State(reading.state.label, files, reading.state.name), reading)


def _refused(path: Path, why: str) -> EditRefused:
    return EditRefused(f"{show(path)} cannot be written: {why}.")


def _check(before: Reading, after: Reading, wanted: Any, asked: list[Path]) -> None:
    """Compare the written values with the requested ones.

    Raises:
        EditRefused: they differ.
    """
    for name, held in after.places.held.items():
        was_read = name in before.places.held and before.places.held[name].plain
        if was_read and not held.plain and held.faults:
            why = held.faults[0].message.rstrip(".")
            raise _refused(
                _asked_in(name, before, asked), f"{name} could not be read afterwards: {why}"
            )
    plain = after.shop.plain if after.shop else {}
    for path, is_now, should in _differences((), plain, wanted):
        if (is_absent(is_now) and is_absent(should)) or _is_brought(path, asked):
            continue
        for edit in asked:
            if is_within(path, edit) or is_within(edit, path):
                raise _refused(path, f"it would read as {_brief(is_now)}")
        raise _refused(*_shared(before, asked, path))


def _is_brought(path: Path, asked: list[Path]) -> bool:
    """Return whether a value comes or goes with a file that an edit of shop.yaml names."""
    named = [edit[1] for edit in asked if edit[0] == "shop" and len(edit) > 1]
    if path[0] in (held for kind in named for held in BRINGS.get(kind, ())):
        return True
    of_lists = {"shop", *(held for brought in BRINGS.values() for held in brought)}
    return "machine" in named and path[0] not in of_lists


def _asked_in(name: str, before: Reading, asked: list[Path]) -> Path:
    """Return the first edit of a file."""
    holders = ((path, before.places.holder(path)) for path in asked)
    return next((path for path, found in holders if found and found[0] == name), asked[0])


def _shared(before: Reading, asked: list[Path], other: Path) -> tuple[Path, str]:
    """Return the edit that also changes another value, and a clause that names it."""
    found = before.places.holder(other)
    edits = [path for path in asked if before.places.holder(path) == found] or asked
    table = found[1].table if found else None
    if found and table and table.targets:
        depth = len(found[1].prefix)
        shared = table.find(other[depth:])
        for path in edits:
            spot = table.find(path[depth:])
            if spot and shared and table.resolved(spot.value) == table.resolved(shared.value):
                return path, f"it shares its value with {show(other)} through an alias"
        return edits[0], f"it shares its value with {show(other)} through an alias"
    return edits[0], f"that would change {show(other)} as well"


def _brief(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 40 else text[:37] + "..."
