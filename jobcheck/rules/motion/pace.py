"""Rules about time: a run against the life of paste and of opened parts."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.pace import Pace, pace
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.schema.feeders import Reel
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.moisture import FLOOR_LIFE_H, floor_life_left_h
from jobcheck.wording import count, duration, listed, number


def _assumed(estimate: Pace) -> str:
    return f"estimate, assuming {listed(list(estimate.assumed), 4)}"


@rule(
    Level.WARNING,
    fails="shop.limits.stencil_life_h: 0.2",
    passes="shop.limits.stencil_life_h: 0.35",
)
def run_exceeds_life(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A run takes longer than its paste or its moisture-sensitive parts may be open.

    Floor life counts from the day on which the bag was opened or the parts were baked. A dry
    cabinet stops the clock, but that is not described. Level 6 is baked before every use. A feeder
    without either day is counted as not checked.

    On the machine: dry paste clogs the stencil, wets badly and does not hold the parts; moisture
    turns to steam in the oven and cracks the part.

    To do: print in portions with fresh paste, or build fewer panels at a time; bake the reel before
    the run and write the day as `reel.baked`, or load a fresh one.

    Source: `limits.stencil_life_h`, makers' sheets, from memory; the time of a panel is an
    estimate from distances, moves, pictures, waits and changes of nozzle. Floor life at 30 C and
    60 %, J-STD-033, as secondary sources quote it.
    """
    yield from _run_exceeds_stencil_life(look)
    yield from _run_exceeds_floor_life(look)


def _run_exceeds_stencil_life(look: Inspection) -> Iterator[Problem | Unchecked]:
    for job in sorted(look.shop.jobs, key=natural):
        estimate = pace(look.facts, job) if look.shop.jobs[job].run else None
        most = look.limits.stencil_life_h
        if look.shop.jobs[job].run and estimate is None:
            lacks = "motion" if look.shop.machine and look.shop.machine.motion is None else "picks"
            path = ("motion",) if lacks == "motion" else ("feeders",)
            yield Unchecked(f"time of the run of {job}", f"no {lacks}", path[0], (path,))
        if estimate is None or estimate.run_s <= most * 3600:
            continue
        yield Problem(
            path=("jobs", job, "run", "panels"),
            related=(("shop", "limits", "stencil_life_h"),)
            if look.shop.plain_at(("shop", "limits", "stencil_life_h")) is not None
            else (),
            message=f"the run of {job} takes about {duration(estimate.run_s)}; paste has a life of "
            f"{number(most)} h on the stencil.",
            observed=f"{estimate.panels} panels of {duration(estimate.panel_s)} and "
            f"{duration(estimate.between_s)} between them; {_assumed(estimate)}",
            consequence="The last panels may be printed with dry paste.",
            remedy=("Print in portions with fresh paste, or build fewer panels at a time.",),
        )


_OPENED = """
    parts.timer-soic8.moisture_level: 3
    feeders.f05.reel.opened: 2026-11-{}
"""


def _run_exceeds_floor_life(look: Inspection) -> Iterator[Problem | Unchecked]:
    for job in sorted(look.shop.jobs, key=natural):
        opened = list(_opened(look.facts, job))
        run = pace(look.facts, job) if opened and look.shop.jobs[job].run else None
        run_h = run.run_s / 3600 if run else 0.0
        over = []
        for name, level, reel in opened:
            days = (look.today - max(filter(None, (reel.opened, reel.baked)))).days
            if floor_life_left_h(level, 24 * days + run_h) < 0:
                over.append(f"{name} level {level}, {_life(level)}, open for {days} days")
        if over:
            names = [entry.split(" ")[0] for entry in over]
            yield _over(look.shop, job, names, over, run)
    silent = {
        name
        for job in look.shop.jobs
        for name, level, reel in _sensitive(look.facts, job)
        if level != "6" and (reel is None or not (reel.opened or reel.baked))
    }
    if silent:
        names = sorted(silent, key=natural)
        paths = [("feeders", name, "reel", "opened") for name in names]
        yield lacking(f"floor life in {count(len(names), 'feeder')}", "reel.opened", paths)


def _opened(facts: Facts, job: str) -> Iterator[tuple[str, str, Reel]]:
    """Yield feeders of a job with sensitive parts and a known day of opening or baking."""
    for name, level, reel in _sensitive(facts, job):
        if reel is not None and (reel.opened or reel.baked):
            yield name, level, reel


def _sensitive(facts: Facts, job: str) -> Iterator[tuple[str, str, Reel | None]]:
    for part in sorted(facts.usage.placements_by_part.get(job, {}), key=natural):
        known = facts.shop.parts.get(part)
        level = known.moisture_level if known else None
        if level is not None and level != "1":
            for name in facts.usage.feeders_of_part(part):
                yield name, level, facts.shop.feeders[name].reel


def _life(level: str) -> str:
    life = FLOOR_LIFE_H[level]
    return "bake before use" if life == 0 else f"{number(life / 24)} days"


def _over(shop: Shop, job: str, names: list[str], over: list[str], run: Pace | None) -> Problem:
    takes = f"; the run takes {duration(run.run_s)}, {_assumed(run)}" if run else ""
    parts = listed([str(shop.feeders[name].part) for name in names])
    return Problem(
        path=("feeders", names[0], "reel", "opened"),
        related=tuple(("feeders", name, "reel", "opened") for name in names[1:6]),
        message=f"{parts} {'exceed' if len(names) > 1 else 'exceeds'} the floor life by the end of "
        f"the run of {job}.",
        observed=f"{listed(over)}{takes}",
        consequence="If it was not in a dry cabinet, moisture turns to steam in the oven and "
        "cracks it.",
        remedy=("Bake it before the run and write reel.baked, unless it was in a dry cabinet.",),
    )


_USUAL_UM = {"paste_um": (50, 300), "dry_run_tape_um": (20, 300)}
"""Usual thickness of printed paste and of adhesive tape, um."""


@rule(
    Level.WARNING,
    fails="jobs.first-board.run.paste_um: 12",
    passes="jobs.first-board.run.paste_um: 120",
)
def run_thickness_implausible(look: Inspection) -> Iterator[Problem]:
    """The paste or the tape of a run has an unusual thickness.

    Usual is 50 to 300 um of paste and 20 to 300 um of tape.

    On the machine: parts are pressed too deep or released above it.

    To do: measure it; the paste is as thick as the stencil.

    Source: stencils have 80 to 200 um; common practice, no published source.
    """
    for name in sorted(look.shop.jobs, key=natural):
        run = look.shop.jobs[name].run
        for field, (least, most) in _USUAL_UM.items() if run else ():
            value = getattr(run, field)
            if value is not None and not least <= value <= most:
                yield Problem(
                    path=("jobs", name, "run", field),
                    message=f"{field} of {name} is {number(value)}; usual is {least} to {most} um.",
                    observed=f"{number(value)} um",
                    consequence="If it is wrong, parts are pressed too deep or released too high.",
                    remedy=("Measure it; the paste is as thick as the stencil.",),
                )
