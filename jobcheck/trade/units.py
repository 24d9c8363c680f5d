"""Units that controllers write their numbers in, and exact factors to those of the description.

Factors are those of the SI Brochure (BIPM, 9th edition) and, for the inch, 25.4 mm exactly
(ISO 80000-3); both from memory. Degrees are not put into radians: that factor has no exact inverse.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

MM_PER_UNIT: Mapping[str, float] = {
    "mm": 1.0,
    "mil": 0.0254,
    "inch": 25.4,
    "um": 0.001,
    "cm": 10.0,
}
"""Source: 1 inch = 25.4 mm = 1000 mil, exactly (ISO 80000-3, from memory)."""

_MM = {
    "nm": Fraction(1, 1_000_000),
    "um": Fraction(1, 1000),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "mil": Fraction(254, 10_000),
    "inch": Fraction(254, 10),
}
_S = {"us": Fraction(1, 1_000_000), "ms": Fraction(1, 1000), "s": Fraction(1)}

UNITS: tuple[dict[str, Fraction], ...] = (
    _MM,
    _S,
    {"deg": Fraction(1), "mdeg": Fraction(1, 1000), "turn": Fraction(360)},
    {
        "Pa": Fraction(1, 1000),
        "hPa": Fraction(1, 10),
        "mbar": Fraction(1, 10),
        "kPa": Fraction(1),
        "bar": Fraction(100),
        "MPa": Fraction(1000),
    },
    {"ug": Fraction(1, 1000), "mg": Fraction(1), "g": Fraction(1000)},
    {"percent": Fraction(1), "fraction": Fraction(100), "permille": Fraction(1, 10)},
    {"mHz": Fraction(1, 1000), "Hz": Fraction(1), "kHz": Fraction(1000)},
    {f"{unit}/s": factor for unit, factor in _MM.items()}
    | {f"{unit}/min": factor / 60 for unit, factor in _MM.items()},
    {f"{unit}/s2": factor for unit, factor in _MM.items()},
    {"deg/s": Fraction(1), "turn/s": Fraction(360), "turn/min": Fraction(6)},
    {"deg/s2": Fraction(1), "turn/s2": Fraction(360)},
)
"""Units of one kind of quantity each, with their factors."""


def factor(unit: str, target: str) -> Fraction | None:
    """Return the factor from `unit` to `target`, None if they are not of one kind.

    >>> factor("um", "mm")
    Fraction(1, 1000)
    """
    for units in UNITS:
        if unit in units and target in units:
            return units[unit] / units[target]
    return None


def units_like(target: str) -> tuple[str, ...]:
    """Return the units that can be put into `target`."""
    return next((tuple(units) for units in UNITS if target in units), ())
