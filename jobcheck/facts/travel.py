"""Whether a point of the machine is inside the travel of its axes."""

from __future__ import annotations

from jobcheck.schema.machine import Machine, Obstacle
from jobcheck.shop.paths import natural
from jobcheck.wording import number

_ROUNDING_MM = 1e-9


def is_inside(limits: list[float], at: float) -> bool:
    """Return whether a position is between the two limits of an axis, mm."""
    return limits[0] - _ROUNDING_MM <= at <= limits[1] + _ROUNDING_MM


def span(limits: list[float]) -> str:
    """Write the two limits of an axis: `-30 to 0`."""
    return f"{number(limits[0])} to {number(limits[1])}"


def beyond_head(machine: Machine, x: float, y: float) -> tuple[str, str] | None:
    """Return the axis that cannot move the head to a point, mm, and why; None if both can."""
    return _beyond(machine, x, y, "", 0.0, 0.0)


def beyond_spindles(machine: Machine, x: float, y: float) -> tuple[str, str] | None:
    """Return the axis that can move no spindle to a point, and why; None if one reaches it.

    Head position = point - offset_from_camera; without spindles it is the head's own position.
    """
    reasons = []
    for name in sorted(machine.spindles, key=natural):
        offset = machine.spindles[name].offset_from_camera
        found = _beyond(machine, x, y, name, offset.x, offset.y)
        if found is None:
            return None
        reasons.append(found)
    return reasons[0] if reasons else beyond_head(machine, x, y)


def _beyond(
    machine: Machine, x: float, y: float, spindle: str, offset_x: float, offset_y: float
) -> tuple[str, str] | None:
    for axis, at, offset in (("x", x, offset_x), ("y", y, offset_y)):
        limits = machine.travel.x if axis == "x" else machine.travel.y
        if not is_inside(limits, at - offset):
            head = f", spindle {spindle} {number(offset)}: head at {number(at - offset)}"
            return axis, f"{axis} {number(at)}{head if spindle else ''}; travel {span(limits)}"
    return None


def reached(machine: Machine, axis: str) -> list[float]:
    """Return the least and greatest place that head and spindles reach along an axis, mm."""
    limits = machine.travel.x if axis == "x" else machine.travel.y
    offsets = [0.0]
    for spindle in machine.spindles.values():
        offset = spindle.offset_from_camera
        offsets.append(offset.x if axis == "x" else offset.y)
    return [limits[0] + min(offsets), limits[1] + max(offsets)]


def obstacle_beyond(machine: Machine, obstacle: Obstacle) -> str | None:
    """Return the axis along which neither head nor spindles reach an obstacle, else None."""
    for axis, extent in (("x", obstacle.x), ("y", obstacle.y)):
        low, high = reached(machine, axis)
        if extent[0] > high or extent[1] < low:
            return axis
    return None
