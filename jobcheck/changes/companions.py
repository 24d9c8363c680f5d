"""Values that go back together: a measurement with its day, a slot with its pick."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from jobcheck.changes.apply import edits_of, within
from jobcheck.changes.change import Change
from jobcheck.changes.walk import ValueChange
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, is_within, show
from jobcheck.shop.shop import Shop

_DAYS = ("measured", "measured_on", "measured_with")
"""Keys beside a measurement that say when, and with which nozzle, it was measured."""
_PLACE = (("slot",), ("row",))


class Companions(NamedTuple):
    """Edits that go with others, and the reasons of those that cannot."""

    edits: tuple[ValueChange, ...]
    stays: tuple[str, ...]


def companions(put_back: Sequence[ValueChange], changes: Sequence[Change], now: Shop) -> Companions:
    """Return the values that go back with edits; `changes` lead from now to the record.

    A measurement takes its own day with it, a feeder's slot its pick and a pick its slot, a stamp
    of a tuning the day of the stamp.
    """
    done = {edit.path for edit in put_back}
    found: dict[Path, ValueChange] = {}
    stays: dict[str, None] = {}
    for edit in put_back:
        for path in _beside(edit.path):
            for part in (one for change in within(changes, path) for one in edits_of(change)):
                if part.path in found or any(is_within(part.path, other) for other in done):
                    continue
                reason = _occupied(part, now, put_back)
                if reason:
                    stays[reason] = None
                else:
                    found[part.path] = part
    return Companions(tuple(found.values()), tuple(stays))


def _beside(path: Path) -> Iterator[Path]:
    """Yield the paths whose values belong to the value at a path."""
    if path[0] == "recognitions" and path[2:] in (("tuned",), ("tuned_under",)):
        yield from ((*path[:2], "tuned"), (*path[:2], "tuned_under"))
    elif path[0] == "feeders" and path[2:] in _PLACE:
        yield (*path[:2], "pick")
        yield from ((*path[:2], *key) for key in _PLACE)
    elif path[0] == "feeders" and path[2:3] == ("pick",):
        yield from ((*path[:2], *key) for key in _PLACE)
    if class_of(path) is FieldClass.MEASUREMENT and len(path) > 1:
        yield from ((*path[:-1], day) for day in _DAYS)


def _occupied(edit: ValueChange, now: Shop, put_back: Sequence[ValueChange]) -> str:
    """Say why a slot cannot go back with its pick: another feeder is there and stays."""
    if edit.path[0] != "feeders" or edit.path[2:] != ("slot",):
        return ""
    name = edit.path[1]
    row = now.feeders[name].row if name in now.feeders else None
    leaving = {other.path[1] for other in put_back if other.path[2:] == ("slot",)}
    for other, feeder in now.feeders.items():
        is_there = other not in {name, *leaving} and feeder.row == row
        if is_there and feeder.slot is not None and feeder.slot == edit.new:
            return f"{show(edit.path)} stays {edit.old}: {other} is in slot {edit.new} now"
    return ""
