"""Rules about what lies on the seat and out of reach: the panel, placements, fiducials."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from itertools import product
from typing import NamedTuple

from jobcheck.facts.frames import LONE, Cell, Frames
from jobcheck.facts.layout import Layout
from jobcheck.facts.rows import point
from jobcheck.facts.travel import is_inside, span
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import layouts
from jobcheck.rules.boards.panels import panel_extent
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import Point
from jobcheck.wording import count, listed, number

_MOST_CELLS = 40
"""Cells along the rim of a panel that are looked at one by one; the corners are always."""


class _Away(NamedTuple):
    """A placement that no spindle with its nozzle reaches: where it lies, and by whom."""

    reference: str
    cell: Cell
    at: Point
    spindles: tuple[str, ...]


class _Reach:
    """Which spindles can bring which nozzles where."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine

    @cached_property
    def offsets(self) -> dict[str, Point]:
        """Spindle -> tool point minus head position; the head itself where there is none."""
        spindles = self.machine.spindles
        offsets = {
            name: (spindles[name].offset_from_camera.x, spindles[name].offset_from_camera.y)
            for name in sorted(spindles, key=natural)
        }
        return offsets or {"": (0.0, 0.0)}

    def gets(self, spindle: str, at: Point) -> bool:
        """Tell whether a spindle gets to a point."""
        (x, y), (dx, dy) = at, self.offsets[spindle]
        travel = self.machine.travel
        return is_inside(travel.x, x - dx) and is_inside(travel.y, y - dy)

    def carriers(self, nozzles: Iterable[str]) -> tuple[str, ...]:
        """Return the spindles that can carry one of some nozzles; all where that is not known.

        A spindle carries what is on it at the start, and what it can fetch from the rack.
        """
        wanted = set(nozzles) & set(self.machine.nozzles)
        places = [place for place in self.machine.rack.values() if place.nozzle in wanted]
        found = tuple(
            name
            for name in self.offsets
            if name in self.machine.spindles
            and (
                self.machine.spindles[name].carries in wanted
                or any(self.gets(name, (place.x, place.y)) for place in places)
            )
        )
        return found or tuple(self.offsets)


def _rim(frames: Frames) -> list[Cell]:
    """Return the built cells at the rim of a panel; what they reach, those inside reach too."""
    panel = frames.job.panel
    if panel is None:
        return [LONE]
    columns, rows = range(1, panel.columns + 1), range(1, panel.rows + 1)
    ends = [*product((1, panel.columns), rows), *product(columns, (1, panel.rows))]
    if len(ends) > _MOST_CELLS:
        ends = [*product((1, panel.columns), (1, panel.rows))]
    names = sorted({f"{column}-{row}" for column, row in ends}, key=natural)
    cells = [cell for name in names if (cell := frames.cell(name)) and not cell.is_skipped]
    return cells or [frames.first_cell()]


def _away(shop: Shop, machine: Machine, name: str, layout: Layout) -> list[_Away]:
    """Return the placements that no spindle with their nozzle reaches, each once."""
    frames, reach = Frames(shop.jobs[name]), _Reach(machine)
    groups: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for outline, places in layout.on_board.items():
        groups[reach.carriers(shop.outlines[outline].nozzles)] += places
    cells, away = _rim(frames), {}
    for spindles, places in sorted(groups.items()):
        outermost = layout.corners(places)
        for cell in cells:
            if not _all_reached(reach, spindles, [_lies(frames, p, cell) for p in outermost]):
                for at in places:
                    lies = _lies(frames, layout.bodies[at].centre, cell)
                    if at not in away and not _all_reached(reach, spindles, [lies]):
                        away[at] = _Away(layout.references[at], cell, lies, spindles)
    return sorted(away.values(), key=lambda entry: natural(entry.reference))


def _all_reached(reach: _Reach, spindles: Iterable[str], points: Sequence[Point]) -> bool:
    """Tell whether one spindle gets to all points; of one point, whether any gets there."""
    return any(all(reach.gets(spindle, at) for at in points) for spindle in spindles)


