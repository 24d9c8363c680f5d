"""How well a position repeats: ISO 9283 of a pose, ISO 230-2 of an axis. Needs NumPy; mm."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from scipy import stats

from jobcheck.trade.series import CONFIDENCE, Interval, Series, independent_samples


def pose_repeatability(x: Series, y: Series) -> Interval:
    """RP: mean distance to the barycentre plus three of its standard deviations.

    The interval is that of the error of both, by the moments of the distances.
    Source: ISO 9283 (clause from memory); delta method for the interval.
    """
    distance = np.hypot(x - x.mean(), y - y.mean())
    middle, spread = float(distance.mean()), float(distance.std(ddof=1))
    repeatability = middle + 3 * spread
    if spread == 0:
        return Interval(repeatability, repeatability, repeatability)
    third, fourth = (float(np.mean((distance - middle) ** power)) for power in (3, 4))
    variance = spread**2 + 9 * (fourth - spread**4) / (4 * spread**2) + 3 * third / spread
    independent = min(independent_samples(distance), independent_samples(distance, 2))
    error = (max(variance, spread**2) / independent) ** 0.5
    reach = float(stats.t.isf((1 - CONFIDENCE) / 2, independent - 1)) * error
    return Interval(repeatability, max(0.0, repeatability - reach), repeatability + reach)


class Approached(NamedTuple):
    """Deviations at one commanded position, by the direction of the approach."""

    up: Series
    down: Series


class AxisRepeatability(NamedTuple):
    """An axis by ISO 230-2, mm: the largest of its positions.

    `reversal` is B, with the interval of that position; `up`, `down` are the unidirectional
    repeatabilities, `both` the bidirectional one.
    """

    reversal: Interval
    up: float
    down: float
    both: float


def axis_repeatability(positions: Mapping[float, Approached]) -> AxisRepeatability:
    """Reversal value and repeatabilities of an axis; each position has two or more a direction.

    B = mean up - mean down; R up = 4 s up; R = max(2 s up + 2 s down + |B|, 4 s up, 4 s down).
    Raises `ValueError` where no position was approached from both sides.
    Source: ISO 230-2, from a secondary source.
    """
    if not positions:
        raise ValueError("no position was approached from both sides twice")
    spreads = {at: (p.up.std(ddof=1), p.down.std(ddof=1)) for at, p in positions.items()}
    reversals = {at: _reversal(p) for at, p in positions.items()}
    both = max(
        max(2 * up + 2 * down + abs(reversals[at].value), 4 * up, 4 * down)
        for at, (up, down) in spreads.items()
    )
    return AxisRepeatability(
        max(reversals.values(), key=lambda found: abs(found.value)),
        float(4 * max(up for up, _ in spreads.values())),
        float(4 * max(down for _, down in spreads.values())),
        float(both),
    )


def _reversal(at: Approached) -> Interval:
    """Source: Welch's interval of a difference of two means."""
    found = stats.ttest_ind(at.up, at.down, equal_var=False)
    difference = float(at.up.mean() - at.down.mean())
    if at.up.std() == 0 and at.down.std() == 0:
        return Interval(difference, difference, difference)
    interval = found.confidence_interval(CONFIDENCE)
    return Interval(difference, float(interval.low), float(interval.high))
