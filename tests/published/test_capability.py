"""Capability against published values, and error budgets against drawn errors."""

import numpy as np
import pytest
from scipy import stats

from jobcheck.trade.capability import Share, capability, process_capability, side_overhang_limit_mm


def test_handbook_example():
    # NIST/SEMATECH e-Handbook 6.1.6 (page from memory): USL 20, LSL 8, mean 16, s 2
    assert process_capability(20, 8, 16, 2) == pytest.approx(0.6667, abs=1e-4)
    # the same as a budget: +-6 allowed, a bias of 2, a deviation of 2
    assert capability(6, [Share("bias", 2, True), Share("noise", 2)]) == pytest.approx(2 / 3)


@pytest.mark.parametrize(("cpk", "per_million"), [(1.0, 2699.8), (4 / 3, 63.34), (5 / 3, 0.573)])
def test_defects_of_a_centred_process(cpk, per_million):
    # two-sided normal defects (computed; scipy agrees)
    sigma = 1 / 3 / cpk
    assert 2e6 * stats.norm.sf(1, scale=sigma) == pytest.approx(per_million, rel=1e-3)
    assert capability(1, [Share("noise", sigma)]) == pytest.approx(cpk)


def test_deviations_add_as_drawn_errors_do():
    random = np.random.default_rng(1)
    shares = [Share("a", 0.03), Share("b", 0.04), Share("c", 0.01, True)]
    drawn = 0.03 * random.standard_normal(200_000) + 0.04 * random.standard_normal(200_000) + 0.01
    by_drawing = process_capability(0.2, -0.2, float(drawn.mean()), float(drawn.std()))
    assert capability(0.2, shares) == pytest.approx(by_drawing, rel=0.01)


def test_a_sine_drifts_as_its_peak_to_peak_says():
    # the deviation of a sine is its peak to peak by twice the root of two
    at = np.linspace(0, 200 * np.pi, 1_000_001)
    assert np.std(0.1 * np.sin(at)) == pytest.approx(0.2 / (2 * np.sqrt(2)), rel=1e-4)


@pytest.mark.parametrize(
    ("termination", "ipc_class", "share"),
    [("chip", 2, 0.5), ("chip", 3, 0.25), ("gull-wing", 2, 0.5), ("leadless", 2, 0.25)],
)
def test_side_overhang_by_termination(termination, ipc_class, share):
    # IPC-A-610F 8.3.2.1 for chips; the other terminations from memory
    assert side_overhang_limit_mm(0.4, 0.5, ipc_class, termination) == pytest.approx(share * 0.4)


def test_no_error_at_all_is_capable_of_anything():
    assert capability(0.1, []) == float("inf")
    assert capability(0.1, [Share("bias", 0.2, True)]) == float("-inf")
