"""Rules about accuracy: how far off a part may be because fiducials are measured with noise."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import NamedTuple

from jobcheck.facts.frames import LONE, Cell, Frames
from jobcheck.facts.layout import LARGEST_MM, Layout
from jobcheck.facts.shifts import allowed_shift_mm
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import layouts
from jobcheck.schema.job import Panel
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.planar import Kind, line_deviation, position_error, spread
from jobcheck.trade.plane import Point
from jobcheck.wording import count, number

_SIGMAS = 3
"""Standard deviations that must fit: 99.7 % of the parts (normal distribution)."""

_EXACT = 1e-9


class _Marks(NamedTuple):
    """Fiducials by which a board is found, mm, and the outermost cells of the panel.

    A board's own fiducials are in its own frame, with one cell that has no name.
    """

    path: Path
    points: Sequence[Point]
    kind: Kind
    cells: Sequence[Cell]


class _Worst(NamedTuple):
    """The placement whose expected error is the largest share of the allowed one; mm."""

    reference: str
    outline: str
    error: float
    allowed: float
    marks: _Marks

    @property
    def share(self) -> float:
        """Three times the error as a share of the allowed one."""
        return _SIGMAS * self.error / self.allowed


@rule(
    Level.WARNING,
    fails="shop.limits.fiducial_noise_mm: 0.07",
    passes="shop.limits.fiducial_noise_mm: 0.06",
)
def fiducial_error_too_large(look: Inspection) -> Iterator[Problem | Unchecked]:
    """Fiducials are measured too coarsely for some part, or are too close together for it.

    `limits.fiducial_noise_mm` in each fiducial makes an error at every placement; three times the
    expected error must be within the shift that the part's terminals allow. Of a board's and its
    panel's fiducials the better ones count. Without two fiducials nothing is checked; parts
    without described terminals are left out.

    On the machine: parts far from the fiducials are off their pads, others on each board.

    To do: use fiducials further apart, or measure them more finely.

    Source: linear propagation of the errors, J. M. Fitzpatrick, J. B. West, C. R. Maurer, IEEE
    TMI 17(5), 1998 (from memory); the allowed shift is IPC-A-610F 8.3.2.1.
    """
    for name, layout in layouts(look):
        found = [_worst(look, Frames(look.shop.jobs[name]), layout, m) for m in _ways(look, name)]
        if not found and layout.bodies:
            path: Path = ("jobs", name, "board", "fiducials")
            concerns = f"accuracy of {count(len(layout.bodies), 'placement')} of {name}"
            cause = f"no two fiducials on {name}"
            yield Unchecked(concerns, cause, "fiducials", (path,), len(layout.bodies))
        if not found or any(worst is None for worst in found):
            continue
        worst = min((worst for worst in found if worst), key=lambda worst: worst.share)
        yield Problem(
            path=worst.marks.path,
            related=(("jobs", name, "placements", worst.reference),),
            message=f"{worst.reference} of {name} may be {_mm(_SIGMAS * worst.error)} off by the "
            f"fiducials alone; {worst.outline} allows {_mm(worst.allowed)}.",
            observed=f"fiducials {_mm(spread(worst.marks.points))} apart, each measured to "
            f"{_mm(look.limits.fiducial_noise_mm)} (limits.fiducial_noise_mm); expected there: "
            f"{_mm(worst.error)}",
            consequence=f"Some {worst.outline} may be placed off their pads.",
            remedy=("Use fiducials further apart, or measure them more finely.",),
        )


def _ways(look: Inspection, name: str) -> Iterator[_Marks]:
    """Yield the fiducials by which a board can be found: its own, and those of its panel."""
    job = look.shop.jobs[name]
    described = [("board", job.board.fiducials, [LONE])]
    if job.panel:
        described.append(("panel", job.panel.fiducials, _outer_cells(Frames(job), job.panel)))
    for kind, marks, cells in described:
        points = [(mark.x, mark.y) for mark in marks.values()]
        if len(points) >= 2 and 0 < spread(points) <= LARGEST_MM:
            yield _Marks(("jobs", name, kind, "fiducials"), points, _kind(points), cells)


def _outer_cells(frames: Frames, panel: Panel) -> list[Cell]:
    """Return the cells at the corners of the panel: the error grows outwards."""
    names = [f"{c}-{r}" for c, r in product({1, panel.columns}, {1, panel.rows})]
    return [cell for name in sorted(names) if (cell := frames.cell(name))]


def _kind(points: Sequence[Point]) -> Kind:
    """Return the fit that so many fiducials allow, as `trade.planar.fit` chooses it."""
    if len(points) == 2:
        return "rigid"
    is_line = line_deviation(points) <= _EXACT * spread(points)
    return "similarity" if len(points) == 3 or is_line else "affine"


def _worst(look: Inspection, frames: Frames, layout: Layout, marks: _Marks) -> _Worst | None:
    """Return the placement with the largest error; None if all are well placed."""
    found = []
    for outline, places in sorted(layout.on_board.items(), key=lambda entry: natural(entry[0])):
        allowed = allowed_shift_mm(look.shop.outlines[outline], look.limits)
        # The error grows outwards: at the corners of the box around all it is the largest.
        outermost = layout.corners(places)
        if not allowed or _SIGMAS * _error(look, frames, marks, outermost) <= allowed:
            continue
        error, reference = max(
            (_error(look, frames, marks, [layout.bodies[at].centre]), layout.references[at])
            for at in places
        )
        if _SIGMAS * error > allowed + _EXACT:
            found.append(_Worst(reference, outline, error, allowed, marks))
    return max(found, key=lambda worst: worst.share, default=None)


def _error(look: Inspection, frames: Frames, marks: _Marks, points: Iterable[Point]) -> float:
    """Return the largest expected error at some points of the board, in any of the cells; mm."""
    noise = look.limits.fiducial_noise_mm
    return max(
        position_error(marks.points, _in_cell(frames, point, cell), noise, marks.kind)
        for point in points
        for cell in marks.cells
    )


def _in_cell(frames: Frames, point: Point, cell: Cell) -> Point:
    return frames.in_cell(point, cell) if cell is not LONE else point


def _mm(value: float) -> str:
    return f"{number(round(value, 3))} mm"
