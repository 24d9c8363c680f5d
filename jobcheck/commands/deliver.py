"""Write values of the description into the controller's own files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.changes.selections import selections
from jobcheck.commands.restore import Restored, restore
from jobcheck.findings import CallRefused
from jobcheck.known_good.known import KnownGood
from jobcheck.schema.controls import AUTOMATICS, is_automatic_on, overridden
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, is_within, look_up
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import MISSING, is_absent, same
from jobcheck.sources.bridge.bridged import Bridged, read_bridged
from jobcheck.sources.bridge.delivering import Delivered, deliver_to
from jobcheck.sources.bridge.holders import Holders, holders_of
from jobcheck.sources.bridge.ledger import Ledger
from jobcheck.sources.bridge.mapping import Target
from jobcheck.sources.edits.proposals import write_and_read_back
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.state.writing import Rewrite, WriteRefused

Pair = tuple[Target, str | int | float | bool]


class Refusal(NamedTuple):
    """A selected value that changed in the controller's file and that is not the recorded one.

    `gathered` is what it was when it was gathered, None for missing, MISSING if it never was.
    """

    path: Path
    file: str
    gathered: Any
    controller: Any
    described: Any


@dataclass(frozen=True)
class DeliveredShop:
    """The values that a delivery writes or wrote into the controller's files, automatics first.

    `left` are selected values that differ but are not delivered: counts, notes, measurements that
    are not named. `unmapped` says that nothing selected is in the map. `overridden` are delivered
    values that an automatic, on in the controller's file, keeps from acting: (value, automatic).
    With one of `refused` nothing is written.
    """

    bridged: Bridged
    selected: tuple[Path, ...]
    delivered: Delivered
    left: tuple[Path, ...]
    unmapped: bool
    overridden: tuple[tuple[Path, Path], ...]
    written: bool
    unknown_holders: bool
    refused: tuple[Refusal, ...] = ()

    @property
    def gathered(self) -> str:
        """The day on which the oldest of the refused files was gathered, empty for never."""
        days = (Ledger(self.bridged.root).gathered(one.file) for one in self.refused)
        return min(days, default="")

    @property
    def copies(self) -> tuple[str, ...]:
        """Names of the copies of the files as they were."""
        ledger, data = Ledger(self.bridged.root), self.bridged.mapped.data
        return tuple(ledger.copy_of(name, data[name]) for name in self.delivered.files)


def deliver(
    root: FilePath,
    texts: Sequence[str],
    *,
    controller: FilePath | None = None,
    shop: Shop | None = None,
    overwrite: bool = False,
    write: bool = False,
) -> DeliveredShop:
    """Write selected values of the description into the controller's files.

    `shop` is the description to deliver, if it is not that of the files. A value
    that changed in the controller since it was gathered is overwritten by the recorded one; by
    another only with `overwrite`.

    Raises:
        CallRefused: a selection is not there; a value has no place; a controller's file is held
            open, or cannot be written.
    """
    bridged = read_bridged(root, controller)
    described = shop or bridged.shop
    if described.bridge is None or bridged.shop.bridge is None:
        raise CallRefused("The map itself would be lost: put it back first.")
    selected = selections(texts, described)
    targets = list(bridged.mapped.within(selected))
    differing = [
        (target, value)
        for target in targets
        if not is_absent(value := look_up(described.plain, target.path))
        and isinstance(value, (str, int, float, bool))
        and not same(value, target.value)
    ]
    wanted = [pair for pair in differing if _is_delivered(pair[0].path, selected)]
    wanted.sort(key=lambda pair: pair[0].path[-1] not in AUTOMATICS)
    left = tuple(target.path for target, _ in differing if (target, _) not in wanted)
    try:
        delivered = deliver_to(bridged.mapped, bridged.shop.bridge, wanted)
        unknown = _refuse_held(bridged, delivered)
    except EditRefused as error:
        raise CallRefused(str(error)) from None
    idle = tuple(_overridden(bridged, wanted))
    refused = () if overwrite else tuple(_refused(bridged, wanted))
    write = write and not refused
    done = DeliveredShop(
        bridged, selected, delivered, left, not targets, idle, write, unknown, refused
    )
    if write:
        _write(done)
    return done


def restore_and_deliver(
    root: FilePath,
    texts: Sequence[str],
    state: str,
    *,
    controller: FilePath | None = None,
    write: bool = False,
) -> tuple[Restored, DeliveredShop]:
    """Put the selected part of a state back, and deliver it to the controller's files.

    Every refusal comes before anything is written; repeating a killed run completes it.

    Raises:
        CallRefused: as `restore` and `deliver` do.
    """
    planned = restore(root, texts, state, write=False)
    after = planned.proposal.edited.reading.shop
    delivered = deliver(root, texts, controller=controller, shop=after, overwrite=True)
    if not write:
        return planned, delivered
    own, elsewhere = rewrites_of(delivered)
    restored = restore(root, texts, state, write=True, beside=own)
    try:
        write_and_read_back(delivered.bridged.folder, elsewhere)
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
    return restored, replace(delivered, written=True)


def _is_delivered(path: Path, selected: Sequence[Path]) -> bool:
    """Return whether a value goes into the controller's file: as `restore` puts values back."""
    field_class = class_of(path)
    if field_class is FieldClass.MEASUREMENT:
        return any(
            class_of(one) is FieldClass.MEASUREMENT and is_within(path, one) for one in selected
        )
    return field_class is FieldClass.SETTING


