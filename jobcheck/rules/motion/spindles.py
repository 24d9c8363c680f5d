"""Rules about spindles: their distance, their range, and the nozzles that a job asks of them."""

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
from jobcheck.wording import count, listed, number


class _Widest(NamedTuple):
    """The widest thing of its kind: its width in mm, its name, and where the width is written."""

    width: float
    name: str
    path: Path


def _widest_tip(machine: Machine) -> _Widest | None:
    tips = [
        _Widest(nozzle.tip_outer_mm, name, ("nozzles", name, "tip_outer_mm"))
        for name, nozzle in sorted(machine.nozzles.items())
    ]
    return max(tips, key=lambda tip: tip.width, default=None)


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
    """Two spindles stand so near that their tips, or the parts on them, would touch.

    The widest tip and the longest diagonal of a part are taken for both. Where only the parts
    would touch it is a warning: the controller may never take two such at once.

    On the machine: the tips strike each other, or one part knocks the other off when it turns.

    To do: measure both offsets again; copied values are the usual cause.

    Source: two circles need half the sum of their diameters between their centres; arithmetic.
    """
    machine = look.shop.machine
    if machine is None:
        return
    tip, body = _widest_tip(machine), _widest_body(look.facts)
    for one, other in combinations(sorted(machine.spindles, key=natural), 2):
        a = machine.spindles[one].offset_from_camera
        b = machine.spindles[other].offset_from_camera
        apart = hypot(a.x - b.x, a.y - b.y)
        strikes = apart == 0 or (tip is not None and apart < tip.width)
        widest = tip if strikes else body
        if not strikes and (widest is None or apart >= widest.width):
            continue
        what = "tips" if strikes else "parts"
        needs = f"; two of {widest.name} need {number(round(widest.width, 2))} mm" if widest else ""
        yield Problem(
            path=("spindles", other, "offset_from_camera"),
            related=(
                ("spindles", one, "offset_from_camera"),
                *((widest.path,) if widest else ()),
            ),
            message=f"spindles {one} and {other} are {number(round(apart, 3))} mm apart{needs}.",
            observed=f"{one} at {number(a.x)}, {number(a.y)}; {other} at {number(b.x)}, {number(b.y)}",
            consequence=f"Their {what} would strike each other"
            + ("." if strikes else " when both carry one and turn."),
            remedy=("Measure both offsets again.",),
            level=None if strikes else Level.WARNING,
        )


def _forced_nozzles(facts: Facts, job: str) -> dict[str, str]:
    """Return nozzle -> a part of a job that no other nozzle can lift."""
    forced: dict[str, str] = {}
    for part in sorted(facts.usage.placements_by_part[job], key=natural):
        outline = facts.shop.outline_of(part)
        nozzles = set(outline.nozzles) if outline else set()
        if len(nozzles) == 1:
            forced.setdefault(nozzles.pop(), part)
    return forced


@rule(
    Level.NOTE,
    fails="shop.limits: {nozzle_changes: 0}",
    passes="shop.limits: {nozzle_changes: 1}",
)
def nozzle_changes_many(look: Inspection) -> Iterator[Problem]:
    """A job asks for so many nozzles that each board or panel takes many changes.

    Only parts that a single nozzle can lift are counted; each change beyond the first is one to
    fetch, and the spindles keep theirs from one board to the next.

    On the machine: each change takes time, and each is a chance to lose height or a nozzle.

    To do: name a second nozzle where one more fits, or split the job.

    Source: with n nozzles and s spindles at least n - s changes, arithmetic; limits.nozzle_changes
    (common practice, no published source).
    """
    machine = look.shop.machine
    if machine is None or not machine.spindles or not look.shop.understood(("spindles",)):
        return
    for job in sorted(look.shop.jobs, key=natural):
        forced = _forced_nozzles(look.facts, job)
        changes = len(forced) - len(machine.spindles)
        if changes > look.limits.nozzle_changes:
            names = sorted(forced, key=natural)
            yield Problem(
                path=("jobs", job, "placements"),
                related=tuple(
                    ("outlines", look.shop.parts[forced[name]].outline, "nozzles")
                    for name in names[:4]
                ),
                message=f"{job} forces {count(changes, 'change')} of nozzle a board or panel at "
                f"least; up to {number(look.limits.nozzle_changes)} is usual.",
                observed=f"{len(forced)} nozzles for {count(len(machine.spindles), 'spindle')}: "
                f"{listed(names)}",
                consequence="Each change takes time, and is a chance to lose a nozzle.",
                remedy=("Name a second nozzle where one more fits, or split the job.",),
            )
