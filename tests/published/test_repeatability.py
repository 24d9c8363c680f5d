"""Repeatability and cycles against published values and reference libraries."""

import math
from pathlib import Path

import numpy as np
import pytest
from astropy.timeseries import LombScargle
from scipy import stats

from jobcheck.commands.repeatability import repeatability
from jobcheck.sources.measurements import read_measurements
from jobcheck.trade.cycles import find_cycle, periodogram
from jobcheck.trade.repeatability import Approached, axis_repeatability, pose_repeatability
from jobcheck.trade.series import autocorrelation, deviation, independent_samples, mean

LEW = np.loadtxt(Path(__file__).parent / "lew.csv", skiprows=1)
"""NIST StRD univariate, `Lew`: 200 beam deflections (from the tests of montanaflynn/stats)."""

SAMPLES = np.arange(1.0, 201.0)


def test_pose_repeatability_of_four_points():
    # ISO 9283, clause from memory: mean distance 0.015, S (n-1) 0.0057735, RP 0.0323205
    x, y = np.array([0.01, -0.01, 0, 0]), np.array([0, 0, 0.02, -0.02])
    assert pose_repeatability(x, y).value == pytest.approx(0.0323205, abs=5e-8)


def test_axis_repeatability_follows_its_formula():
    # ISO 230-2, from a secondary source: s up 1, s down 2, B = 3 um; 2 + 4 + 3 > 8
    up, down = np.array([3.0, 4.0, 5.0]), np.array([-1.0, 1.0, 3.0])
    found = axis_repeatability({0.0: Approached(up / 1000, down / 1000)})
    assert found.reversal.value == pytest.approx(0.003)
    assert (found.up, found.down) == pytest.approx((0.004, 0.008))
    assert found.both == pytest.approx(0.009)


def test_an_axis_without_positions_is_refused():
    with pytest.raises(ValueError, match="both sides"):
        axis_repeatability({})


def test_lew_mean_deviation_and_autocorrelation():
    # NIST StRD univariate, Lew: certified values
    assert mean(LEW).value == pytest.approx(-177.435, rel=1e-12)
    assert deviation(LEW).value == pytest.approx(277.332168044316, rel=1e-12)
    assert autocorrelation(LEW)[1] == pytest.approx(-0.307304800605679, rel=1e-9)


def _published_model(time):
    # NIST/SEMATECH e-Handbook 1.4.2.5: C, amplitude, frequency and phase as published
    return -178.786 - 361.766 * np.sin(2 * np.pi * 0.302596 * time + 1.46536)


def test_lew_cycle_is_no_worse_than_the_published_model():
    published = np.sqrt(np.sum((LEW - _published_model(SAMPLES)) ** 2) / (200 - 4))
    assert published == pytest.approx(155.84, abs=0.05)
    cycle = find_cycle(SAMPLES, LEW)
    assert cycle is not None
    assert cycle.is_sure
    assert cycle.left <= published
    # the converged fit: frequency 0.301807, amplitude 343.289, residual 134.066 (computed)
    assert 1 / cycle.period.value == pytest.approx(0.301807, abs=2e-4)
    assert cycle.amplitude.value == pytest.approx(343.289, abs=2)
    assert cycle.left == pytest.approx(134.066, abs=0.5)


def test_a_log_without_times_is_read_and_judged_by_its_order():
    found = repeatability(read_measurements(Path(__file__).parent / "lew.csv", units="mm"))
    assert not found.has_times
    assert found.axes[0].spread.value == pytest.approx(277.332168044316)
    assert found.axes[0].sure_cycle is not None
    assert found.axes[0].sure_cycle.period.value == pytest.approx(1 / 0.301807, rel=1e-3)


@pytest.mark.parametrize("seed", range(5))
def test_periodogram_agrees_with_astropy(seed):
    random = np.random.default_rng(seed)
    time = np.cumsum(random.uniform(5, 15, 150))
    values = random.standard_normal(150) + np.cos(2 * np.pi * time / 77)
    found = periodogram(time, values)
    reference = LombScargle(time, values, fit_mean=True, center_data=True)
    standard = reference.power(found.frequency, normalization="standard", method="slow")
    # half the reduced squares in variances; times are rounded to a grid, hence not exact
    assert np.max(np.abs(found.power - standard * 150 / 2)) < 0.02 * 150 / 2
    peak = int(np.argmax(standard))
    assert abs(int(np.argmax(found.power)) - peak) <= 1


def test_independent_samples_of_a_fading_series():
    # variance of the mean of a first-order autoregression: n (1 - a) / (1 + a)
    random = np.random.default_rng(3)
    values = np.empty(20_000)
    values[0] = 0
    for at in range(1, len(values)):
        values[at] = 0.8 * values[at - 1] + random.standard_normal()
    assert independent_samples(values) == pytest.approx(20_000 * 0.2 / 1.8, rel=0.2)
    assert independent_samples(random.standard_normal(2000)) == pytest.approx(2000, rel=0.15)


def test_interval_of_a_deviation_is_that_of_chi_square():
    # NIST/SEMATECH e-Handbook 7.2.3: s sqrt((n-1) / chi-square), against scipy
    values = np.random.default_rng(4).standard_normal(400)
    found = deviation(values)
    high = found.value * math.sqrt(399 / stats.chi2.ppf(0.025, 399))
    assert found.high == pytest.approx(high, rel=0.02)
    assert found.low < 1 < found.high
