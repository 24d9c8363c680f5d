"""Booking what a run has used: once for each run; a correction is a booking too."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.supply import boards_per_panel, held_in
from jobcheck.findings import CallRefused
from jobcheck.schema.feeders import Feeder
from jobcheck.schema.run import Booking
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose, write_and_read_back
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import Rewrite, WriteRefused
from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.sources.yaml.spelling import block_lines
from jobcheck.text import NotUnderstood


class Used(NamedTuple):
    """A booking: its file, the edits of counts, and whether it was booked before.

    `uncounted` are parts whose feeders have no count; `short` are feeders that had fewer parts
    than were used.
    """

    file: str
    booking: Booking
    proposal: Proposal
    is_booked: bool
    uncounted: tuple[str, ...]
    short: tuple[str, ...]


def use(
    root: FilePath,
    job: str,
    panels: int,
    run: str,
    lost: Mapping[str, int],
    today: date,
    *,
    write: bool,
) -> Used:
    """Book a run: first `runs/RUN.yaml`, then the counts, so that repeating completes it.

    `lost` is what was lost beside that, by feeder; negative numbers correct an earlier booking.

    Raises:
        CallRefused: job, feeder or run name is wrong, the run was booked with other figures, or a
            file cannot be written.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    _check(shop, job, run, lost)
    file = f"runs/{run}.yaml"
    known = _booked(root, file)
    if known is not None and (known.job, known.panels, known.lost) != (job, panels, dict(lost)):
        raise CallRefused(
            f"Run {run} was booked on {known.date} with other figures: {known.job}, "
            f"{known.panels} panels. Book a correction as a run of its own."
        )
    taken, uncounted, short = _taken(shop, job, panels, lost)
    booking = known or Booking.model_validate(
        {
            **{"describes": "run", "edition": 1, "job": job, "panels": panels},
            **{"date": today, "lost": dict(lost), "feeders": taken},
        }
    )
    edits = list(_edits(shop, booking))
    is_booked = known is not None and not edits
    if write and known is None:
        _write(root, file, booking)
    proposal = propose(root, reading, edits, write=write)
    return Used(file, booking, proposal, is_booked, uncounted, short)


def _check(shop: Shop, job: str, run: str, lost: Mapping[str, int]) -> None:
    require_job(shop, job)
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,100}", run):
        raise CallRefused(f"{run} cannot name a run: use letters, digits, - and _.")
    for feeder in lost:
        if feeder not in shop.feeders:
            raise CallRefused(f"Feeder {feeder} does not exist.")


def _booked(root: FilePath, file: str) -> Booking | None:
    """Read an earlier booking of the run.

    Raises:
        CallRefused: it is there and cannot be understood; it is never taken for absent.
    """
    data = folder_state(root).files.get(file)
    if data is None:
        return None
    try:
        return Booking.model_validate(read_yaml(data, file, frozenset(("job",))).plain)
    except (NotUnderstood, ValueError):
        raise CallRefused(f"{file} is damaged: restore it before you book the run.") from None


def _taken(
    shop: Shop, job: str, panels: int, lost: Mapping[str, int]
) -> tuple[dict[str, dict[str, int]], tuple[str, ...], tuple[str, ...]]:
    """Return the counts before and after by feeder, parts without a count, feeders that fell short.

    Parts come from the feeders in their order, as the supply of a run counts them.
    """
    facts = Facts(shop)
    boards = boards_per_panel(shop.jobs[job]) * panels
    used: dict[str, int] = dict(lost)
    uncounted, short = [], []
    for part, references in sorted(facts.usage.placements_by_part.get(job, {}).items()):
        feeders = sorted(facts.usage.feeders_of_part(part), key=natural) if part else []
        counted = [name for name in feeders if _count(shop.feeders[name]) is not None]
        if not counted:
            uncounted.append(part)
            continue
        needed = len(references) * boards
        for name in counted:
            is_last = name == counted[-1]
            there = max(0, held_in(shop.feeders[name]) or 0)
            taken = needed if is_last else min(needed, there)
            used[name] = used.get(name, 0) + taken
            needed -= taken
            if taken > there:
                short.append(name)
    counts = {name: _after(shop.feeders[name], amount) for name, amount in used.items() if amount}
    return counts, tuple(uncounted), tuple(short)


def _count(feeder: Feeder) -> int | None:
    """Return the count that a booking changes: what remains, else the next pocket of a tray."""
    if feeder.remaining is not None:
        return feeder.remaining
    return feeder.tray.next_pocket if feeder.tray else None


def _after(feeder: Feeder, used: int) -> dict[str, int]:
    before = _count(feeder)
    if before is None:
        raise CallRefused("A feeder without a count cannot lose parts: describe remaining first.")
    after = max(0, before - used) if feeder.remaining is not None else max(1, before + used)
    return {"before": before, "after": after}


def _edits(shop: Shop, booking: Booking) -> Iterator[Edit]:
    """Yield the counts that are not yet as booked; a count that is neither is another's change."""
    for name, taken in booking.feeders.items():
        feeder = shop.feeders.get(name)
        if feeder is None:
            continue
        count = _count(feeder)
        if count == taken.before and taken.before != taken.after:
            yield Edit(_path(name, feeder), taken.after)


def _path(name: str, feeder: Feeder) -> Path:
    is_tray = feeder.remaining is None
    return ("feeders", name, "tray", "next_pocket") if is_tray else ("feeders", name, "remaining")


def _write(root: FilePath, file: str, booking: Booking) -> None:
    plain: dict[str, Any] = booking.model_dump(mode="json", exclude_defaults=False)
    lines = [line for k, v in plain.items() if v != {} for line in block_lines((k,), v)]
    try:
        write_and_read_back(root, {file: Rewrite(None, ("\n".join(lines) + "\n").encode())})
    except WriteRefused as error:
        raise CallRefused(str(error)) from None


def with_panels(shop: Shop, job: str, panels: int | None) -> Shop:
    """Return a shop whose job is planned for other panels; unchanged without a number."""
    run = shop.jobs[job].run
    if panels is None or run is None:
        return shop
    planned = shop.jobs[job].model_copy(update={"run": run.model_copy(update={"panels": panels})})
    return replace(shop, jobs={**shop.jobs, job: planned})
