"""The frames of a job, one chain: list -> board -> cell in the panel -> seat -> measured marks.

Points of a list and the names of cells are seen from the top, whatever side is built; where a list
counts the bottom's positions another way, `through_top` converts them first. Fiducials and holes of
board and panel are seen from the side being placed. For the bottom the panel is turned over left
to right. All points are mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.schema.job import Bottom, Job, Placement, Side
from jobcheck.schema.parts import Outline
from jobcheck.trade.planar import Fit, distance_error, fit, is_mirrored
from jobcheck.trade.plane import Point, moved
from jobcheck.trade.polarity import (
    board_angle,
    cell_origin,
    in_machine,
    list_to_outline,
    on_panel,
    target_attitude,
    through_top,
    turned_over,
)

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop


class Pose(NamedTuple):
    """Where a part is in one frame, mm, and its turn: degrees in (-180, 180], None unknown."""

    x: float
    y: float
    angle: float | None

    @property
    def point(self) -> Point:
        """Its position."""
        return self.x, self.y


class Cell(NamedTuple):
    """One board of a panel: its name, its lower left corner seen from the top, its turn."""

    name: str
    corner: Point
    is_half_turned: bool = False
    is_skipped: bool = False

    @property
    def turn(self) -> float:
        """c of the polarity chain, 0 or 180 degrees."""
        return 180.0 if self.is_half_turned else 0.0


_LARGEST_MM = 1e9
"""A fit that moves a point further than this comes from numbers that are not positions."""

LONE = Cell("", (0.0, 0.0))
"""The cell of a board that is in no panel; it has no name."""


def frames_of(shop: Shop, job: str, side: Side | None = None) -> Frames:
    """Return the frames of one job of a shop, as if it built `side` where that is given."""
    is_declared = any(outline.zero is not None for outline in shop.outlines.values())
    described = shop.jobs[job]
    if side is not None and side != described.side:
        described = described.model_copy(update={"side": side})
    return Frames(described, is_a_level_declared=is_declared)


def listed_x(job: Job, x: float) -> float:
    """Return x of a part on the bottom, as listed, seen through the top, mm."""
    listing = job.placements
    origin = listing.origin_mm[0] if listing.file else 0.0
    return through_top(x, job.board.size_mm[0], origin, listing.bottom_positions)


class FoundMarks(NamedTuple):
    """What the measured marks of a seat say; `fit` is None where they fix nothing.

    `unknown` are measured names that no described mark has. `distance_error_mm` is given for two
    marks, where no residual is left. `is_mirrored` is None where both readings fit; marks that
    were found mirrored are not used.
    """

    names: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    fit: Fit | None = None
    distance_error_mm: float | None = None
    is_mirrored: bool | None = None

    @property
    def turn(self) -> float:
        """d of the polarity chain, degrees; 0 where nothing was found."""
        return self.fit.rotation if self.fit else 0.0

    def at(self, point: Point) -> Point:
        """Where a point of the machine is by the marks; where it was, without a fit."""
        return self.fit.at(point) if self.fit else point


class Frames:
    """The frames of one job; parts independent of the placement are computed once."""

    def __init__(self, job: Job, *, is_a_level_declared: bool = True) -> None:
        """Take a job, and whether its list or any outline declares a zero level.

        Only where none does is a missing level no gap: all are taken as drawn alike.
        """
        self.job = job
        self._is_a_level_declared = is_a_level_declared or job.placements.zero is not None
        self._seat: Point = (job.seat.x, job.seat.y)
        self._board: Point = (job.board.size_mm[0], job.board.size_mm[1])

    @property
    def is_bottom(self) -> bool:
        """Whether the panel is turned over."""
        return self.job.side == "bottom"

    @cached_property
    def panel_size(self) -> Point:
        """Width and height of what is on the seat, mm: board or panel.

        If the panel does not say, the last one has the same margins right and above as the first
        cell has left and below.
        """
        panel = self.job.panel
        if panel is None:
            return self._board
        if panel.size_mm is not None:
            return panel.size_mm[0], panel.size_mm[1]
        last = cell_origin(panel.columns - 1, panel.rows - 1, _pair(panel.pitch_mm))
        rails = _pair(panel.origin_mm)
        return (
            last[0] + self._board[0] + 2 * rails[0],
            last[1] + self._board[1] + 2 * rails[1],
        )

    # cells

    def cells(self) -> Iterator[Cell]:
        """Yield the cells row by row, skipped ones among them; one without a name for a board."""
        panel = self.job.panel
        if panel is None:
            yield LONE
            return
        for row in range(1, panel.rows + 1):
            for column in range(1, panel.columns + 1):
                yield self._cell(column, row)

    def cell(self, name: str) -> Cell | None:
        """Return a cell by its name, `column-row`; None where the panel has no such cell."""
        panel = self.job.panel
        if panel is None or not panel.has_cell(name):
            return None
        column, row = name.split("-")
        return self._cell(int(column), int(row))

    def first_cell(self) -> Cell:
        """Return the first cell that is built; the first of all where none is."""
        built = (cell for cell in self.cells() if not cell.is_skipped)
        return next(built, None) or next(self.cells())

    def _cell(self, column: int, row: int) -> Cell:
        panel = self.job.panel
        assert panel is not None
        name = f"{column}-{row}"
        corner = cell_origin(column - 1, row - 1, _pair(panel.pitch_mm))
        return Cell(
            name,
            moved(corner, _pair(panel.origin_mm)),
            name in self._half_turned,
            name in self._skipped,
        )

    @cached_property
    def _half_turned(self) -> frozenset[str]:
        return frozenset(self.job.panel.half_turned) if self.job.panel else frozenset()

    @cached_property
    def _skipped(self) -> frozenset[str]:
        return frozenset(self.job.panel.skip) if self.job.panel else frozenset()

    # placements

    def convention(self, placement: Placement) -> Bottom | None:
        """Return what the list means by the rotation of a placement; None for the top."""
        return self.job.placements.bottom if placement.side == "bottom" else None

    def board_angle(self, placement: Placement, outline: Outline | None) -> float | None:
        """b: how the outline is turned on its board, seen from the side being placed.

        None where g is unknown, or the list does not say how it counts rotations on the bottom.
        """
        convention, zero = self.convention(placement), self.zero_offset(outline)
        if zero is None or (placement.side == "bottom" and convention is None):
            return None
        return board_angle(placement.rotation, zero, convention)

    def zero_offset(self, outline: Outline | None) -> float | None:
        """g: turns the outline's drawing into the list's; None where a level is missing.

        Where nothing in the shop declares a level it is 0, an assumption: `is_zero_assumed`.
        """
        listed = self.job.placements.zero
        if outline is None:
            return None
        if self.is_zero_assumed:
            return 0.0
        if outline.zero is None or listed is None:
            return None
        return list_to_outline(outline.zero, listed)

    @property
    def is_zero_assumed(self) -> bool:
        """Whether no level is declared anywhere, so that g is taken as 0."""
        return not self._is_a_level_declared

    def through_top(self, point: Point) -> Point:
        """Return a position as listed, seen through the top."""
        if not self.is_bottom:
            return point
        return listed_x(self.job, point[0]), point[1]

    def on_board(self, point: Point) -> Point:
        """Return a point of the list as seen from the side being placed."""
        return turned_over(point, self._board[0]) if self.is_bottom else point

    def on_panel(self, point: Point, cell: Cell = LONE) -> Point:
        """Return a point of the list on the panel, seen from the side being placed."""
        seen = on_panel(point, cell.corner, self._board, cell.is_half_turned)
        return turned_over(seen, self.panel_size[0]) if self.is_bottom else seen

    def on_seat(self, point: Point) -> Point:
        """Return a point of the panel in the machine, as far as the seat says."""
        return in_machine(point, self._seat, self.job.seat.rotation)

    def in_machine(self, point: Point, cell: Cell = LONE) -> Point:
        """Return where a point of the list is in the machine, by the measured marks too."""
        return self.found.at(self.on_seat(self.on_panel(point, cell)))

    def target(self, board_angle: float, cell: Cell = LONE) -> float:
        """B: how the outline must be turned in the machine when it is placed."""
        return target_attitude(board_angle, cell.turn, self.job.seat.rotation, self.found.turn)

    # marks

    def mark(self, name: str) -> Point | None:
        """Return a described mark on the panel, seen from the side being placed.

        Marks go by their names: those of the panel; those of the board where it is in no panel;
        `1-2-m1` is m1 in cell 1-2. None where no such mark is described.
        """
        job = self.job
        marks = job.panel.fiducials if job.panel else job.board.fiducials
        if name in marks:
            return marks[name].x, marks[name].y
        cell = self.cell("-".join(name.split("-", 2)[:2]))
        mark = job.board.fiducials.get("-".join(name.split("-", 2)[2:]))
        if cell is None or mark is None:
            return None
        return self.in_cell((mark.x, mark.y), cell)

    def in_cell(self, point: Point, cell: Cell = LONE) -> Point:
        """Return a point of the board's own frame on the panel, both as seen when placed.

        Fiducials and holes are described in that frame.
        """
        corner = cell.corner
        if self.is_bottom:
            corner = self.panel_size[0] - corner[0] - self._board[0], corner[1]
        return on_panel(point, corner, self._board, cell.is_half_turned)

    @cached_property
    def found(self) -> FoundMarks:
        """What the measured marks say: 2 rigid, 3 similarity, 4 and more affine."""
        measured = self.job.seat.measured
        if not measured:
            return FoundMarks()
        described = {name: self.mark(name) for name in measured}
        names = tuple(name for name, point in described.items() if point is not None)
        unknown = tuple(name for name, point in described.items() if point is None)
        nominal = [self.on_seat(point) for point in described.values() if point is not None]
        seen = [(measured[name].x, measured[name].y) for name in names]
        return _found(names, unknown, nominal, seen)


def _found(
    names: tuple[str, ...], unknown: tuple[str, ...], nominal: list[Point], seen: list[Point]
) -> FoundMarks:
    try:
        mirrored = is_mirrored(nominal, seen)
        found = None if mirrored else fit(nominal, seen)
    except (ValueError, ArithmeticError):  # one mark, or all in one place: they fix nothing
        return FoundMarks(names, unknown)
    if found and not all(abs(value) < _LARGEST_MM for value in found.at((0.0, 0.0))):
        return FoundMarks(names, unknown)
    error = distance_error(nominal, seen) if len(names) == 2 else None
    return FoundMarks(names, unknown, found, error, mirrored)


def _pair(values: list[float]) -> Point:
    return values[0], values[1]
