"""The use of values that no placement names, by the machine or by the checks."""

from __future__ import annotations

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.moves import is_entry
from jobcheck.schema.fields import mark
from jobcheck.shop.classes import fields_at
from jobcheck.shop.values import is_absent

_NEW = "nothing used it before"


def use(change: Change) -> str | None:
    """Return the consequence of a change that reaches no placement; None where none is known."""
    if change.kind is Kind.ADDED and is_entry(change.path, change.new):
        return _NEW
    if is_absent(change.new) and len(change.path) == 2 and is_entry(change.path, change.old):
        return f"nothing uses {change.path[1]} any more"
    said = [mark(field, "x-changed") for field in fields_at(change.path)]
    return next(filter(None, reversed(said)), None)
