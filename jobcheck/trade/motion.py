"""Times of moves and heights along them: mm, degrees, seconds; z up."""

import math


def move_time_s(distance: float, speed: float, acceleration: float) -> float:
    """Time of one move from rest to rest: trapezoid, or triangle where it never cruises.

    Any one unit of length or angle. Raises `ValueError` on a speed or acceleration not above
    0. Source: uniformly accelerated motion; trapezoidal profile, handbooks of motion control.
    """
    if speed <= 0.0 or acceleration <= 0.0:
        raise ValueError("speed and acceleration are above 0")
    length = abs(distance)
    if length >= speed * speed / acceleration:
        return length / speed + speed / acceleration
    return 2.0 * math.sqrt(length / acceleration)


def turn_in_range(turn: float, period: float, limits: tuple[float, float]) -> float | None:
    """The turn nearest to none that a spindle can make, or None where it can make none.

    `period` is the part's symmetry: a turn by that much more or less is as good; all degrees.
    Source: arithmetic.
    """
    least = math.ceil((limits[0] - turn) / period - 1e-9)
    most = math.floor((limits[1] - turn) / period + 1e-9)
    if least > most:
        return None
    return turn + period * min(max(round(-turn / period), least), most)


def place_z(seat_z: float, height_mm: float, press_mm: float = 0.0) -> float:
    """z of the nozzle's lower end when it places a part on a surface. Source: arithmetic."""
    return seat_z + height_mm - press_mm


def camera_z(focal_plane_z: float, height_mm: float) -> float:
    """z of the nozzle's lower end when its part's underside is in focus from below.

    Source: arithmetic.
    """
    return focal_plane_z + height_mm


def clearance_below(tip_z: float, carried_mm: float, top_z: float) -> float:
    """Free height between a carried part and what stands below; below 0 they collide.

    `carried_mm` is the height of the part on the nozzle, `top_z` the top of what is below.
    Source: arithmetic.
    """
    return tip_z - carried_mm - top_z
