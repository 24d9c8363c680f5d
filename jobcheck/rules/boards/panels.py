"""Rules about panels and seats: cells in their panel, skipped cells, heights, the underside."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Literal

from jobcheck.facts.frames import Frames
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Job, Panel
from jobcheck.shop.paths import Path, natural
from jobcheck.wording import count, listed, number

_EXACT = 1e-9


def _jobs(look: Inspection) -> Iterator[tuple[str, Job]]:
    for name in sorted(look.shop.jobs, key=natural):
        if look.shop.understood(("jobs", name)):
            yield name, look.shop.jobs[name]


def _panels(look: Inspection) -> Iterator[tuple[str, Job, Panel]]:
    for name, job in _jobs(look):
        if job.panel is not None:
            yield name, job, job.panel


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], size_mm: [80, 30]}",
    passes="jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], size_mm: [83, 30]}",
)
def panel_cells_do_not_fit(look: Inspection) -> Iterator[Problem]:
    """The cells of a panel overlap, need more room than it has, or leave room for another cell.

    Room for a whole further cell is a warning: columns, rows, pitch or size may be wrong. So are
    cells that overlap by less than half of a board where some are half-turned: boards that are not
    rectangles may be nested.

    On the machine: parts are placed onto the next board or beside the panel, or boards stay bare.

    To do: correct the panel's size, origin or pitch, or the number of cells. `pitch_mm` is from one
    board to the next, with the gap between them; a `cell_gap_mm` is a part of it.

    Source: origin + (cells - 1) × pitch + board, arithmetic.
    """
    for name, job, panel in _panels(look):
        shown: dict[_Misfit, list[str]] = defaultdict(list)
        for axis in (0, 1):
            if misfit := _misfit(job, panel, axis):
                shown[misfit[0]].append(misfit[1])
        for kind in _MISFITS:
            if kind in shown:
                key, message, consequence, remedy = _MISFITS[kind]
                yield Problem(
                    path=("jobs", name, "panel", key),
                    related=(
                        ("jobs", name, "board", "size_mm"),
                        *(("jobs", name, "panel", k) for k in ("pitch_mm", "columns", "rows")),
                    ),
                    message=message.format(name),
                    observed="; ".join(shown[kind]),
                    consequence=consequence,
                    remedy=(remedy,),
                    level=Level.WARNING
                    if kind == "spare" or (kind == "overlap" and _may_nest(job, panel))
                    else None,
                )
                break


def _may_nest(job: Job, panel: Panel) -> bool:
    """Tell whether cells overlap as nested boards do, such as two L shapes."""
    overlaps = [
        pitch < size - _EXACT and 2 * pitch > size
        for pitch, size in zip(panel.pitch_mm, job.board.size_mm, strict=True)
    ]
    return bool(panel.half_turned) and any(overlaps)


_Misfit = Literal["overlap", "outside", "spare"]

_MISFITS: dict[_Misfit, tuple[str, str, str, str]] = {
    "overlap": (
        "pitch_mm",
        "the cells of {} overlap.",
        "Parts of one board may be placed onto the next.",
        "Correct the pitch: it is from one board to the next, gap included.",
    ),
    "outside": (
        "size_mm",
        "the cells of {} do not fit into its panel.",
        "Parts would be placed beside the panel.",
        "Correct the panel's size, origin or pitch, or the number of cells.",
    ),
    "spare": (
        "size_mm",
        "the panel of {} has room for one more cell.",
        "If the pitch is wrong, parts would be placed beside their boards; if the number of cells "
        "is, boards would stay bare.",
        "Compare pitch, columns, rows and size with the panel.",
    ),
}
"""Kind, the worst first -> key at fault, message, consequence and remedy."""


def _misfit(job: Job, panel: Panel, axis: int) -> tuple[_Misfit, str] | None:
    """Return how the cells do not fit along an axis, with the numbers."""
    cells, along = (panel.columns, panel.rows)[axis], "xy"[axis]
    first, pitch, board = panel.origin_mm[axis], panel.pitch_mm[axis], job.board.size_mm[axis]
    last = first + (cells - 1) * pitch + board
    if cells > 1 and pitch < board + (panel.cell_gap_mm or 0) - _EXACT:
        gap = f" and gap {number(panel.cell_gap_mm)} mm" if panel.cell_gap_mm else ""
        says = f"pitch {number(pitch)} mm along {along}, board {number(board)} mm{gap}"
        return "overlap", says
    if panel.size_mm is None:
        return None
    room = panel.size_mm[axis]
    if first < -_EXACT or last > room + _EXACT:
        return "outside", (
            f"{cells} cells reach from {number(first)} to {number(last)} mm along {along}, the "
            f"panel is {number(room)} mm"
        )
    if last + pitch + first <= room + _EXACT:
        return "spare", (
            f"{number(room - last)} mm free after the last of {cells} cells along {along}, pitch "
            f"{number(pitch)} mm"
        )
    return None


@rule(
    Level.NOTE,
    Level.WARNING,
    fails="""
    jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], skip: ["2-1"]}
    """,
    passes="""
    jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], skip: ["2-1"]}
    jobs.first-board.run.panels: 1
    """,
)
def cells_skipped(look: Inspection) -> Iterator[Problem]:
    """Cells are left out on every panel of a run.

    A run of a single panel may leave out any cells. It is a warning if the last known-good record
    left out the same cells, or if all are left out.

    On the machine: the boards of those cells come out bare, on each panel.

    To do: remove `skip` before a new panel, unless these cells are bad on all of them.

    Source: common practice, no published source.
    """
    for name, job, panel in _panels(look):
        cells = sorted(set(panel.skip), key=natural)
        panels = job.run.panels if job.run else 1
        is_all = len(cells) == panel.columns * panel.rows
        if not cells or (panels == 1 and not is_all):
            continue
        path: Path = ("jobs", name, "panel", "skip")
        recorded = look.good.plain_at(path) if look.good else None
        is_same = isinstance(recorded, list) and set(map(str, recorded)) == set(cells)
        if is_all:
            so = "Nothing would be built."
        elif is_same:
            so = "The record has the same skip, so the present panels may be whole, and "
            so += f"{len(cells) * panels} boards would come out bare."
        else:
            so = f"{len(cells) * panels} boards of the run would come out bare."
        yield Problem(
            path=path,
            related=(("jobs", name, "run", "panels"),) if job.run else (),
            message=f"{count(len(cells), 'cell')} of {name} {'is' if len(cells) == 1 else 'are'} "
            f"left out on {'each of ' if panels > 1 else ''}{count(panels, 'panel')}.",
            observed=f"skip {listed(cells)}; {panel.columns * panel.rows} cells a panel",
            consequence=so,
            remedy=("Look at the panels; remove skip unless these cells are bad on all of them.",),
            level=Level.WARNING if is_same or is_all else None,
        )


_BOARD_THICKNESS_MM = (0.2, 6.4)
"""Boards are made from flexible film up to this (common practice, no published source)."""


@rule(
    Level.WARNING,
    fails="jobs.first-board.seat.support_z: -21.2",
    passes="jobs.first-board.seat.support_z: -21.4",
)
def board_thickness_doubtful(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A board's thickness is unusual, or is not the seat's height above its support.

    The second needs `seat.support_z`; without the board's thickness it is not checked.

    On the machine: parts are pressed too deep, or released above the paste.

    To do: measure the board, its support and its surface in the seat; correct the wrong value.

    Source: seat.z = support_z + thickness, arithmetic; `limits.seat_height_mm` and 0.2 to 6.4 mm:
    common practice, no published source.
    """
    thinnest, thickest = _BOARD_THICKNESS_MM
    for name, job in _jobs(look):
        seat, thickness = job.seat, job.board.thickness_mm
        path: Path = ("jobs", name, "board", "thickness_mm")
        if thickness is None:
            if seat.support_z is not None:
                what = f"seat height of {name}"
                yield Unchecked(what, f"no thickness_mm on {name}", "thickness_mm", (path,))
            continue
        if not thinnest <= thickness <= thickest:
            yield Problem(
                path=path,
                message=f"the board of {name} is {number(thickness)} mm thick.",
                observed=f"{number(thickness)}; usual are {number(thinnest)} to "
                f"{number(thickest)} mm",
                consequence="If it is wrong, so is what is computed with it.",
                remedy=("Measure the board, and correct thickness_mm.",),
            )
        if seat.support_z is None:
            continue
        off = seat.z - (seat.support_z + thickness)
        if abs(off) > look.limits.seat_height_mm + _EXACT:
            yield Problem(
                path=("jobs", name, "seat", "z"),
                related=(("jobs", name, "seat", "support_z"), path),
                message=f"the seat of {name} is {number(round(abs(off), 3))} mm "
                f"{'above' if off > 0 else 'below'} its support and the board's thickness.",
                observed=f"z {number(seat.z)}; support {number(seat.support_z)} + "
                f"{number(thickness)} mm = {number(round(seat.support_z + thickness, 3))}",
                consequence="If z is wrong, parts would be released above the paste."
                if off > 0
                else "If z is wrong, parts would be pressed into the board.",
                remedy=(
                    "Measure the height of the board's surface in its seat; correct the wrong "
                    "value.",
                ),
            )


