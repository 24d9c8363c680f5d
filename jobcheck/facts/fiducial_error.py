"""How far off placements are expected to be because fiducials are measured with noise."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import NamedTuple

from jobcheck.facts.frames import LONE, Cell, Frames
from jobcheck.facts.layout import LARGEST_MM, Layout
from jobcheck.schema.job import Panel
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.trade.planar import Kind, line_deviation, position_error, spread
from jobcheck.trade.plane import Point

_IN_LINE = 1e-9


class FiducialSet(NamedTuple):
    """Fiducials by which a board is found, mm, and the outermost cells of the panel.

    A board's own fiducials are in its own frame, with one cell that has no name.
    """

    path: Path
    points: Sequence[Point]
    kind: Kind
    frames: Frames
    cells: Sequence[Cell]

    def error(self, points: Iterable[Point], noise_mm: float) -> float:
        """Return the largest expected error at some points of the board, in any of the cells; mm.

        `noise_mm` is the standard deviation of one measured fiducial along one axis.
        """
        return max(
            position_error(self.points, self._in_cell(point, cell), noise_mm, self.kind)
            for point in points
            for cell in self.cells
        )

    def _in_cell(self, point: Point, cell: Cell) -> Point:
        return self.frames.in_cell(point, cell) if cell is not LONE else point


def fiducial_sets(shop: Shop, name: str) -> Iterator[FiducialSet]:
    """Yield the fiducials by which a board can be found: its own, and those of its panel."""
    job = shop.jobs[name]
    frames = Frames(job)
    described = [("board", job.board.fiducials, [LONE])]
    if job.panel:
        described.append(("panel", job.panel.fiducials, _outer_cells(frames, job.panel)))
    for kind, marks, cells in described:
        points = [(mark.x, mark.y) for mark in marks.values()]
        if len(points) >= 2 and 0 < spread(points) <= LARGEST_MM:
            path = ("jobs", name, kind, "fiducials")
            yield FiducialSet(path, points, _kind(points), frames, cells)


def expected_error(shop: Shop, name: str, layout: Layout, places: Sequence[int]) -> float | None:
    """Return the largest expected error of some placements, by the better fiducials, mm.

    None where the job has fewer than two. The error grows outwards: at the corners of the box
    around all it is the largest.
    """
    noise, corners = shop.limits.fiducial_noise_mm, layout.corners(places)
    return min((found.error(corners, noise) for found in fiducial_sets(shop, name)), default=None)


def _outer_cells(frames: Frames, panel: Panel) -> list[Cell]:
    """Return the cells at the corners of the panel: the error grows outwards."""
    names = [f"{c}-{r}" for c, r in product({1, panel.columns}, {1, panel.rows})]
    return [cell for name in sorted(names) if (cell := frames.cell(name))]


def _kind(points: Sequence[Point]) -> Kind:
    """Return the fit that so many fiducials allow, as `trade.planar.fit` chooses it."""
    if len(points) == 2:
        return "rigid"
    is_line = line_deviation(points) <= _IN_LINE * spread(points)
    return "similarity" if len(points) == 3 or is_line else "affine"
