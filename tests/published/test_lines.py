"""Robust lines against scipy's Theil-Sen estimator, and against what pulls a least-squares fit."""

from random import Random

import pytest
from scipy.stats import median_abs_deviation, theilslopes

from jobcheck.trade.lines import robust_line, scatter


@pytest.mark.parametrize("seed", range(20))
def test_slope_is_that_of_scipy(seed):
    draw = Random(seed)
    points = [(float(x), draw.gauss(0.3 * x - 18, 0.05)) for x in range(draw.randint(3, 40))]
    ours = robust_line(points)
    assert ours is not None
    theirs = theilslopes([y for _, y in points], [x for x, _ in points])
    assert ours[0] == pytest.approx(theirs.slope)


@pytest.mark.parametrize("count", [5, 12, 200])
def test_a_few_wrong_heights_do_not_move_the_line(count):
    points = [(16.0 * i, -18 + 0.01 * i) for i in range(count)]
    wrong = {1: 5.0, count - 1: -3.0} if count > 8 else {1: 5.0}
    seen = [(x, y + wrong.get(i, 0.0)) for i, (x, y) in enumerate(points)]
    line = robust_line(seen)
    assert line is not None
    assert line[0] == pytest.approx(0.01 / 16, abs=1e-4)
    assert line[1] == pytest.approx(-18, abs=0.02)


def test_points_above_one_another_have_no_line():
    assert robust_line([(1.0, 2.0), (1.0, 3.0)]) is None
    assert robust_line([(1.0, 2.0)]) is None


def test_scatter_is_the_scaled_median_absolute_deviation_of_scipy():
    residuals = [0.1, -0.2, 0.3, -0.4, 0.5]
    theirs = median_abs_deviation(residuals, center=lambda values, axis: 0.0, scale="normal")
    assert scatter(residuals) == pytest.approx(theirs, rel=1e-4)
