"""Rules about described fiducials: how many, how large, where, and what they determine."""

from __future__ import annotations

import math
from collections.abc import Iterator

from jobcheck.facts.rows import point
from jobcheck.facts.sheets import Sheet, search_radius, sheets
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
    *("fiducials-symmetric", "fiducials-badly-spread", "fiducial-unsuitable"),
    *("job-out-of-reach", "fiducial-error-too-large"),
)
"""These follow from a fiducial in a wrong place."""


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m1.clear_mm: 0.4",
    passes="""
    jobs.first-board.board.fiducials.m1: {x: 4, y: 4, diameter_mm: 3, clear_mm: 1.5}
    jobs.first-board.board.fiducials.m2: {x: 36, y: 22, diameter_mm: 2.98}
    """,
)
def fiducial_unsuitable(look: Inspection) -> Iterator[Problem]:
    """A fiducial has an unusual size, unequal to the others, or too little room around it.

    Too little room is a clear ring narrower than its radius, or an edge within the ring. Without
    `clear_mm` the ring is as wide as the radius.

    On the machine: the camera measures it coarsely, measures something beside it, or does not find
    it.

    To do: look at the board. Correct the diameter (of the copper, not of the opening around it),
    the ring or the position; or use another fiducial.

    Source: 1.0 to 3.0 mm, within 25 um of each other, a clear ring of at least the radius: SMEMA
    fiducial mark standard (second-hand).
    """
    for sheet in sheets(look.facts):
        found = [(name, *why) for name in sheet.names for why in _unsuitable(sheet, name)]
        if not found:
            continue
        names = list(dict.fromkeys(name for name, _, _ in found))
        paths = [(*sheet.mark_path(name), *key) for name, key, _ in found]
        yield Problem(
            path=paths[0],
            related=tuple(paths[1:5]),
            message=f"{listed(names, 4)} of {sheet.title} "
            + ("is" if len(names) == 1 else "are")
            + " unsuitable for the camera.",
            observed=listed([f"{name} {says}" for name, _, says in found], 4),
            consequence="The camera may measure it coarsely, measure something beside it, or not "
            "find it.",
            remedy=(
                "Look at the board, and correct the description. The diameter is that of the "
                "copper, not of the opening around it.",
            ),
        )


def _unsuitable(sheet: Sheet, name: str) -> Iterator[tuple[Path, str]]:
    """Yield the keys of a fiducial that are unsuitable, with the reason."""
    mark = sheet.marks[name]
    half = mark.diameter_mm / 2
    ring = half if mark.clear_mm is None else mark.clear_mm
    sizes = {other: sheet.marks[other].diameter_mm for other in sheet.names}
    usual = sorted(sizes.values())[(len(sizes) - 1) // 2]
    odd = max(sizes, key=lambda other: abs(sizes[other] - usual))
    is_unequal = max(sizes.values()) - min(sizes.values()) > EQUAL_WITHIN_MM + _EXACT
    if not LEAST_MM - _EXACT <= mark.diameter_mm <= MOST_MM + _EXACT:
        says = f"{number(mark.diameter_mm)} mm wide, usual are {LEAST_MM:g} to {MOST_MM:g} mm"
        yield ("diameter_mm",), says
    elif is_unequal and name == odd:
        yield ("diameter_mm",), f"{number(mark.diameter_mm)} mm wide, others {number(usual)} mm"
    if ring < half - _EXACT:
        yield ("clear_mm",), f"{number(ring)} mm clear, its radius is {number(half)} mm"
    edge = min(mark.x, mark.y, sheet.size[0] - mark.x, sheet.size[1] - mark.y) - half
    if -_EXACT <= edge < ring - _EXACT:
        yield (), f"{number(edge)} mm from the edge, {number(ring)} mm clear"


@rule(
    Level.WARNING,
    fails="jobs.first-board.board.fiducials.m2: {x: 20, y: 14, diameter_mm: 1.0}",
    passes="jobs.first-board.board.fiducials.m3: {x: 20, y: 18, diameter_mm: 1.0}",
)
def fiducials_badly_spread(look: Inspection) -> Iterator[Problem]:
    """The fiducials of a board or panel are close together, or three or more are on one line.

    Close together is measured by the diagonal of the board or panel.

    On the machine: a small error in one of them becomes a large one at the far corner; stretch and
    shear across a line are not found.

    To do: use fiducials far apart, on a diagonal; three at three corners.

    Source: far apart on a diagonal, three for scale and shear, IPC-7351 3.4.4;
    `limits.fiducial_spread_percent`, and on a line within 5 % of the spread: common practice, no
    published source.
    """
    least = look.limits.fiducial_spread_percent
    for sheet in sheets(look.facts):
        if len(sheet.marks) < 2:
            continue
        apart, diagonal = spread(sheet.points), math.hypot(*sheet.size)
        off = line_deviation(sheet.points)
        if 100 * apart < least * diagonal - _EXACT:
            message = f"are {number(round(apart, 2))} mm apart: {100 * apart / diagonal:.0f} % of "
            message += "its diagonal."
            observed = f"diagonal {number(round(diagonal, 1))} mm, the limit is {number(least)} %"
            consequence = "A small error in one of them would grow towards the far corner."
        elif len(sheet.marks) > 2 and 100 * off < _ON_LINE_PERCENT * apart:
            message = "are on one line."
            observed = f"at most {number(round(off, 3))} mm off a line of "
            observed += f"{number(round(apart, 1))} mm"
            consequence = "Stretch and shear across that line would not be found."
        else:
            continue
        yield Problem(
            path=sheet.path,
            message=f"the {len(sheet.marks)} fiducials of {sheet.title} {message}",
            observed=f"{sheet.shown()}; {observed}",
            consequence=consequence,
            remedy=("Use fiducials far apart on a diagonal; a third one at another corner.",),
            suppresses=(("fiducial-error-too-large", sheet.path),),
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
                    suppresses=(("fiducials-badly-spread", sheet.path),),
                )


def _looks_alike(look: Inspection, mark: Mark, other: Mark | Hole) -> bool:
    differs = abs(other.diameter_mm - mark.diameter_mm)
    return 100 * differs <= look.limits.look_alike_percent * mark.diameter_mm
