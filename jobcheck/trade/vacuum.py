"""Holding by vacuum: forces in mN, masses in mg, gauge pressures in kPa, lengths in mm.

Vacuum is negative. Estimates err to the pessimistic side: heavy parts, weak holding.
"""

import math

GRAVITY_M_S2 = 9.80665
"""Standard gravity. Source: CGPM 1901, ISO 80000-3."""

ATMOSPHERE_KPA = 101.325
"""Standard atmosphere: no vacuum is deeper. Source: ISO 2533, CGPM 1954."""

BLOCK_MG_MM3 = 6.1
"""Density of the heaviest common part, a ceramic capacitor, rounded up; mg/mm3 is g/cm3.

Source: barium titanate 6.02, handbook value from memory.
"""


def holding_force_mn(pressure_kpa: float, bore_mm: float) -> float:
    """Pressure difference times bore area, no safety in it; 0 without vacuum.

    Use the pressure while holding, not the pump's. Source: Schmalz vacuum glossary.
    """
    return max(0.0, -pressure_kpa) * math.pi * bore_mm * bore_mm / 4


def lifting_force_mn(mass_mg: float, acceleration_mm_s2: float, safety: float) -> float:
    """F = m (g + a) S, the force for lifting; S is a factor of safety.

    Source: Schmalz vacuum glossary; the formula, handbooks of vacuum handling from memory.
    """
    return _weight_mn(mass_mg, GRAVITY_M_S2 + acceleration_mm_s2 / 1000) * safety


def sideways_force_mn(
    mass_mg: float, acceleration_mm_s2: float, safety: float, friction: float
) -> float:
    """F = m (g + a / friction) S, the force for moving sideways; the part is held from above.

    Source: as `lifting_force_mn`.
    """
    sideways = acceleration_mm_s2 / 1000 / friction
    return _weight_mn(mass_mg, GRAVITY_M_S2 + sideways) * safety


def turning_force_mn(
    mass_mg: float,
    body_mm: tuple[float, float],
    acceleration_deg_s2: float,
    tip_mm: tuple[float, float],
    safety: float,
    friction: float,
) -> float:
    """F = (m g + I alpha / (friction r)) S, the force for turning; the part is held from above.

    I is a rectangle's about its centre, r the friction radius of the ring between bore and
    outer diameter, `tip_mm`. Raises `ValueError` if the ring has no width.
    Source: a uniform-pressure friction clutch and a rectangle's moment of inertia, handbooks
    of machine design from memory.
    """
    inertia = mass_mg * (body_mm[0] * body_mm[0] + body_mm[1] * body_mm[1]) / 12
    torque = inertia * math.radians(acceleration_deg_s2) * 1e-6
    grip = torque / (friction * friction_radius_mm(tip_mm))
    return (_weight_mn(mass_mg, GRAVITY_M_S2) + grip) * safety


def friction_radius_mm(tip_mm: tuple[float, float]) -> float:
    """Radius at which a ring of even pressure grips; `tip_mm` is bore and outer diameter.

    Raises `ValueError` if the outer diameter is not larger. Source: as `turning_force_mn`.
    """
    inner, outer = tip_mm[0] / 2, tip_mm[1] / 2
    if outer <= inner:
        raise ValueError("a tip is wider than its bore")
    return 2 / 3 * (outer * outer + outer * inner + inner * inner) / (outer + inner)


def mass_mg(body_mm: tuple[float, float], height_mm: float) -> float:
    """Mass of a full block of `BLOCK_MG_MM3`, an estimate upward. Source: arithmetic."""
    return body_mm[0] * body_mm[1] * height_mm * BLOCK_MG_MM3


def thresholds_apart_kpa(empty_kpa: float, held_kpa: float) -> float:
    """How much deeper the held threshold is than the empty one; below 0 they are swapped.

    Source: common practice, no published source.
    """
    return empty_kpa - held_kpa


def pump_reserve_kpa(held_kpa: float, pump_kpa: float) -> float:
    """How much deeper the pump reaches than the held threshold; below 0 it never does.

    Source: common practice, no published source.
    """
    return held_kpa - pump_kpa


def _weight_mn(mass: float, acceleration_m_s2: float) -> float:
    return mass * acceleration_m_s2 * 1e-3
