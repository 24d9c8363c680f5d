"""How far a chip may shift, and what is left of open parts and paste."""

import pytest

from jobcheck.trade.bodies import Body, box_of
from jobcheck.trade.capability import (
    side_overhang_limit_mm,
    side_shift_limit_mm,
)
from jobcheck.trade.moisture import floor_life_left_h


@pytest.mark.parametrize(("termination", "land"), [(0.8, 0.95), (0.95, 0.8), (0.8, 0.8)])
def test_at_the_allowed_shift_the_overhang_is_at_its_limit(termination, land):
    shift = side_shift_limit_mm(termination, land)
    overhang = box_of(Body((shift, 0), termination, 1))[2] - land / 2
    assert overhang == pytest.approx(side_overhang_limit_mm(termination, land))


def test_shifts_are_not_below_nothing():
    assert side_shift_limit_mm(2.0, 0.5, 3) == 0


def test_an_unknown_class_or_level_is_refused():
    with pytest.raises(KeyError):
        side_overhang_limit_mm(0.8, 0.8, 4)
    with pytest.raises(KeyError):
        floor_life_left_h("7", 0)


def test_what_is_left():
    assert floor_life_left_h("5A", 30) == -6
