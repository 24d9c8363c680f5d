"""The picture of a log of measurements: over time, in the plane, and by period."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import stats

from jobcheck.commands.repeatability import Axis, Repeatability
from jobcheck.reports.pages.drawing import PowersOfTen, Scale, filled
from jobcheck.trade.cycles import periodogram
from jobcheck.trade.series import CONFIDENCE, Series

_MOST_POINTS = 2_000
_LEFT, _RIGHT, _HIGH, _GAP, _TOP = 70.0, 880.0, 150.0, 80.0, 50.0


def repeatability_svg(found: Repeatability) -> str:
    """Draw each axis over time and by period, and both in the plane with the 95 % ellipse."""
    panels: list[dict[str, Any]] = []
    for axis in found.axes:
        panels.append(_over_time(found, axis, len(panels)))
        by_period = _by_period(found, axis, len(panels))
        panels += [by_period] if by_period else []
    if len(found.axes) == 2:
        panels.append(_plane(found.axes[0].residuals, found.axes[1].residuals, len(panels)))
    height = max(panel["bottom"] for panel in panels) + 60
    return filled(
        "repeatability.svg", title=f"{found.log.file}: repeatability", panels=panels, height=height
    )


def _panel(
    at: int, title: str, across: tuple[Series, str], up: tuple[Series, str], high: float = _HIGH
) -> dict[str, Any]:
    top = _TOP + at * (_HIGH + _GAP)
    right = _RIGHT if high == _HIGH else _LEFT + high
    x = Scale(float(across[0].min()), float(across[0].max()), _LEFT, right)
    y = Scale(float(up[0].min()), float(up[0].max()), top + high, top)
    chosen = np.unique(np.linspace(0, len(across[0]) - 1, _MOST_POINTS).astype(int))
    pairs = zip(across[0][chosen].tolist(), up[0][chosen].tolist(), strict=True)
    return {
        "title": title,
        "x": x,
        "y": y,
        "x_title": across[1],
        "y_title": up[1],
        "left": _LEFT,
        "right": right,
        "top": top,
        "bottom": top + high,
        "points": [(x.at(a), y.at(b)) for a, b in pairs],
        "line": "",
        "ellipse": None,
    }


def _over_time(found: Repeatability, axis: Axis, at: int) -> dict[str, Any]:
    unit = "time, s" if found.has_times else "measurement"
    return _panel(
        at, f"{axis.name} over time", (axis.time, unit), (axis.residuals, f"{axis.name}, mm")
    )


def _by_period(found: Repeatability, axis: Axis, at: int) -> dict[str, Any] | None:
    if axis.cycle is None:
        return None
    powers = periodogram(axis.time, axis.residuals)
    order = np.argsort(1 / powers.frequency)
    period, power = (1 / powers.frequency)[order], powers.power[order]
    unit = "s" if found.has_times else "measurements"
    panel = _panel(
        at,
        f"{axis.name} by period: how much of the spread a cycle of it explains",
        (np.log10(period), f"period, {unit}"),
        (power, "power"),
    )
    corners = " ".join(f"{x},{y}" for x, y in panel["points"])
    return {**panel, "x": PowersOfTen(panel["x"]), "points": [], "line": corners}


def _plane(x: Series, y: Series, at: int) -> dict[str, Any]:
    """Draw both axes to one scale, with the ellipse that holds 95 % of normal noise."""
    reach = max(float(np.abs(x).max()), float(np.abs(y).max())) or 1.0
    frame = np.array([-reach, reach])
    panel = _panel(at, "x and y, with the 95 % ellipse", (frame, "x, mm"), (frame, "y, mm"), 320.0)
    across, up = panel["x"], panel["y"]
    chosen = np.unique(np.linspace(0, len(x) - 1, _MOST_POINTS).astype(int))
    pairs = zip(x[chosen].tolist(), y[chosen].tolist(), strict=True)
    panel["points"] = [(across.at(a), up.at(b)) for a, b in pairs]
    sizes, axes = np.linalg.eigh(np.cov(x, y))
    radii = np.sqrt(stats.chi2.ppf(CONFIDENCE, 2) * np.maximum(sizes, 0)) * 320.0 / (2 * reach)
    panel["ellipse"] = {
        "cx": across.at(0.0),
        "cy": up.at(0.0),
        "rx": round(float(radii[1]), 2),
        "ry": round(float(radii[0]), 2),
        "turn": round(-float(np.degrees(np.arctan2(axes[1, 1], axes[0, 1]))), 2),
    }
    return panel