def _refused(bridged: Bridged, wanted: Sequence[Pair]) -> Iterator[Refusal]:
    """Yield the values that changed in the controller and whose described value is not recorded.

    On a machine that has gathered nothing yet, the recorded value counts as the gathered one.
    """
    good = KnownGood(bridged.reading, bridged.root).shop() if wanted else None
    ledger = Ledger(bridged.root)
    for target, value in wanted:
        recorded = good.plain_at(target.path) if good else None
        if same(value, recorded):
            continue
        known = ledger.values(target.file, target.path)
        if any(same(target.value, one) for one in ([recorded] if known is None else known)):
            continue
        before = MISSING if not known else known[-1]
        yield Refusal(target.path, target.file, before, target.value, value)


def _refuse_held(bridged: Bridged, delivered: Delivered) -> bool:
    """Refuse files that another process has open; return whether that is unknown."""
    is_unknown = False
    for name in delivered.files:
        found = holders_of(bridged.folder / name)
        is_unknown = is_unknown or not found.is_known
        if found.is_held:
            raise CallRefused(f"{name} is {_held(found)}. {_CLOSE}")
    return is_unknown


_CLOSE = "Stop the job and close the controller first."


def _held(found: Holders) -> str:
    return f"open by {', '.join(found.names)}" if found.names else "open, locked by another process"


def _refuse_held_now(file: FilePath) -> None:
    """Look once more, directly before the file is replaced.

    Raises:
        WriteRefused: a process opened it meanwhile.
    """
    found = holders_of(file)
    if found.is_held:
        raise WriteRefused(file.name, f"it is {_held(found)} now. {_CLOSE.rstrip('.')}")


def rewrites_of(planned: DeliveredShop) -> tuple[dict[str, Rewrite], dict[str, Rewrite]]:
    """Return the files that a delivery writes in the shop, and those in the controller's folder.

    In the shop the copies and the ledger come first, then the controller's files that are in
    it: a run that is killed leaves every file old or new, and both count as gathered.
    """
    bridged = planned.bridged
    files = {
        name: Rewrite(bridged.mapped.data[name], new, _refuse_held_now)
        for name, new in planned.delivered.files.items()
    }
    values: dict[str, dict[Path, Any]] = {name: {} for name in files}
    for one in planned.delivered.deliveries:
        values[one.target.file][one.target.path] = one.value
    own = Ledger(bridged.root).expecting(files, values)
    try:
        inside = bridged.folder.relative_to(bridged.root.resolve()).as_posix()
    except ValueError:
        return own, files
    prefix = "" if inside == "." else f"{inside}/"
    return {**own, **{prefix + name: file for name, file in files.items()}}, {}


def _write(planned: DeliveredShop) -> None:
    """Keep copies, replace the files and read them back.

    Raises:
        CallRefused: one cannot be written.
    """
    own, elsewhere = rewrites_of(planned)
    try:
        write_and_read_back(planned.bridged.root, own)
        write_and_read_back(planned.bridged.folder, elsewhere)
    except WriteRefused as error:
        raise CallRefused(str(error)) from None


def _overridden(bridged: Bridged, wanted: Sequence[Pair]) -> Iterator[tuple[Path, Path]]:
    """Yield delivered values that an automatic, as the controller's file then is, overrides."""
    after = {target.path: target.value for target in bridged.mapped.targets}
    after |= {target.path: value for target, value in wanted}
    for path, value in after.items():
        if value is not None and is_automatic_on(path[-1], value):
            for name in overridden(path[-1], value):
                other = (*path[:-1], name)
                if any(target.path == other for target, _ in wanted):
                    yield other, path
