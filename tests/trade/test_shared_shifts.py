"""Shifts that placements share: recovered where planted, not claimed where not."""

from __future__ import annotations

import random

from jobcheck.trade.shared_shifts import ALL, shared_shifts

RUNS = 100


def _bench(seed: int, shift: float, feeders: int = 6) -> tuple[list[float], list[dict[str, str]]]:
    """Simulate 96 placements with noise of 20 um and a few outliers; f3 may be shifted; mm."""
    drawn = random.Random(seed)
    factors = [
        {
            "feeder": f"f{at % feeders}",
            "nozzle": drawn.choice("ab"),
            "rotation": str(drawn.choice((0, 90, 180, 270))),
            "camera": "up",
            "cell": str(drawn.randrange(4)),
        }
        for at in range(96)
    ]
    shifts = [
        drawn.gauss(0, 0.02)
        + (shift if one["feeder"] == "f3" else 0)
        + (0.5 if drawn.random() < 0.03 else 0)
        for one in factors
    ]
    return shifts, factors


def test_a_planted_shift_is_recovered_within_its_interval() -> None:
    held = named = 0
    for seed in range(RUNS):
        found = shared_shifts(*_bench(seed, 0.06))
        mine = [one for one in found if one.causes == ("feeder f3",)]
        named += bool(mine)
        held += any(abs(one.shift - 0.06) <= one.reach for one in mine)
    assert named >= 95
    assert held >= 95


def test_none_is_claimed_where_none_is() -> None:
    assert sum(bool(shared_shifts(*_bench(seed, 0.0))) for seed in range(RUNS)) <= 5


def test_no_other_cause_is_blamed() -> None:
    others = [
        one.causes
        for seed in range(RUNS)
        for one in shared_shifts(*_bench(seed, 0.06))
        if one.causes != ("feeder f3",)
    ]
    assert len(others) <= 5


def test_causes_that_cannot_be_told_apart_are_named_together() -> None:
    shifts, factors = _bench(1, 0.06)
    for one in factors:
        one["nozzle"] = "c" if one["feeder"] == "f3" else "a"
    found = shared_shifts(shifts, factors)
    assert found[0].causes == ("feeder f3", "nozzle c")


def test_what_all_share_is_said_of_all() -> None:
    shifts, factors = _bench(2, 0.0)
    found = shared_shifts([shift + 0.1 for shift in shifts], factors)
    assert ALL in found[0].causes
    assert abs(found[0].shift - 0.1) < 0.02


def test_few_placements_are_not_judged() -> None:
    assert shared_shifts([0.1, 0.1, 0.1], [{"feeder": "f1"}] * 3) == ()
    assert shared_shifts([], []) == ()
