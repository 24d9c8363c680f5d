"""The rule about boards, placements and fiducials that the head cannot reach."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from itertools import product
from typing import NamedTuple

from jobcheck.facts.frames import LONE, Cell, Frames, frames_of
from jobcheck.facts.layout import Layout
from jobcheck.facts.rows import point
from jobcheck.facts.travel import is_inside, reached, span
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import layouts
from jobcheck.rules.boards.panels import panel_extent
from jobcheck.schema.job import Job
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import Point
from jobcheck.wording import count, listed, number

_MOST_CELLS = 40
"""Most cells along the rim of a panel that are checked one by one; of more, the corners."""


class _Away(NamedTuple):
    """A placement out of reach: its place in the machine, and the spindles that could carry it."""

    reference: str
    cell: Cell
    at: Point
    spindles: tuple[str, ...]


class _Reach:
    """The places that spindles reach, and the nozzles that they can carry."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine

    @cached_property
    def offsets(self) -> dict[str, Point]:
        """Spindle -> tool point minus head position; without spindles the head itself."""
        spindles = self.machine.spindles
        offsets = {
            name: (spindles[name].offset_from_camera.x, spindles[name].offset_from_camera.y)
            for name in sorted(spindles, key=natural)
        }
        return offsets or {"": (0.0, 0.0)}

    def reaches(self, spindle: str, at: Point) -> bool:
        """Return whether a spindle reaches a point."""
        (x, y), (dx, dy) = at, self.offsets[spindle]
        travel = self.machine.travel
        return is_inside(travel.x, x - dx) and is_inside(travel.y, y - dy)

    def carriers(self, nozzles: Iterable[str]) -> tuple[str, ...]:
        """Return the spindles that can carry one of some nozzles; all if that is unknown.

        A spindle carries its nozzle of the start and those that it can fetch from the rack.
        """
        wanted = set(nozzles) & set(self.machine.nozzles)
        places = [place for place in self.machine.rack.values() if place.nozzle in wanted]
        found = tuple(
            name
            for name in self.offsets
            if name in self.machine.spindles
            and (
                self.machine.spindles[name].carries in wanted
                or any(self.reaches(name, (place.x, place.y)) for place in places)
            )
        )
        return found or tuple(self.offsets)


def _rim(frames: Frames) -> list[Cell]:
    """Return the built cells at the rim of a panel: if they are reached, so are those inside."""
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
    frames, reach = frames_of(shop, name), _Reach(machine)
    groups: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for outline, places in layout.on_board.items():
        groups[reach.carriers(shop.outlines[outline].nozzles)] += places
    cells, away = _rim(frames), {}
    for spindles, places in sorted(groups.items()):
        outermost = layout.corners(places)
        for cell in cells:
            if not _all_reached(reach, spindles, [_in_machine(frames, p, cell) for p in outermost]):
                for at in places:
                    place = _in_machine(frames, layout.bodies[at].centre, cell)
                    if at not in away and not _all_reached(reach, spindles, [place]):
                        away[at] = _Away(layout.references[at], cell, place, spindles)
    return sorted(away.values(), key=lambda entry: natural(entry.reference))


def _all_reached(reach: _Reach, spindles: Iterable[str], points: Sequence[Point]) -> bool:
    """Return whether one of some spindles reaches all points."""
    return any(all(reach.reaches(spindle, at) for at in points) for spindle in spindles)


def _in_machine(frames: Frames, at: Point, cell: Cell) -> Point:
    """Return a point of the board in the machine, by the seat alone.

    Measured fiducials move it by less than `limits.seat_error_mm`; another rule checks that.
    """
    return frames.on_seat(frames.in_cell(at, cell) if cell is not LONE else at)


def _marks_away(look: Inspection, machine: Machine, name: str) -> list[tuple[Path, str, Point]]:
    """Return (path, name, place in the machine) of fiducials that no downward camera reaches."""
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
                place = _in_machine(frames, at, cell)
                if not (
                    is_inside(machine.travel.x, place[0]) and is_inside(machine.travel.y, place[1])
                ):
                    title = f"{cell.name}-{mark}" if cell.name else mark
                    found.append((("jobs", name, kind, "fiducials", mark), title, place))
                    break
    return found


