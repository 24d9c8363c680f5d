"""A clean shop into which one fault is planted, and victims in it picked by what they are."""

from __future__ import annotations

import copy
import math
import pickle
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from jobcheck.facts.facts import Facts
from jobcheck.schema.feeders import Feeder
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import natural, parse
from jobcheck.shop.shop import Shop
from jobcheck.trade.plane import direction
from jobcheck.trade.polarity import PIN1_AT_ZERO

Plain = Any
Files = dict[str, bytes]


@dataclass(frozen=True)
class Held:
    """A feeder of a tape in a row, with its part's outline and where a job places it."""

    name: str
    feeder: Feeder
    part: str
    outline_name: str
    outline: Outline
    references: list[str]

    @property
    def path(self) -> str:
        """Where it is described."""
        return f"feeders.{self.name}"

    @property
    def outline_path(self) -> str:
        """Where its outline is described."""
        return f"outlines.{self.outline_name}"


class Scene:
    """The plain values of a shop, to be edited, beside the shop as it was understood before."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.facts = Facts(shop)
        self.plain: Plain = pickle.loads(pickle.dumps(shop.plain))

    # editing

    def put(self, path: str, value: Plain) -> None:
        """Put a value at a path; mappings on the way are made."""
        *keys, last = parse(path)
        at = self.plain
        for key in keys:
            at = at[int(key)] if isinstance(at, list) else at.setdefault(key, {})
        at[int(last) if isinstance(at, list) else last] = value

    def puts(self, values: dict[str, Plain]) -> None:
        """Put several values."""
        for path, value in values.items():
            self.put(path, value)

    def get(self, path: str) -> Plain:
        """Return a copy of what stands at a path now."""
        at = self.plain
        for key in parse(path):
            at = at[int(key)] if isinstance(at, list) else at[key]
        return copy.deepcopy(at)

    def drop(self, *paths: str) -> None:
        """Take values away."""
        for path in paths:
            *keys, last = parse(path)
            at = self.plain
            for key in keys:
                at = at[int(key)] if isinstance(at, list) else at[key]
            del at[last]

    def change(self, path: str, by: Callable[[Plain], Plain]) -> None:
        """Put what a function makes of the present value."""
        self.put(path, by(self.get(path)))

    def add(self, path: str, by: float) -> None:
        """Add to a number."""
        self.change(path, lambda value: round(value + by, 4))

    def copy_to(self, path: str, source: str) -> None:
        """Copy a value to another place."""
        self.put(path, self.get(source))

    def swap(self, one: str, other: str) -> None:
        """Exchange two values."""
        first, second = self.get(one), self.get(other)
        self.put(one, second)
        self.put(other, first)

    # jobs and placements

    @cached_property
    def job_name(self) -> str:
        """The first job."""
        return min(self.shop.jobs, key=natural)

    @property
    def job(self) -> str:
        """Where the first job is described."""
        return f"jobs.{self.job_name}"

    @cached_property
    def board(self) -> tuple[float, float]:
        """Size of the first job's board."""
        width, height = self.shop.jobs[self.job_name].board.size_mm
        return width, height

    @property
    def marks(self) -> list[str]:
        """Where the fiducials of the first job's board are described."""
        names = sorted(self.shop.jobs[self.job_name].board.fiducials, key=natural)
        return [f"{self.job}.board.fiducials.{name}" for name in names]

    def placed(self, reference: str) -> str:
        """Where a placement of the first job is described."""
        return f'{self.job}.placements."{reference}"'

    @property
    def references(self) -> list[str]:
        """All references that the first job places."""
        return list(self.facts.usage.placed[self.job_name].references)

    def add_placement(self, reference: str, like: Held, x: float, y: float) -> None:
        """Add a placement of a part that a feeder holds, and its line in the bill."""
        self.put(
            self.placed(reference),
            {"part": like.part, "x": x, "y": y, "rotation": 0, "side": "top"},
        )
        self.put(f'{self.job}.bill."{reference}"', {"part": like.part})

    def corner(self) -> tuple[float, float]:
        """A free place near the lower right corner of the board: nothing is placed at its edge."""
        return self.board[0] - 3.0, 2.6

    # feeders

    @cached_property
    def held(self) -> list[Held]:
        """Feeders of tapes in rows whose part the first job places, one feeder a part."""
        return [held for held in self._all_held() if self._is_only(held.name)]

    def _all_held(self) -> Iterator[Held]:
        placed = self.facts.usage.placements_by_part[self.job_name]
        for name in sorted(self.shop.feeders, key=natural):
            feeder = self.shop.feeders[name]
            outline = self.shop.outline_of(feeder.part)
            if (
                feeder.row is None
                or feeder.tape is None
                or feeder.part not in placed
                or not outline
            ):
                continue
            outline_name = self.shop.parts[feeder.part].outline
            yield Held(name, feeder, feeder.part, outline_name, outline, placed[feeder.part])

    def _is_only(self, name: str) -> bool:
        part = self.shop.feeders[name].part
        return part is not None and len(self.facts.usage.feeders_of_part(part)) == 1

    def some(self, suits: Callable[[Held], bool], which: int = 0) -> Held:
        """Return a feeder that suits, the first where not said otherwise."""
        return [held for held in self.held if suits(held)][which]

    def chip(self, which: int = 0) -> Held:
        """An unpolarised part with two terminals that is no square, larger than 0402."""
        return self.some(
            lambda h: (
                not h.outline.polarised
                and h.outline.terminals == 2
                and max(h.outline.body_mm) > 1.1
                and abs(h.outline.body_mm[0] - h.outline.body_mm[1]) > 0.3
            ),
            which,
        )

    def diode(self, which: int = 0) -> Held:
        """A polarised part whose pin 1 lies in mid-side."""
        return self.some(lambda h: h.outline.pin1_at_zero == "left", which)

    def chip_of_pins(self, which: int = 0) -> Held:
        """A polarised part whose pin 1 lies in a corner, of eight terminals or more."""
        return self.some(
            lambda h: h.outline.pin1_at_zero == "upper_left" and h.outline.terminals >= 8, which
        )

    def large(self) -> Held:
        """The widest part in a tape."""
        return max(self.held, key=lambda held: min(held.outline.body_mm))

    def second_feeder(self, held: Held, row: str | None = None) -> str:
        """Put a second feeder of a part into a free slot of its row; return where it is."""
        own = self.get(held.path)
        row = row or own["row"]
        slot = self.free_slot(row)
        described = self.shop.machine.feeder_rows[row] if self.shop.machine else None
        assert described
        along = slot - own["slot"]
        own["slot"] = slot
        own["pick"]["x"] = round(own["pick"]["x"] + along * described.step.x, 3)
        own["pick"]["y"] = round(own["pick"]["y"] + along * described.step.y, 3)
        own["pick"]["z"] = round(own["pick"]["z"] + 0.011 * along, 3)
        self.put("feeders.f90", own)
        return "feeders.f90"

    def free_slot(self, row: str) -> int:
        """Return the last slot of a row in which nothing stands."""
        machine = self.shop.machine
        assert machine
        taken = {feeder.slot for feeder in self.shop.feeders.values() if feeder.row == row}
        return max(set(range(1, machine.feeder_rows[row].slots + 1)) - taken)

    def of_carrier(self, carrier: str) -> str:
        """Where the first feeder of a carrier outside the rows, or a stick, is described."""
        return next(
            f"feeders.{name}"
            for name in sorted(self.shop.feeders, key=natural)
            if self.shop.feeders[name].carrier == carrier
            and (self.shop.feeders[name].row is None or carrier == "stick")
        )

    # the machine

    @property
    def head(self) -> str:
        """Where the downward camera is described."""
        return self._camera("down")

    @property
    def up(self) -> str:
        """Where the upward camera is described."""
        return self._camera("up")

    def _camera(self, aim: str) -> str:
        return next(f"cameras.{n}" for n, camera in self.shop.cameras.items() if camera.aim == aim)

    @property
    def rack(self) -> list[str]:
        """Where the rack places are described."""
        assert self.shop.machine
        return [f"rack.{name}" for name in sorted(self.shop.machine.rack, key=natural)]

    @property
    def spindles(self) -> list[str]:
        """Where the spindles are described."""
        assert self.shop.machine
        return [f"spindles.{name}" for name in sorted(self.shop.machine.spindles, key=natural)]

    def recognition(self, held: Held) -> str:
        """Where the recognition of a part is described."""
        return f"recognitions.{held.outline.recognition}"

    def nozzle(self, held: Held) -> str:
        """Where the nozzle of a part is described."""
        return f"nozzles.{held.outline.nozzles[0]}"

    # pad data

    def add_pads(self) -> None:
        """State where pad 1 of every polarised placement lies, in agreement with the list."""
        placements = self.shop.jobs[self.job_name].placements.by_reference
        for reference in self.references:
            placement = placements[reference]
            outline = self.shop.outline_of(placement.part)
            if outline is None or not outline.polarised or outline.pin1_at_zero is None:
                continue
            x, y = direction(PIN1_AT_ZERO[outline.pin1_at_zero] + placement.rotation)
            reach = 0.45 * math.hypot(*outline.body_mm)
            self.put(f"{self.placed(reference)}.pin1_x", round(placement.x + reach * x, 3))
            self.put(f"{self.placed(reference)}.pin1_y", round(placement.y + reach * y, 3))
