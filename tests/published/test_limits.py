"""Times and overhangs against J-STD-033 and IPC-A-610F."""

import math

import pytest

from jobcheck.trade.capability import side_overhang_limit_mm
from jobcheck.trade.moisture import floor_life_left_h


@pytest.mark.parametrize(
    ("level", "hours"),
    [
        ("1", math.inf),
        ("2", 365 * 24),
        ("2a", 4 * 7 * 24),
        ("3", 168),
        ("4", 72),
        ("5", 48),
        ("5a", 24),
        ("6", 0),
    ],
)
def test_floor_life(level, hours):
    """J-STD-033 at 30 C and 60 %, as secondary sources quote it."""
    assert floor_life_left_h(level, 0) == hours


@pytest.mark.parametrize(("ipc_class", "limit"), [(1, 0.4), (2, 0.4), (3, 0.2)])
def test_side_overhang(ipc_class, limit):
    """IPC-A-610F 8.3.2.1: 50 %, 50 % and 25 % of the narrower of termination and land."""
    assert side_overhang_limit_mm(0.8, 0.95, ipc_class) == pytest.approx(limit)
    assert side_overhang_limit_mm(0.95, 0.8, ipc_class) == pytest.approx(limit)
