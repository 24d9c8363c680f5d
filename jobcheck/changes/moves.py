"""Edits that belong together: an entry under another name, two that changed places."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Any

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.walk import ValueChange, differences, is_collection
from jobcheck.schema.controls import present_name
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, look_up, natural
from jobcheck.shop.values import MISSING

_EXCHANGING = ("cameras", "spindles", "nozzles", "rack", "feeders")
"""Collections whose entries change places: by hand on the machine, or by how devices are found."""

_EXCHANGED_FIELDS = ("slot", "part", "carries", "nozzle")
"""Fields that hold one value and change places on their own."""

_IN_USE = (FieldClass.COUNT, FieldClass.NOTE)
"""Classes that change by use and do not distinguish entries."""


def _key(value: object) -> str:
    """Return a text that is the same for values that say the same."""
    return json.dumps(value, sort_keys=True, default=str)


def _spelled(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _spelled(item) for key, item in value.items() if item is not None}
    if isinstance(value, list):
        return [_spelled(item) for item in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _content(path: Path, value: dict[str, Any]) -> str | None:
    """Return values that distinguish an entry from others, or None where it has too few."""
    kept = {key: item for key, item in value.items() if class_of((*path, key)) not in _IN_USE}
    return _key(_spelled(kept)) if len(kept) > 1 else None


def _device(path: Path, value: dict[str, Any]) -> str | None:
    """Return values that distinguish the device of a camera from others, or None."""
    device = value.get("device")
    serial = device.get("serial") if path[0] == "cameras" and isinstance(device, dict) else None
    return None if serial is None else _key(serial)


def _control(path: Path, value: object) -> str | None:
    """Return the identity of a camera's control, whatever its name in the kernel, or None."""
    is_control = path[0] == "cameras" and path[2:3] == ("controls",) and len(path) == 4
    return _key([present_name(path[3]), _spelled(value)]) if is_control else None


def is_entry(path: Path, value: object) -> bool:
    """Tell whether a value is that of an entry: a part, a feeder, a job, a placement."""
    if not isinstance(value, dict) or path[0] == "shop":
        return False
    return len(path) == 2 or (path[0] == "jobs" and len(path) == 4 and is_collection(path[:3]))


def moves(edits: Iterable[ValueChange]) -> Iterator[tuple[ValueChange, ValueChange]]:
    """Yield (gone, come): two edits of which the second puts the same under another name.

    Stock and notes may differ. Where several could be meant, none is.
    """
    sides: tuple[dict[Any, list[ValueChange]], dict[Any, list[ValueChange]]] = (
        defaultdict(list),
        defaultdict(list),
    )
    for edit in edits:
        if (edit.old is MISSING) == (edit.new is MISSING):
            continue
        is_come = edit.old is MISSING
        value = edit.new if is_come else edit.old
        for trait in _traits(edit.path, value):
            sides[is_come][trait].append(edit)
    paired: set[Path] = set()
    for trait, gone in sides[False].items():
        come = sides[True].get(trait, [])
        if len(gone) == len(come) == 1 and not {gone[0].path, come[0].path} & paired:
            paired |= {gone[0].path, come[0].path}
            yield gone[0], come[0]


def _traits(path: Path, value: object) -> Iterator[object]:
    """Yield the identities of a thing, the surest first."""
    if isinstance(value, dict) and is_entry(path, value):
        for how in (_content, _device):
            if trait := how(path, value):
                yield how, path[:-1], trait
    elif control := _control(path, value):
        yield path[:3], control


def moved(gone: ValueChange, come: ValueChange) -> tuple[Change, list[ValueChange]]:
    """Return the change that renames, and the other differences in the renamed entry."""
    change = Change(gone.path, Kind.MOVED, gone.old, gone.old, class_of(gone.path), other=come.path)
    return change, list(differences(gone.old, come.new, come.path))


def exchanges(edits: Iterable[ValueChange], old: Any, new: Any) -> Iterator[Change]:
    """Yield the exchanges among the edits: whole entries, or one block or field of two entries."""
    waiting: dict[Any, list[Path]] = defaultdict(list)
    for path in _may_exchange(edits):
        before, after = look_up(old, path), look_up(new, path)
        if _changes_place(path, before) and _changes_place(path, after):
            waiting[_sides(path, before, after)].append(path)
    done: set[Path] = set()
    for (place, before, after), here in waiting.items():
        there = waiting.get((place, after, before), [])
        if len(here) != 1 or len(there) != 1 or {here[0], here[0][:2], there[0][:2]} & done:
            continue
        path, other = here[0], there[0]
        done |= {path, other}
        value, there_now = look_up(old, path), look_up(new, path)
        yield Change(path, Kind.EXCHANGED, value, there_now, class_of(path), other=other)


def _may_exchange(edits: Iterable[ValueChange]) -> list[Path]:
    """Return the entries that differ inside and their blocks and fields, entries first."""
    touched = {
        edit.path[:length]
        for edit in edits
        if edit.path[0] in _EXCHANGING and len(edit.path) > 2
        for length in (2, 3)
    }
    return sorted(touched, key=lambda path: (len(path), [natural(key) for key in path]))


def _changes_place(path: Path, value: object) -> bool:
    if isinstance(value, dict):
        return class_of(path) not in _IN_USE
    return len(path) == 3 and path[2] in _EXCHANGED_FIELDS and value is not None


def _sides(path: Path, before: object, after: object) -> tuple[Path, str, str]:
    place = (path[0], *path[2:])
    return place, _key(_spelled(before)), _key(_spelled(after))
