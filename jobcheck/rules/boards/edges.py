"""Rules about bodies at the edge of their board; in a panel a rail or the next board follows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.frames import Cell, Frames
from jobcheck.facts.layout import Layout
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import (
    OVERLAP_MM,
    TOUCH_MM,
    in_mm,
    layouts,
    placement_path,
)
from jobcheck.schema.job import Job, Panel
from jobcheck.shop.paths import natural
from jobcheck.trade.bodies import Body, close_pairs, overlap_depth
from jobcheck.wording import count, listed, number

_SIDES = ("left", "right", "lower", "upper")

Room = tuple[float, float, float, float]
"""From a body to the board's left, right, lower and upper edge, mm; below 0 it is beyond."""


class _Edge(NamedTuple):
    """A body near an edge: its place in the layout and the room it leaves."""

    at: int
    room: Room

    @property
    def least(self) -> float:
        """The least room, mm; below 0 how far the body is beyond the edge."""
        return min(self.room)


def _near_edge(job: Job, layout: Layout, within: float) -> list[_Edge]:
    """Return the bodies that leave less room than `within` to an edge, in list order."""
    width, height = job.board.size_mm
    near = []
    for at, (body, shape) in enumerate(zip(layout.bodies, layout.shapes, strict=True)):
        (x, y), across, along = body.centre, shape.across / 2, shape.along / 2
        if not (across + within <= x <= width - across - within) or not (
            along + within <= y <= height - along - within
        ):
            room = (x - across, width - x - across, y - along, height - y - along)
            if min(room) < within - 1e-9:
                near.append(_Edge(at, room))
    return near


def _has_centre_on(job: Job, body: Body, margin: float) -> bool:
    (x, y), (width, height) = body.centre, job.board.size_mm
    return -margin <= x <= width + margin and -margin <= y <= height + margin


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="jobs.first-board.placements.R3.x: 39.7",
    passes="""
    outlines.soic-8.overhang_mm: 2
    jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [41, 30], size_mm: [81, 30]}
    jobs.first-board.placements.U1: {part: timer-soic8, x: 38.5, y: 13, rotation: 90}
    """,
)
def body_beyond_edge(look: Inspection) -> Iterator[Problem]:
    """A part is beyond the edge of its board or close to it, or reaches over the panel.

    An outline with `overhang_mm`, such as a connector, may be beyond the edge by that much, but not
    over a rail or the next board of a panel. It is an error if it meets a part of the next board.
    The panel's `cell_gap_mm` and `rail_gap_mm` give the free room; without them it is pitch less
    board, and none at a rail. Parts whose centre is outside are left to `placement-outside-board`.

    On the machine: the part is half on air, on a rail that is broken away later, or on the
    neighbour's part; close to the edge it breaks when the board leaves its frame.

    To do: correct the position or the board's size, declare `overhang_mm`, leave more room between
    the cells, or describe the gap that is there.

    Source: gap between boards = pitch - size; a rail adjoins its boards; arithmetic.
    `limits.edge_clearance_mm`: common practice, no published source.
    """
    limit, margin = look.limits.edge_clearance_mm, look.limits.outside_board_mm
    for name, layout in layouts(look):
        job = look.shop.jobs[name]
        near = [
            edge
            for edge in _near_edge(job, layout, max(limit, 0.0))
            if _has_centre_on(job, layout.bodies[edge.at], margin)
        ]
        over = [edge for edge in near if edge.least < -TOUCH_MM]
        reaching = _reaching(job, layout, over) if job.panel else {}
        if job.panel and reaching:
            yield _over_panel(name, job, job.panel, layout, over, reaching)
        by_outline: dict[str, list[_Edge]] = defaultdict(list)
        for edge in near:
            outline = layout.shapes[edge.at].outline
            overhang = look.shop.outlines[outline].overhang_mm
            is_allowed = overhang is not None and edge.least >= -overhang - TOUCH_MM
            if not is_allowed and layout.references[edge.at] not in reaching:
                by_outline[outline].append(edge)
        for outline in sorted(by_outline, key=natural):
            yield _beyond(look, name, layout, outline, by_outline[outline])


def _beyond(
    look: Inspection, job: str, layout: Layout, outline: str, edges: list[_Edge]
) -> Problem:
    edges = sorted(edges, key=lambda edge: natural(layout.references[edge.at]))
    references = [layout.references[edge.at] for edge in edges]
    is_over = any(edge.least < -TOUCH_MM for edge in edges)
    shown = [f"{ref} {_reaches(edge)}" for ref, edge in zip(references, edges, strict=True)]
    overhang = look.shop.outlines[outline].overhang_mm
    allowed = "" if overhang is None else f"; overhang_mm {number(overhang)} is declared"
    verb = "is" if len(references) == 1 else "are"
    return Problem(
        path=placement_path(job, references[0]),
        related=(
            ("jobs", job, "board", "size_mm"),
            *(placement_path(job, reference) for reference in references[1:5]),
        ),
        message=f"{listed(references, 4)} ({outline}) "
        + (f"{verb} beyond" if is_over else f"{verb} close to")
        + f" the edge of {job}.",
        observed=f"{listed(shown, 4)}{allowed}",
        consequence="Unless it is a connector, it would be half on air."
        if is_over
        else "It may crack or break off when the board leaves its frame.",
        remedy=(f"Correct the position, or declare outlines.{outline}.overhang_mm.",),
    )


