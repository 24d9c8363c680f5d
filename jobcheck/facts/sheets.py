"""Boards and panels with their fiducials."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Frames
from jobcheck.facts.layout import LARGEST_MM
from jobcheck.facts.rows import point
from jobcheck.schema.job import Hole
from jobcheck.schema.values import Mark
from jobcheck.shop.paths import Path, natural
from jobcheck.trade.plane import Point
from jobcheck.wording import listed


class Sheet(NamedTuple):
    """A board or a panel of one job, with its fiducials."""

    job: str
    kind: str
    size: Point
    marks: dict[str, Mark]
    holes: dict[str, Hole]

    @property
    def path(self) -> Path:
        """Where its fiducials are described."""
        return ("jobs", self.job, self.kind, "fiducials")

    @property
    def names(self) -> list[str]:
        """Names of the fiducials, in natural order."""
        return sorted(self.marks, key=natural)

    @property
    def points(self) -> list[Point]:
        """Centres of the fiducials, by name, mm."""
        return [(self.marks[name].x, self.marks[name].y) for name in self.names]

    @property
    def title(self) -> str:
        """Its title: `the board of logger`."""
        return f"the {self.kind} of {self.job}"

    def shown(self) -> str:
        """Write where the fiducials are."""
        return listed([f"{n} at {point(self.marks[n].x, self.marks[n].y)}" for n in self.names], 4)

    def mark_path(self, name: str) -> Path:
        """Where one fiducial is described."""
        return (*self.path, name)


def sheets(facts: Facts, anywhere: bool = False) -> Iterator[Sheet]:
    """Yield the boards and panels that have fiducials, job by job.

    Without `anywhere`, those with a fiducial absurdly far off are left out.
    """
    for sheet in _sheets(facts):
        if anywhere or all(abs(x) + abs(y) <= LARGEST_MM for x, y in sheet.points):
            yield sheet


def _sheets(facts: Facts) -> Iterator[Sheet]:
    for name in sorted(facts.shop.jobs, key=natural):
        job = facts.shop.jobs[name]
        if not facts.shop.understood(("jobs", name)):
            continue
        width, height = job.board.size_mm
        if job.board.fiducials:
            board = job.board
            yield Sheet(name, "board", (width, height), board.fiducials, board.holes)
        if job.panel and job.panel.fiducials:
            yield Sheet(name, "panel", Frames(job).panel_size, job.panel.fiducials, {})


def search_radius(facts: Facts, mark: Mark) -> float:
    """Return a fiducial's search radius, mm: its own, the home mark's, else the limit's."""
    if mark.search_radius_mm is not None:
        return mark.search_radius_mm
    home = facts.shop.machine.home_mark if facts.shop.machine else None
    return home.search_radius_mm if home else facts.shop.limits.fiducial_search_mm
