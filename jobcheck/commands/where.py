"""Where one placement goes: the chain from its list to the nozzle."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.facts.chain import Chain, chain
from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Cell, Frames, frames_of
from jobcheck.findings import CallRefused
from jobcheck.shop.places import Place
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state

CAUTION = (
    "Computed from the description. Check with the nozzle above the board before you lower it."
)


class Where(NamedTuple):
    """A chain with the shop it is computed from and the place of the placement in its list."""

    shop: Shop
    chain: Chain
    place: Place


def where(
    root: FilePath,
    reference: str,
    job: str | None = None,
    cell: str | None = None,
    spindle: str | None = None,
) -> Where:
    """Compute the chain of one placement.

    Raises:
        CallRefused: job, reference, cell or spindle does not exist, several jobs have it,
            or the job does not place it.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    job = _job(shop, reference, job)
    placement = shop.jobs[job].placements.by_reference[reference]
    if placement.side != shop.jobs[job].side:
        raise CallRefused(
            f"{reference} is on the {placement.side}, but {job} builds the {shop.jobs[job].side}."
        )
    frames = frames_of(shop, job)
    spindles = shop.machine.spindles if shop.machine else {}
    if spindle is not None and spindle not in spindles:
        raise CallRefused(f"Spindle {spindle} does not exist.{_known('Spindles', spindles)}")
    found = chain(Facts(shop), job, reference, _cell(frames, job, cell), spindle, frames)
    return Where(shop, found, reading.places.of(("jobs", job, "placements", reference)))


def _job(shop: Shop, reference: str, job: str | None) -> str:
    if job is not None:
        require_job(shop, job)
    jobs = [job] if job is not None else list(shop.jobs)
    having = [name for name in jobs if reference in shop.jobs[name].placements.by_reference]
    if len(having) > 1:
        raise CallRefused(f"{' and '.join(having)} have a {reference}: choose one with --job JOB.")
    if not having:
        listed = dict.fromkeys(
            ref for name in jobs for ref in shop.jobs[name].placements.by_reference
        )
        raise CallRefused(f"Placement {reference} does not exist.{_near(reference, listed)}")
    return having[0]


def _cell(frames: Frames, job: str, name: str | None) -> Cell | None:
    if name is None:
        return None
    cell, panel = frames.cell(name), frames.job.panel
    if panel is None:
        raise CallRefused(f"{job} has no panel: leave --cell out.")
    if cell is None:
        raise CallRefused(
            f"The panel of {job} has no cell {name}: cells are column-row, 1-1 to "
            f"{panel.columns}-{panel.rows}, named as seen from the top."
        )
    return cell


def _known(what: str, names: Iterable[str]) -> str:
    return f" {what}: {', '.join(names) or 'none'}."


def _near(name: str, known: Iterable[str]) -> str:
    from difflib import get_close_matches

    known = list(known)
    same = [one for one in known if one.casefold() == name.casefold()]
    near = same or get_close_matches(name, known, n=3, cutoff=0.5)
    return f" Near: {', '.join(near)}." if near else ""
