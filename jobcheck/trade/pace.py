"""How long a panel takes: from distances, moves and waits; seconds and mm."""

import math
from collections.abc import Iterable
from typing import NamedTuple

from jobcheck.trade.motion import move_time_s
from jobcheck.trade.plane import Point


class Cloud(NamedTuple):
    """Points by their number, their centre and their mean square distance from it, mm²."""

    number: int
    centre: Point
    variance: float


class Axis(NamedTuple):
    """Speed and acceleration of an axis: mm or degrees, per s and s²."""

    speed: float
    acceleration: float

    def time_s(self, distance: float) -> float:
        """Time of one move from rest to rest. Source: as `move_time_s`."""
        return move_time_s(distance, self.speed, self.acceleration)


def cloud(points: Iterable[Point]) -> Cloud:
    """Gather points; without any the number is 0. Source: arithmetic."""
    number, sum_x, sum_y, squares = 0, 0.0, 0.0, 0.0
    for x, y in points:
        number += 1
        sum_x += x
        sum_y += y
        squares += x * x + y * y
    if not number:
        return Cloud(0, (0.0, 0.0), 0.0)
    centre = sum_x / number, sum_y / number
    of_centre = centre[0] * centre[0] + centre[1] * centre[1]
    return Cloud(number, centre, max(0.0, squares / number - of_centre))


def root_mean_square_distance(point: Point, to: Cloud) -> float:
    """Root of the mean square distance from a point to the points of a cloud, mm.

    No less than the mean distance, so a time computed from it errs to the long side: the time of a
    move grows less than its length (Jensen's inequality). Source: parallel axis theorem.
    """
    return math.hypot(point[0] - to.centre[0], point[1] - to.centre[1], math.sqrt(to.variance))
