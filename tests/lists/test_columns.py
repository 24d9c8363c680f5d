"""Each column of a list under each of its names: what its cell gives is kept, or it is refused."""

from typing import Any

import pytest

from jobcheck.sources.lists.bill import read_bill
from jobcheck.sources.lists.columns import (
    BY_MEANING,
    COLUMNS,
    DECISIVE,
    DECLARABLE,
    FITTED,
    NAMING,
)
from jobcheck.sources.lists.options import options_of
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.text import NotUnderstood

CELLS: dict[str, tuple[str, str, Any]] = {
    "reference": ("Q7", "", "Q7"),
    "part": ("res-10k", "part", "res-10k"),
    "x": ("7.5", "x", 7.5),
    "y": ("8.5", "y", 8.5),
    "rotation": ("45", "rotation", 45),
    "side": ("bottom", "side", "bottom"),
    "mirror": ("yes", "side", "bottom"),
    "fitted": ("no", "fitted", False),
    "not_fitted": ("yes", "fitted", False),
    "mount": ("THT", "fitted", False),
    "pin1_x": ("9.5", "pin1_x", 9.5),
    "pin1_y": ("10.5", "pin1_y", 10.5),
    "value": ("10k", "named", "10k"),
    "footprint": ("R0603", "named", "R0603"),
    "maker_number": ("SL-1", "named", "SL-1"),
    "comment": ("10k", "named", "10k"),
    "unsure_x": ("1", "", NotUnderstood),
    "unsure_y": ("1", "", NotUnderstood),
    "quantity": ("3", "", None),
}
"""Meaning -> a cell, the key of a placement that it gives, and the value."""

REST = {"reference": "R1", "x": "1", "y": "2", "rotation": "0"}
NAMES = [(column.meaning, name) for column in COLUMNS for name in column.names]


def test_each_column_has_a_case():
    assert set(CELLS) == set(BY_MEANING)
    assert {m: key for m, (_, key, _) in CELLS.items() if key not in ("", "named")} == {
        column.meaning: column.gives for column in COLUMNS if column.gives
    }


def test_only_the_number_of_pieces_is_recognised_and_not_kept():
    kept = {*DECISIVE, *NAMING, "unsure_x", "unsure_y"}
    assert set(BY_MEANING) - kept == {"quantity"}


def test_a_name_has_one_meaning():
    names = [name for _, name in NAMES]
    assert len(set(names)) == len(names)


def test_each_column_that_must_be_clear_can_be_declared():
    assert set(DECISIVE) <= set(DECLARABLE) <= set(BY_MEANING)


@pytest.mark.parametrize(("meaning", "name"), NAMES)
def test_a_column_of_a_placement_list_is_kept(meaning, name):
    cell, key, value = CELLS[meaning]
    rest = {m: c for m, c in REST.items() if m != meaning and not meaning.endswith(f"unsure_{m}")}
    text = f"{','.join([name, *rest])}\n{','.join([cell, *rest.values()])}\n"
    if value is NotUnderstood:
        with pytest.raises(NotUnderstood):
            read_placement_list(text.encode(), "list.csv", options_of({"units": "mm"}))
        return
    read = read_placement_list(text.encode(), "list.csv", options_of({"units": "mm"}))
    assert read.format.unknown == []
    (reference,) = read.rows
    if key == "named":
        named = read.named[reference]
        assert value in (named.value, named.footprint, named.maker_number)
    elif key:
        assert read.rows[reference][key] == value
    elif meaning == "reference":
        assert reference == value


@pytest.mark.parametrize("column", FITTED, ids=lambda column: column.meaning)
def test_a_bill_keeps_what_is_not_fitted(column):
    text = f"reference,part,{column.names[0]}\nR1,res-10k,{CELLS[column.meaning][0]}\n"
    read = read_bill(text.encode(), "bill.csv", options_of({}))
    assert read.rows == {"R1": {"part": "res-10k", "fitted": False}}
