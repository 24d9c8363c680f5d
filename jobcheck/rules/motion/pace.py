"""Rules about time: how long a run takes against the life of paste and of opened parts."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.facts import Facts
from jobcheck.facts.pace import Pace, pace
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.feeders import Reel
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.trade.moisture import FLOOR_LIFE_H, floor_life_left_h
from jobcheck.wording import duration, listed, number


def _assumed(estimate: Pace) -> str:
    return f"estimate, assuming {listed(list(estimate.assumed), 4)}"


@rule(
    Level.WARNING,
    fails="shop.limits.stencil_life_h: 0.2",
    passes="shop.limits.stencil_life_h: 0.35",
)
def run_exceeds_stencil_life(look: Inspection) -> Iterator[Problem]:
    """A run takes longer than paste lives on the stencil.

    On the machine: the last panels are printed with paste that has dried; it clogs the stencil,
    wets badly and does not hold the parts.

    To do: print in portions with fresh paste, clean the stencil between, or build fewer panels.

    Source: `limits.stencil_life_h`, makers' sheets, from memory; the time of a panel is an
    estimate from distances, moves, pictures, waits and changes of nozzle.
    """
    for job in sorted(look.shop.jobs, key=natural):
        estimate = pace(look.facts, job) if look.shop.jobs[job].run else None
        most = look.limits.stencil_life_h
        if estimate is None or estimate.run_s <= most * 3600:
            continue
        yield Problem(
            path=("jobs", job, "run", "panels"),
            message=f"the run of {job} takes {duration(estimate.run_s)}; paste lives {number(most)} h "
            "on the stencil.",
            observed=f"{estimate.panels} panels of {duration(estimate.panel_s)} and "
            f"{duration(estimate.between_s)} between them; {_assumed(estimate)}",
            consequence="The last panels would be printed with paste that has dried.",
            remedy=("Print in portions with fresh paste, or build fewer panels at a time.",),
        )


_OPENED = """
    parts.timer-soic8.moisture_level: 3
    feeders.f05.reel.opened: 2026-11-{}
"""


@rule(
    Level.WARNING,
    fails=_OPENED.format("18"),
    passes=_OPENED.format("19"),
)
def run_exceeds_floor_life(look: Inspection) -> Iterator[Problem]:
    """Parts sensitive to moisture lie open longer than they may by the end of a run.

    Counted is from the day the bag was opened, or the parts were baked; a dry cabinet stops the
    clock, which is not known here. Level 6 is baked before every use.

    On the machine: nothing; in the oven the moisture turns to steam and cracks the part.

    To do: bake the reel before the run and write the day as `reel.baked`, or load a fresh one.

    Source: floor life at 30 C and 60 %, J-STD-033, as secondary sources quote it.
    """
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


def _opened(facts: Facts, job: str) -> Iterator[tuple[str, str, Reel]]:
    """Yield feeders of a job whose parts are sensitive and whose bag was opened on a known day."""
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
        message=f"{parts} would have lain open longer than its floor life by the end of the run of "
        f"{job}.",
        observed=f"{listed(over)}{takes}",
        consequence="Moisture in the body turns to steam in the oven and cracks it.",
        remedy=("Unless it lay in a dry cabinet: bake it before the run and write reel.baked.",),
    )


@rule(
    Level.NOTE,
    fails="parts.timer-soic8.moisture_level: 3",
    passes="parts.timer-soic8.moisture_level: 1",
)
def bag_opening_unknown(look: Inspection) -> Iterator[Problem]:
    """A part sensitive to moisture is on a feeder, and nothing says since when its bag is open.

    On the machine: nothing; whether it cracks in the oven cannot be told.

    To do: write the day on which the bag was opened as `reel.opened`.

    Source: floor life counts from the opening of the bag, J-STD-033.
    """
    silent: dict[str, str] = {}
    for job in sorted(look.shop.jobs, key=natural):
        for name, level, reel in _sensitive(look.facts, job):
            if level != "6" and (reel is None or not (reel.opened or reel.baked)):
                silent[name] = level
    if silent:
        names = sorted(silent, key=natural)
        first = names[0]
        yield Problem(
            path=("feeders", first, "reel", "opened"),
            related=tuple(("feeders", name, "reel", "opened") for name in names[1:6]),
            message=f"nothing says since when the bag of {look.shop.feeders[first].part} in {first} "
            "is open."
            if len(names) == 1
            else f"nothing says since when the bags of {len(names)} feeders are open.",
            observed=listed([f"{n} level {silent[n]}, {_life(silent[n])}" for n in names]),
            consequence="Whether it may still go through the oven cannot be told.",
            remedy=("Write the day as reel.opened.",),
        )
