"""Lists of every shape, many of them damaged: read right, or refused with a reason."""

from random import Random

import pytest

from tests.lists import transform
from tests.lists.transform import Misread, check, run, write


def test_a_slice_of_the_run():
    tally, failures = run(cases=400, seed=7)
    assert failures == []
    assert min(tally["read"], tally["refused"]) > 50


@pytest.mark.long
def test_the_whole_run():
    assert run(cases=60_000, seed=11)[1] == []


def _readable():
    return next(
        written for n in range(100) if not (written := write(Random(n))).doubts and written.truth
    )


@pytest.mark.parametrize("key", ["x", "rotation", "side"])
def test_a_misread_value_is_noticed(key):
    written = _readable()
    row = next(iter(written.truth.values()))
    row[key] = {"x": row["x"] + 0.01, "rotation": row["rotation"] + 180, "side": "inner"}[key]
    with pytest.raises(Misread, match=key):
        check(written)


def test_a_missing_row_is_noticed():
    written = _readable()
    written.truth["Z99"] = {"x": 1.0}
    with pytest.raises(Misread, match="Z99 is missing"):
        check(written)


def test_a_refusal_without_a_doubt_is_noticed():
    written = _readable()
    written.data = b"\n"
    with pytest.raises(Misread, match="refused"):
        check(written)


def test_the_same_number_gives_the_same_list():
    assert transform.write(Random("1/5")).data == transform.write(Random("1/5")).data
