"""Points and turns in the plane: mm, degrees, counter-clockwise positive."""

import math
from functools import lru_cache

Point = tuple[float, float]
"""x and y in mm."""

_QUARTER_TURNS: dict[float, Point] = {
    0.0: (1.0, 0.0),
    90.0: (0.0, 1.0),
    180.0: (-1.0, 0.0),
    -90.0: (0.0, -1.0),
}


def wrap(angle: float) -> float:
    """The same direction within (-180, 180] degrees.

    Raises `ValueError` where the angle is not a finite number.
    Source: arithmetic (IEEE 754 remainder, which is exact).
    """
    turned_back = math.remainder(angle, 360.0)
    return 180.0 if turned_back == -180.0 else turned_back + 0.0


@lru_cache(maxsize=4096)  # few angles are asked for, each many times
def direction(angle: float) -> Point:
    """The unit vector at an angle in degrees; exact at quarter turns. Source: arithmetic."""
    wrapped = wrap(angle)
    exact = _QUARTER_TURNS.get(wrapped)
    if exact is not None:
        return exact
    radians = math.radians(wrapped)
    return math.cos(radians), math.sin(radians)


def turned(point: Point, angle: float) -> Point:
    """A point turned about the origin by degrees, counter-clockwise. Source: arithmetic."""
    cosine, sine = direction(angle)
    x, y = point
    return x * cosine - y * sine, x * sine + y * cosine


def moved(point: Point, by: Point) -> Point:
    """A point moved by a vector, both in mm. Source: arithmetic."""
    return point[0] + by[0], point[1] + by[1]
