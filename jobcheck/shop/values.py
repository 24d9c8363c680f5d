"""Plain values: when one is missing, when two say the same."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum

from jobcheck.shop.paths import Path


class Missing(Enum):
    """The type of the placeholder for an absent value."""

    MISSING = "missing"

    def __str__(self) -> str:
        return self.value

    def __bool__(self) -> bool:
        return False


MISSING = Missing.MISSING


def is_absent(value: object) -> bool:
    """Tell whether a value says nothing: missing, null, or a mapping without any value."""
    if isinstance(value, dict):
        return all(map(is_absent, value.values()))
    return value is MISSING or value is None


def same(one: object, other: object) -> bool:
    """Tell whether two plain values say the same, whatever their spelling.

    1 and 1.0 are the same, true and 1 are not; the order of keys does not matter, that of a list
    does; null, an empty mapping and a missing value all say nothing.
    """
    if one is other:
        return True
    if isinstance(one, dict) and isinstance(other, dict):
        return all(same(value, other.get(key)) for key, value in one.items()) and all(
            key in one or is_absent(value) for key, value in other.items()
        )
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if one == other:
        return isinstance(one, bool) == isinstance(other, bool)
    return (is_absent(one) and is_absent(other)) or (one != one and other != other)


def leaves(path: Path, old: object, new: object) -> Iterator[tuple[Path, object, object]]:
    """Yield (path, old, new) of each value below a path, MISSING where a side has none."""
    olds, news = (side if isinstance(side, dict) else {} for side in (old, new))
    keys = dict.fromkeys([*olds, *news])
    if not keys:
        yield path, old, new
    for key in keys:
        yield from leaves((*path, key), olds.get(key, MISSING), news.get(key, MISSING))
