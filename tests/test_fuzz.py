"""A slice of the fuzzing run, and that its checks can fail."""

import pathlib
import time

import pytest

from jobcheck.shop.places import Place
from tests import fuzz, fuzz_writing


def test_a_slice_of_mutated_shops():
    tally = fuzz.run(cases=400, seed=1)
    assert tally.failures == []
    assert len(tally.said) > 5, "the damage no longer gets past the parser"


@pytest.mark.long
def test_many_mutated_shops():
    assert fuzz.run(cases=100_000, seed=2).failures == []


@pytest.mark.parametrize("cases", [10, pytest.param(2_000, marks=pytest.mark.long)])
def test_what_is_written_on_changed_input_is_true(cases):
    wrote, failures = fuzz_writing.run(cases, seed=1)
    assert failures == []
    assert all(wrote[way.__name__] > cases / 4 for way in fuzz_writing.WAYS), wrote


def test_a_command_that_writes_what_it_should_not_is_noticed(monkeypatch):
    def careless(argv, out, err):
        shop = pathlib.Path(argv[argv.index("--shop") + 1])
        (shop / "feeders.yaml").write_text("")
        return 0

    monkeypatch.setattr(fuzz_writing, "jobcheck", careless)
    _, failures = fuzz_writing.run(1, seed=1)
    assert len(failures) == len(fuzz_writing.WAYS)


def test_a_case_is_the_same_by_its_number():
    assert fuzz.case(3, 14) == fuzz.case(3, 14)
    assert fuzz.case(3, 14) != fuzz.case(3, 15)


@pytest.mark.parametrize(
    "place",
    [
        Place("gone.yaml", 2, 1, 5, 6),
        Place("a.yaml", 1, 1, 3, 99),
        Place("a.yaml", 1, 1, 4, 3),
        Place("a.yaml", 0, 1, 0, 1),
        Place("a.yaml", 1, 1, 7, 8),
    ],
)
def test_a_false_place_is_noticed(place):
    with pytest.raises(fuzz.Failed):
        fuzz._check_place(place, {"a.yaml": b"a: 1\r\nb: 2\r\n"}, "some-rule")


def test_a_true_place_is_accepted():
    fuzz._check_place(Place("a.yaml", 2, 1, 6, 7), {"a.yaml": b"a: 1\r\nb: 2\r\n"}, "some-rule")


def test_a_case_without_an_end_is_noticed(monkeypatch):
    def compute(good, files, thorough):
        end = time.process_time() + 2
        while time.process_time() < end:
            pass

    monkeypatch.setattr(fuzz, "BOUND_S", 0.05)
    monkeypatch.setattr(fuzz, "check", compute)
    assert "TimeoutError" in fuzz.run(cases=1, seed=1).failures[0]


def test_a_traceback_is_noticed(monkeypatch):
    def stumble(good, files, thorough):
        raise KeyError("nothing")

    monkeypatch.setattr(fuzz, "check", stumble)
    assert "case 0: KeyError" in fuzz.run(cases=1, seed=1).failures[0]
