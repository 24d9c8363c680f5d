"""Two shops to the changes between them, compared by identity, never by place in a list."""

from __future__ import annotations

from jobcheck.changes.apply import within
from jobcheck.changes.change import Change
from jobcheck.changes.kinds import change_of
from jobcheck.changes.moves import exchanges, moved, moves
from jobcheck.changes.walk import differences
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop


def diff(old: Shop, new: Shop, only: Path = ()) -> tuple[Change, ...]:
    """Return what differs between two shops, lost camera settings first.

    `only` is a selection: nothing else is looked at. Formatting, comments, the order of keys, the
    spelling of numbers and a full turn are not changes. `apply` of all changes to the
    old plain values gives the new ones.
    """
    found = differences(old.plain, new.plain, only=only)
    edits = {edit.path: edit for edit in found if not edit.is_full_circle}
    changes: list[Change] = []
    for gone, come in list(moves(edits.values())):
        change, rest = moved(gone, come)
        changes.append(change)
        del edits[gone.path], edits[come.path]
        edits |= {edit.path: edit for edit in rest}
    exchanged = list(exchanges(edits.values(), old.plain, new.plain))
    settled = {path for change in exchanged for path in change.paths}
    changes += exchanged
    changes += [
        change_of(edit, old.plain, new.plain)
        for edit in edits.values()
        if not {edit.path[:2], edit.path[:3]} & settled
    ]
    return tuple(sorted(within(changes, only), key=lambda change: change.order))