def _beyond(machine: Machine, job: Job) -> list[str]:
    """Return the axes along which a board or panel is partly out of reach, in words."""
    corners = panel_extent(Frames(job))
    found = []
    for axis in (0, 1):
        limits = reached(machine, "xy"[axis])
        extent = [min(c[axis] for c in corners), max(c[axis] for c in corners)]
        if not (is_inside(limits, extent[0]) and is_inside(limits, extent[1])):
            found.append(f"it takes {'xy'[axis]} {span(extent)}, the reach is {span(limits)}")
    return found


@rule(
    Level.ERROR,
    Level.WARNING,
    Level.ERROR,
    fails="jobs.first-board.seat.x: 365",
    passes="jobs.first-board.seat.x: 325",
)
def job_out_of_reach(look: Inspection) -> Iterator[Problem]:
    """Placements, fiducials or the board of a job are out of reach.

    A placement is in reach if a spindle that can carry one of its nozzles gets there: the nozzle
    is on it, or it can fetch it from the rack. Fiducials need a downward camera, which is at the
    head's position. A board or panel that is partly out of reach without either is a warning.

    On the machine: the head runs against the end of its axis and loses its position, or the
    controller stops the run.

    To do: move or turn the seat, give the nozzle to another spindle, or measure the travel again.

    Source: head position = place - offset_from_camera, arithmetic.
    """
    machine = look.shop.machine
    if machine is None or not look.shop.understood(("spindles",)):
        return
    for name, layout in layouts(look):
        job = look.shop.jobs[name]
        away, marks = _away(look.shop, machine, name, layout), _marks_away(look, machine, name)
        beyond = _beyond(machine, job)
        if away or marks or beyond:
            yield _out_of_reach(machine, name, job, away, marks, beyond)


def _out_of_reach(
    machine: Machine,
    name: str,
    job: Job,
    away: list[_Away],
    marks: list[tuple[Path, str, Point]],
    beyond: list[str],
) -> Problem:
    seat: Path = ("jobs", name, "seat")
    places: list[Path] = [("jobs", name, "placements", entry.reference) for entry in away[:1]]
    places += [path for path, _, _ in marks[:3]]
    spindles = [n for n in away[0].spindles if n] if away else []
    offsets: list[Path] = [("spindles", n, "offset_from_camera") for n in spindles]
    first = seat if beyond or (away and marks) else places[0]
    lost = [
        f"{count(len(found), noun)} ({listed(names, 4)})"
        for noun, found, names in (
            ("placement", away, [entry.reference for entry in away]),
            ("fiducial", marks, [title for _, title, _ in marks]),
        )
        if found
    ]
    shown = [
        f"{entry.reference}{f' in {entry.cell.name}' if entry.cell.name else ''} at "
        f"{point(*_rounded(entry.at))}"
        for entry in away[:2]
    ]
    shown += [f"{title} at {point(*_rounded(at))}" for _, title, at in marks[:2]]
    whole = f"the {'panel' if job.panel else 'board'}"
    reach = f"travel x {span(machine.travel.x)}, y {span(machine.travel.y)}"
    if offsets:
        known = _Reach(machine).offsets
        shown_offsets = [f"{n} {number(known[n][0])}, {number(known[n][1])}" for n in spindles]
        reach += f"; offset of spindle {listed(shown_offsets)}"
    is_one = len(away) + len(marks) == 1
    return Problem(
        path=first,
        related=tuple(path for path in (seat, *places, *offsets, ("travel",)) if path != first),
        message=f"{' and '.join(lost)} of {name} {'is' if is_one else 'are'} out of reach."
        if lost
        else f"{whole} of {name} is partly out of reach.",
        observed="; ".join([*shown, *beyond[:2], reach]),
        consequence="The head would run against the end of its axis and lose its position."
        if lost
        else "Nothing is placed there now, but the seat may be wrong.",
        remedy=("Measure the seat; move or turn the board, or give the nozzle to another spindle.",)
        if lost
        else ("Measure the seat and the travel; correct the one that is wrong.",),
        level=None if lost else Level.WARNING,
    )


def _rounded(at: Point) -> Point:
    return round(at[0], 3), round(at[1], 3)
