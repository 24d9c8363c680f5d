"""Rules about described fiducials: how many, how large, where, and what they determine."""

from __future__ import annotations

import math
from collections.abc import Iterator

from jobcheck.facts.rows import point
from jobcheck.facts.sheets import search_radius, sheets
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.job import Hole, Job
from jobcheck.schema.values import Mark
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.planar import half_turn_mismatch, line_deviation, spread
from jobcheck.wording import count, listed, number

LEAST_MM, MOST_MM = 1.0, 3.0
"""Diameter of a fiducial. Source: SMEMA fiducial mark standard (second-hand)."""

EQUAL_WITHIN_MM = 0.025
"""Fiducials of one board are of one size to 25 um. Source: SMEMA fiducial mark standard."""


_ON_LINE_PERCENT = 5
"""Fiducials that leave a line by less of their spread are on it: common practice, no published
source."""

_EXACT = 1e-9


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m2: ~",
    passes="jobs.first-board.board.fiducials.m3: {x: 4, y: 26, diameter_mm: 1.0}",
)
def fiducials_too_few(look: Inspection) -> Iterator[Problem]:
    """A job has fewer than two fiducials on its board or panel.

    On the machine: one fiducial shows where the board is, but not how it is turned; without any,
    the board is only as exact as it was put down.

    To do: describe two fiducials at least, on a diagonal and far apart.

    Source: IPC-7351 3.4.4.
    """
    for name in sorted(look.shop.jobs, key=natural):
        job = look.shop.jobs[name]
        panel = job.panel.fiducials if job.panel else {}
        on_panel = len(panel) > len(job.board.fiducials)
        marks = panel if on_panel else job.board.fiducials
        if len(marks) >= 2 or not look.shop.understood(("jobs", name)):
            continue
        where = "panel" if on_panel else "board"
        yield Problem(
            path=("jobs", name, where, "fiducials"),
            message=f"{name} has {count(len(marks), 'fiducial')}; two are needed.",
            observed=f"{listed(sorted(marks, key=natural)) or 'none'} on the {where}",
            consequence="The turn of the board would not be found, and parts far from the fiducial "
            "may be placed beside their pads."
            if marks
            else "Parts would be placed as far off as the board was put down.",
            remedy=("Describe two fiducials, on a diagonal and far apart.",),
        )


@rule(
    Level.ERROR,
    fails="jobs.first-board.board.fiducials.m3: {x: 41, y: 4, diameter_mm: 1.0}",
    passes="jobs.first-board.board.fiducials.m3: {x: 39, y: 4, diameter_mm: 1.0}",
)
def fiducial_outside_board(look: Inspection) -> Iterator[Problem]:
    """A fiducial is not wholly on its board or panel.

    On the machine: it is not found, or is mistaken for something beside the board.

    To do: correct the position of the fiducial, or the size of board or panel.

    Source: arithmetic.
    """
    for sheet in sheets(look.facts, anywhere=True):
        width, height = sheet.size
        out = []
        for name in sheet.names:
            mark = sheet.marks[name]
            half = mark.diameter_mm / 2 - _EXACT
            if not (half <= mark.x <= width - half and half <= mark.y <= height - half):
                out.append(name)
        if out:
            where = listed([f"{n} at {point(sheet.marks[n].x, sheet.marks[n].y)}" for n in out], 4)
            yield Problem(
                path=sheet.mark_path(out[0]),
                related=tuple(sheet.mark_path(name) for name in out[1:5]),
                message=f"{listed(out, 4)} {'is' if len(out) == 1 else 'are'} outside "
                f"{sheet.title}.",
                observed=f"{where}; the {sheet.kind} is {number(width)} × {number(height)} mm",
                consequence="The fiducial would not be found.",
                remedy=(f"Correct the position, or the size of the {sheet.kind}.",),
                suppresses=tuple((other, sheet.path) for other in _ABOUT_PLACES),
            )


_ABOUT_PLACES = (
    *("fiducials-symmetric", "fiducials-close-together", "fiducials-in-line"),
    *("fiducial-near-edge", "job-out-of-reach", "fiducial-error-too-large"),
)
"""These follow from a fiducial in a wrong place."""


