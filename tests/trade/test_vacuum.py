"""Masses, grips and thresholds."""

import math

import pytest

from jobcheck.trade.vacuum import (
    friction_radius_mm,
    lifting_force_mn,
    mass_mg,
    pump_reserve_kpa,
    sideways_force_mn,
    thresholds_apart_kpa,
    turning_force_mn,
)


def test_mass_is_volume_times_density():
    assert mass_mg((1.6, 0.8), 0.45) == pytest.approx(0.576 * 6.1)


def test_the_friction_radius_lies_in_the_ring():
    """A thin ring grips at its radius, a full disc at two thirds of it."""
    assert friction_radius_mm((0.9999, 1.0)) == pytest.approx(0.5, abs=1e-4)
    assert friction_radius_mm((0.0, 1.0)) == pytest.approx(1 / 3)
    with pytest.raises(ValueError, match="wider"):
        friction_radius_mm((1.0, 1.0))


def test_turning_in_si_units():
    """14 × 14 mm, 1 g, 7200 degrees/s2, tip 1.0/2.0 mm, friction 0.5, safety 1.5."""
    inertia = 1e-3 * (0.014**2 + 0.014**2) / 12
    radius = 2 / 3 * (1e-3**3 - 0.5e-3**3) / (1e-3**2 - 0.5e-3**2)
    grip = inertia * math.radians(7200) / (0.5 * radius)
    expected = 1.5 * (1e-3 * 9.80665 + grip) * 1000
    assert turning_force_mn(1000, (14, 14), 7200, (1.0, 2.0), 1.5, 0.5) == pytest.approx(expected)


def test_at_rest_only_the_weight_counts():
    weight = lifting_force_mn(100, 0, 1.5)
    assert sideways_force_mn(100, 0, 1.5, 0.5) == weight
    assert turning_force_mn(100, (2, 2), 0, (0.4, 0.7), 1.5, 0.5) == pytest.approx(weight)


@pytest.mark.parametrize(
    ("empty", "held", "pump", "apart", "reserve"),
    [(-30, -45, -60, 15, 15), (-45, -30, -60, -15, 30), (-30, -65, -60, 35, -5)],
)
def test_thresholds(empty, held, pump, apart, reserve):
    assert thresholds_apart_kpa(empty, held) == apart
    assert pump_reserve_kpa(held, pump) == reserve
