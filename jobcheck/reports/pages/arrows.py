"""Arrows: toward pin 1, around a turn, from one place to another; y down, angles from the right."""

from __future__ import annotations

from math import atan2, degrees
from typing import Any

from jobcheck.trade.plane import Point, direction


def _head(tip: Point, heading: float, size: float) -> str:
    """Return the barbs of an arrow that ends at a point of the drawing, y down."""
    barbs = (direction(heading + bend) for bend in (150, -150))
    at = f"M{tip[0]:.2f} {tip[1]:.2f}"
    return "".join(f"{at}l{size * x:.2f} {-size * y:.2f}" for x, y in barbs)


def pointer(faces: float | None, reach: float) -> dict[str, Any] | None:
    """Return a short arrow outside a part at 0, toward which pin 1 faces; None is unknown."""
    if faces is None:
        return None
    x, y = direction(faces)
    tip, start, far = (reach * x, -reach * y), 0.78 * reach, reach + 14
    path = f"M{start * x:.2f} {-start * y:.2f}L{tip[0]:.2f} {tip[1]:.2f}{_head(tip, faces, 7)}"
    return {"path": path, "x": round(far * x, 2), "y": round(-far * y + 4, 2)}


def arc(
    start: float, turn: float, radius: float, centre: Point = (0.0, 0.0), head: float = 8
) -> str:
    """Return an arrow from a direction by a turn within (-180, 180], degrees counter-clockwise."""
    if turn == 0:
        return ""
    (x, y), (u, v) = direction(start), direction(start + turn)
    tip = centre[0] + radius * u, centre[1] - radius * v
    sweep = 0 if turn > 0 else 1
    path = f"M{centre[0] + radius * x:.2f} {centre[1] - radius * y:.2f}"
    path += f"A{radius:g} {radius:g} 0 0 {sweep} {tip[0]:.2f} {tip[1]:.2f}"
    return path + _head(tip, start + turn + (90 if turn > 0 else -90), head)


def straight(start: Point, end: Point, head: float) -> str:
    """Return an arrow from one point of a drawing to another, y down."""
    heading = degrees(atan2(start[1] - end[1], end[0] - start[0]))
    path = f"M{start[0]:.2f} {start[1]:.2f}L{end[0]:.2f} {end[1]:.2f}"
    return path + _head(end, heading, head)
