"""Rules about stock: whether it lasts for the run, and whether it rose without a new reel."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.rows import feeders
from jobcheck.facts.supply import Supply, supplies
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.rules.base import Inspection, lacking, rule
from jobcheck.shop.paths import natural
from jobcheck.wording import count, listed, number


@rule(
    Level.WARNING,
    Level.NOTE,
    fails="feeders.f01.remaining: 29",
    passes="feeders.f01.remaining: 35",
)
def stock_short(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The feeders hold fewer parts than a run places, or hardly a spare.

    Several feeders of one part are used one after the other. A warning where they hold fewer than
    are placed; a note where they hold those, but not what may be lost in placing.

    On the machine: the reel runs empty in the middle of a panel, and the run stops.

    To do: load or splice before the start, or build fewer panels.

    Source: need = N + max(ceil(N × attrition), spare) with N = per board × cells not skipped ×
    panels: common practice, no published source; `parts.X.attrition_percent`, else
    `limits.attrition_percent`; `limits.spare_parts`.
    """
    unknown: dict[str, None] = {}
    for job in sorted(look.shop.jobs, key=natural):
        found = supplies(look.facts, job)
        stops = [supply for supply in found if supply.lacking > 0]
        spare = [supply for supply in found if supply.short > 0 and not supply.lacking]
        if stops:
            yield _stops(look, job, stops)
        if spare:
            yield _no_spare(look, job, spare)
        unknown.update(dict.fromkeys(name for supply in found for name in supply.uncounted))
    if unknown:
        paths = [("feeders", name, "remaining") for name in sorted(unknown, key=natural)]
        yield lacking(f"stock of {count(len(paths), 'feeder')}", "remaining", paths)


def _stops(look: Inspection, job: str, short: list[Supply]) -> Problem:
    run = look.shop.jobs[job].run
    panels = run.panels if run else 0
    first = min((supply.stops_in or panels, supply.part) for supply in short)
    lasts = [supply.loads[-1].feeder for supply in short]
    return Problem(
        path=("feeders", lasts[0], "remaining"),
        related=(
            *(("feeders", feeder, "remaining") for feeder in lasts[1:6]),
            ("jobs", job, "run", "panels"),
        ),
        message=f"{job} places more of {count(len(short), 'part')} in {count(panels, 'panel')} "
        "than the feeders hold.",
        observed=listed([_held(supply) for supply in short], 8),
        consequence=f"The run would stop in panel {first[0]} of {panels}, for want of {first[1]}.",
        remedy=(_load(short),),
    )


def _no_spare(look: Inspection, job: str, short: list[Supply]) -> Problem:
    lasts = [supply.loads[-1].feeder for supply in short]
    return Problem(
        path=("feeders", lasts[0], "remaining"),
        related=tuple(("feeders", feeder, "remaining") for feeder in lasts[1:6]),
        level=Level.NOTE,
        message=f"{count(len(short), 'part')} of {job} would last for the run with too few spare.",
        observed=listed([_held(supply) for supply in short], 8),
        consequence="The run would stop if more parts are lost than are spare. Estimate with "
        f"{_attrition(short)} % attrition, at least {number(look.limits.spare_parts)} spare.",
        remedy=(_load(short),),
    )


def _attrition(short: list[Supply]) -> str:
    values = sorted({supply.attrition_percent for supply in short})
    return " to ".join(number(value) for value in dict.fromkeys((values[0], values[-1])))


def _load(short: list[Supply]) -> str:
    return (
        "Load or splice before the start, spare parts included: "
        + listed([f"{supply.short:,} of {supply.part}" for supply in short], 8)
        + "."
    )


def _held(supply: Supply) -> str:
    holds = " + ".join(f"{load.feeder} {load.holds:,}" for load in supply.loads)
    return f"{supply.part}: {supply.placed:,} placed, {supply.needed:,} with spare, {holds}"


def stock_rose(look: Inspection) -> Iterator[Problem]:
    """A feeder holds more than in the last known-good record, with no reel loaded since."""
    if look.good is None:
        return
    risen = []
    for name, feeder in feeders(look.shop):
        then = look.good.feeders.get(name)
        if then is None or then.part != feeder.part or then.carrier != feeder.carrier:
            continue
        reels = [(reel.lot, reel.loaded) if reel else None for reel in (then.reel, feeder.reel)]
        was, now = then.remaining, feeder.remaining
        if reels[0] == reels[1] and was is not None and now is not None and now > was:
            risen.append((name, was, now))
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
        consequence="The count is wrong and the reel may run empty early, or another reel is on "
        "the feeder.",
        remedy=(
            "Look which reel is on it and count. If one was loaded, write reel.lot and "
            "reel.loaded.",
        ),
    )