@rule(
    Level.ERROR,
    fails="""
    jobs.first-board.underside: placed
    jobs.first-board.seat.clearance_below_mm: 1.5
    jobs.first-board.placements.U9: {part: timer-soic8, x: 20, y: 15, side: bottom}
    jobs.first-board.bill: ~
    """,
    passes="""
    jobs.first-board.underside: placed
    jobs.first-board.seat.clearance_below_mm: 1.75
    jobs.first-board.placements.U9: {part: timer-soic8, x: 20, y: 15, side: bottom}
    jobs.first-board.bill: ~
    """,
)
def underside_strikes_support(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A part on the underside is taller than the free height below the board.

    Only with `underside: placed`; without `seat.clearance_below_mm` it is not checked.

    On the machine: the board is held by its parts: bent, too high, and parts break off.

    To do: raise the board on its supports, or build the side with the tall parts last.

    Source: arithmetic.
    """
    for name, job in _jobs(look):
        room = job.seat.clearance_below_mm
        if job.underside != "placed":
            continue
        if room is None:
            where: Path = ("jobs", name, "seat", "clearance_below_mm")
            what = f"underside of {name} against its support"
            yield Unchecked(what, "no seat.clearance_below_mm", "clearance_below_mm", (where,))
            continue
        tall = [
            (-height, natural(reference), reference)
            for reference, placement in job.placements.by_reference.items()
            if placement.fitted and placement.side != job.side
            if (height := look.shop.height_of(placement.part)) is not None and height > room
        ]
        tall.sort()
        if not tall:
            continue
        shown = [f"{reference} {number(-height)} mm" for height, _, reference in tall]
        yield Problem(
            path=("jobs", name, "seat", "clearance_below_mm"),
            related=tuple(("jobs", name, "placements", entry[2]) for entry in tall[:4]),
            message=f"{count(len(tall), 'part')} on the underside of {name} "
            f"{'strikes' if len(tall) == 1 else 'strike'} the support.",
            observed=f"{number(room)} mm free below the board; {listed(shown, 4)}",
            consequence="The board would be held by its parts: bent and too high.",
            remedy=(
                "Raise the board on its supports, or place the side with the tall parts last.",
            ),
        )


def panel_extent(frames: Frames) -> tuple[tuple[float, float], ...]:
    """Return the four corners of the board or panel on its seat, in the machine, mm."""
    width, height = frames.panel_size
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    return tuple(frames.on_seat(corner) for corner in corners)