@rule(
    Level.WARNING,
    fails="""
    jobs.first-board.board.fiducials.m1.diameter_mm: 0.8
    jobs.first-board.board.fiducials.m2.diameter_mm: 0.8
    """,
    passes="""
    jobs.first-board.board.fiducials.m1.diameter_mm: 3
    jobs.first-board.board.fiducials.m2.diameter_mm: 3
    """,
)
def fiducial_size_unusual(look: Inspection) -> Iterator[Problem]:
    """A fiducial is smaller than 1 mm or larger than 3 mm.

    On the machine: a small one is measured coarsely, a large one may not fit the search.

    To do: correct the diameter: it is that of the copper, not of the opening around it.

    Source: 1.0 to 3.0 mm, SMEMA fiducial mark standard (second-hand).
    """
    for sheet in sheets(look.facts):
        odd = [
            name
            for name in sheet.names
            if not LEAST_MM - _EXACT <= sheet.marks[name].diameter_mm <= MOST_MM + _EXACT
        ]
        if odd:
            sizes = [f"{name} {number(sheet.marks[name].diameter_mm)} mm" for name in odd]
            yield Problem(
                path=(*sheet.mark_path(odd[0]), "diameter_mm"),
                related=tuple((*sheet.mark_path(name), "diameter_mm") for name in odd[1:5]),
                message=f"{listed(odd, 4)} of {sheet.title} {'is' if len(odd) == 1 else 'are'} of "
                "unusual size.",
                observed=f"{listed(sizes, 4)}; {LEAST_MM:g} to {MOST_MM:g} mm is usual",
                consequence="The camera may measure it coarsely, or mistake something else for it.",
                remedy=(
                    "Look at the board: the diameter is that of the copper, not of the opening "
                    "around it.",
                ),
                suppresses=(("fiducials-unequal", sheet.path),),
            )


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m2.diameter_mm: 1.5",
    passes="jobs.first-board.board.fiducials.m2.diameter_mm: 1.02",
)
def fiducials_unequal(look: Inspection) -> Iterator[Problem]:
    """The fiducials of one board or panel differ in diameter by more than 25 um.

    On the machine: one setting of the search does not fit all, or one of them is not a fiducial.

    To do: correct the diameters, or remove the one that is not a fiducial.

    Source: within 25 um, SMEMA fiducial mark standard (second-hand).
    """
    for sheet in sheets(look.facts):
        sizes = {name: sheet.marks[name].diameter_mm for name in sheet.names}
        usual = sorted(sizes.values())[(len(sizes) - 1) // 2]
        differ = max(sizes.values()) - min(sizes.values())
        if differ <= EQUAL_WITHIN_MM + _EXACT:
            continue
        odd = [name for name, size in sizes.items() if abs(size - usual) > EQUAL_WITHIN_MM]
        shown = [f"{name} {number(size)} mm" for name, size in sizes.items()]
        yield Problem(
            path=(*sheet.mark_path((odd or sheet.names)[0]), "diameter_mm"),
            related=tuple(
                (*sheet.mark_path(n), "diameter_mm") for n in sheet.names if n not in odd
            ),
            message=f"the fiducials of {sheet.title} differ in size by {1000 * differ:.0f} um.",
            observed=f"{listed(shown, 4)}; the limit is {1000 * EQUAL_WITHIN_MM:g} um",
            consequence="One search may not find them all, or one of them is not a fiducial.",
            remedy=("Look at the board; correct the diameter, or remove the wrong one.",),
        )


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m1.clear_mm: 0.4",
    passes="jobs.first-board.board.fiducials.m1.clear_mm: 0.5",
)
def fiducial_ring_narrow(look: Inspection) -> Iterator[Problem]:
    """The clear ring around a fiducial is narrower than the fiducial's radius.

    On the machine: print or copper near the mark shifts the centre that is found.

    To do: widen the ring in the design; correct `clear_mm`.

    Source: at least the mark's radius, SMEMA fiducial mark standard (second-hand).
    """
    for sheet in sheets(look.facts):
        narrow = []
        for name in sheet.names:
            mark = sheet.marks[name]
            if mark.clear_mm is not None and mark.clear_mm < mark.diameter_mm / 2 - _EXACT:
                narrow.append(name)
        if narrow:
            shown = [
                f"{name} {number(sheet.marks[name].clear_mm or 0)} mm clear, radius "
                f"{number(sheet.marks[name].diameter_mm / 2)}"
                for name in narrow
            ]
            yield Problem(
                path=(*sheet.mark_path(narrow[0]), "clear_mm"),
                related=tuple((*sheet.mark_path(name), "clear_mm") for name in narrow[1:5]),
                message=f"{listed(narrow, 4)} of {sheet.title} "
                f"{'has' if len(narrow) == 1 else 'have'} too narrow a clear ring.",
                observed=listed(shown, 3),
                consequence="Things beside the fiducial may shift the centre that is found.",
                remedy=("Widen the ring in the design, or correct clear_mm.",),
            )


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m1: {x: 1.2, y: 4, diameter_mm: 1.0, clear_mm: 1.0}",
    passes="jobs.first-board.board.fiducials.m1: {x: 1.5, y: 4, diameter_mm: 1.0, clear_mm: 1.0}",
)
def fiducial_near_edge(look: Inspection) -> Iterator[Problem]:
    """The clear ring of a fiducial reaches beyond the edge of its board or panel.

    Without `clear_mm` the ring is taken to be as wide as the fiducial's radius.

    On the machine: the camera sees the edge beside the fiducial, and may measure that instead.

    To do: move the fiducial inwards, or correct its position.

    Source: a clear ring of at least the fiducial's radius, SMEMA fiducial mark standard
    (second-hand).
    """
    for sheet in sheets(look.facts):
        near = {}
        for name in sheet.names:
            mark = sheet.marks[name]
            half = mark.diameter_mm / 2
            ring = half if mark.clear_mm is None else mark.clear_mm
            edge = min(mark.x, mark.y, sheet.size[0] - mark.x, sheet.size[1] - mark.y) - half
            if -_EXACT <= edge < ring - _EXACT:
                near[name] = f"{name} {number(edge)} mm from it, {number(ring)} clear"
        if near:
            yield Problem(
                path=sheet.mark_path(next(iter(near))),
                related=tuple(sheet.mark_path(name) for name in list(near)[1:5]),
                message=f"{listed(list(near), 4)} of {sheet.title} "
                f"{'is' if len(near) == 1 else 'are'} too near to the edge.",
                observed=listed(list(near.values()), 4),
                consequence="The camera may measure the edge instead of the fiducial.",
                remedy=("Move the fiducial inwards, or correct its position.",),
            )


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m2: {x: 20, y: 14, diameter_mm: 1.0}",
    passes="jobs.first-board.board.fiducials.m2: {x: 22, y: 14, diameter_mm: 1.0}",
)
def fiducials_close_together(look: Inspection) -> Iterator[Problem]:
    """The fiducials of a board or panel are close together, measured by its diagonal.

    On the machine: a small error in one of them becomes a large one at the far corner.

    To do: use fiducials far apart, on a diagonal.

    Source: far apart on a diagonal, IPC-7351 3.4.4; `limits.fiducial_spread_percent`: common
    practice, no published source.
    """
    for sheet in sheets(look.facts):
        if len(sheet.marks) < 2:
            continue
        apart, diagonal = spread(sheet.points), math.hypot(*sheet.size)
        least = look.limits.fiducial_spread_percent
        if 100 * apart < least * diagonal - _EXACT:
            yield Problem(
                path=sheet.path,
                message=f"the fiducials of {sheet.title} are {number(round(apart, 2))} mm apart: "
                f"{100 * apart / diagonal:.0f} % of its diagonal.",
                observed=f"{sheet.shown()}; diagonal {number(round(diagonal, 1))} mm, "
                f"the limit is {number(least)} %",
                consequence="A small error in one of them would grow towards the far corner.",
                remedy=("Use fiducials on a diagonal, as far apart as possible.",),
                suppresses=tuple(
                    (other, sheet.path)
                    for other in ("fiducials-in-line", "fiducial-error-too-large")
                ),
            )


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m3: {x: 20, y: 13, diameter_mm: 1.0}",
    passes="jobs.first-board.board.fiducials.m3: {x: 20, y: 18, diameter_mm: 1.0}",
)
def fiducials_in_line(look: Inspection) -> Iterator[Problem]:
    """Three or more fiducials are on one line.

    On the machine: stretch and shear of the board across that line are not found, although there
    is a third fiducial.

    To do: use fiducials at three corners.

    Source: three fiducials for scale and shear, IPC-7351 3.4.4; one that leaves the line by less
    than 5 % of the spread counts as on it: common practice, no published source.
    """
    for sheet in sheets(look.facts):
        if len(sheet.marks) < 3:
            continue
        off, apart = line_deviation(sheet.points), spread(sheet.points)
        if apart and 100 * off < _ON_LINE_PERCENT * apart:
            yield Problem(
                path=sheet.path,
                message=f"the {len(sheet.marks)} fiducials of {sheet.title} are on one line.",
                observed=f"{sheet.shown()}; at most {number(round(off, 3))} mm off a line of "
                f"{number(round(apart, 1))} mm",
                consequence="Stretch and shear across that line would not be found.",
                remedy=("Use fiducials at three corners.",),
            )


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m2: {x: 36, y: 25, diameter_mm: 1.0}",
    passes="jobs.first-board.board.fiducials.m2: {x: 36, y: 23.9, diameter_mm: 1.0}",
)
def fiducials_symmetric(look: Inspection) -> Iterator[Problem]:
    """The fiducials map onto themselves when the board or panel is turned by half a turn.

    Each fiducial then has another within its search radius. For a panel its own fiducials count;
    a panel whose cells map onto each other as well may be either way round.

    On the machine: a board that is seated the wrong way round is found and built so.

    To do: move one fiducial by more than the search radius, or key the seat and accept this.

    Source: common practice, no published source.
    """
    for sheet in sheets(look.facts):
        job = look.shop.jobs[sheet.job]
        is_decided_by_panel = job.panel is not None and len(job.panel.fiducials) >= 2
        if len(sheet.marks) < 2 or (sheet.kind == "board" and is_decided_by_panel):
            continue
        radius = max(search_radius(look.facts, mark) for mark in sheet.marks.values())
        centre = sheet.size[0] / 2, sheet.size[1] / 2
        off = half_turn_mismatch(sheet.points, centre)
        if off > radius + _EXACT or _fits_either_way(job):
            continue
        yield Problem(
            path=sheet.path,
            message=f"the fiducials of {sheet.title} look the same after half a turn.",
            observed=f"{sheet.shown()} on {number(sheet.size[0])} × {number(sheet.size[1])} mm; "
            f"turned, each is within {number(round(off, 3))} mm of one; searched within "
            f"{number(radius)} mm",
            consequence=f"A {sheet.kind} seated the wrong way round would be found, and built so.",
            remedy=(
                "Move one by more than the search radius, or key the seat and accept this finding.",
            ),
        )


