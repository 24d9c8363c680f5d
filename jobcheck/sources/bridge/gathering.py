"""Differences between the controller's files and the description."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from jobcheck.shop.classes import leaf_types
from jobcheck.shop.paths import Path, look_up
from jobcheck.shop.values import MISSING, is_absent, same
from jobcheck.sources.bridge.mapping import Mapped, Target
from jobcheck.sources.edits.edits import Edit

Plain = Mapping[str, Any]


class Difference(NamedTuple):
    """A mapped value that differs between the sides; MISSING on a side that lacks it.

    `target` is None for an entry that the controller's file no longer has.
    """

    path: Path
    file: str
    described: Any
    controller: Any
    target: Target | None

    @property
    def is_lost(self) -> bool:
        """Whether the controller's file lacks a value that the description has."""
        return self.controller is MISSING


def differences(mapped: Mapped, plain: Plain) -> tuple[Difference, ...]:
    """Return the mapped values that differ, in the order of the map."""
    found = []
    for target in mapped.targets:
        described = look_up(plain, target.path)
        described = MISSING if is_absent(described) else described
        says = MISSING if target.value is None else target.value
        if not same(described, says):
            found.append(Difference(target.path, target.file, described, says, target))
    return (*found, *_gone(mapped, plain))


def idle(mapped: Mapped, plain: Plain) -> tuple[Target, ...]:
    """Return unused addresses: they lead to nothing, and the description has no value there."""
    return tuple(
        target
        for target in mapped.targets
        if target.hit is None and is_absent(look_up(plain, target.path))
    )


def _gone(mapped: Mapped, plain: Plain) -> Iterator[Difference]:
    """Yield the values of entries whose element in the controller's file is gone."""
    for entries in mapped.entries:
        known = look_up(plain, entries.collection)
        for key in known if isinstance(known, dict) else ():
            if key in entries.keys:
                continue
            for inner in entries.inside:
                path = (*entries.collection, key, *inner)
                described = look_up(plain, path)
                if not is_absent(described):
                    yield Difference(path, entries.file, described, MISSING, None)


def edits_of(found: Sequence[Difference], plain: Plain) -> list[Edit]:
    """Return the edits that bring the controller's values into the description.

    A new list is written as a whole, and a list that lost an item is removed as a whole, since
    items have no identity.
    """
    edits: dict[Path, Edit] = {}
    lists: dict[Path, dict[int, Any]] = {}
    for one in found:
        if not _is_item(one.path):
            edits[one.path] = Edit(one.path, one.controller)
            continue
        above, number = one.path[:-1], int(one.path[-1])
        held = look_up(plain, above)
        if one.is_lost:
            edits[above] = Edit(above, MISSING)
        elif isinstance(held, list) and number < len(held):
            edits[one.path] = Edit(one.path, one.controller)
        else:
            lists.setdefault(above, {})[number] = one.controller
    for above, items in lists.items():
        if sorted(items) == list(range(len(items))):
            edits[above] = Edit(above, [items[number] for number in sorted(items)])
    gone = {path for path, edit in edits.items() if edit.value is MISSING}
    return [edit for path, edit in edits.items() if path in gone or path[:-1] not in gone]


def _is_item(path: Path) -> bool:
    """Return whether a path names an item of a list by its number."""
    return (
        path[-1].isdecimal()
        and bool(leaf_types(path))
        and not leaf_types(path[:-1])
        and (_is_list_at(path[:-1]))
    )


def _is_list_at(path: Path) -> bool:
    return bool(leaf_types((*path, "0"))) and not leaf_types((*path, "name"))
