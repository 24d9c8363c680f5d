"""What a run needs of each part against what the feeders hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.schema.feeders import Feeder
from jobcheck.shop.paths import natural
from jobcheck.trade.stock import need, panel_short

if TYPE_CHECKING:
    from jobcheck.schema.job import Job
    from jobcheck.shop.shop import Shop


class Load(NamedTuple):
    """One feeder's share of a run: what it holds, and in which panel it ends.

    Panels count from 1; it ends where it does not finish one with those before it, None where it
    lasts.
    """

    feeder: str
    holds: int
    ends_in: int | None


class Supply(NamedTuple):
    """What a run needs of one part, placed in order from its feeders; `held` None is unknown.

    Estimate: `needed` counts the attrition and spare parts of the limits.
    """

    part: str
    per_panel: int
    needed: int
    loads: tuple[Load, ...]
    held: int | None

    @property
    def short(self) -> int:
        """How many parts are lacking; 0 where there are enough or where it is not known."""
        return 0 if self.held is None else max(0, self.needed - self.held)


def held_in(feeder: Feeder) -> int | None:
    """Return how many parts a feeder holds: its count, else the pockets left in its tray."""
    if feeder.remaining is not None:
        return feeder.remaining
    tray = feeder.tray if feeder.carrier == "tray" else None
    return max(0, tray.columns * tray.rows - tray.next_pocket + 1) if tray else None


def boards_per_panel(job: Job) -> int:
    """Return how many boards of a panel are built: its cells without those that are skipped."""
    panel = job.panel
    return panel.columns * panel.rows - len(set(panel.skip)) if panel else 1


def supplies(facts: Facts, name: str) -> list[Supply]:
    """Return the supply of every part of a run that some feeder holds, by name.

    N is what is placed: per board × boards built of a panel × panels. Empty without a run.
    """
    job = facts.shop.jobs[name]
    if job.run is None:
        return []
    boards = boards_per_panel(job)
    placed = facts.usage.placements_by_part.get(name, {})
    found = []
    for part in sorted(placed, key=natural):
        feeders = sorted(facts.usage.feeders_of_part(part), key=natural)
        if feeders:
            per_panel = len(placed[part]) * boards
            found.append(_supply(facts.shop, part, per_panel, job.run.panels, feeders))
    return found


def _supply(shop: Shop, part: str, per_panel: int, panels: int, feeders: list[str]) -> Supply:
    attrition, spare = shop.limits.attrition_percent, shop.limits.spare_parts
    loads, total, is_known = [], 0, True
    for feeder in feeders:
        holds = held_in(shop.feeders[feeder])
        is_known = is_known and holds is not None
        if holds is not None:
            total += holds
            ends = panel_short(total, per_panel, panels, attrition, spare) if is_known else None
            loads.append(Load(feeder, holds, ends))
    needed = need(per_panel * panels, attrition, spare)
    return Supply(part, per_panel, needed, tuple(loads), total if is_known else None)
