"""Times of moves and heights along them: mm, degrees, seconds; z up."""

import math


def move_time_s(distance: float, speed: float, acceleration: float) -> float:
    """Time of one move from rest to rest: a trapezoid, or a triangle if it never cruises.

    Any one unit of length or angle. Raises `ValueError` on a speed or acceleration not above
    0. Source: uniformly accelerated motion; trapezoidal profile, handbooks of motion control.
    """
    if speed <= 0.0 or acceleration <= 0.0:
        raise ValueError("speed and acceleration are above 0")
    length = abs(distance)
    if length >= speed * speed / acceleration:
        return length / speed + speed / acceleration
    return 2.0 * math.sqrt(length / acceleration)


def clearance_below(tip_z: float, carried_mm: float, top_z: float) -> float:
    """Free height between a carried part and a thing below it; below 0 they collide.

    `carried_mm` is the height of the part on the nozzle, `top_z` the top of the thing.
    Source: arithmetic.
    """
    return tip_z - carried_mm - top_z