def _lies(frames: Frames, at: Point, cell: Cell) -> Point:
    """Return where a point of the board lies in the machine, as the seat says.

    What the measured marks add is less than `limits.seat_error_mm`, or told by another rule.
    """
    return frames.on_seat(frames.in_cell(at, cell) if cell is not LONE else at)


def _machine(look: Inspection) -> Machine | None:
    return look.shop.machine if look.shop.understood(("spindles",)) else None


def _marks_away(look: Inspection, machine: Machine, name: str) -> list[tuple[Path, str, Point]]:
    """Return (path, name, place in the machine) of marks that no downward camera gets over."""
    if not any(camera.aim == "down" for camera in machine.cameras.values()):
        return []
    job = look.shop.jobs[name]
    frames = Frames(job)
    found: list[tuple[Path, str, Point]] = []
    for kind, marks in (
        ("panel", job.panel.fiducials if job.panel else {}),
        ("board", job.board.fiducials),
    ):
        for mark in sorted(marks, key=natural):
            at = marks[mark].x, marks[mark].y
            for cell in _rim(frames) if kind == "board" else [LONE]:
                lies = _lies(frames, at, cell)
                if not (
                    is_inside(machine.travel.x, lies[0]) and is_inside(machine.travel.y, lies[1])
                ):
                    title = f"{cell.name}-{mark}" if cell.name else mark
                    found.append((("jobs", name, kind, "fiducials", mark), title, lies))
                    break
    return found


def _reached_span(machine: Machine, axis: int) -> list[float]:
    """Return how far the head and all spindles reach along an axis, mm."""
    limits = (machine.travel.x, machine.travel.y)[axis]
    offsets = [0.0, *(offset[axis] for offset in _Reach(machine).offsets.values())]
    return [limits[0] + min(offsets), limits[1] + max(offsets)]


@rule(
    Level.WARNING,
    Level.ERROR,
    fails="jobs.first-board.seat.x: 365",
    passes="jobs.first-board.seat.x: 325",
)
def panel_outside_travel(look: Inspection) -> Iterator[Problem]:
    """A board or panel reaches beyond what the head and its spindles get to.

    An error where placements or fiducials lie there.

    On the machine: what lies beyond is not built, or the head runs against the end of its axis.

    To do: correct the seat, or turn the panel; measure the travel anew where that is wrong.

    Source: in machine = seat + turned panel point; reach = travel + offset_from_camera; arithmetic.
    """
    machine = _machine(look)
    if machine is None:
        return
    for name, layout in layouts(look):
        corners = panel_extent(Frames(look.shop.jobs[name]))
        beyond = []
        for axis in (0, 1):
            reached = _reached_span(machine, axis)
            extent = [min(c[axis] for c in corners), max(c[axis] for c in corners)]
            if not (is_inside(reached, extent[0]) and is_inside(reached, extent[1])):
                beyond.append(
                    f"along {'xy'[axis]} it lies at {span(extent)}, reached is {span(reached)}"
                )
        if beyond:
            yield _beyond(look, machine, name, layout, beyond)


