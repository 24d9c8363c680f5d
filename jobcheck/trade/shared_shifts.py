"""Shifts that placed parts share because of one feeder, nozzle, camera, turn or cell.

Lengths are mm, or degrees for turns: any one unit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import erfc, sqrt
from statistics import median
from typing import NamedTuple

from jobcheck.trade.lines import scatter

ALL = "all placements"

_LEAST = 4
"""Placements that must share a cause before a shift of it is looked for."""

_SURE_BELOW = 0.01
"""Chance that any of the causes shows such a shift without having one."""

_MEDIAN_ERROR = 1.2533
"""Standard error of a median of normal noise, times the root of its number.

Source: asymptotic variance of the median, pi / 2 (from memory).
"""


class SharedShift(NamedTuple):
    """A shift and its 95 % interval, and the causes that fit it alike."""

    causes: tuple[str, ...]
    shift: float
    reach: float
    placements: int


def shared_shifts(
    shifts: Sequence[float], factors: Sequence[Mapping[str, str]]
) -> tuple[SharedShift, ...]:
    """Return the shifts that placements with one cause share, the weightiest first.

    `factors` are the causes of each placement, for example `{"feeder": "f12"}`. The cause that
    takes most of the absolute shifts away is subtracted before the next is looked for. Causes of
    the same placements are named together: nothing tells them apart. A few wrong values do not
    matter: medians, and the median absolute deviation.
    Source: median regression by steps, in the manner of Tukey's median polish, 1977 (from memory).
    """
    groups = _groups(factors)
    left, found = list(shifts), []
    for _ in range(len(groups)):
        best = _weightiest(left, groups)
        if best is None:
            break
        members, shift, reach = best
        for at in members:
            left[at] -= shift
        found.append(SharedShift(groups.pop(members), shift, reach, len(members)))
    return tuple(found)


def _groups(factors: Sequence[Mapping[str, str]]) -> dict[frozenset[int], tuple[str, ...]]:
    """Return the placements of each cause, with the names of all causes that have just these."""
    by_cause: dict[str, set[int]] = {ALL: set(range(len(factors)))}
    for at, causes in enumerate(factors):
        for factor, level in causes.items():
            by_cause.setdefault(f"{factor} {level}", set()).add(at)
    groups: dict[frozenset[int], tuple[str, ...]] = {}
    for cause, members in by_cause.items():
        if len(members) >= _LEAST:
            groups[frozenset(members)] = (*groups.get(frozenset(members), ()), cause)
    return groups


def _weightiest(
    left: Sequence[float], groups: Mapping[frozenset[int], tuple[str, ...]]
) -> tuple[frozenset[int], float, float] | None:
    """Return the group whose shift takes most away, with shift and reach; None if none is sure."""
    best, most = None, 0.0
    for members in groups:
        values = [left[at] for at in members]
        shift = median(values)
        error = _MEDIAN_ERROR * _spread(left, members) / sqrt(len(values))
        taken = sum(abs(value) - abs(value - shift) for value in values)
        if taken > most and _chance(shift, error, len(values)) * len(groups) < _SURE_BELOW:
            best, most = (members, shift, 1.96 * error), taken
    return best


def _spread(left: Sequence[float], members: frozenset[int]) -> float:
    """Return the noise: that of the members or of the others, whichever is larger."""
    own = [left[at] for at in members]
    inner = scatter([value - median(own) for value in own])
    others = [value for at, value in enumerate(left) if at not in members]
    outer = scatter([value - median(others) for value in others]) if len(others) >= _LEAST else 0.0
    return max(inner, outer)


def _chance(shift: float, error: float, number: int) -> float:
    """Chance of such a median in normal noise; a small number counts as less sure."""
    if error == 0:
        return 0.0 if shift else 1.0
    sure = abs(shift) / error * sqrt((number - 3 + 1e-9) / number)
    return erfc(sure / sqrt(2))
