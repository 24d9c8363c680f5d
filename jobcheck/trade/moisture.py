"""How long parts and paste may be exposed to air: hours."""

import math
from collections.abc import Mapping
from types import MappingProxyType

FLOOR_LIFE_H: Mapping[str, float] = MappingProxyType(
    {
        "1": math.inf,
        "2": 8760.0,
        "2a": 672.0,
        "3": 168.0,
        "4": 72.0,
        "5": 48.0,
        "5a": 24.0,
        "6": 0.0,
    }
)
"""Floor life by moisture level, at 30 C and 60 %; level 6 is baked before each use.

Source: J-STD-033, as secondary sources quote it; level 1, unlimited, from memory.
"""


def floor_life_left_h(level: str, open_h: float) -> float:
    """Floor life left after hours out of the bag; below 0 it is over.

    Raises `KeyError` on an unknown level. Source: J-STD-033, as `FLOOR_LIFE_H`.
    """
    return FLOOR_LIFE_H[level.lower()] - open_h
