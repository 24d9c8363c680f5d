"""All rows at once and row by row: the same reading."""

from random import Random

import pytest

from jobcheck.sources.lists import placement_list
from jobcheck.text import NotUnderstood
from tests.lists.golden import all_cases
from tests.lists.transform import write


def _reading(read):
    try:
        result = read()
    except NotUnderstood as error:
        return error.fault
    return result.rows, result.cells.rows, result.named, result.fiducials, result.repeated


def _both(monkeypatch, read):
    fast = _reading(read)
    monkeypatch.setattr(placement_list._Reader, "regular", lambda self: None)
    slow = _reading(read)
    monkeypatch.undo()
    return fast, slow


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.name)
def test_each_case(case, monkeypatch):
    fast, slow = _both(monkeypatch, case.read)
    assert fast == slow


def test_lists_of_every_shape(monkeypatch):
    for number in range(150):
        written = write(Random(number))
        fast, slow = _both(
            monkeypatch,
            lambda w=written: placement_list.read_placement_list(w.data, "list", w.options),
        )
        assert fast == slow, written.data
