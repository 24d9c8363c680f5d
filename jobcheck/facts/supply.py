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
    """What one feeder holds of a part."""

    feeder: str
    holds: int


class Supply(NamedTuple):
    """What a run needs of one part, placed in order from its feeders.

    `placed` is what the run places, `needed` counts attrition and spare parts too (estimate).
    `stops_in` is the first panel, from 1, that the feeders do not cover. `uncounted` are feeders
    whose stock is unknown: nothing is known to be short then.
    """

    part: str
    placed: int
    needed: int
    attrition_percent: float
    loads: tuple[Load, ...]
    uncounted: tuple[str, ...]
    stops_in: int | None

    @property
    def held(self) -> int | None:
        """How many parts the feeders hold together; None where one is unknown."""
        return None if self.uncounted else sum(load.holds for load in self.loads)

    @property
    def short(self) -> int:
        """How many parts are lacking, spare ones included; 0 where the stock is unknown."""
        return 0 if self.held is None else max(0, self.needed - self.held)

    @property
    def lacking(self) -> int:
        """How many of the parts that are placed are lacking; 0 where the stock is unknown."""
        return 0 if self.held is None else max(0, self.placed - self.held)


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
    described = shop.parts.get(part)
    own = described.attrition_percent if described else None
    attrition = shop.limits.attrition_percent if own is None else own
    holds = {feeder: held_in(shop.feeders[feeder]) for feeder in feeders}
    loads = tuple(Load(feeder, held) for feeder, held in holds.items() if held is not None)
    placed = per_panel * panels
    return Supply(
        part,
        placed,
        need(placed, attrition, shop.limits.spare_parts),
        attrition,
        loads,
        tuple(feeder for feeder, held in holds.items() if held is None),
        panel_short(sum(load.holds for load in loads), per_panel, panels, 0, 0),
    )
