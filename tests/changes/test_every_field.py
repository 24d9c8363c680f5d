"""Every change of every field has a consequence, and diff shows both of its values."""

from pathlib import Path as FilePath
from typing import Any, cast

import pytest

from jobcheck.changes.change import Kind
from jobcheck.changes.diff import diff
from jobcheck.changes.groups import groups
from jobcheck.changes.impact import endangered
from jobcheck.commands.diff import Compared
from jobcheck.facts.facts import Facts
from jobcheck.reports.calls import Call
from jobcheck.reports.text.changes import _value, diff_text
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import MISSING
from tests.changes.every_field import Change, changes_of, entries, fields, removal_of

FIELDS = dict(fields())
NOT_CHANGED = {
    # files of a shop, set by the helper that writes it
    *("shop.machine", "shop.parts", "shop.feeders", "shop.jobs", "shop.bridge"),
    # a list of cells that the example's panel does not have
    *("jobs.soil-logger.panel.half_turned", "jobs.soil-logger.panel.skip"),
}
"""Fields that the example cannot show changed."""
MOST_ROWS = 12
"""Further changes of one cause are counted."""
_LASTING = (FieldClass.SETTING, FieldClass.MEASUREMENT)


_NOT_MADE = ("stick", "tray", "hole", "extent")
"""Blocks that the example's feeder cannot have beside its own carrier."""


@pytest.mark.parametrize("path", tuple(FIELDS), ids=show)
def test_a_change_of_a_field_has_a_consequence_and_both_values(path: Path) -> None:
    made = list(changes_of(path, FIELDS[path]))
    cannot = set(path) & set(_NOT_MADE) or ".seat.measured." in show(path) or "under" in path
    assert made or cannot or path[1:2] in (("accepted",), ("bridge",))
    for change in made:
        _check(change)


@pytest.mark.parametrize("path", tuple(entries()), ids=show)
def test_an_entry_that_is_gone_has_a_consequence_and_is_named(path: Path) -> None:
    change = removal_of(path)
    if change is not None:
        _check(change)


def _check(change: Change) -> None:
    found = diff(change.old, change.new)
    assert found or show(change.path) in NOT_CHANGED or change.path[-1] == "order"
    grouped = groups(found, Facts(change.old), Facts(change.new))
    for group in grouped:
        impact = group.impact
        is_lasting = any(one.field_class in _LASTING for one in group.changes)
        assert not is_lasting or impact.so or endangered(impact) or impact.no_longer_checked
    text = " ".join(diff_text(_compared(change, found, grouped), cast(Call, None), quiet=True))
    for one in found if len(found) <= MOST_ROWS else ():
        if one.field_class is FieldClass.COUNT or one.kind is Kind.MOVED or one.is_camera_loss:
            continue
        assert show(one.path) in text
        sides = [(one.path, one.old, one.new)]
        for path, old, new in one.leaves() if one.field_class is FieldClass.NOTE else sides:
            assert _value(path, old) in text
            assert _value(path, new) in text


def _compared(change: Change, found: Any, grouped: Any) -> Compared:
    nothing = cast(Any, None)
    root = FilePath(".")
    return Compared(root, nothing, nothing, change.old, change.new, found, grouped, None)


def test_a_change_to_a_value_that_is_gone_is_written_as_missing() -> None:
    assert _value(("mains_hz",), MISSING) == "missing"
