"""Changes put into plain values, and cut down to a selection."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.walk import ValueChange, differences
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, is_within
from jobcheck.shop.values import MISSING, is_absent

Plain = dict[str, Any]


def edits_of(change: Change) -> tuple[ValueChange, ...]:
    """Return the edits of a change: one, or two where it touches two paths."""
    if change.other is None:
        return (ValueChange(change.path, change.old, change.new),)
    if change.kind is Kind.EXCHANGED:
        return (
            ValueChange(change.path, change.old, change.new),
            ValueChange(change.other, change.new, change.old),
        )
    return ValueChange(change.path, change.old, MISSING), ValueChange(
        change.other, MISSING, change.new
    )


def apply(plain: Plain, changes: Iterable[Change]) -> Plain:
    """Return plain values with changes put into them; the given values stay unchanged.

    Mappings that a value needs are made. Whole entries are put in first, so that what else
    changed in a renamed one finds it.
    """
    edits = [edit for change in changes for edit in edits_of(change)]
    copied: dict[int, Plain] = {}
    result = _own(plain, copied)
    for edit in sorted(edits, key=lambda edit: len(edit.path)):
        _put(result, edit, copied)
    return result


def _own(mapping: Plain, copied: dict[int, Plain]) -> Plain:
    """Return a copy of a mapping that may be written to, one for each mapping."""
    if id(mapping) not in copied:
        copy = dict(mapping)
        copied[id(copy)] = copy
        return copy
    return mapping


def _put(plain: Plain, edit: ValueChange, copied: dict[int, Plain]) -> None:
    for key in edit.path[:-1]:
        held = plain.get(key)
        if not isinstance(held, dict):
            if is_absent(edit.new):
                return
            held = {}
        plain[key] = _own(held, copied)
        plain = plain[key]
    if edit.new is MISSING:
        plain.pop(edit.path[-1], None)
    else:
        plain[edit.path[-1]] = edit.new


def within(changes: Iterable[Change], selection: Path) -> tuple[Change, ...]:
    """Return the changes at or below a path and nowhere else.

    A block that came or went as a whole is cut down to the selected part of it, a rename or an
    exchange to its half.
    """
    return tuple(cut for change in changes for cut in _within(change, selection))


def _within(change: Change, selection: Path) -> Iterator[Change]:
    if all(is_within(path, selection) for path in change.paths):
        yield change
        return
    for edit in edits_of(change):
        cut = _cut(edit, selection)
        for part in differences(cut.old, cut.new, cut.path) if cut else ():
            yield Change(part.path, _kind(part), part.old, part.new, class_of(part.path))


def _cut(edit: ValueChange, selection: Path) -> ValueChange | None:
    """Return the part of an edit that is within a selection, or None."""
    if is_within(edit.path, selection):
        return edit
    if not is_within(selection, edit.path):
        return None
    below = selection[len(edit.path) :]
    return ValueChange(selection, _below(edit.old, below), _below(edit.new, below))


def _below(value: Any, keys: Path) -> Any:
    for key in keys:
        value = value.get(key, MISSING) if isinstance(value, dict) else MISSING
    return value


def _kind(edit: ValueChange) -> Kind:
    if is_absent(edit.old):
        return Kind.ADDED
    return Kind.LOST if is_absent(edit.new) else Kind.CHANGED