def _reaches(edge: _Edge) -> str:
    side = _SIDES[edge.room.index(edge.least)]
    if edge.least < -TOUCH_MM:
        return f"{in_mm(-edge.least)} beyond the {side} edge"
    return f"{in_mm(edge.least)} from the {side} edge"


def _reaching(job: Job, layout: Layout, over: list[_Edge]) -> dict[str, float]:
    """Return the references that reach a rail or the next board, and by how much, mm."""
    assert job.panel
    room = _room_beside(job, job.panel)
    by = {
        layout.references[edge.at]: -min(
            own + beside for own, beside in zip(edge.room, room, strict=True)
        )
        for edge in over
    }
    return {reference: depth for reference, depth in by.items() if depth > TOUCH_MM}


def _over_panel(
    name: str,
    job: Job,
    panel: Panel,
    layout: Layout,
    over: list[_Edge],
    reaching: dict[str, float],
) -> Problem:
    references = sorted(reaching, key=natural)
    struck = sorted(_struck(job, layout, over), key=lambda e: list(map(natural, e)))
    shown = [f"{reference} by {in_mm(reaching[reference])}" for reference in references]
    meets = f"; {struck[0][0]} meets {struck[0][1]} of the next board" if struck else ""
    one = len(references) == 1
    return Problem(
        path=placement_path(name, references[0]),
        related=(
            ("jobs", name, "panel", "pitch_mm"),
            *(placement_path(name, reference) for reference in references[1:5]),
        ),
        message=f"{listed(references, 4)} of {name} {'reaches' if one else 'reach'} over "
        f"{'parts of ' if struck else ''}the next board or a rail of the panel.",
        observed=f"{listed(shown, 4)}{meets}; pitch {number(panel.pitch_mm[0])} × "
        f"{number(panel.pitch_mm[1])} mm",
        consequence=f"{count(len(struck), 'pair')} of parts would be placed on each other."
        if struck
        else "If no gap is there, it would be on a strip that is broken away later.",
        remedy=(
            "Leave more room between the cells, or turn them so that this edge is outside. If a "
            "gap is there, describe panel.cell_gap_mm or panel.rail_gap_mm.",
        ),
        level=Level.ERROR if struck else None,
    )


def _room_beside(job: Job, panel: Panel) -> Room:
    """Return the free room beyond each edge of a board, before a rail or the next board; mm.

    Seen from the side being placed; a side where nothing follows has endless room.
    """
    frames = Frames(job)
    beside = []
    for axis, cells in ((0, panel.columns), (1, panel.rows)):
        length, pitch, first = job.board.size_mm[axis], panel.pitch_mm[axis], panel.origin_mm[axis]
        last = frames.panel_size[axis] - first - (cells - 1) * pitch - length
        gap = pitch - length if panel.cell_gap_mm is None else panel.cell_gap_mm
        free = gap if cells > 1 else float("inf")
        railed = min(panel.rail_gap_mm, free)
        beside += [railed if rail > TOUCH_MM else free for rail in (first, last)]
    left, right, lower, upper = beside
    if frames.is_bottom:
        left, right = right, left
    if panel.half_turned:  # either edge may be on either side
        left = right = min(left, right)
        lower = upper = min(lower, upper)
    return left, right, lower, upper


def _struck(job: Job, layout: Layout, over: list[_Edge]) -> set[tuple[str, str]]:
    """Return (reference, reference on the next board) of bodies that overlap across boards."""
    reach = max(-edge.least for edge in over)
    rim = [edge.at for edge in _near_edge(job, layout, reach)]
    frames = Frames(job)
    found = set()
    for cell, neighbour in _neighbours(frames):
        here = [_in_cell(frames, layout.bare(at), cell) for at in rim]
        there = [_in_cell(frames, layout.bare(at), neighbour) for at in rim]
        bodies = [*here, *there]
        for one, other in close_pairs(bodies):
            crosses = one < len(rim) <= other
            if crosses and overlap_depth(bodies[one], bodies[other]) > OVERLAP_MM:
                found.add((layout.references[rim[one]], layout.references[rim[other - len(rim)]]))
    return found


def _in_cell(frames: Frames, body: Body, cell: Cell) -> Body:
    centre = frames.in_cell(body.centre, cell)
    return Body(centre, body.length, body.width, body.angle + cell.turn)


def _neighbours(frames: Frames) -> Iterator[tuple[Cell, Cell]]:
    """Yield two cells side by side, one pair for each way they can be turned."""
    panel = frames.job.panel
    assert panel is not None
    names = [*panel.half_turned, "1-1"]
    seen = set()
    for name in names:
        column, row = map(int, name.split("-"))
        cell = frames.cell(name)
        for right, up in _AROUND:
            other = frames.cell(f"{column + right}-{row + up}")
            if cell and other:
                way = (right, up, cell.is_half_turned, other.is_half_turned)
                if way not in seen:
                    seen.add(way)
                    yield cell, other


_AROUND = tuple((x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if x or y)
