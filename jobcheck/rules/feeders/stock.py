"""Rules about stock: does it last for the run, and did it rise by itself."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.rows import feeders
from jobcheck.facts.supply import Supply, supplies
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.paths import natural
from jobcheck.wording import count, listed, number


@rule(
    Level.WARNING,
    fails="feeders.f01.remaining: 34",
    passes="feeders.f01.remaining: 35",
)
def stock_short(look: Inspection) -> Iterator[Problem]:
    """The feeders hold fewer parts than a run needs with what is lost in placing.

    Several feeders of one part are used one after the other. A part of which any feeder's stock
    is unknown is left out.

    On the machine: the reel runs empty in the middle of a panel, and the run stops.

    To do: load or splice before the start what is lacking, or build fewer panels.

    Source: need = N + max(ceil(N × attrition), spare) with N = per board × cells not skipped ×
    panels: common practice, no published source; `limits.attrition_percent`, `limits.spare_parts`.
    """
    for job in sorted(look.shop.jobs, key=natural):
        short = [supply for supply in supplies(look.facts, job) if supply.short > 0]
        if short:
            yield _short(look, job, short)


def _short(look: Inspection, job: str, short: list[Supply]) -> Problem:
    run = look.shop.jobs[job].run
    panels = run.panels if run else 0
    first = min(load.ends_in or panels for supply in short for load in supply.loads[-1:])
    lasts = [load.feeder for supply in short for load in supply.loads[-1:]]
    limits = look.limits
    return Problem(
        path=("feeders", lasts[0], "remaining"),
        related=(
            *(("feeders", feeder, "remaining") for feeder in lasts[1:6]),
            ("jobs", job, "run", "panels"),
        ),
        message=f"{job} needs more of {count(len(short), 'part')} than the feeders hold for "
        f"{count(panels, 'panel')}.",
        observed=listed([_held(supply) for supply in short], 8),
        consequence=f"The run would stop in panel {first} of {panels}. Estimate with "
        f"{number(limits.attrition_percent)} % attrition, at least "
        f"{number(limits.spare_parts)} spare.",
        remedy=(
            "Load or splice before the start: "
            + listed([f"{supply.short:,} of {supply.part}" for supply in short], 8)
            + ".",
        ),
    )


def _held(supply: Supply) -> str:
    ends = [
        f"{load.feeder} holds {load.holds:,}, ends in panel {load.ends_in}" for load in supply.loads
    ]
    return f"{supply.part} {supply.needed:,} needed; {', '.join(ends)}"


@rule(
    Level.WARNING,
    compares=True,
    fails="feeders.f01.remaining: 3500",
    passes="feeders.f01.remaining: 3500\nfeeders.f01.reel.loaded: 2026-11-20",
)
def stock_rose(look: Inspection) -> Iterator[Problem]:
    """A feeder holds more than in the last known-good record, though nothing was loaded since.

    On the machine: the count is wrong and the reel runs empty in the middle of a panel; or
    another reel is on the feeder, which nobody has looked at.

    To do: count what is left. Where a reel was loaded, write its lot and the day.

    Source: stock only falls by placing, arithmetic.
    """
    if look.good is None:
        return
    risen = []
    for name, feeder in feeders(look.shop):
        then = look.good.feeders.get(name)
        if then is None or then.part != feeder.part or then.carrier != feeder.carrier:
            continue
        reels = [(reel.lot, reel.loaded) if reel else None for reel in (then.reel, feeder.reel)]
        if reels[0] == reels[1] and (feeder.remaining or 0) > (
            then.remaining or feeder.remaining or 0
        ):
            risen.append((name, then.remaining or 0, feeder.remaining or 0))
    if risen:
        yield _rose(risen)


def _rose(risen: list[tuple[str, int, int]]) -> Problem:
    names = [name for name, _, _ in risen]
    is_one = len(names) == 1
    return Problem(
        path=("feeders", names[0], "remaining"),
        related=tuple(("feeders", name, "remaining") for name in names[1:6]),
        message=f"feeder {names[0]} holds more than in the record, but nothing was loaded."
        if is_one
        else f"{len(names)} feeders hold more than in the record, but nothing was loaded.",
        observed=listed([f"{name} {now:,}, was {then:,}" for name, then, now in risen]),
        consequence="The count is wrong and a reel may run empty unseen, or another reel is on the feeder.",
        remedy=("Look which reel is on it and count. Loaded: write reel.lot and reel.loaded.",),
    )
