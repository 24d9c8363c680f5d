"""Drawing the description from the controller's own files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.changes.selections import selections
from jobcheck.findings import CallRefused
from jobcheck.known_good.known import KnownGood
from jobcheck.rules.shop.controller import is_compared
from jobcheck.shop.paths import Path, is_within
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import is_absent, same
from jobcheck.sources.bridge.bridged import Bridged, read_bridged
from jobcheck.sources.bridge.gathering import Difference, differences, edits_of, idle
from jobcheck.sources.bridge.ledger import Ledger
from jobcheck.sources.bridge.mapping import Target
from jobcheck.sources.edits.proposals import Proposal, propose


class Gathered(NamedTuple):
    """The changes of a gathering in the description.

    `differing` are the mapped values on which both sides differ, `idle` are addresses that lead to
    nothing and fill nothing. `selected` narrows both, empty for everything. `put_back` are values
    that were put back after the last gathering, as recorded, and that this one overwrites.
    """

    bridged: Bridged
    differing: tuple[Difference, ...]
    idle: tuple[Target, ...]
    proposal: Proposal
    selected: tuple[Path, ...] = ()
    put_back: tuple[Path, ...] = ()

    @property
    def is_other(self) -> bool:
        """Whether a setting or a measurement differs: a count changes with every part placed."""
        return any(is_compared(one.path) for one in self.differing)

    @property
    def lost(self) -> tuple[Difference, ...]:
        """Values that disappeared from the controller's files."""
        return tuple(found for found in self.differing if found.is_lost)


def gather(
    root: FilePath,
    today: date,
    texts: Sequence[str] = (),
    *,
    controller: FilePath | None = None,
    write: bool = False,
) -> Gathered:
    """Bring the controller's values into the description; without `write` only show them.

    Only selected values are gathered, where there are `texts`.

    Values that disappeared from the files are taken out of the description: they are lost. With
    `write` the values are noted as gathered: `deliver` refuses those that changed since.

    Raises:
        CallRefused: a file or an address is not understood, or an edit cannot be made or written.
    """
    bridged = read_bridged(root, controller)
    mapped, plain = bridged.mapped, bridged.shop.plain
    selected = selections(texts, bridged.shop, _as_the_controller(bridged))
    found = tuple(one for one in differences(mapped, plain) if _is_in(one.path, selected))
    _refuse_nothing(bridged)
    put_back = tuple(_put_back(bridged, found))
    noted: dict[str, dict[Path, Any]] = {name: {} for name in mapped.data}
    for target in mapped.targets:
        if _is_in(target.path, selected):
            noted[target.file][target.path] = target.value
    proposal = propose(
        root,
        bridged.reading,
        edits_of(found, plain),
        beside=Ledger(root).noting(noted, today),
        write=write,
    )
    there = tuple(one for one in idle(mapped, plain) if _is_in(one.path, selected))
    return Gathered(bridged, found, there, proposal, selected, put_back)


def _is_in(path: Path, selected: Sequence[Path]) -> bool:
    return not selected or any(is_within(path, one) for one in selected)


def _as_the_controller(bridged: Bridged) -> Shop:
    """Return a shop of the controller's values alone, for selections of entries that are new."""
    plain: dict[str, Any] = {}
    for target in bridged.mapped.targets:
        if target.value is not None:
            above = plain
            for key in target.path[:-1]:
                above = above.setdefault(key, {})
            above[target.path[-1]] = target.value
    return replace(bridged.shop, plain=plain)


def _put_back(bridged: Bridged, found: Sequence[Difference]) -> Iterator[Path]:
    """Yield values that are as recorded, were not when they were gathered, and are overwritten."""
    ledger = Ledger(bridged.root)
    changed = [
        one
        for one in found
        if not is_absent(one.described) and ledger.has_changed(one.file, one.path, one.described)
    ]
    good = KnownGood(bridged.reading, bridged.root).shop() if changed else None
    for one in changed:
        if good and is_compared(one.path) and same(one.described, good.plain_at(one.path)):
            yield one.path


def _refuse_nothing(bridged: Bridged) -> None:
    """Refuse a file in which no address leads to anything: it is another file, or an empty one.

    Raises:
        CallRefused: there is such a file.
    """
    for name in bridged.mapped.sources:
        targets = [target for target in bridged.mapped.targets if target.file == name]
        if targets and not any(target.hit for target in targets):
            raise CallRefused(
                f"{name}: no address of the map is in it. Check that it is the "
                "right file, and complete. Nothing was changed."
            )
