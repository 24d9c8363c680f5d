"""How well a machine repeats: bias, spread, reversal and cyclic drift from a log. Needs NumPy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from jobcheck.findings import CallRefused
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.measurements import Measurements
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.trade.cycles import LEAST_PERIODS, Cycle, amplitude_left, find_cycle
from jobcheck.trade.influences import Influence, Quantity, influences
from jobcheck.trade.repeatability import (
    Approached,
    AxisRepeatability,
    axis_repeatability,
    pose_repeatability,
)
from jobcheck.trade.series import (
    Interval,
    Series,
    autocorrelation,
    deviation,
    fitted,
    independent_samples,
    mean,
    outliers,
    ratio_of_deviations,
    resolution,
    sine,
)

_Used = NDArray[np.bool_]

_SAME_MM = 1e-9
"""Residuals that differ by less, a constant apart, have the same cycle."""

_LEAST_BENT = 10
_SLOW_SHARE = 0.3
"""Part of the variance that a slow change must explain before it is named."""

_QUANTITIES: Mapping[str, tuple[str, Quantity]] = {
    "commanded x": ("command_x", Quantity.LEVEL),
    "commanded y": ("command_y", Quantity.LEVEL),
    "a pitch along x": ("command_x", Quantity.PITCH),
    "a pitch along y": ("command_y", Quantity.PITCH),
    "spindle angle": ("angle", Quantity.TURN),
    "temperature": ("temperature", Quantity.LEVEL),
    "load": ("load", Quantity.LEVEL),
}


class Axis(NamedTuple):
    """What a log says of one axis, mm.

    `bias` is known only where a target is. `independent` samples know as much about the mean as
    all. `outliers` are lines of the file; the cycle is fitted without them, everything else with
    them, and `spread_without` gives the spread if they are wrong. `slow` is a change over the
    whole record that is a trend or a cycle too long for it.
    """

    name: str
    time: Series
    residuals: Series
    samples: int
    independent: float
    lag1: float
    bias: Interval | None
    spread: Interval
    outliers: tuple[int, ...]
    spread_without: float
    cycle: Cycle | None
    influences: tuple[Influence, ...]
    slow: float | None
    axis: AxisRepeatability | None

    @property
    def sure_cycle(self) -> Cycle | None:
        """The cycle, where it is claimed."""
        return self.cycle if self.cycle is not None and self.cycle.is_sure else None


class Comparison(NamedTuple):
    """One axis now and before: spreads as a ratio, and amplitudes of the cycle that it had."""

    name: str
    ratio: Interval
    before: float
    now: float
    cycle: Cycle | None
    remains: Interval | None

    @property
    def is_gone(self) -> bool:
        """Whether what may remain of the cycle is less than what it was."""
        if self.cycle is None or self.remains is None:
            return False
        return self.remains.high < self.cycle.amplitude.low and self.remains.low <= 0


class Repeatability(NamedTuple):
    """A log, its axes, the pose repeatability, and the comparison with an earlier log."""

    log: Measurements
    length: float
    axes: tuple[Axis, ...]
    pose: Interval | None
    compared: tuple[Comparison, ...] = ()
    earlier: str = ""
    proposal: Proposal | None = None

    @property
    def has_times(self) -> bool:
        """Whether times are seconds; else they count samples."""
        return "time" in self.log.numbers


def repeatability(log: Measurements, earlier: Measurements | None = None) -> Repeatability:
    """Judge a log, and compare it with an earlier one."""
    time = _time(log)
    axes = tuple(_axis(log, time, name) for name in _axes(log))
    pose = None
    if len(axes) == 2:
        pose = pose_repeatability(*(_at_place(log, name) for name in _axes(log)))
    found = Repeatability(log, float(time[-1]), axes, pose)
    if earlier is None:
        return found
    before = {axis.name: axis for axis in repeatability(earlier).axes}
    compared = tuple(_compared(axis, before[axis.name]) for axis in axes if axis.name in before)
    return found._replace(compared=compared, earlier=earlier.file)


def _axes(log: Measurements) -> list[str]:
    return [axis for axis in "xy" if axis in log.numbers or f"d{axis}" in log.numbers]


def _time(log: Measurements) -> Series:
    return log.numbers.get("time", np.arange(len(log.lines), dtype=np.float64))


def _deviations(log: Measurements, name: str) -> tuple[Series, bool]:
    """Return what was measured of an axis, and whether it is the distance from a target."""
    if f"d{name}" in log.numbers:
        return log.numbers[f"d{name}"], True
    if f"command_{name}" in log.numbers:
        return log.numbers[name] - log.numbers[f"command_{name}"], True
    return log.numbers[name], False


def _centred(
    log: Measurements,
    name: str,
    values: Series,
    used: _Used | None = None,
    *,
    by_place: bool = False,
) -> Series:
    """Values less the mean of their own thing and approach, or of their own place."""
    keys: list[Any] = [np.asarray(log.what)] if any(log.what) else []
    if by_place:
        keys += [log.numbers[at] for at in ("command_x", "command_y") if at in log.numbers]
    elif name in log.approach:
        keys.append(log.approach[name])
    group = np.zeros(len(values), dtype=np.int64)
    for key in keys:
        _, number = np.unique(key, return_inverse=True)
        _, group = np.unique(group * (number.max() + 1) + number, return_inverse=True)
    weights = np.ones(len(values)) if used is None else used.astype(np.float64)
    sizes = np.bincount(group, weights)
    if sizes.min() < (2 if by_place else 1):
        return np.asarray(values - np.average(values, weights=weights))
    return np.asarray(values - (np.bincount(group, values * weights) / sizes)[group])


def _at_place(log: Measurements, name: str) -> Series:
    return _centred(log, name, _deviations(log, name)[0], by_place=True)


def _axis(log: Measurements, time: Series, name: str) -> Axis:
    values, has_target = _deviations(log, name)
    first = residuals = _centred(log, name, values)
    cycle = find_cycle(time, residuals)
    step, wrong = resolution(values), np.zeros(len(values), bool)
    for _ in range(3):  # means without the cycle, the cycle without what is wrong
        curve = _curve(cycle, time, residuals, ~wrong)
        residuals = _centred(log, name, values - curve, ~wrong) + curve
        wrong = outliers(residuals - curve, step)
    if wrong.any() or np.ptp(residuals - first) > _SAME_MM:
        cycle = find_cycle(time, residuals, ~wrong)
    period = cycle.period.value if cycle and cycle.is_sure else None
    quantities = {
        word: (quantity, log.numbers[meaning][~wrong])
        for word, (meaning, quantity) in _QUANTITIES.items()
        if meaning in log.numbers
    }
    correlation = autocorrelation(residuals)
    return Axis(
        name,
        time,
        residuals,
        len(values),
        independent_samples(residuals),
        float(correlation[1]) if len(correlation) > 1 else 0.0,
        mean(values) if has_target else None,
        deviation(residuals),
        tuple(log.lines[int(at)] for at in np.flatnonzero(wrong)),
        float(residuals[~wrong].std(ddof=1)),
        cycle,
        influences(residuals[~wrong], time[~wrong], period, quantities),
        None if period else _slow_change(time[~wrong], residuals[~wrong]),
        _by_iso(log, name, values),
    )


def _curve(cycle: Cycle | None, time: Series, values: Series, used: _Used) -> Series:
    """The sure cycle of a series, with its trend."""
    columns = [np.ones_like(time), time - time.mean()]
    if cycle is not None and cycle.is_sure:
        columns += sine(time, cycle.period.value)
    return fitted(values, columns, used)


def _slow_change(time: Series, values: Series) -> float | None:
    """How far a bent line through the record goes, where it explains enough of the spread."""
    if len(values) < _LEAST_BENT or np.ptp(values) == 0:
        return None
    at = (time - time.mean()) / (np.ptp(time) or 1.0)
    bent = np.polyval(np.polyfit(at, values, 2), at)
    total = float(np.sum((values - values.mean()) ** 2))
    return float(np.ptp(bent)) if 1 - np.sum((values - bent) ** 2) / total > _SLOW_SHARE else None


def _by_iso(log: Measurements, name: str, values: Series) -> AxisRepeatability | None:
    """Judge an axis by ISO 230-2, of the positions that were approached twice from each side."""
    if name not in log.approach:
        return None
    sign = log.approach[name]
    place: NDArray[Any] = log.numbers.get(f"command_{name}", np.zeros(len(values)))
    positions = {}
    for at in np.unique(place):
        up, down = (values[(place == at) & (sign == side)] for side in (1, -1))
        if min(len(up), len(down)) >= 2:
            positions[float(at)] = Approached(up, down)
    return axis_repeatability(positions) if positions else None


def _compared(now: Axis, before: Axis) -> Comparison:
    cycle = before.sure_cycle
    remains = amplitude_left(now.time, now.residuals, cycle.period.value) if cycle else None
    return Comparison(
        now.name,
        ratio_of_deviations(now.residuals, before.residuals),
        before.spread.value,
        now.spread.value,
        cycle,
        remains,
    )


def least_length(axis: Axis, length: float) -> float | None:
    """How long a record must be to tell a slow change of an axis from a cycle."""
    return None if axis.slow is None else 2 * LEAST_PERIODS * length


def with_summary(
    found: Repeatability, root: FilePath, measured: date, *, write: bool
) -> Repeatability:
    """Propose the summary for the machine's file: reversal, repeatability, drift; write it.

    Raises:
        CallRefused: the shop has no machine, or the file cannot be written.
    """
    reading = read_shop(folder_state(root))
    if understood(reading).machine is None:
        raise CallRefused("The shop describes no machine.")
    edits = list(_edits(found, measured))
    return found._replace(proposal=propose(root, reading, edits, write=write))


def _edits(found: Repeatability, measured: date) -> Iterator[Edit]:
    reversal: dict[str, Any] = {
        a.name: round(abs(a.axis.reversal.value), 4) for a in found.axes if a.axis
    }
    spread: dict[str, Any] = {f"{a.name}_mm": round(a.spread.value, 4) for a in found.axes}
    spread["samples"] = len(found.log.lines)
    if found.pose is not None:
        spread["pose_mm"] = round(found.pose.value, 4)
    drift: dict[str, Any] = {
        f"{a.name}_mm": round(2 * a.sure_cycle.amplitude.value, 4)
        for a in found.axes
        if a.sure_cycle
    }
    if drift and found.has_times:
        cycles = [axis.sure_cycle for axis in found.axes if axis.sure_cycle]
        largest = max(cycles, key=lambda cycle: cycle.amplitude.value)
        drift["period_s"] = round(largest.period.value, 3)
    for key, values in (("reversal", reversal), ("repeatability", spread), ("drift", drift)):
        if values:
            values["measured"] = measured.isoformat()
            yield from (Edit((key, name), value) for name, value in values.items())
