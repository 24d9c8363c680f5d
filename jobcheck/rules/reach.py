"""How far a fault reaches, in words: recognitions, parts and placements."""

from __future__ import annotations

from collections.abc import Iterable

from jobcheck.description.shop import Shop
from jobcheck.rules.base import count


def joined(words: list[str]) -> str:
    """Write words in a row as people do: `a`, `a and b`, `a, b and c`."""
    return f"{', '.join(words[:-1])} and {words[-1]}" if words[1:] else "".join(words)


def parts_reached(shop: Shop, recognitions: Iterable[str]) -> list[str]:
    """Return the parts that some recognitions find, each once, by name."""
    return sorted({part for name in recognitions for part in shop.usage.parts_of_recognition(name)})


def reach(shop: Shop, parts: Iterable[str]) -> str:
    """Write how many parts and placements: `2 parts, 23 of 84 placements a board of logger`."""
    reached = list(parts)
    placed = shop.usage.placements_of_parts(reached)
    boards = [
        f"{len(references):,} of {count(shop.usage.placement_count(job), 'placement')} "
        f"a board of {job}"
        for job, references in sorted(placed.items())
    ]
    shown = boards[:3] + ([f"placements of {len(boards) - 3} more jobs"] if boards[3:] else [])
    return ", ".join([count(len(reached), "part"), *shown])
