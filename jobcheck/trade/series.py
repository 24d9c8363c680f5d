"""Repeated measurements of one value: how many of them count, outliers, intervals. Needs NumPy.

A series is a one-dimensional array in the order of measuring.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import fft, stats

from jobcheck.trade.lines import MAD_TO_SIGMA

Series = NDArray[np.float64]

CONFIDENCE = 0.95
"""Of every interval here."""

_OUTLIER_AT = 3.5
"""Robust standard deviations beyond which a value is an outlier, at least.

Source: Iglewicz and Hoaglin, How to Detect and Handle Outliers, 1993 (from memory).
"""

_FALSE_OUTLIER = 0.05
"""Chance that a series of normal noise has one outlier or more."""


_UNSURE = 2.3
"""Error of a robust deviation of n values, times the root of n, at 95 %: 1.96 x 1.17.

Source: Rousseeuw and Croux, Alternatives to the Median Absolute Deviation, 1993 (efficiency 37 %).
"""


class Interval(NamedTuple):
    """An estimate and its 95 % interval, in the unit of the series."""

    value: float
    low: float
    high: float


def autocorrelation(values: Series) -> Series:
    """Autocorrelation by lag, beginning with 1 at lag 0; only [1] where all values are equal.

    Source: the usual estimate with the divisor n, as in NIST/SEMATECH e-Handbook 1.3.5.12.
    """
    centred = values - values.mean()
    spectrum = fft.rfft(centred, fft.next_fast_len(2 * len(values)))
    covariance = fft.irfft(np.abs(spectrum) ** 2)[: len(values)]
    if covariance[0] <= 0:
        return np.ones(1)
    return np.asarray(covariance / covariance[0], dtype=np.float64)


def independent_samples(values: Series, power: int = 1) -> float:
    """How many independent samples know as much as these: at least 2, at most as many.

    `power` 1 is for a mean, 2 for a standard deviation of normal noise. The sum of
    autocorrelations ends with the first pair of lags whose sum is not positive.
    Source: Geyer, Practical Markov Chain Monte Carlo, 1992 (initial positive sequence); for
    variances Bayley and Hammersley, 1946 (both from memory).
    """
    correlation = autocorrelation(values)
    pairs = correlation[: len(correlation) // 2 * 2].reshape(-1, 2).sum(axis=1)
    ends = np.flatnonzero(pairs <= 0)
    kept = correlation[: 2 * (ends[0] if len(ends) else len(pairs))]
    length = 2 * np.sum(kept**power) - 1 if len(kept) else 1.0
    return float(np.clip(len(values) / max(length, 1.0), 2.0, len(values)))


def mean(values: Series) -> Interval:
    """Mean and its interval; correlated samples count for fewer.

    Source: Student's t with the independent samples instead of all.
    """
    independent = independent_samples(values)
    middle, deviation = float(values.mean()), float(values.std(ddof=1))
    reach = stats.t.isf((1 - CONFIDENCE) / 2, independent - 1) * deviation / independent**0.5
    return Interval(middle, middle - reach, middle + reach)


def deviation(values: Series, fitted: int = 1) -> Interval:
    """Standard deviation and its interval, of values from which `fitted` numbers were fitted.

    Source: chi-square of normal noise with the independent samples instead of all
    (NIST/SEMATECH e-Handbook 7.2.3, from memory).
    """
    spread = float(np.sqrt(np.sum((values - values.mean()) ** 2) / max(len(values) - fitted, 1)))
    freedom = max(independent_samples(values, 2) - fitted, 1.0)
    low, high = stats.chi2.ppf(((1 + CONFIDENCE) / 2, (1 - CONFIDENCE) / 2), freedom)
    return Interval(spread, spread * (freedom / low) ** 0.5, spread * (freedom / high) ** 0.5)


def ratio_of_deviations(now: Series, before: Series) -> Interval:
    """Standard deviation of one series as a multiple of another's.

    Source: the F distribution of two normal samples, with independent samples instead of all.
    """
    ratio = float(now.std(ddof=1) / before.std(ddof=1))
    freedom = [max(independent_samples(values, 2) - 1, 1.0) for values in (now, before)]
    tail = (1 - CONFIDENCE) / 2
    high, low = stats.f.isf((1 - tail, tail), *freedom)
    return Interval(ratio, ratio / low**0.5, ratio / high**0.5)


def fitted(
    values: Series, columns: Sequence[Series], used: NDArray[np.bool_] | None = None
) -> Series:
    """The combination of some columns that fits best by least squares; `used` leaves rows out."""
    design = np.column_stack(columns)
    used = np.ones(len(values), bool) if used is None else used
    return np.asarray(design @ np.linalg.lstsq(design[used], values[used], rcond=None)[0])


def sine(at: Series, period: float) -> list[Series]:
    """The two columns of a sine of some period and any phase."""
    angle = 2 * np.pi * at / period
    return [np.cos(angle), np.sin(angle)]


def resolution(values: Series) -> float:
    """The least difference of two values; 0 where all are equal."""
    steps = np.diff(np.unique(values))
    return float(steps.min()) if len(steps) else 0.0


def robust_deviation(values: Series) -> float:
    """Standard deviation that a few wrong values do not change."""
    return MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))


def outliers(residuals: Series, step: float = 0.0) -> NDArray[np.bool_]:
    """Which residuals are too far from their median for normal noise; of many values, farther.

    Of 20 series of normal noise one has an outlier. `step` is the resolution of what was
    measured: rounding makes many residuals equal, so the spread counts as half of it at least.
    """
    samples = len(residuals)
    limit = max(_OUTLIER_AT, float(stats.norm.isf(_FALSE_OUTLIER / 2 / samples)))
    limit *= 1 + _UNSURE / samples**0.5
    far = np.abs(residuals - np.median(residuals))
    return np.asarray(far > limit * max(robust_deviation(residuals), step / 2))
