"""Changes that have one cause, with what they endanger together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.impact import Impact, impact_of
from jobcheck.facts.facts import Facts
from jobcheck.schema.fields import FieldClass, mark
from jobcheck.shop.classes import fields_at
from jobcheck.shop.paths import Path

Renames = dict[Path, Change]
"""Collection and old name -> the change that renames."""


@dataclass(frozen=True)
class Group:
    """Changes of one cause, in their order, and their impact.

    `path` is what they share: a camera, an entry, a job's list; empty for the groups of all
    counts and of all notes.
    """

    path: Path
    changes: tuple[Change, ...]
    impact: Impact

    @property
    def is_camera_loss(self) -> bool:
        """Tell whether these are the lost settings of one camera."""
        return self.changes[0].is_camera_loss


def groups(changes: Iterable[Change], old: Facts, new: Facts) -> tuple[Group, ...]:
    """Group changes by their cause, in the order of the first change of each.

    The lost settings of one camera are one group; so are changes of one entry, changes of one
    kind in one list of placements, recognitions that were stamped, a rename with the names that
    follow it, all counts, all notes.
    """
    changes = tuple(changes)
    renames: Renames = {
        change.path: change
        for change in changes
        if change.kind is Kind.MOVED and change.other is not None and len(change.path) == 2
    }
    found: dict[object, list[Change]] = {}
    causes: dict[object, list[Change]] = {}
    for change in changes:
        rename = _followed(change, renames)
        key = _cause(rename or change)
        members = found.setdefault(key, [])
        members.insert(0 if change is renames.get(change.path[:2]) else len(members), change)
        causes.setdefault(key, []).extend([] if rename else [change])
    return tuple(
        Group(_shared(key), tuple(members), impact_of(causes[key], old, new))
        for key, members in found.items()
    )


def _cause(change: Change) -> tuple[object, ...]:
    """Return what changes of one cause have in common; the last member is their path."""
    if change.field_class in (FieldClass.COUNT, FieldClass.NOTE):
        return change.field_class, ()
    if change.path[0] == "jobs" and change.path[2:3] in (("placements",), ("bill",)):
        return change.kind, change.path[:3]
    if change.path[0] == "recognitions" and change.path[2:] == ("tuned_under",):
        return "stamped", change.path[:1]
    is_entry = len(change.path) > 2 or isinstance(change.old or change.new, dict)
    length = 3 if change.path[0] == "jobs" else 2 if is_entry else 1
    return change.is_camera_loss, change.path[:length]


def _shared(key: object) -> Path:
    return key[1] if isinstance(key, tuple) else ()


def _followed(change: Change, renames: Renames) -> Change | None:
    """Return the rename that a change follows: a name that was changed with what it names."""
    fields = tuple(fields_at(change.path)) if renames else ()
    collection = mark(fields[-1], "x-names") if fields else None
    olds, news = (
        value if isinstance(value, list) else [value] for value in (change.old, change.new)
    )
    if collection is None or len(olds) != len(news):
        return None
    follows = None
    for before, after in zip(olds, news, strict=True):
        rename = renames.get((collection, before)) if isinstance(before, str) else None
        if rename is not None and rename.other == (collection, after):
            follows = rename
        elif before != after:
            return None
    return follows
