"""Each list of `cases` is read as expected, or refused where and why it is expected to be."""

import pytest

from tests.lists.golden import all_cases, said

ALL = all_cases()
READ = [case for case in ALL if "refused" not in case.expected]
REFUSED = [case for case in ALL if "refused" in case.expected]


def test_there_are_many():
    assert len(READ) >= 40


@pytest.mark.parametrize("case", READ, ids=lambda case: case.name)
def test_a_list_is_read_as_expected(case):
    expected = case.expected
    got = said(case)
    assert got.get("refused") is None
    assert got["rows"] == expected["rows"]
    for key in ("skipped", "fiducials", "repeated", "format"):
        assert got[key] == expected.get(key, {}), key
    if "named" in expected:
        assert got["named"] == expected["named"]


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case.name)
def test_a_list_is_refused_with_its_reason(case):
    expected = case.expected["refused"]
    refused = said(case).get("refused")
    assert refused is not None, "it was read"
    assert expected["says"] in refused["says"]
    assert refused["line"] == expected["line"]


@pytest.mark.parametrize("case", READ, ids=lambda case: case.name)
def test_every_value_has_its_place(case):
    """The bytes at the place of a position hold its digits."""
    read = case.read()
    data = case.file.read_bytes()
    for reference, row in read.rows.items():
        for column in ("reference", "x", "y", "rotation"):
            place = read.cells.place(reference, column)
            text = data[place.start : place.end].decode(read.format.encoding)
            cell = text.strip().strip('"').strip()
            assert (cell if column == "reference" else read.cells.read(column, cell)) == (
                reference if column == "reference" else row[column]
            )
