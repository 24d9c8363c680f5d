"""Holding forces against the Schmalz vacuum glossary's formula and scipy's constants."""

import pytest
from scipy import constants

from jobcheck.schema.limits import Limits
from jobcheck.trade.vacuum import (
    GRAVITY_M_S2,
    holding_force_mn,
    lifting_force_mn,
    sideways_force_mn,
)


@pytest.mark.parametrize(
    ("pressure", "bore", "force"),
    [
        (-60, 0.4, 7.54),
        (-60, 0.5, 11.8),
        (-60, 0.7, 23.1),
        (-60, 1.0, 47.1),
        (-42, 0.4, 5.28),
        (0, 0.4, 0),
        (5, 0.4, 0),
    ],
)
def test_pressure_times_area(pressure, bore, force):
    """F = pressure difference × bore area (Schmalz vacuum glossary), computed."""
    assert holding_force_mn(pressure, bore) == pytest.approx(force, rel=0.004)


def test_constants():
    """Gravity: CODATA by scipy.constants. Safety and friction: Schmalz vacuum glossary."""
    assert constants.g == GRAVITY_M_S2
    limits = Limits()
    assert (limits.holding_safety, limits.holding_friction) == (2.0, 0.5)


def test_forces_in_si_units():
    """The handbook formulas in kg, m and N, for a part of 250 mg at 2 m/s2."""
    mass, acceleration = 250e-6, 2.0
    lift = mass * (constants.g + acceleration) * 1.5
    sideways = mass * (constants.g + acceleration / 0.5) * 1.5
    assert lifting_force_mn(250, 2000, 1.5) == pytest.approx(lift * 1000)
    assert sideways_force_mn(250, 2000, 1.5, 0.5) == pytest.approx(sideways * 1000)
