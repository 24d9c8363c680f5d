"""Bodies on a board as oriented rectangles: overlap, clearance, containment. Lengths are mm."""

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from jobcheck.trade.plane import Point, direction, moved, turned

Box = tuple[float, float, float, float]
"""Left, lower, right, upper: an axis-parallel box."""

_LARGEST = 1e300
"""Larger boxes are searched as if they were so large: a power of four above must exist."""


class Body(NamedTuple):
    """A rectangle: centre, length along its own x, width along its own y, turn in degrees."""

    centre: Point
    length: float
    width: float
    angle: float = 0.0


@lru_cache(maxsize=4096)  # a board has few sizes and angles, each many times
def extent(length: float, width: float, angle: float) -> Point:
    """Width and height of the upright box around a turned rectangle. Source: arithmetic."""
    cosine, sine = direction(angle)
    across, along = abs(cosine), abs(sine)
    return length * across + width * along, length * along + width * across


def box_of(body: Body) -> Box:
    """The upright box around a body. Source: arithmetic."""
    across, along = extent(body.length, body.width, body.angle)
    x, y = body.centre
    return x - across / 2, y - along / 2, x + across / 2, y + along / 2


def corners(body: Body) -> tuple[Point, Point, Point, Point]:
    """The four corners, counter-clockwise from the one at the body's own lower left.

    Source: arithmetic.
    """
    half_length, half_width = body.length / 2, body.width / 2

    def corner(x: float, y: float) -> Point:
        return moved(turned((x, y), body.angle), body.centre)

    return (
        corner(-half_length, -half_width),
        corner(half_length, -half_width),
        corner(half_length, half_width),
        corner(-half_length, half_width),
    )


def gap(a: Body, b: Body) -> float:
    """The clearance between two bodies; below 0 how deep they overlap; 0 where they touch.

    The depth is the shortest move that parts them. Source: separating axis theorem; S.
    Gottschalk, M. C. Lin, D. Manocha, OBBTree, SIGGRAPH 1996, section 5 (from memory).
    """
    apart = max(_separation(a, b), _separation(b, a))
    if apart <= 0.0:
        return apart
    return min(
        min(distance(a, corner) for corner in corners(b)),
        min(distance(b, corner) for corner in corners(a)),
    )


def overlap_depth(a: Body, b: Body) -> float:
    """How deep two bodies overlap, 0 where they do not. Source: as `gap`."""
    return max(0.0, -max(_separation(a, b), _separation(b, a)))


def _separation(a: Body, b: Body) -> float:
    """The larger separation of the two along a's own axes; below 0 they overlap on both."""
    x, y = _seen_from(a, b.centre)
    across, along = extent(b.length, b.width, b.angle - a.angle)
    return max(abs(x) - (a.length + across) / 2, abs(y) - (a.width + along) / 2)


def _seen_from(body: Body, point: Point) -> Point:
    moved_back = point[0] - body.centre[0], point[1] - body.centre[1]
    return turned(moved_back, -body.angle)


def distance(body: Body, point: Point) -> float:
    """From a point to a body, 0 inside it. Source: arithmetic."""
    x, y = _seen_from(body, point)
    return math.hypot(max(abs(x) - body.length / 2, 0.0), max(abs(y) - body.width / 2, 0.0))


def margin_within(inner: Body, outer: Body) -> float:
    """Smallest distance from a body to the edges of one that holds it.

    Below 0 it sticks out by that much. Source: arithmetic.
    """
    x, y = _seen_from(outer, inner.centre)
    across, along = extent(inner.length, inner.width, inner.angle - outer.angle)
    return min((outer.length - across) / 2 - abs(x), (outer.width - along) / 2 - abs(y))


def close_pairs(bodies: Sequence[Body], within: float = 0.0) -> Iterator[tuple[int, int]]:
    """Places (i < j) of bodies whose upright boxes come as near as `within` or nearer.

    Each pair comes once, those of the largest bodies first; what remains is `gap`. The
    work grows with the bodies and the pairs asked for, not with the square of the bodies.
    Source: a grid for each size: C. Ericson, Real-Time Collision Detection, 2005, 7.2 (from
    memory).
    """
    boxes: list[Box] = []
    grids: dict[float, _Grid] = {}
    for index, ((x, y), length, width, angle) in enumerate(bodies):
        across, along, edge = _room(length, width, angle, within)
        boxes.append((x - across, y - along, x + across, y + along))
        if edge not in grids:
            grids[edge] = {}
        grid = grids[edge]
        for cell in _cells(boxes[index], edge):
            if cell in grid:
                grid[cell].append(index)
            else:
                grid[cell] = [index]
    coarser: list[tuple[float, _Grid]] = []
    for edge in sorted(grids, reverse=True):
        yield from _close(_together(grids[edge]), boxes, within)
        for wide, grid in coarser:
            yield from _close(_among(grids[edge], boxes, grid, wide), boxes, within)
        coarser.append((edge, grids[edge]))


_Grid = dict[Point, list[int]]
"""Lower left corner of a cell, in cells -> the boxes that are in it at least in part."""


@lru_cache(maxsize=4096)
def _room(length: float, width: float, angle: float, within: float) -> tuple[float, float, float]:
    """Half the width and height of a body's upright box, `within` around it; the edge of its cells.

    That is the power of four above the box: it is in at most four cells of its own grid, and in
    at most four of every coarser one.
    """
    across, along = extent(length, width, angle)
    size = min(max(across, along) + 2 * within, _LARGEST)
    edge = math.ldexp(1.0, (math.frexp(size)[1] + 1) // 2 * 2)
    return across / 2 + within, along / 2 + within, edge


def _cells(box: Box, edge: float) -> list[Point]:
    left, lower, right, upper = box
    left, lower, right, upper = left // edge, lower // edge, right // edge, upper // edge
    if left == right:
        return [(left, lower)] if lower == upper else [(left, lower), (left, upper)]
    if lower == upper:
        return [(left, lower), (right, lower)]
    return [(left, lower), (left, upper), (right, lower), (right, upper)]


def _together(grid: _Grid) -> Iterator[tuple[int, int]]:
    """Boxes of one size that share a cell."""
    for inside in grid.values():
        if len(inside) > 1:
            yield from combinations(inside, 2)


def _among(
    fine: _Grid, boxes: Sequence[Box], coarse: _Grid, edge: float
) -> Iterator[tuple[int, int]]:
    """Boxes of one size with those of a larger size that share a cell of theirs."""
    for index in sorted({index for inside in fine.values() for index in inside}):
        for cell in _cells(boxes[index], edge):
            for other in coarse.get(cell, ()):
                yield (index, other) if index < other else (other, index)


def _close(
    candidates: Iterable[tuple[int, int]], boxes: Sequence[Box], within: float
) -> Iterator[tuple[int, int]]:
    """Those that come near, each once; a box here has `within` around it, so it counts twice."""
    seen = set()
    for pair in candidates:
        a, b = boxes[pair[0]], boxes[pair[1]]
        if (
            a[0] + within <= b[2]
            and b[0] + within <= a[2]
            and a[1] + within <= b[3]
            and b[1] + within <= a[3]
            and pair not in seen
        ):
            seen.add(pair)
            yield pair
