"""Marks by hand: what each count allows, and what cannot be told."""

import math

import pytest

from jobcheck.trade.planar import (
    distance_error,
    fit,
    fit_affine,
    fit_rigid,
    half_turn_mismatch,
    is_mirrored,
    line_deviation,
    position_error,
    spread,
)
from jobcheck.trade.plane import turned

CORNERS = [(5.0, 5.0), (55.0, 5.0), (55.0, 35.0), (5.0, 35.0)]
IN_LINE = [(0.0, 0.0), (10.0, 10.0), (20.0, 20.0), (40.0, 40.0)]


@pytest.mark.parametrize(
    ("marks", "kind"),
    [(CORNERS[:2], "rigid"), (CORNERS[:3], "similarity"), (CORNERS, "affine"),
     (IN_LINE, "similarity")],
)  # fmt: skip
def test_the_ladder(marks, kind):
    assert fit(marks, marks).kind == kind


def test_two_marks_tell_one_distance_error():
    nominal, measured = [(0.0, 0.0), (50.0, 0.0)], [(100.0, 10.0), (100.0, 60.1)]
    found = fit(nominal, measured)
    assert distance_error(nominal, measured) == pytest.approx(0.1)
    assert found.rotation == pytest.approx(90)
    assert found.scale_x == pytest.approx(1)
    assert found.worst_mm == pytest.approx(0.05)
    assert found.at((25, 0)) == pytest.approx((100, 35.05))


def test_scale_shear_and_rotation_of_an_affine_fit():
    lean = math.tan(math.radians(0.5))
    measured = [turned((1.01 * x + lean * y, 0.99 * y), 30) for x, y in CORNERS]
    found = fit(CORNERS, measured)
    assert (found.rotation, found.scale_x, found.scale_y) == pytest.approx((30, 1.01, 0.99))
    assert found.shear == pytest.approx(math.degrees(math.atan(lean / 0.99)))
    assert found.worst_mm == pytest.approx(0, abs=1e-9)


def test_mirrored_marks():
    mirrored = [turned((-x, y), 20) for x, y in CORNERS]
    assert is_mirrored(CORNERS, mirrored) is True
    assert is_mirrored(CORNERS, CORNERS) is False
    assert is_mirrored(CORNERS[:2], mirrored[:2]) is None
    assert is_mirrored(IN_LINE, [(-x, y) for x, y in IN_LINE]) is None
    assert fit_affine(CORNERS, mirrored).scale_y == pytest.approx(-1)


@pytest.mark.parametrize(
    ("marks", "mismatch"),
    [
        (CORNERS, 0),
        ([CORNERS[0], CORNERS[2]], 0),
        ([CORNERS[0], (55.0, 33.0)], 2),
        (CORNERS[:3], 30),
        ([], math.inf),
    ],
)
def test_half_turn(marks, mismatch):
    assert half_turn_mismatch(marks, (30, 20)) == pytest.approx(mismatch)


def test_spread_and_line():
    assert spread(CORNERS) == pytest.approx(math.hypot(50, 30))
    assert spread(CORNERS[:1]) == 0
    assert line_deviation(IN_LINE) == pytest.approx(0, abs=1e-9)
    assert line_deviation([(0, 0), (10, 0), (5, 3)]) == pytest.approx(2)
    assert line_deviation([(0, 0), (0, 10), (3, 5)]) == pytest.approx(2)
    slanted = [turned(mark, 30) for mark in [(0, 0), (10, 0), (5, 3)]]
    assert line_deviation(slanted) == pytest.approx(2)


def test_noise_grows_away_from_the_marks():
    middle, corner = (30.0, 5.0), (200.0, 5.0)
    assert position_error(CORNERS[:2], middle, 0.01) == pytest.approx(0.01)
    assert position_error(CORNERS[:2], corner, 0.01) > 0.03


@pytest.mark.parametrize("marks", [[], [(1.0, 1.0)], [(1.0, 1.0), (1.0, 1.0)]])
def test_too_few_marks_are_refused(marks):
    with pytest.raises(ValueError, match="two fiducials"):
        fit_rigid(marks, marks)


def test_marks_that_fix_nothing_are_refused():
    with pytest.raises(ValueError, match="one line"):
        fit_affine(IN_LINE, IN_LINE)
    with pytest.raises(ValueError, match="one line"):
        position_error(IN_LINE, (0, 0), 0.01, "affine")
    with pytest.raises(ValueError, match="2 nominal fiducials, 3 measured"):
        fit(CORNERS[:2], CORNERS[:3])
    with pytest.raises(ValueError, match="no direction"):
        fit_rigid(CORNERS[:2], [(1.0, 1.0), (1.0, 1.0)])
