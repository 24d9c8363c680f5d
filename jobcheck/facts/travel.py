"""Whether a point of the machine lies within the travel of its axes."""

from __future__ import annotations

from jobcheck.schema.machine import Machine
from jobcheck.schema.values import Point
from jobcheck.shop.paths import natural
from jobcheck.wording import number

_ROUNDING_MM = 1e-9


def is_inside(limits: list[float], at: float) -> bool:
    """Tell whether a position lies within the two limits of an axis, mm."""
    return limits[0] - _ROUNDING_MM <= at <= limits[1] + _ROUNDING_MM


def span(limits: list[float]) -> str:
    """Write the two limits of an axis: `-30 to 0`."""
    return f"{number(limits[0])} to {number(limits[1])}"


def beyond_head(machine: Machine, x: float, y: float) -> tuple[str, str] | None:
    """Return the axis that cannot bring the head to a point, mm, and why; None where it can."""
    return _beyond(machine, x, y, "", 0.0, 0.0)


def beyond_spindles(machine: Machine, point: Point) -> tuple[str, str] | None:
    """Return the axis that can bring no spindle to a point, and why; None where one gets there.

    Head position = point - offset_from_camera; without spindles the head itself is taken.
    """
    reasons = []
    for name in sorted(machine.spindles, key=natural):
        offset = machine.spindles[name].offset_from_camera
        found = _beyond(machine, point.x, point.y, name, offset.x, offset.y)
        if found is None:
            return None
        reasons.append(found)
    return reasons[0] if reasons else beyond_head(machine, point.x, point.y)


def _beyond(
    machine: Machine, x: float, y: float, spindle: str, offset_x: float, offset_y: float
) -> tuple[str, str] | None:
    for axis, at, offset in (("x", x, offset_x), ("y", y, offset_y)):
        limits = machine.travel.x if axis == "x" else machine.travel.y
        if not is_inside(limits, at - offset):
            head = f", spindle {spindle} {number(offset)}: head at {number(at - offset)}"
            return axis, f"{axis} {number(at)}{head if spindle else ''}; travel {span(limits)}"
    return None
