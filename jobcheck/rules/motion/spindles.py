"""The rule about the distances of spindles from each other and from the camera."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import hypot
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import needed_parts
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.machine import Machine
from jobcheck.shop.paths import Path, natural
from jobcheck.wording import number

_NEAREST_MM = 8.0
"""Least distance of a spindle from the camera's axis, mm."""


class _Widest(NamedTuple):
    """The widest tip or body: its width in mm, its name, and the path of the width."""

    width: float
    name: str
    path: Path


def _tips(machine: Machine) -> list[_Widest]:
    """Return the tips of all nozzles, the narrowest first."""
    tips = [
        _Widest(nozzle.tip_outer_mm, name, ("nozzles", name, "tip_outer_mm"))
        for name, nozzle in sorted(machine.nozzles.items())
    ]
    return sorted(tips, key=lambda tip: tip.width)


def _widest_body(facts: Facts) -> _Widest | None:
    """Return the part with the longest diagonal that a job places or a feeder holds."""
    used = dict.fromkeys(facts.shop.parts[part].outline for part in needed_parts(facts))
    bodies = [
        _Widest(hypot(*facts.shop.outlines[name].body_mm), name, ("outlines", name, "body_mm"))
        for name in used
        if name in facts.shop.outlines
    ]
    return max(bodies, key=lambda body: body.width, default=None)


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="spindles.b: {offset_from_camera: {x: -31.2, y: 4.0}}",
    passes="spindles.b: {offset_from_camera: {x: -24.9, y: 4.0}}",
)
def spindles_too_near(look: Inspection) -> Iterator[Problem]:
    """Two spindles are so near that their tips, or the parts on them, would touch.

    It is an error if any two nozzles would touch, and a warning if only the widest tip, or the part
    with the longest diagonal, would touch another one like it: the controller may never carry both
    together. A spindle nearer than 8 mm to the axis of the camera on the head is a warning too.

    On the machine: the tips strike each other, or a turning part knocks off the other one.

    To do: measure both offsets again; copied values are the usual cause.

    Source: two circles need half the sum of their diameters between their centres; arithmetic. A
    lens has a radius of 6 mm and more, a spindle of 2 mm; common practice, no published source.
    """
    machine = look.shop.machine
    if machine is None:
        return
    if any(camera.aim == "down" for camera in machine.cameras.values()):
        yield from _near_camera(machine)
    tips, body = _tips(machine), _widest_body(look.facts)
    widest_of = [entry for entry in (body, *tips[-1:]) if entry]
    widest = max(widest_of, key=lambda entry: entry.width, default=None)
    for one, other in combinations(sorted(machine.spindles, key=natural), 2):
        a = machine.spindles[one].offset_from_camera
        b = machine.spindles[other].offset_from_camera
        apart = hypot(a.x - b.x, a.y - b.y)
        strikes = apart == 0 or (len(tips) > 1 and apart < (tips[0].width + tips[1].width) / 2)
        if not strikes and (widest is None or apart >= widest.width):
            continue
        needs = f"; two of {widest.name} need {number(round(widest.width, 2))} mm" if widest else ""
        yield Problem(
            path=("spindles", other, "offset_from_camera"),
            related=(
                ("spindles", one, "offset_from_camera"),
                *((widest.path,) if widest else ()),
            ),
            message=f"spindles {one} and {other} are {number(round(apart, 3))} mm apart{needs}.",
            observed=f"{one} at {number(a.x)}, {number(a.y)}; "
            f"{other} at {number(b.x)}, {number(b.y)}",
            consequence="The tips would strike each other."
            if strikes
            else "If both carry one and turn, they strike each other.",
            remedy=("Measure both offsets again.",),
            level=None if strikes else Level.WARNING,
        )


def _near_camera(machine: Machine) -> Iterator[Problem]:
    for name in sorted(machine.spindles, key=natural):
        offset = machine.spindles[name].offset_from_camera
        apart = hypot(offset.x, offset.y)
        if apart < _NEAREST_MM:
            yield Problem(
                path=("spindles", name, "offset_from_camera"),
                related=tuple(("spindles", name, "offset_from_camera", axis) for axis in "xy"),
                message=f"spindle {name} is {number(round(apart, 2))} mm from the camera's axis.",
                observed=f"offset {number(offset.x)}, {number(offset.y)}",
                consequence="If the offset is wrong, all picks and placements are off by as much.",
                remedy=("Measure the offset again.",),
                level=Level.WARNING,
            )
