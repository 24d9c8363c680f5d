"""How far a fault reaches, in words: recognitions, parts and placements."""

from __future__ import annotations

from collections.abc import Iterable

from jobcheck.facts.facts import Facts
from jobcheck.findings import Level
from jobcheck.shop.paths import natural
from jobcheck.wording import count, listed

_MOST_NAMED = 6
"""Placements that a finding names; of more it gives the count."""


def joined(words: list[str]) -> str:
    """Write words in a row as people do: `a`, `a and b`, `a, b and c`."""
    return f"{', '.join(words[:-1])} and {words[-1]}" if words[1:] else "".join(words)


def parts_reached(facts: Facts, recognitions: Iterable[str]) -> list[str]:
    """Return the parts that some recognitions find, each once, by name."""
    return sorted(
        {part for name in recognitions for part in facts.usage.parts_of_recognition(name)}
    )


def reach(facts: Facts, parts: Iterable[str]) -> str:
    """Write how many parts and placements: `2 parts, 23 of 84 placements a board of logger`."""
    reached = list(parts)
    placed = facts.usage.placements_of_parts(reached)
    boards = [
        f"{len(references):,} of {count(facts.usage.placement_count(job), 'placement')} "
        f"a board of {job}"
        for job, references in sorted(placed.items())
    ]
    shown = boards[:3] + ([f"placements of {len(boards) - 3} more jobs"] if boards[3:] else [])
    return ", ".join([count(len(reached), "part"), *shown])


def needed_parts(facts: Facts) -> tuple[str, ...]:
    """Return the parts that a job places or a feeder holds and that are described, by name."""
    held = {feeder.part for feeder in facts.shop.feeders.values() if feeder.part is not None}
    return tuple(sorted((held | facts.usage.placed_parts()) & set(facts.shop.parts), key=natural))


def needed_by(facts: Facts, parts: list[str]) -> str:
    """Return in words the users of some parts: placements, else the feeders that hold them."""
    placed = facts.usage.placements_of_parts(parts)
    if sum(map(len, placed.values())) > _MOST_NAMED:
        return f"needed by {reach(facts, parts)}"
    if placed:
        named = [
            f"{listed(sorted(references, key=natural))} of {job}"
            for job, references in sorted(placed.items())
        ]
        return f"needed by {', '.join(named)}"
    feeders = [feeder for part in parts for feeder in facts.usage.feeders_of_part(part)]
    if feeders:
        return f"held by {listed(sorted(feeders, key=natural))}, placed by no job"
    return "in no feeder and placed by no job"


def weight(facts: Facts, parts: list[str]) -> Level:
    """Return error if a job places one of the parts, warning if feeders only hold them."""
    return Level.ERROR if facts.usage.placements_of_parts(parts) else Level.WARNING


def in_a_run(facts: Facts, parts: Iterable[str]) -> bool:
    """Return whether a job with a planned run places one of some parts."""
    return any(facts.shop.jobs[job].run for job in facts.usage.placements_of_parts(parts))
