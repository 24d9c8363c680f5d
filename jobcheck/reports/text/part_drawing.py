"""A part in a few characters: where pin 1 is before and after the spindle has turned it."""

from __future__ import annotations

from jobcheck.trade.plane import direction, wrap

_SIDE = 9


def turned_part(before: float | None, after: float) -> list[str]:
    """Draw a part as picked and as placed, seen from above in the machine, `1` at pin 1.

    Directions are degrees, counter-clockwise from the right; a pin between two sides and corners
    is drawn at the nearest. Without `before` only the placed part is drawn.
    """
    drawn = _box(after)
    if before is None:
        return [f"{'placed':^{_SIDE}}".rstrip(), *drawn]
    arrow = ["    ", "    ", " -> ", "    ", "    "]
    rows = [a + between + b for a, between, b in zip(_box(before), arrow, drawn, strict=True)]
    return [f"{'picked':^{_SIDE}}    {'placed':^{_SIDE}}".rstrip(), *rows]


def _box(faces: float) -> list[str]:
    """Return a box of five lines with `1` inside, at the side or corner that pin 1 faces."""
    x, y = direction(round(wrap(faces) / 45) * 45)
    column, row = (1 + (value > 0.1) - (value < -0.1) for value in (x, -y))
    inside = [[" "] * 3 for _ in range(3)]
    inside[row][column] = "1"
    edge = f"+{'-' * (_SIDE - 2)}+"
    return [edge, *(f"|{'  '.join(cells)}|" for cells in inside), edge]
