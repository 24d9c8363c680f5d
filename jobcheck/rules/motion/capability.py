"""Rules about capability: what the machine can place, from its measured repeatability."""

from __future__ import annotations

from collections.abc import Iterator

from jobcheck.facts.error_budget import Budget, budgets
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.boards.bodies import layouts
from jobcheck.wording import count, number

_LEAST_CPK = 1.0


@rule(
    Level.WARNING,
    fails="repeatability: {x_mm: 0.12, y_mm: 0.02}",
    passes="repeatability: {x_mm: 0.02, y_mm: 0.02}",
)
def capability_low(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The machine's measured repeatability is too coarse for some outline: its Cpk is below 1.

    The Cpk is an estimate from what is described: repeatability, drift, camera, tip, reversal,
    fiducials or seat. Biases add, the rest adds as the root of the sum of squares. The land is
    taken as wide as the terminal. Outlines without known terminals are left out.

    On the machine: more than 1 of 400 of these parts may overhang their lands too far (a centred
    normal distribution at Cpk 1 has 2,700 per million).

    To do: improve the cause that gains most, or place these parts by hand.

    Source: NIST/SEMATECH e-Handbook 6.1.6 (Cpk); IPC-A-610F 8.3.2.1 (chips), from memory for
    other terminals.
    """
    machine = look.shop.machine
    if machine is None:
        return
    for job, layout in layouts(look):
        found = budgets(look.facts, job)
        if not found and layout.bodies:
            yield Unchecked(
                f"capability of {job}",
                "the machine's repeatability is not measured",
                "repeatability",
                (("repeatability",),),
            )
        low = [budget for budget in found if budget.cpk < _LEAST_CPK]
        if low:
            yield _too_coarse(job, low)


def _too_coarse(job: str, low: list[Budget]) -> Problem:
    worst = low[0]
    gain = worst.best_gain
    advice = f"Most is gained by improving the {gain[0].cause}. " if gain else ""
    shares = ", ".join(f"{s.cause} {number(round(s.mm, 3))}" for s in worst.shares if s.mm)
    more = f", as have {count(len(low) - 1, 'more outline')}" if len(low) > 1 else ""
    return Problem(
        path=("repeatability",),
        related=tuple(("outlines", budget.outline) for budget in low[:3]),
        message=f"{worst.outline} of {job} has an estimated Cpk of {worst.cpk:.2f}{more}.",
        observed=f"it may be {number(round(worst.allowed, 3))} mm off; estimated, mm: {shares}",
        consequence=f"More than 1 of 400 {worst.outline} may overhang their lands too far.",
        remedy=(f"{advice}To see each share:", command("capability", job)),
    )
