"""Changes that have one cause, with their impact together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.consequences import consequences
from jobcheck.changes.impact import Impact, impact_of
from jobcheck.changes.turns import NO_HARM
from jobcheck.facts.facts import Facts
from jobcheck.facts.list_changes import frame_change, rotation_change, rows_lost
from jobcheck.schema.fields import FieldClass, mark
from jobcheck.shop.classes import fields_at
from jobcheck.shop.paths import Path

Renames = dict[Path, Change]
"""Collection and old name -> the change that renames."""


@dataclass(frozen=True)
class Group:
    """Changes of one cause, in their order, and their impact.

    `path` is the path they share: a camera, an entry, a job's list; empty for the groups of all
    counts and of all notes. `whole` is written where a list changed as a whole, or where rows are
    only counted. `parts` are the parts of rows that were turned, by the path of the change.
    """

    path: Path
    changes: tuple[Change, ...]
    impact: Impact
    whole: str = ""
    parts: Mapping[Path, str] = field(default_factory=dict)

    @property
    def is_camera_loss(self) -> bool:
        """Tell whether these are the lost settings of one camera."""
        return self.changes[0].is_camera_loss


def groups(changes: Iterable[Change], old: Facts, new: Facts) -> tuple[Group, ...]:
    """Group changes by their cause, in the order of the first change of each.

    Turned rows of a list come first; those whose parts look the same so turned come last, counted.
    The lost settings of one camera are one group; so are changes of one entry, changes of one
    kind in one list of placements or of the whole list, recognitions that were stamped, a rename
    with the names that follow it, all counts, all notes.
    """
    changes = tuple(changes)
    renames: Renames = {
        change.path: change
        for change in changes
        if change.kind is Kind.MOVED and change.other is not None and len(change.path) == 2
    }
    found: dict[object, list[Change]] = {}
    causes: dict[object, list[Change]] = {}
    whole = _whole_lists(changes, old, new)
    harmless = {change.path for change in changes if _is_harmless(change, old, new)}
    for change in changes:
        rename = _followed(change, renames)
        says = whole.get((change.path[:3], change.path[4:]), "") if _is_of_row(change) else ""
        key = (says, change.path[:3]) if says else _cause(rename or change)
        if change.path in harmless and not says:
            key = (_HARMLESS, change.path[:3])
        members = found.setdefault(key, [])
        members.insert(0 if change is renames.get(change.path[:2]) else len(members), change)
        causes.setdefault(key, []).extend([] if rename else [change])
    grouped = [
        _harmless_rows(_shared(key), tuple(members))
        if key == (_HARMLESS, _shared(key))
        else Group(
            _shared(key),
            tuple(members),
            impact_of(causes[key], old, new),
            next((says for says in whole.values() if key == (says, _shared(key))), ""),
            {change.path: _part(change, new) for change in members if _is_turn_of_row(change)},
        )
        for key, members in found.items()
    ]
    return tuple(sorted(grouped, key=_weight))


_HARMLESS = "harmless"


def _is_turn_of_row(change: Change) -> bool:
    return change.path[2:3] == ("placements",) and change.path[4:] == ("rotation",)


def _is_harmless(change: Change, old: Facts, new: Facts) -> bool:
    return _is_turn_of_row(change) and f"it {NO_HARM}" in consequences(change, old, new)


def _harmless_rows(path: Path, changes: tuple[Change, ...]) -> Group:
    """Count the rows that were turned without harm; a single one is shown."""
    if len(changes) == 1:
        return Group(path, changes, Impact(so=(f"it {NO_HARM}",)))
    impact = Impact(so=("each of them " + NO_HARM,))
    return Group(path, changes, impact, f"{len(changes):,} rows turned")


def _part(change: Change, new: Facts) -> str:
    job = new.shop.jobs.get(change.path[1])
    row = job.placements.by_reference.get(change.path[3]) if job else None
    return (row.part or "") if row else ""


def _weight(group: Group) -> int:
    """Return 0 for rows that were turned, 2 for those turned without harm, 1 for the rest."""
    if not any(map(_is_turn_of_row, group.changes)):
        return 1
    return 2 if any(NO_HARM in says for says in group.impact.so) and not group.parts else 0


def _is_of_row(change: Change) -> bool:
    """Return whether it is a field of a row, or a row that is gone."""
    return len(change.path) == 5 or (len(change.path) == 4 and isinstance(change.old, dict))


def _whole_lists(changes: Iterable[Change], old: Facts, new: Facts) -> dict[tuple[Path, Path], str]:
    """Return what happened to lists as a whole: (list, field of each row) -> words.

    The field is empty for the rows themselves.
    """
    jobs = {change.path[1] for change in changes if change.path[2:3] == ("placements",)}
    found: dict[tuple[Path, Path], str] = {}
    for name in jobs & old.shop.jobs.keys() & new.shop.jobs.keys():
        before, after = old.shop.jobs[name], new.shop.jobs[name]
        path: Path = ("jobs", name, "placements")
        if frame := frame_change(before, after):
            found |= {(path, (axis,)): f"all rows are {frame.says()}" for axis in "xy"}
        if turned := rotation_change(before, after):
            found[path, ("rotation",)] = f"all rotations are {turned}"
        if cut := rows_lost(before, after):
            found[path, ()] = cut.says()
    return found


def _cause(change: Change) -> tuple[object, ...]:
    """Return the common key of changes of one cause; the last member is their path."""
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
    """Return the rename that a change follows: a name that changed together with its entry."""
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
