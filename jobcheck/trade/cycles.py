"""Cyclic drift: a period in measurements at uneven times, and how sure it is. Needs NumPy.

Times and periods are in one unit, usually s; values and amplitudes are mm.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import fft, optimize, stats

from jobcheck.trade.series import (
    CONFIDENCE,
    Interval,
    Series,
    autocorrelation,
    fitted,
    robust_deviation,
    sine,
)

_Numbers = NDArray[np.int64]
_Sums = NDArray[np.complex128]

SURE_BELOW = 0.002
"""A cycle is claimed where its chance as noise is smaller."""

_POSSIBLE_BELOW = 0.2

LEAST_PERIODS = 2
"""A record of fewer periods cannot tell a cycle from a trend."""

_LEAST_SAMPLES = 8
_MOST_SAMPLES = 5_000
"""Longer series are averaged down to as many for the search."""

OVERSAMPLING = 4
"""Frequencies of a periodogram for each independent one."""

_GRID = 4
"""Time steps of the search within one step of the fastest cycle."""

_SIMULATIONS = 50
_CLIPPED_AT = 5.0
"""Values farther from the median, in robust standard deviations, are drawn in for the search."""


class Cycle(NamedTuple):
    """A sine in a series: value = constant + trend t + amplitude cos(2 pi t / period - phase).

    `chance` is how probable a peak as high is without a cycle; `left` the standard deviation
    when it is removed; `aliases` are periods that the times cannot tell from it.
    """

    period: Interval
    amplitude: Interval
    phase: float
    trend: Interval
    chance: float
    left: float
    aliases: tuple[float, ...]
    samples_to_settle: int | None

    @property
    def is_sure(self) -> bool:
        """Whether the cycle is claimed."""
        return self.chance < SURE_BELOW


class Powers(NamedTuple):
    """A periodogram: `power` is exponentially distributed with mean 1 in white noise."""

    frequency: Series
    power: Series


def periodogram(time: Series, values: Series, fastest: float | None = None) -> Powers:
    """Lomb-Scargle periodogram with a floating mean, from two periods in the record up.

    Times are rounded to a fine grid, so that one Fourier transform serves all frequencies.
    Source: Zechmeister and Kuerster, 2009 (generalised periodogram); Press and Rybicki, 1989
    (transform instead of sums); both from memory, compared with astropy in the tests.
    """
    length = float(time[-1] - time[0])
    fastest = fastest or fastest_frequency(time)
    step = 1 / (2 * _GRID * fastest)
    cells = fft.next_fast_len(int(OVERSAMPLING * length / step) + 2)
    at = np.rint((time - time[0]) / step).astype(int)
    first = int(np.ceil(LEAST_PERIODS / length * cells * step))
    last = min(int(fastest * cells * step), cells // 4)
    wanted = np.arange(first, max(last, first) + 1)
    centred = values - values.mean()
    sums = _sums(at, centred, cells, wanted)
    weights = _sums(at, np.ones(len(at)), cells, wanted)
    doubled = _sums(at, np.ones(len(at)), cells, 2 * wanted)
    return Powers(wanted / (cells * step), _powers(sums, weights, doubled, centred))


def _sums(at: _Numbers, values: Series, cells: int, wanted: _Numbers) -> _Sums:
    """Sums of values times exp(2 pi i f t), at wanted multiples of the lowest frequency."""
    spectrum: _Sums = fft.rfft(np.bincount(at, values, cells))
    return np.conj(spectrum[wanted])


def _powers(sums: _Sums, weights: _Sums, doubled: _Sums, values: Series) -> Series:
    """Half the reduction of the sum of squares by a sine, in variances of the values."""
    n = len(values)
    variance = float(np.mean(values**2)) or 1.0
    c, s = weights.real / n, weights.imag / n
    cc = (1 + doubled.real / n) / 2 - c * c
    ss = (1 - doubled.real / n) / 2 - s * s
    cs = doubled.imag / n / 2 - c * s
    yc, ys = sums.real / n, sums.imag / n
    determinant = np.maximum(cc * ss - cs * cs, 1e-9)
    reduction = (ss * yc**2 + cc * ys**2 - 2 * cs * yc * ys) / determinant
    return np.asarray(n * np.clip(reduction, 0, variance) / variance / 2)


def fastest_frequency(time: Series) -> float:
    """Half a sample a usual time step: faster cycles are seen as slower ones (Nyquist)."""
    steps = np.diff(time)
    return 0.5 / float(np.median(steps[steps > 0]))


def find_cycle(time: Series, values: Series, used: NDArray[np.bool_] | None = None) -> Cycle | None:
    """Return the strongest cycle of a series, with its chance as noise; None in a short series.

    `time` rises; `used` leaves samples out. Noise that is not white is described by its
    autocorrelation and simulated at the same times; each peak is compared with the noise at its
    own frequency.
    Source: Schulz and Mudelsee, REDFIT, 2002 (idea, from memory).
    """
    if used is not None:
        time, values = time[used], values[used]
    t, y = _averaged(time, values)
    if len(t) < _LEAST_SAMPLES or len(np.unique(t)) < _LEAST_SAMPLES or np.ptp(y) == 0:
        return None
    y = _clipped(y - np.polyval(np.polyfit(t, y, 1), t))
    powers = periodogram(t, y)
    left, at = y, -1
    for _ in range(2):  # what is left when the peak is removed shows the noise
        noise = _Noise.of(t, left)
        background = _Background.of(t, noise, len(powers.power))
        found = int(np.argmax(background.compared(powers.power)))
        if found == at:
            break
        at = found
        left = y - _cycle(t, y, 1 / float(powers.frequency[at]))
    level, strength = float(background.expected[at]), float(background.compared(powers.power)[at])
    cycle = _fit(time, values, float(powers.frequency[at]), level, float(background.expected[0]))
    return cycle._replace(
        chance=background.chance(strength),
        aliases=_aliases(t, 1 / cycle.period.value, powers),
        samples_to_settle=background.samples_to_settle(strength, len(values)),
    )


def _averaged(time: Series, values: Series) -> tuple[Series, Series]:
    """Average neighbours so that at most `_MOST_SAMPLES` are left."""
    each = -(-len(time) // _MOST_SAMPLES)
    if each == 1:
        return time, values
    starts = np.arange(0, len(time), each)
    sizes = np.diff(np.append(starts, len(time)))
    return np.add.reduceat(time, starts) / sizes, np.add.reduceat(values, starts) / sizes


def _clipped(values: Series) -> Series:
    reach = _CLIPPED_AT * robust_deviation(values)
    middle = np.median(values)
    return np.clip(values, middle - reach, middle + reach)


def _cycle(time: Series, values: Series, period: float) -> Series:
    """The sine of a period that fits best, with its constant."""
    return fitted(values, [np.ones_like(time), *sine(time, period)])


class _Noise(NamedTuple):
    """Noise of two parts: `share` of its variance fades with a time constant, the rest is white."""

    share: float
    fades_in: float

    @classmethod
    def of(cls, time: Series, values: Series) -> _Noise:
        """Fit share x exp(-lag / constant) to the autocorrelation, constant by constant.

        A short series shows too little of it, by about (1 + 4 r) / n.
        Source: Marriott and Pope, Bias in the estimation of autocorrelations, 1954 (from memory).
        """
        found = autocorrelation(values)
        found = found + (1 + 4 * found) / len(values)
        lags = np.unique(np.geomspace(1, max(2, len(found) // 4), 40).astype(int))
        lags = lags[lags < len(found)]
        if not len(lags):
            return cls(0.0, 0.0)
        step = float(time[-1] - time[0]) / (len(time) - 1)
        best, noise = float(np.sum(found[lags] ** 2)), cls(0.0, 0.0)
        for constant in np.geomspace(0.3, len(values), 60):
            shape = np.exp(-lags / constant)
            share = float(np.clip(shape @ found[lags] / (shape @ shape), 0, 1))
            error = float(np.sum((found[lags] - share * shape) ** 2))
            if error < best:
                best, noise = error, cls(share, float(constant) * step)
        return noise

    def simulated(self, time: Series, random: np.random.Generator) -> Series:
        """One series of this noise at the given times, variance 1."""
        white = random.standard_normal((2, len(time)))
        if self.share <= 0:
            return np.asarray(white[0])
        kept = np.exp(-np.diff(time, prepend=time[0]) / self.fades_in)
        fresh = np.sqrt(1 - kept**2) * white[1]
        fresh[0] = white[1, 0]
        fading = np.empty_like(fresh)
        last = 0.0
        for at, (keep, new) in enumerate(zip(kept.tolist(), fresh.tolist(), strict=True)):
            last = keep * last + new if at else new
            fading[at] = last
        return np.asarray(np.sqrt(1 - self.share) * white[0] + np.sqrt(self.share) * fading)


class _Background(NamedTuple):
    """What noise alone gives: the expected strength at each frequency, and its usual maximum."""

    expected: Series
    usual_maximum: float
    samples: int

    @classmethod
    def of(cls, time: Series, noise: _Noise, width: int) -> _Background:
        """Simulate the noise at the given times; the seed is fixed, so that runs agree."""
        random = np.random.default_rng(20261127)
        runs = np.empty((_SIMULATIONS, width))
        for run in runs:
            values = noise.simulated(time, random)
            values -= np.polyval(np.polyfit(time, values, 1), time)
            run[:] = _strength(periodogram(time, values).power, len(time))
        expected = _smoothed(runs.mean(axis=0)) if noise.share > 0 else np.ones(width)
        return cls(expected, float(np.median((runs / expected).max(axis=1))), len(time))

    def compared(self, power: Series) -> Series:
        """Strengths of a periodogram as multiples of the noise at their frequency."""
        return np.asarray(_strength(power, self.samples) / self.expected)

    def _survival(self, strength: float) -> float:
        """Chance that one frequency of white noise is as strong (the F distribution)."""
        freedom = max(self.samples - 3, 1)
        return float((1 + 2 * strength / self.samples) ** (-freedom / 2))

    def chance(self, strength: float) -> float:
        """Chance that any frequency of the noise is as strong."""
        independent = np.log(2) / self._survival(self.usual_maximum)
        survival = min(self._survival(strength), 1 - 1e-12)
        return float(-np.expm1(independent * np.log1p(-survival)))

    def samples_to_settle(self, strength: float, samples: int) -> int | None:
        """How many more samples would make it sure; None where it is, or looks like noise."""
        chance = self.chance(strength)
        if not SURE_BELOW <= chance < _POSSIBLE_BELOW:
            return None
        needed = optimize.brentq(
            lambda s: self.chance(s) - SURE_BELOW, strength, 100 * strength + 100
        )
        return int(np.ceil(samples * (needed / strength - 1)))


def _strength(power: Series, samples: int) -> Series:
    """The power in variances of what is left, instead of all: a strong cycle is not its noise."""
    return np.asarray(power / np.maximum(1 - 2 * power / samples, 1e-9))


def _smoothed(values: Series) -> Series:
    """A running mean over a few independent frequencies; the ends are kept."""
    width = min(4 * OVERSAMPLING + 1, len(values) // 2 * 2 - 1)
    if width < 3:
        return values
    padded = np.pad(values, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width) / width, mode="valid")


def _fit(time: Series, values: Series, frequency: float, level: float, slow: float) -> Cycle:
    """Fit constant, trend and sine together, from a frequency near the best.

    `level` and `slow` are the noise at the frequency and at the lowest one, in that of white
    noise: errors grow with their roots.
    """
    length = float(time[-1] - time[0])
    t = (time - time[0]) / length

    def model(t: Series, f: float, c: float, b: float, p: float, q: float) -> Series:
        return np.asarray(c + b * t + p * np.cos(2 * np.pi * f * t) + q * np.sin(2 * np.pi * f * t))

    def slopes(t: Series, f: float, c: float, b: float, p: float, q: float) -> Series:
        cosine, sine = np.cos(2 * np.pi * f * t), np.sin(2 * np.pi * f * t)
        by_frequency = 2 * np.pi * t * (q * cosine - p * sine)
        return np.column_stack([by_frequency, np.ones_like(t), t, cosine, sine])

    start = frequency * length
    linear = slopes(t, start, 0, 0, 0, 0)[:, 1:]
    first = np.linalg.lstsq(linear, values, rcond=None)[0]
    found, covariance = optimize.curve_fit(model, t, values, (start, *first), jac=slopes)
    f, _, b, p, q = (float(value) for value in found)
    amplitude = float(np.hypot(p, q))
    toward = np.array([p, q]) / (amplitude or 1.0)
    reach = float(stats.norm.isf((1 - CONFIDENCE) / 2))
    f_reach = reach * float(np.sqrt(covariance[0, 0] * level))
    a_reach = reach * float(np.sqrt(toward @ covariance[3:, 3:] @ toward * level))
    b_reach = reach * float(np.sqrt(covariance[2, 2] * max(slow, level)))
    left = values - model(t, *found)
    phase = np.degrees(np.arctan2(q, p) + 2 * np.pi * f / length * float(time[0])) % 360
    return Cycle(
        Interval(length / f, length / (f + f_reach), length / max(f - f_reach, 1e-9)),
        Interval(amplitude, max(0.0, amplitude - a_reach), amplitude + a_reach),
        float(phase),
        Interval(b / length, (b - b_reach) / length, (b + b_reach) / length),
        1.0,
        float(np.sqrt(np.sum(left**2) / max(len(left) - 5, 1))),
        (),
        None,
    )


def amplitude_left(time: Series, values: Series, period: float) -> Interval:
    """Amplitude of a cycle of a known period that a series may still have.

    The noise near the period gives the error. The lower end is 0 where noise alone is often as
    large (Rayleigh distribution); the upper end is that of one side.
    """
    t, y = _averaged(time, values)
    cycle = _cycle(t, y, period)
    noise = _Noise.of(t, y - cycle)
    powers = periodogram(t, y)
    background = _Background.of(t, noise, len(powers.power))
    at = int(np.clip(np.searchsorted(powers.frequency, 1 / period), 0, len(powers.power) - 1))
    spread = float(np.std(y - cycle))
    error = spread * float(np.sqrt(2 * background.expected[at] / len(t)))
    amplitude = float(np.sqrt(2) * np.std(cycle))
    shown = amplitude > error * float(stats.rayleigh.isf(SURE_BELOW))
    low = amplitude - error * float(stats.norm.isf((1 - CONFIDENCE) / 2)) if shown else 0.0
    return Interval(amplitude, low, amplitude + error * float(stats.norm.isf(1 - CONFIDENCE)))


def _aliases(time: Series, frequency: float, powers: Powers) -> tuple[float, ...]:
    """Periods that fit about as well: of times in equal steps the mirrored ones, else other peaks.

    As well: the likelihood is at most 20 times smaller (a factor e^3; Kass and Raftery, Bayes
    Factors, 1995, from memory).
    """
    steps = np.diff(time)
    step = float(np.median(steps))
    whole = steps / step
    if np.all(np.abs(whole - np.rint(whole)) < 0.01):
        return 1 / (1 / step - frequency), 1 / (1 / step + frequency)
    n = len(time)
    left = np.maximum(1 - 2 * powers.power / n, 1e-9)
    alike = n / 2 * np.log(left / left.min()) < 3
    apart = np.abs(powers.frequency - frequency) > LEAST_PERIODS / float(time[-1] - time[0])
    found = powers.frequency[alike & apart]
    groups = np.split(found, np.flatnonzero(np.diff(found) > 2 * (powers.frequency[0])) + 1)
    return tuple(float(1 / np.median(group)) for group in groups if len(group))[:3]
