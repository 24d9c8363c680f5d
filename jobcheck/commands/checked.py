"""Recording a look at pin 1 of placements, on the user's word."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import look_fingerprint
from jobcheck.facts.polarity import Proof
from jobcheck.findings import CallRefused
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import is_absent
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.shop_reader import read_shop, require_job, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.wording import near


class Checked(NamedTuple):
    """The inspected placements, and their record.

    `contradicted` are those whose row or footprint still disagrees; `replaces_day` is
    whether looks at single placements replace a day that declared the whole list.
    """

    job: str
    references: tuple[str, ...]
    proposal: Proposal
    contradicted: tuple[str, ...]
    replaces_day: bool


def check(
    root: FilePath, job: str, references: Sequence[str], day: date, *, write: bool
) -> Checked:
    """Record that somebody compared pin 1 of placements with the board's drawing on a day.

    Raises:
        CallRefused: job or reference does not exist, the job does not place it, its pin 1 is not
            described, or the file cannot be written.
    """
    reading = read_shop(folder_state(root))
    shop = understood(reading)
    require_job(shop, job)
    names = tuple(dict.fromkeys(references))
    listing = shop.jobs[job].placements
    prints = {name: _fingerprint(shop, job, name) for name in names}
    at: Path = ("jobs", job, "placements", "pin1_checked")
    before = listing.pin1_checked
    replaces_day = before is not None and not before.under
    if isinstance(shop.plain_at(at), dict) and not is_absent(shop.plain_at((*at, "under"))):
        edits = [Edit((*at, "under", name), prints[name]) for name in names]
        edits.insert(0, Edit((*at, "date"), day.isoformat()))
    else:
        edits = [Edit(at, {"date": day.isoformat(), "under": prints})]
    legs = {name: Facts(shop).polarity.legs(job, name) for name in names}
    contradicted = tuple(
        name
        for name, leg in legs.items()
        if Proof.CONTRADICTED in (leg.drawing.proof, leg.listing.proof)
    )
    proposal = propose(root, reading, edits, write=write)
    return Checked(job, names, proposal, contradicted, replaces_day)


def _fingerprint(shop: Shop, job: str, reference: str) -> str:
    """Return what a look at a placement covers."""
    listing = shop.jobs[job].placements
    placement = listing.by_reference.get(reference)
    if placement is None:
        like = near(reference, listing.by_reference)
        hint = f" Near: {like}." if like else ""
        raise CallRefused(f"{job} has no placement {reference}.{hint}")
    if placement.side != shop.jobs[job].side or not placement.fitted:
        raise CallRefused(f"{job} does not place {reference}.")
    outline = shop.outline_of(placement.part)
    if outline is None:
        raise CallRefused(f"The part of {reference} is not described.")
    if not outline.polarised:
        raise CallRefused(f"{reference} is not polarised: it has no pin 1 to check.")
    if outline.pin1_at_zero is None:
        raise CallRefused(f"The outline of {reference} has no pin1_at_zero: write it first.")
    return look_fingerprint(placement, outline, listing)
