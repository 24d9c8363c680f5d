"""Words for values: numbers, durations, counts, lists of names, near names."""

from __future__ import annotations

from collections.abc import Iterable


def number(value: float) -> str:
    """Write a number as people do: 4, 0.45, never 4.0 or 0.45000000000000001."""
    return f"{value:.6g}" if abs(value) < 1e6 else f"{value:g}"


def duration(seconds: float) -> str:
    """Write a time as people say it: `40 s`, `21 min`, `4.3 h`."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def count(amount: int, one: str, many: str = "") -> str:
    """Write an amount with its noun: `1 part`, `23 parts`."""
    return f"{amount:,} {one if amount == 1 else many or one + 's'}"


def listed(names: list[str], most: int = 6) -> str:
    """Write names in a row; a long row ends with how many more there are."""
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def near(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that a misspelled one most resembles, None where there is none."""
    from difflib import get_close_matches

    by_small = {other.lower(): other for other in sorted(known, reverse=True)}
    found = get_close_matches(name.lower(), sorted(by_small), n=1)
    return by_small[found[0]] if found else None