def _beyond(
    look: Inspection, machine: Machine, name: str, layout: Layout, beyond: list[str]
) -> Problem:
    job = look.shop.jobs[name]
    away, marks = _away(look.shop, machine, name, layout), _marks_away(look, machine, name)
    lost = [
        count(len(found), noun)
        for found, noun in ((away, "placement"), (marks, "fiducial"))
        if found
    ]
    return Problem(
        path=("jobs", name, "seat"),
        related=(("travel",), ("jobs", name, "panel" if job.panel else "board", "size_mm")),
        message=f"the {'panel' if job.panel else 'board'} of {name} lies partly out of reach.",
        observed="; ".join(beyond),
        consequence=f"{' and '.join(lost)} would be out of reach."
        if lost
        else "Nothing is placed there now, but the seat may be described wrong.",
        remedy=(
            "Look where the board lies and how far the head goes; correct the seat or the travel.",
        ),
        suppresses=tuple(
            (told, ("jobs", name)) for told in ("placement-out-of-reach", "fiducial-out-of-reach")
        ),
        level=Level.ERROR if lost else None,
    )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.seat.x: 330
    jobs.first-board.placements.U1: {part: timer-soic8, x: 39.2, y: 15, rotation: 90}
    outlines.soic-8.overhang_mm: 2
    """,
    passes="""
    jobs.first-board.seat.x: 329
    jobs.first-board.placements.U1: {part: timer-soic8, x: 39.2, y: 15, rotation: 90}
    outlines.soic-8.overhang_mm: 2
    """,
)
def placement_out_of_reach(look: Inspection) -> Iterator[Problem]:
    """A placement lies where no spindle that can carry its nozzle gets to.

    A spindle can carry the nozzle that is on it, and those that it can fetch from the rack.

    On the machine: the head runs against the end of its axis and loses its position, or the
    controller stops the run.

    To do: move or turn the seat, or give the nozzle to another spindle.

    Source: head position = place - offset_from_camera, arithmetic.
    """
    machine = _machine(look)
    if machine is None:
        return
    for name, layout in layouts(look):
        away = _away(look.shop, machine, name, layout)
        if not away:
            continue
        first = away[0]
        shown = [
            f"{entry.reference}{f' in {entry.cell.name}' if entry.cell.name else ''} at "
            f"{point(*_rounded(entry.at))}"
            for entry in away
        ]
        offsets = _Reach(machine).offsets
        spindles = [
            f"{spindle} {number(offsets[spindle][0])}, {number(offsets[spindle][1])}"
            for spindle in first.spindles
            if spindle
        ]
        yield Problem(
            path=("jobs", name, "placements", first.reference),
            related=(
                ("jobs", name, "seat"),
                *(
                    ("spindles", spindle, "offset_from_camera")
                    for spindle in first.spindles
                    if spindle
                ),
            ),
            message=f"{count(len(away), 'placement')} of {name} "
            f"{'lies' if len(away) == 1 else 'lie'} out of reach: "
            f"{listed([entry.reference for entry in away], 4)}.",
            observed=f"{listed(shown, 2)}; {_travel(machine)}"
            + (f"; offset of spindle {listed(spindles)}" if spindles else ""),
            consequence="The head would run against the end of its axis and lose its position.",
            remedy=(
                "Look where the board lies; move or turn it, or give the nozzle to another spindle.",
            ),
        )


def _travel(machine: Machine) -> str:
    return f"travel x {span(machine.travel.x)}, y {span(machine.travel.y)}"


def _rounded(at: Point) -> Point:
    return round(at[0], 3), round(at[1], 3)


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.seat.y: 272
    jobs.first-board.board.fiducials.m2: {x: 36, y: 28.9, diameter_mm: 1.0}
    """,
    passes="""
    jobs.first-board.seat.y: 271
    jobs.first-board.board.fiducials.m2: {x: 36, y: 28.9, diameter_mm: 1.0}
    """,
)
def fiducial_out_of_reach(look: Inspection) -> Iterator[Problem]:
    """A fiducial lies where the downward camera cannot look.

    On the machine: the head runs against the end of its axis, or the board is not found.

    To do: move or turn the seat, or use another mark.

    Source: the downward camera's axis is the head's position; arithmetic.
    """
    machine = _machine(look)
    if machine is None:
        return
    for name, _ in layouts(look):
        away = _marks_away(look, machine, name)
        if not away:
            continue
        shown = [f"{title} at {point(*_rounded(at))}" for _, title, at in away]
        yield Problem(
            path=away[0][0],
            related=(("jobs", name, "seat"), *(path for path, _, _ in away[1:4])),
            message=f"{count(len(away), 'fiducial')} of {name} {'lies' if len(away) == 1 else 'lie'} "
            "where the downward camera cannot look.",
            observed=f"{listed(shown, 4)}; {_travel(machine)}",
            consequence="The head would run against the end of its axis, or the board not be found.",
            remedy=("Look where the board lies; move or turn it, or use another mark.",),
        )
