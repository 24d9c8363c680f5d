"""Fixtures: what is where on the machine, as outlines seen from above."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.facts.frames import frames_of
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.bodies import Body


class Fixture(NamedTuple):
    """A fixture: its kind, name and path, its outline in mm, and its height in mm if known."""

    kind: str
    name: str
    path: Path
    body: Body
    z: float | None = None


def boards(shop: Shop) -> Iterator[Fixture]:
    """Yield the board or panel of each job on its seat."""
    for job in sorted(shop.jobs, key=natural):
        frames = frames_of(shop, job)
        width, height = frames.panel_size
        centre = frames.on_seat((width / 2, height / 2))
        body = Body(centre, width, height, shop.jobs[job].seat.rotation)
        yield Fixture("board", f"the board of {job}", ("jobs", job, "seat"), body)


def fixed(machine: Machine) -> Iterator[Fixture]:
    """Yield what is fixed on the bed: bin, home mark, upward cameras, rack places, obstacles."""
    bin_, home = machine.reject_bin, machine.home_mark
    if bin_ is not None:
        length, width = bin_.size_mm or (0.0, 0.0)
        body = Body((bin_.x, bin_.y), length, width)
        yield Fixture("bin", "the reject bin", ("reject_bin",), body)
    if home is not None:
        body = Body((home.x, home.y), home.diameter_mm, home.diameter_mm)
        yield Fixture("home", "the home mark", ("home_mark",), body)
    for name in sorted(machine.cameras, key=natural):
        at = machine.cameras[name].position
        if at is not None:
            path = ("cameras", name, "position")
            yield Fixture("camera", f"camera {name}", path, Body((at.x, at.y), 0.0, 0.0), at.z)
    for name in sorted(machine.rack, key=natural):
        place = machine.rack[name]
        nozzle = machine.nozzles.get(place.nozzle) if place.nozzle is not None else None
        tip = nozzle.tip_outer_mm if nozzle else 0.0
        yield Fixture(
            "rack", f"rack place {name}", ("rack", name), Body((place.x, place.y), tip, tip)
        )
    for name in sorted(machine.obstacles, key=natural):
        obstacle = machine.obstacles[name]
        (left, right), (lower, upper) = obstacle.x, obstacle.y
        body = Body(((left + right) / 2, (lower + upper) / 2), right - left, upper - lower)
        yield Fixture("obstacle", f"obstacle {name}", ("obstacles", name), body, obstacle.top_z)


def slots(shop: Shop, machine: Machine) -> Iterator[Fixture]:
    """Yield the first and the last slot of each row that has a feeder."""
    taken: dict[str, list[int]] = defaultdict(list)
    for feeder in shop.feeders.values():
        if feeder.row in machine.feeder_rows and feeder.slot is not None:
            taken[feeder.row].append(feeder.slot)
    for name in sorted(taken, key=natural):
        row = machine.feeder_rows[name]
        for slot in sorted({min(taken[name]), max(taken[name])}):
            at = row.first.x + (slot - 1) * row.step.x, row.first.y + (slot - 1) * row.step.y
            path = ("feeder_rows", name, "first")
            yield Fixture("slot", f"slot {slot} of row {name}", path, Body(at, 0, 0), row.first.z)
