"""How well the machine repeats, as text with a plot, and as data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from jobcheck.commands.repeatability import Axis, Comparison, Repeatability, least_length
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import columns, paragraph, proposed
from jobcheck.reports.text.proposals import preview
from jobcheck.trade.cycles import SURE_BELOW, Cycle
from jobcheck.trade.series import Interval, Series
from jobcheck.wording import count, duration, listed, number

_WIDE, _HIGH = 64, 9
CAUTION = (
    "An estimate from this log, with 95 % intervals. It holds for the machine as it was, at the "
    "places, speeds and loads that were logged."
)


def repeatability_text(found: Repeatability, call: Call, quiet: bool = False) -> list[str]:
    """Show the figures, what they follow, and what would settle an open question."""
    log = found.log
    over = f" over {_time(found, found.length)}" if found.has_times else ", without times"
    lines = [f"{log.file}: {count(len(log.lines), 'measurement')}{over}."]
    if log.unused:
        lines += paragraph(f"Columns not used: {listed(list(log.unused))}.")
    lines += ["", *columns(_table(found))]
    for axis in found.axes:
        lines += [line for text in _sentences(found, axis) for line in ["", *paragraph(text)]]
    for one in found.compared:
        lines += ["", *paragraph(_compared(found, one))]
    if not quiet:
        for axis in found.axes:
            lines += ["", *_plot(found, axis)]
        lines += ["", *paragraph(CAUTION)]
    return lines + _written(found, call)


def _table(found: Repeatability) -> list[tuple[str, ...]]:
    """Write one row a figure; intervals are in brackets."""
    rows = [("um", *(axis.name for axis in found.axes))]

    def row(title: str, cells: list[str]) -> None:
        if any(cells):
            rows.append((title, *cells))

    row("bias", [_interval(axis.bias) for axis in found.axes])
    row("standard deviation", [_interval(axis.spread) for axis in found.axes])
    row(
        "without outliers",
        [_um(axis.spread_without) if axis.outliers else "" for axis in found.axes],
    )
    row(
        "without its cycle",
        [_um(axis.sure_cycle.left) if axis.sure_cycle else "" for axis in found.axes],
    )
    iso = [axis.axis for axis in found.axes]
    row("reversal B, ISO 230-2", [_interval(one.reversal) if one else "" for one in iso])
    row("repeatability, one side", [_um(max(one.up, one.down)) if one else "" for one in iso])
    row("repeatability, both sides", [_um(one.both) if one else "" for one in iso])
    if found.pose is not None:
        rows.append(("pose RP, ISO 9283", _interval(found.pose), *[""] * (len(iso) - 1)))
    return rows


def _sentences(found: Repeatability, axis: Axis) -> Iterator[str]:
    if axis.independent < axis.samples / 2:
        yield (
            f"{axis.name}: neighbouring measurements are alike (correlation "
            f"{axis.lag1:.2f}): {axis.samples:,} count as {axis.independent:,.0f}."
        )
    if axis.outliers:
        rows = listed([str(line) for line in axis.outliers])
        is_one = len(axis.outliers) == 1
        lines = f"line {rows} is" if is_one else f"lines {rows} are"
        yield (
            f"{axis.name}: {lines} far from the rest. The cycle is fitted without "
            f"{'it' if is_one else 'them'}; the other figures include {'it' if is_one else 'them'}."
        )
    yield from _cycle(found, axis)
    trend = axis.cycle.trend if axis.cycle else None
    if trend is not None and not trend.low <= 0 <= trend.high:
        hours, unit = (3600, "h") if found.has_times else (1000, "1,000 measurements")
        low, high = sorted((_mm(hours * trend.low), _mm(hours * trend.high)), key=float)
        size = _mm(hours * trend.value)
        yield f"{axis.name} moves by {size} mm/{unit} ({low} to {high}): a trend."
    if axis.slow is not None and not axis.sure_cycle:
        longer = _time(found, least_length(axis, found.length) or 0)
        yield (
            f"{axis.name} changes slowly by {_mm(axis.slow)} mm. A record shorter than two periods "
            f"cannot tell a trend from a cycle: log for {longer} or longer."
        )
    yield from _influences(axis)


def _cycle(found: Repeatability, axis: Axis) -> Iterator[str]:
    cycle = axis.cycle
    if axis.spread.value == 0:
        yield f"{axis.name}: every measurement is the same."
    elif cycle is None:
        yield f"{axis.name}: too few measurements to look for a cycle."
    elif cycle.is_sure:
        yield (
            f"{axis.name} drifts in a cycle of {_mm(2 * cycle.amplitude.value)} mm peak to peak "
            f"({_mm(2 * cycle.amplitude.low)} to {_mm(2 * cycle.amplitude.high)}), period "
            f"{_period(found, cycle.period.value)} ({_period(found, cycle.period.low)} to "
            f"{_period(found, cycle.period.high)}), phase {cycle.phase:.0f} degrees. "
            f"{_chance(cycle)} Without it the standard deviation is {_mm(cycle.left)} mm."
        )
        if cycle.aliases:
            alike = " or ".join(_period(found, period) for period in cycle.aliases)
            yield (
                f"At these times a period of {alike} looks the same. Log at other intervals to "
                "tell them apart."
            )
    elif cycle.samples_to_settle:
        more = f"{cycle.samples_to_settle:,} more measurements"
        if found.has_times:
            more += f" ({_time(found, found.length * cycle.samples_to_settle / axis.samples)})"
        yield (
            f"{axis.name}: a cycle of {_period(found, cycle.period.value)} is possible but not "
            f"shown. {_chance(cycle)} About {more} would settle it."
        )
    else:
        yield f"{axis.name}: no cycle is shown."


def _chance(cycle: Cycle) -> str:
    if cycle.chance < 1e-4:
        return "Noise alone shows such a peak in fewer than 1 of 10,000 logs."
    return f"Noise alone shows such a peak in {100 * cycle.chance:.2g} of 100 logs."


def _influences(axis: Axis) -> Iterator[str]:
    best = next((one for one in axis.influences if one.is_best), None)
    if best is None or (best.name == "time" and len(axis.influences) == 1):
        return
    alike = [one.name for one in axis.influences if one.is_alike]
    if len(alike) > 1:
        yield (
            f"{axis.name} follows {' or '.join(alike)}: they explain it alike "
            f"({100 * best.share:.0f} % of the variance), and this log cannot tell them apart. "
            "Log with one of them changed and the others kept."
        )
    else:
        pitch = f", repeating every {number(round(best.pitch, 3))} mm" if best.pitch else ""
        pitch = "" if best.name == "time" else pitch
        yield (f"{axis.name} follows {best.name}{pitch}: {100 * best.share:.0f} % of the variance.")


def _compared(found: Repeatability, one: Comparison) -> str:
    ratio = one.ratio
    percent = f"{100 * ratio.value:.0f} % of it, {100 * ratio.low:.0f} to {100 * ratio.high:.0f}"
    if ratio.low <= 1 <= ratio.high:
        spread = f"{one.name}: the spread is not shown to differ ({percent}, 95 %)."
    else:
        word = "fell" if ratio.value < 1 else "rose"
        spread = (
            f"{one.name}: the spread {word} from {_mm(one.before)} to {_mm(one.now)} mm "
            f"({percent}, 95 %)."
        )
    if one.cycle is None or one.remains is None:
        return f"{spread} {found.earlier} showed no cycle."
    was = _mm(2 * one.cycle.amplitude.value)
    if one.is_gone:
        return (
            f"{spread} The cycle of {was} mm is gone: at most {_mm(2 * one.remains.high)} mm "
            "remains (95 %)."
        )
    is_less = one.remains.high < one.cycle.amplitude.low
    return (
        f"{spread} The cycle of {was} mm {'is smaller' if is_less else 'remains'}: now "
        f"{_mm(2 * one.remains.value)} mm, at most {_mm(2 * one.remains.high)} (95 %)."
    )


def _plot(found: Repeatability, axis: Axis) -> list[str]:
    """Draw the residuals over time with characters: `.` one measurement, `:` few, `#` many."""
    counts = plot_counts(axis.time, axis.residuals, _WIDE, _HIGH)
    top, bottom = float(axis.residuals.max()), float(axis.residuals.min())
    unit = "s" if found.has_times else "measurements"
    lines = [f"{axis.name}, mm from its mean, over time"]
    for at, row in enumerate(counts):
        label = _mm(top) if at == 0 else _mm(bottom) if at == _HIGH - 1 else ""
        lines.append(f"{label:>9} |{''.join(map(_mark, row))}".rstrip())
    end = f"{number(round(float(axis.time[-1]), 3))} {unit}"
    return [*lines, f"{'':>9} +{'-' * _WIDE}", f"{'':>10}0{end:>{_WIDE - 1}}"]


def plot_counts(time: Series, values: Series, wide: int, high: int) -> list[list[int]]:
    """Count measurements in the cells of a grid, the highest values first."""
    counts, _, _ = np.histogram2d(-values, time, bins=(high, wide))
    return [[int(cell) for cell in row] for row in counts]


def _mark(amount: int) -> str:
    return " " if amount == 0 else "." if amount == 1 else ":" if amount < 5 else "#"


def _written(found: Repeatability, call: Call) -> list[str]:
    proposal = found.proposal
    if proposal is None:
        return []
    if not proposal.edited.files:
        return ["", "The machine's file has these figures already."]
    if proposal.written:
        return ["", f"Written and read back: {listed(list(proposal.edited.files))}."]
    again = command("repeatability", found.log.file, "--write")
    return [
        "",
        "The summary for the machine's file. Nothing has been written.",
        *preview(proposal, call),
        *proposed("To write it", call.typed(again)),
    ]


def _time(found: Repeatability, amount: float) -> str:
    return duration(amount) if found.has_times else count(round(amount) + 1, "measurement")


def _period(found: Repeatability, period: float) -> str:
    return f"{period:.4g} {'s' if found.has_times else 'measurements'}"


def _mm(value: float) -> str:
    return f"{value:.2g}" if abs(value) < 0.1 else f"{value:.3f}".rstrip("0").rstrip(".")


def _interval(interval: Interval | None) -> str:
    if interval is None:
        return ""
    return f"{_um(interval.value)} ({_um(interval.low)} to {_um(interval.high)})"


def _um(value: float) -> str:
    return f"{1000 * value:,.1f}"


def repeatability_data(found: Repeatability) -> dict[str, Any]:
    """Return the figures for programs; lengths mm, times s."""
    return {
        "log": found.log.file,
        "measurements": len(found.log.lines),
        "length": found.length,
        "time_unit": "s" if found.has_times else "measurement",
        "pose_repeatability_mm": _three(found.pose),
        "axes": {axis.name: _axis_data(axis) for axis in found.axes},
        "compared": {one.name: _compared_data(one) for one in found.compared},
        "sure_below": SURE_BELOW,
        "caution": CAUTION,
    }


def _axis_data(axis: Axis) -> dict[str, Any]:
    cycle, iso = axis.cycle, axis.axis
    return {
        "bias_mm": _three(axis.bias),
        "deviation_mm": _three(axis.spread),
        "deviation_without_outliers_mm": axis.spread_without,
        "outlier_lines": list(axis.outliers),
        "independent": axis.independent,
        "autocorrelation": axis.lag1,
        "slow_change_mm": axis.slow,
        "trend_mm_per_time_unit": _three(axis.cycle.trend) if axis.cycle else None,
        "cycle": cycle
        and {
            "is_sure": cycle.is_sure,
            "chance": cycle.chance,
            "period": _three(cycle.period),
            "peak_to_peak_mm": [2 * value for value in cycle.amplitude],
            "phase_deg": cycle.phase,
            "left_mm": cycle.left,
            "alike": list(cycle.aliases),
            "samples_to_settle": cycle.samples_to_settle,
        },
        "follows": [one._asdict() for one in axis.influences],
        "iso_230_2": iso
        and {
            "reversal_mm": _three(iso.reversal),
            "up_mm": iso.up,
            "down_mm": iso.down,
            "both_mm": iso.both,
        },
    }


def _compared_data(one: Comparison) -> dict[str, Any]:
    return {
        "deviation_ratio": _three(one.ratio),
        "cycle_before_mm": one.cycle and 2 * one.cycle.amplitude.value,
        "cycle_left_mm": one.remains and [2 * value for value in one.remains],
        "cycle_is_gone": one.is_gone,
    }


def _three(interval: Interval | None) -> list[float] | None:
    return None if interval is None else list(interval)