def _fits_either_way(job: Job) -> bool:
    """Return whether half a turn of the panel takes every cell to one that is turned alike."""
    panel = job.panel
    if panel is None or 2 * len(set(panel.half_turned)) != panel.columns * panel.rows:
        return False
    return all(
        _opposite(panel.columns, panel.rows, name) not in panel.half_turned
        for name in panel.half_turned
    )


def _opposite(columns: int, rows: int, name: str) -> str:
    column, row = map(int, name.split("-"))
    return f"{columns + 1 - column}-{rows + 1 - row}"


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.holes.h1: {x: 4, y: 5.9, diameter_mm: 1.1}",
    passes="""
    jobs.first-board.board.holes.h1: {x: 4, y: 6.1, diameter_mm: 1.1}
    jobs.first-board.board.holes.h2: {x: 36, y: 22, diameter_mm: 3.2}
    """,
)
def fiducial_look_alike(look: Inspection) -> Iterator[Problem]:
    """A hole or fiducial of much the same size is within another fiducial's search radius.

    Pads and vias look alike too, but are not described.

    On the machine: the wrong one is found, and all parts are shifted by as much.

    To do: search less far (the fiducial's `search_radius_mm`), or use another fiducial.

    Source: common practice, no published source.
    """
    for sheet in sheets(look.facts):
        things: list[tuple[Path, str, Mark | Hole]] = [
            (sheet.mark_path(name), f"fiducial {name}", sheet.marks[name]) for name in sheet.names
        ]
        things += [
            (("jobs", sheet.job, "board", "holes", name), f"hole {name}", sheet.holes[name])
            for name in sorted(sheet.holes, key=natural)
        ]
        for at, name in enumerate(sheet.names):
            mark = sheet.marks[name]
            radius = search_radius(look.facts, mark)
            like = [
                (math.dist((mark.x, mark.y), (other.x, other.y)), path, title, other.diameter_mm)
                for path, title, other in things[at + 1 :]
                if _looks_alike(look, mark, other)
            ]
            near = [entry for entry in like if entry[0] <= radius + _EXACT]
            if near:
                apart, path, title, diameter = min(near)
                yield Problem(
                    path=sheet.mark_path(name),
                    related=(path,),
                    message=f"{title} is {number(round(apart, 3))} mm from fiducial {name} of "
                    f"{sheet.title} and looks like it.",
                    observed=f"{title} {number(diameter)} mm, fiducial "
                    f"{number(mark.diameter_mm)} mm wide; searched within {number(radius)} mm",
                    consequence=f"It may be taken for the fiducial; parts would be up to "
                    f"{number(round(apart, 3))} mm off.",
                    remedy=("Search less far (search_radius_mm), or use another fiducial.",),
                    suppresses=(("fiducials-in-line", sheet.path),),
                )


def _looks_alike(look: Inspection, mark: Mark, other: Mark | Hole) -> bool:
    differs = abs(other.diameter_mm - mark.diameter_mm)
    return 100 * differs <= look.limits.look_alike_percent * mark.diameter_mm
