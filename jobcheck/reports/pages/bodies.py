"""Parts as shapes: body, terminals' span and the mark of pin 1, at 0 and seen from above."""

from __future__ import annotations

from typing import NamedTuple

from jobcheck.schema.parts import Outline
from jobcheck.trade.plane import direction
from jobcheck.trade.polarity import PIN1_AT_ZERO

_MARK = 0.42
"""Size of the mark of pin 1 in parts of the shorter side of the body."""


class Glyph(NamedTuple):
    """An outline in the coordinates of a drawing, y down, its centre at 0.

    `pin1` are the corners of a filled triangle at the side or corner of pin 1; empty where pin 1
    is unknown or means nothing. `is_open` says that it would matter, but is unknown.
    """

    id: str
    length: float
    width: float
    span_length: float
    span_width: float
    pin1: str
    is_open: bool


def glyph(outline: Outline, name: str = "", scale: float = 1.0, largest: float = 1000.0) -> Glyph:
    """Return the shape of an outline; `scale` is in units of the drawing each mm.

    The mark of pin 1 is at most `largest` units.
    """
    length, width = (scale * side for side in outline.body_mm)
    across, along = (scale * side for side in outline.size_mm)
    return Glyph(
        name,
        round(length, 3),
        round(width, 3),
        round(across, 3),
        round(along, 3),
        _pin1(outline.pin1_at_zero, length, width, largest),
        outline.polarised and outline.pin1_at_zero is None,
    )


def _pin1(at_zero: str | None, length: float, width: float, largest: float) -> str:
    """Return a triangle: it fills a corner, or is on a side and points inward."""
    if at_zero is None:
        return ""
    x, y = (round(value) for value in direction(PIN1_AT_ZERO[at_zero]))
    edge = (x * length / 2, y * width / 2)
    size = min(largest, _MARK * min(length, width))
    if x and y:
        corners = [edge, (edge[0] - x * size, edge[1]), (edge[0], edge[1] - y * size)]
    else:
        half = size * 0.75
        corners = [
            (edge[0] + y * half, edge[1] + x * half),
            (edge[0] - y * half, edge[1] - x * half),
            (edge[0] - x * size, edge[1] - y * size),
        ]
    return " ".join(f"{a:.3f},{-b:.3f}" for a, b in corners)
