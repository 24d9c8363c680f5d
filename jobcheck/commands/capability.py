"""What the machine can place: the error budget of a job's outlines."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.facts.error_budget import Budget, budgets, smallest_chip
from jobcheck.facts.facts import Facts
from jobcheck.findings import CallRefused, command
from jobcheck.schema.machine import Repeats
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state


class Capability(NamedTuple):
    """A job's budgets, the least Cpk first, and the narrowest chip that reaches 1.33."""

    shop: Shop
    job: str
    measured: Repeats
    budgets: tuple[Budget, ...]
    smallest: str | None


def capability_of(root: FilePath, job: str) -> Capability:
    """Work out the budgets of a job.

    Raises:
        CallRefused: the job does not exist, the machine's repeatability is not described, or no
            outline of the job has known terminals.
    """
    shop = understood(read_shop(folder_state(root)))
    require_job(shop, job)
    measured = shop.machine.repeatability if shop.machine else None
    if measured is None or (measured.x_mm is None and measured.y_mm is None):
        raise CallRefused(
            "The machine's repeatability is not described. Log repeated measurements, then:",
            command("repeatability", "LOG", "--write"),
        )
    found = budgets(Facts(shop), job)
    if not found:
        raise CallRefused(f"No outline of {job} has known terminals: describe terminal_mm.")
    return Capability(shop, job, measured, found, smallest_chip(shop, found[0].shares))
