"""Drawing the description from the controller's own files."""

from __future__ import annotations

from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import CallRefused
from jobcheck.sources.bridge.bridged import Bridged, read_bridged
from jobcheck.sources.bridge.gathering import Difference, differences, edits_of, idle
from jobcheck.sources.bridge.ledger import Ledger
from jobcheck.sources.bridge.mapping import Target
from jobcheck.sources.edits.proposals import Proposal, propose


class Gathered(NamedTuple):
    """What gathering would change or changed in the description.

    `differing` are the mapped values on which both sides differ, `idle` are addresses that lead to
    nothing and fill nothing.
    """

    bridged: Bridged
    differing: tuple[Difference, ...]
    idle: tuple[Target, ...]
    proposal: Proposal

    @property
    def lost(self) -> tuple[Difference, ...]:
        """Values that disappeared from the controller's files."""
        return tuple(found for found in self.differing if found.is_lost)


def gather(
    root: FilePath, today: date, *, controller: FilePath | None = None, write: bool = False
) -> Gathered:
    """Make the description say what the controller's files say; only shown without `write`.

    Values that disappeared from the files are taken out of the description: they are lost. With
    `write` the files are noted as gathered: `deliver` refuses those that changed since.

    Raises:
        CallRefused: a file or an address is not understood, or an edit cannot be made or written.
    """
    bridged = read_bridged(root, controller)
    mapped, plain = bridged.mapped, bridged.shop.plain
    found = differences(mapped, plain)
    _refuse_nothing(bridged)
    proposal = propose(
        root,
        bridged.reading,
        edits_of(found, plain),
        beside=Ledger(root).noting(mapped.data, today),
        write=write,
    )
    return Gathered(bridged, found, idle(mapped, plain), proposal)


def _refuse_nothing(bridged: Bridged) -> None:
    """Refuse a file in which no address leads to anything: it is another file, or an empty one.

    Raises:
        CallRefused: there is such a file.
    """
    for name in bridged.mapped.sources:
        targets = [target for target in bridged.mapped.targets if target.file == name]
        if targets and not any(target.hit for target in targets):
            raise CallRefused(
                f"{name}: no address of the map leads to anything in it. Look whether it is the "
                "right file, and whole. Nothing was changed."
            )
