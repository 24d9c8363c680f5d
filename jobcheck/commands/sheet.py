"""The run sheet: what somebody looks at on the bench before a run."""

from __future__ import annotations

from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.commands.preflight import CAUTION as BEFORE
from jobcheck.commands.used import with_panels
from jobcheck.facts.board_view import BoardView, Body, board_view
from jobcheck.facts.carried import Carried, carried
from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import fingerprint
from jobcheck.facts.polarity import Legs
from jobcheck.facts.supply import Supply, boards_per_panel, supplies
from jobcheck.findings import CallRefused
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.wording import listed

CAUTION = (
    BEFORE,
    "Paste and flux: extraction on, gloves, wash hands. Leaded paste and its waste: as local rules "
    "say. The oven and fresh boards are hot.",
)


class SheetFeeder(NamedTuple):
    """A feeder that the job uses; `supply` is None where no run is planned.

    `per_panel` is how many of its part one panel needs, from all feeders that hold the part;
    `others` are those.
    """

    carried: Carried
    outline: Outline | None
    value: str
    per_panel: int
    supply: Supply | None
    others: tuple[str, ...]


class SheetPlacement(NamedTuple):
    """A polarised placement as it is on the board, and how well its polarity is known."""

    body: Body
    outline: Outline
    legs: Legs


class Sheet(NamedTuple):
    """All that the sheet shows; `state` is the fingerprint of the description.

    `boards` is how many boards of a panel are built, `panels` None where no run is planned.
    """

    shop: Shop
    job: str
    day: date
    state: str
    panels: int | None
    boards: int
    view: BoardView
    feeders: tuple[SheetFeeder, ...]
    polarised: tuple[SheetPlacement, ...]
    supplies: tuple[Supply, ...]
    without_feeder: tuple[str, ...]


def sheet(root: FilePath, job: str, panels: int | None, today: date) -> Sheet:
    """Gather the run sheet of a job; `panels` instead of those planned.

    Raises:
        CallRefused: the job does not exist, the shop cannot be understood, or panels are given
            but the job has no run.
    """
    shop = understood(read_shop(folder_state(root)))
    if job not in shop.jobs:
        raise CallRefused(f"Job {job} does not exist. Jobs: {listed(list(shop.jobs)) or 'none'}.")
    state = state_fingerprint(shop)
    if panels is not None and shop.jobs[job].run is None:
        raise CallRefused(f"{job} has no run: write run.panels, or leave --panels out.")
    shop = with_panels(shop, job, panels)
    facts, run = Facts(shop), shop.jobs[job].run
    view, by_part = board_view(shop, job, shop.jobs[job].side), facts.usage.placements_by_part[job]
    bodies = {body.reference: body for body in view.bodies}
    polarised = [
        SheetPlacement(bodies[ref], shop.outlines[outline], facts.polarity.legs(job, ref))
        for ref, outline in facts.polarity.polarised(job)
    ]
    return Sheet(
        shop,
        job,
        today,
        state,
        run.panels if run else None,
        boards_per_panel(shop.jobs[job]),
        view,
        tuple(_feeders(facts, job)),
        tuple(sorted(polarised, key=lambda one: natural(one.body.reference))),
        tuple(supplies(facts, job)),
        tuple(sorted((p for p in by_part if not facts.usage.feeders_of_part(p)), key=natural)),
    )


def state_fingerprint(shop: Shop) -> str:
    """Return `s-` and twelve hex digits over all described values, comments and layout aside."""
    return fingerprint("s", shop.plain)


def _feeders(facts: Facts, job: str) -> list[SheetFeeder]:
    """Return the feeders that a job uses: row by row in the order of the slots, then the rest."""
    shop, by_part = facts.shop, facts.usage.placements_by_part[job]
    by_supply = {supply.part: supply for supply in supplies(facts, job)}
    boards = boards_per_panel(shop.jobs[job])
    found = []
    for name, feeder in shop.feeders.items():
        if feeder.part is None or feeder.part not in by_part:
            continue
        part = shop.parts.get(feeder.part)
        found.append(
            SheetFeeder(
                carried(facts, name),
                shop.outline_of(feeder.part),
                part.value or "" if part else "",
                len(by_part[feeder.part]) * boards,
                by_supply.get(feeder.part),
                tuple(one for one in facts.usage.feeders_of_part(feeder.part) if one != name),
            )
        )
    rows = list(shop.machine.feeder_rows) if shop.machine else []

    def place(one: SheetFeeder) -> tuple[object, ...]:
        feeder = one.carried.feeder
        row = rows.index(feeder.row) if feeder.row in rows else len(rows)
        return row, feeder.slot is None, feeder.slot or 0, natural(one.carried.name)

    return sorted(found, key=place)
