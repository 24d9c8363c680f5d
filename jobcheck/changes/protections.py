"""What a change switches off: checks that are no longer made after it."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.changes.change import Change
from jobcheck.facts.facts import Facts
from jobcheck.shop.values import is_absent

_CARRIED = (("tape", "pin1"), ("stick", "pin1"), ("tray", "attitude"))


def no_longer_checked(change: Change, old: Facts, new: Facts) -> Iterator[str]:
    """Yield what is no longer checked after a change and why, without a full stop."""
    kind, name, inside = change.path[0], change.path[1:2], change.path[2:]
    if not name or not inside:
        return
    if kind == "outlines" and name[0] in new.shop.outlines:
        yield from _of_outline(change, name[0], inside[0])
    elif kind == "feeders" and inside in _CARRIED and is_absent(change.new):
        yield f"feed of {name[0]}, {'.'.join(inside)} is missing"


def _of_outline(change: Change, name: str, key: str) -> Iterator[str]:
    if key == "polarised" and change.old is True:
        yield f"polarity of {name}, polarised is false"
    if key in ("pad1_at_zero", "pin1_at_zero") and is_absent(change.new):
        yield f"drawing of {name}, {key} is missing"
    if key == "same_turned_deg" and not is_absent(change.new):
        yield f"turns of {name} by {change.new}, same_turned_deg is {change.new}"
