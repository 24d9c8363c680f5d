"""The error budget of a job, as text and as data."""

from __future__ import annotations

from typing import Any

from jobcheck.commands.capability import Capability
from jobcheck.facts.error_budget import Budget
from jobcheck.reports.text.layout import columns, paragraph
from jobcheck.trade.capability import CAPABLE, Share
from jobcheck.wording import count, listed

_BIAS = "always acts one way"


def capability_text(found: Capability, quiet: bool = False) -> list[str]:
    """Show the Cpk of each outline, the shares of the worst, and what would gain most."""
    worst = found.budgets[0]
    low = [budget for budget in found.budgets if budget.cpk < 1]
    lines = [f"{found.job}: {count(len(found.budgets), 'outline')}, {len(low)} with a Cpk below 1"]
    rows: list[tuple[str, ...]] = [("outline", "placements", "may be off, um", "Cpk")]
    rows += [(b.outline, str(b.placements), _um(b.allowed), f"{b.cpk:.2f}") for b in found.budgets]
    lines += ["", *columns(rows), "", f"Shares of {worst.outline}, um and percent"]
    lines += columns([(s.cause, _um(s.mm), _percent(worst, s)) for s in worst.shares])
    if worst.missing:
        lines += ["", *paragraph(f"Not in it, as not described: {listed(list(worst.missing))}.")]
    lines += ["", *paragraph(_advice(found, worst))]
    return lines if quiet else [*lines, "", *paragraph(caution(found))]


def _advice(found: Capability, worst: Budget) -> str:
    smallest = (
        f"The narrowest chip that reaches {CAPABLE:g} with these shares is {found.smallest} (inch)."
        if found.smallest
        else f"No chip reaches {CAPABLE:g} with these shares."
    )
    gain = worst.best_gain
    if gain is None:
        return smallest
    share, cpk = gain
    without = f"{cpk:.2f}" if cpk < 100 else "far above it"
    return f"{smallest} Most is gained by the {share.cause}: without it the Cpk is {without}."


def caution(found: Capability) -> str:
    """Say what the estimate rests on, with date and samples where they are known."""
    measured = found.measured
    samples = f" of {measured.samples:,} measurements" if measured.samples else ""
    day = f", {measured.measured}" if measured.measured else ""
    return (
        f"An estimate from the described repeatability{samples}{day}, for "
        f"IPC-A-610 class {found.shop.limits.ipc_class}. Biases add in their worst case, the rest "
        "as the root of the sum of squares; lands are taken as wide as terminals."
    )


def _um(mm: float) -> str:
    return f"{1000 * mm:.0f}" if mm >= 0.01 or mm == 0 else f"{1000 * mm:.1f}"


def _percent(budget: Budget, share: Share) -> str:
    """Write a bias as part of what is allowed, a deviation as part of the variance."""
    if share.is_bias:
        part = share.mm / budget.allowed if budget.allowed else 0.0
        return f"{100 * part:.0f} % of what it may be off: {_BIAS}"
    variance = sum(s.mm**2 for s in budget.shares if not s.is_bias)
    return f"{100 * share.mm**2 / variance if variance else 0:.0f} % of the variance"


def capability_data(found: Capability) -> dict[str, Any]:
    """Return the budgets for programs; lengths mm."""
    return {
        "job": found.job,
        "class": found.shop.limits.ipc_class,
        "smallest_chip": found.smallest,
        "outlines": [
            {
                "outline": budget.outline,
                "placements": budget.placements,
                "allowed_mm": budget.allowed,
                "cpk": budget.cpk,
                "shares": [share._asdict() for share in budget.shares],
                "not_described": list(budget.missing),
                "most_gained_by": budget.best_gain and budget.best_gain[0].cause,
            }
            for budget in found.budgets
        ],
        "caution": caution(found),
    }
