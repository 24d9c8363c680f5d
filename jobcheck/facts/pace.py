"""The time of a panel: an estimate that errs to the long side and names its assumptions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.frames import Cell, Frames
from jobcheck.facts.supply import boards_per_panel
from jobcheck.trade.pace import Axis, Cloud, cloud, root_mean_square_distance
from jobcheck.trade.plane import Point

if TYPE_CHECKING:
    from jobcheck.facts.facts import Facts
    from jobcheck.schema.feeders import Feeder
    from jobcheck.schema.machine import Machine, Motion
    from jobcheck.schema.parts import Outline

_PICTURE_S = 0.1
_CHANGE_BY_HAND_S = 30.0
_WAIT_S = 0.1
"""Assumed if a frame rate, a rack or a wait is not described: common practice, no published
source."""

_HALF_TURN = 180.0


class Pace(NamedTuple):
    """Seconds of a panel and of a run of panels, and the assumptions.

    `placing_s`, `marks_s` and `changes_s` make up a panel; `between_s` is from one panel to the
    next; `changes` counts the nozzles that are changed.
    """

    placing_s: float
    marks_s: float
    changes_s: float
    between_s: float
    panels: int
    changes: int
    assumed: tuple[str, ...]

    @property
    def panel_s(self) -> float:
        """One panel from its first mark to its last part, s."""
        return self.placing_s + self.marks_s + self.changes_s

    @property
    def run_s(self) -> float:
        """All panels and the times between them, s."""
        return self.panels * (self.panel_s + self.between_s)


def pace(facts: Facts, job: str) -> Pace | None:
    """Estimate the pace of a job; None if speeds, picks or placements are not described.

    One part a trip, nozzle by nozzle: feeder, camera, board. The way between feeder and board is
    the root of the mean square of all such ways, a turn by half goes with every move.
    """
    machine = facts.shop.machine
    if machine is None or machine.motion is None:
        return None
    return _Estimate(facts, machine, machine.motion, job).pace()


class _Estimate:
    """One estimate: the frames of a job and the speeds of its machine."""

    def __init__(self, facts: Facts, machine: Machine, motion: Motion, job: str) -> None:
        self.facts, self.shop = facts, facts.shop
        self.machine, self.motion, self.job = machine, motion, job
        self.frames = Frames(self.shop.jobs[job])
        self.plane = Axis(motion.xy_mm_s, motion.xy_mm_s2)
        self.lift = Axis(motion.z_mm_s, motion.z_mm_s2)
        self.turning = Axis(motion.rotation_deg_s, motion.rotation_deg_s2)
        self.assumed: dict[str, None] = {"one part a trip": None, "nozzle by nozzle": None}

    def pace(self) -> Pace | None:
        trips = list(self._trips())
        known = [seconds for _, seconds in trips if seconds is not None]
        if not known or not all(map(isfinite, known)):
            return None
        if len(known) < len(trips):
            self.assumed["parts without a pick as slow as the slowest"] = None
        placing = sum(n * (max(known) if s is None else s) for n, s in trips)
        run = self.shop.jobs[self.job].run
        changes = self._changes()
        return Pace(
            placing_s=placing * boards_per_panel(self.shop.jobs[self.job]),
            marks_s=self._marks_s(),
            changes_s=changes * self._change_s() if changes else 0.0,
            between_s=self.shop.limits.panel_change_s,
            panels=run.panels if run else 1,
            changes=changes,
            assumed=tuple(self.assumed),
        )

    # moves

    def _move_s(self, distance: float) -> float:
        """A move in the plane with its approach, while the spindle turns by half."""
        approach = self.machine.approach
        last = self.plane.time_s(approach.distance_mm) if approach else 0.0
        return max(self.plane.time_s(distance) + last, self.turning.time_s(_HALF_TURN))

    def _stroke_s(self, z: float) -> float:
        """From the travelling height down to a height and up again."""
        return 2 * self.lift.time_s(self.machine.traverse_z - z)

    def _wait_s(self, wait_ms: float | None) -> float:
        if wait_ms is None:
            self.assumed[f"{_WAIT_S:g} s for each wait that is not described"] = None
            return _WAIT_S
        return wait_ms / 1000

    def _picture_s(self, camera: str) -> float:
        known = self.machine.cameras.get(camera)
        if known is None or known.frame_rate_hz is None:
            self.assumed[f"{_PICTURE_S:g} s a picture"] = None
            return _PICTURE_S + self._wait_s(self.motion.picture_wait_ms)
        return 1 / known.frame_rate_hz + self._wait_s(self.motion.picture_wait_ms)

    # parts

    def _trips(self) -> Iterator[tuple[int, float | None]]:
        """Yield, part by part, how many of it a board has and the seconds of one trip."""
        for part, places in self._places().items():
            yield places.number, self._trip_s(part, places)

    def _places(self) -> dict[str, Cloud]:
        columns = self.facts.usage.placed[self.job]
        points: dict[str, list[Point]] = defaultdict(list)
        for part, x, y in zip(columns.parts, columns.xs, columns.ys, strict=True):
            if part is not None:
                points[part].append((x, y))
        return {part: cloud(at) for part, at in points.items()}

    @cached_property
    def _cells(self) -> list[tuple[Cell, float]]:
        """The built cells, upright and half turned: one middle and one variance each."""
        built = [cell for cell in self.frames.cells() if not cell.is_skipped]
        found = []
        for turned in (False, True):
            corners = [cell.corner for cell in built if cell.is_half_turned is turned]
            if corners:
                middle = cloud(corners)
                found.append((Cell("", middle.centre, turned), middle.variance))
        return found

    def _on_machine(self, places: Cloud) -> Cloud:
        """Places of all cells in the machine, as wide as they are apart."""
        centres = [
            self.frames.on_seat(self.frames.on_panel(places.centre, cell))
            for cell, _ in self._cells
        ]
        middle = cloud(centres) if centres else places
        spread = max((variance for _, variance in self._cells), default=0.0)
        return Cloud(places.number, middle.centre, middle.variance + spread + places.variance)

    def _trip_s(self, part: str, places: Cloud) -> float | None:
        outline, height = self.shop.outline_of(part), self.shop.height_of(part)
        feeders = [self.shop.feeders[name] for name in self.facts.usage.feeders_of_part(part)]
        ways = [self._ways_s(feeder, outline, self._on_machine(places)) for feeder in feeders]
        known = [seconds for seconds in ways if seconds is not None]
        if not known:
            return None
        place_z = self.shop.jobs[self.job].seat.z + (height or 0.0)
        waits = self._wait_s(self.motion.place_wait_ms) + self._wait_s(self.motion.vent_ms)
        return max(known) + self._stroke_s(place_z) + waits

    def _ways_s(self, feeder: Feeder, outline: Outline | None, places: Cloud) -> float | None:
        """From the board to the feeder, over its camera if it has one, to the board."""
        pick = feeder.pick
        if pick is None:
            return None
        at = pick.x, pick.y
        back = root_mean_square_distance(at, places)
        seconds = (
            self._move_s(back) + self._stroke_s(pick.z) + self._wait_s(self.motion.pick_wait_ms)
        )
        seen = self._seen(outline)
        if seen is None:
            return seconds + self._move_s(back)
        camera, z, look_s = seen
        apart = root_mean_square_distance(at, Cloud(1, camera, 0.0))
        there = root_mean_square_distance(camera, places)
        return seconds + self._move_s(apart) + self._stroke_s(z) + look_s + self._move_s(there)

    def _seen(self, outline: Outline | None) -> tuple[Point, float, float] | None:
        """Place and height of the camera below that looks at a part, and its seconds."""
        name = outline.recognition if outline else None
        recognition = self.shop.recognitions.get(name) if name else None
        camera = self.machine.cameras.get(recognition.camera) if recognition else None
        if recognition is None or camera is None or camera.position is None:
            return None
        seconds = recognition.views * self._picture_s(recognition.camera)
        return (camera.position.x, camera.position.y), camera.position.z, seconds

    # marks and nozzles

    def _marks_s(self) -> float:
        job = self.shop.jobs[self.job]
        marks = len(job.panel.fiducials) if job.panel else 0
        marks = marks or len(job.board.fiducials) * boards_per_panel(job)
        width, height = self.frames.panel_size
        across = root_mean_square_distance((width, height), Cloud(1, (0.0, 0.0), 0.0))
        downward = next((n for n, c in self.machine.cameras.items() if c.aim == "down"), "")
        return marks * (self._move_s(across) + self._picture_s(downward)) if marks else 0.0

    def _changes(self) -> int:
        """Nozzles that are changed on a panel: all of them if there are more than spindles."""
        outlines = map(self.shop.outline_of, self.facts.usage.placements_by_part.get(self.job, {}))
        nozzles = {outline.nozzles[0] for outline in outlines if outline and outline.nozzles}
        return len(nozzles) if len(nozzles) > max(len(self.machine.spindles), 1) else 0

    def _change_s(self) -> float:
        """To the rack, one nozzle down, the next one up, and back to the board."""
        rack = list(self.machine.rack.values())
        if not rack:
            self.assumed[f"{_CHANGE_BY_HAND_S:g} s to change a nozzle by hand"] = None
            return _CHANGE_BY_HAND_S
        places = cloud((place.x, place.y) for place in rack)
        width, height = self.frames.panel_size
        middle = self.frames.on_seat((width / 2, height / 2))
        lowest = min(place.z for place in rack)
        apart = root_mean_square_distance(places.centre, places)
        return (
            2 * self._move_s(root_mean_square_distance(middle, places))
            + self._move_s(2 * apart)
            + 2 * self._stroke_s(lowest)
        )
