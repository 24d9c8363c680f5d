"""One side of a board or panel as it is seen when parts are placed on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.frames import Frames, Pose, frames_of
from jobcheck.trade.plane import Point
from jobcheck.trade.polarity import PIN1_AT_ZERO, pin1_faces, turned_over

if TYPE_CHECKING:
    from jobcheck.schema.job import Side
    from jobcheck.schema.values import Mark
    from jobcheck.shop.shop import Shop


class Body(NamedTuple):
    """A placed part: its pose on the board, mm and degrees, and where pin 1 faces, None unknown."""

    reference: str
    part: str | None
    outline: str | None
    pose: Pose
    pin1: float | None


class CellView(NamedTuple):
    """One board of a panel: where the board's origin is on the panel, mm, and its turn."""

    name: str
    origin: Point
    turn: float
    is_skipped: bool


class Spot(NamedTuple):
    """A fiducial or a hole, mm; `clear` is the radius of a fiducial's clear ring, None unknown."""

    name: str
    centre: Point
    diameter: float
    clear: float | None = None


class BoardView(NamedTuple):
    """One side of a board, and of its panel if there is one, seen from that side; mm.

    `not_fitted` are the references on that side that are not placed. `is_built`: the job builds
    this side; fiducials are described for that side alone.
    """

    side: Side
    is_built: bool
    board: Point
    panel: Point | None
    cells: tuple[CellView, ...]
    fiducials: tuple[Spot, ...]
    panel_fiducials: tuple[Spot, ...]
    holes: tuple[Spot, ...]
    bodies: tuple[Body, ...]
    not_fitted: tuple[str, ...]


def board_view(shop: Shop, job: str, side: Side) -> BoardView:
    """Return how one side of a job is seen; poses are those of the chain that `where` shows."""
    described, frames = shop.jobs[job], frames_of(shop, job, side)
    is_built = side == described.side
    rows = described.placements.by_reference.items()
    board, panel = described.board, described.panel
    width = board.size_mm[0]
    holes = (Spot(name, (hole.x, hole.y), hole.diameter_mm) for name, hole in board.holes.items())
    return BoardView(
        side,
        is_built,
        (width, board.size_mm[1]),
        frames.panel_size if panel else None,
        tuple(_cells(frames)),
        _marks(board.fiducials) if is_built else (),
        _marks(panel.fiducials) if panel and is_built else (),
        tuple(
            hole if is_built else hole._replace(centre=turned_over(hole.centre, width))
            for hole in holes
        ),
        tuple(_bodies(shop, frames, side)),
        tuple(ref for ref, row in rows if row.side == side and not row.fitted),
    )


def _cells(frames: Frames) -> Iterator[CellView]:
    for cell in frames.cells():
        yield CellView(cell.name, frames.in_cell((0.0, 0.0), cell), cell.turn, cell.is_skipped)


def _marks(marks: Mapping[str, Mark]) -> tuple[Spot, ...]:
    return tuple(
        Spot(name, (mark.x, mark.y), mark.diameter_mm, mark.clear_mm)
        for name, mark in marks.items()
    )


def _bodies(shop: Shop, frames: Frames, side: Side) -> Iterator[Body]:
    for reference, placement in frames.job.placements.by_reference.items():
        if placement.side != side or not placement.fitted:
            continue
        known = shop.parts.get(placement.part) if placement.part is not None else None
        outline = shop.outlines.get(known.outline) if known else None
        angle = frames.board_angle(placement, outline)
        x, y = frames.on_board(frames.through_top((placement.x, placement.y)))
        at_zero = outline.pin1_at_zero if outline else None
        faces = (
            None if at_zero is None or angle is None else pin1_faces(PIN1_AT_ZERO[at_zero], angle)
        )
        yield Body(
            reference,
            placement.part,
            known.outline if known and outline else None,
            Pose(x, y, angle),
            faces,
        )
