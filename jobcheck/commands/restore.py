"""Putting a selected part of a state back, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fnmatch import fnmatch
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.changes.apply import edits_of, within
from jobcheck.changes.change import Change
from jobcheck.changes.companions import companions
from jobcheck.changes.diff import diff
from jobcheck.changes.moves import is_entry
from jobcheck.changes.selections import selections
from jobcheck.changes.walk import ValueChange
from jobcheck.commands.lint import controller_of
from jobcheck.devices.identify import is_plugged_in
from jobcheck.devices.system import System
from jobcheck.findings import CallRefused, Command, command, sentences
from jobcheck.known_good.states import read_state, record_of
from jobcheck.known_good.store import Record
from jobcheck.rules.shop.controller import is_compared
from jobcheck.schema.fields import FieldClass
from jobcheck.schema.shop_file import BRINGS, COLLECTIONS
from jobcheck.shop.classes import class_of, is_required
from jobcheck.shop.paths import Path, any_within, is_within, show
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import MISSING, is_absent, leaves
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.shop_reader import Reading, read_shop, understood
from jobcheck.sources.state.shops import from_here
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import Rewrite

_MOTION = ("pick", "seat", "height_mm", "traverse_z", "z", "position", "rack", "travel")
"""Keys of places and heights that the machine moves to: restored, they need a slow first move."""


class Restored(NamedTuple):
    """The values that a restore puts back, and those that it leaves.

    `touched` are the single values that are put back; `left` are differences inside the
    selections that are not put back (measurements that are not named, counts, entries added
    since); `elsewhere` are those outside. `is_last`: the source is the last known-good record.
    `stays` says why a value that belongs to one that goes back cannot go with it.
    `controller_differs` are selected values that the controller's files then have differently.
    `plugged_in` are cameras that were put back and whose device is connected.
    """

    selected: tuple[Path, ...]
    source: Reading
    record: Record | None
    proposal: Proposal
    put_back: tuple[Path, ...]
    touched: tuple[Path, ...]
    left: tuple[ValueChange, ...]
    elsewhere: tuple[Change, ...]
    is_last: bool
    stays: tuple[str, ...] = ()
    controller_differs: tuple[Path, ...] = ()
    plugged_in: tuple[str, ...] = ()

    def beside(self, system: System) -> Restored:
        """Return it with the cameras that are connected to a system; nothing is opened."""
        cameras = self.source.shop.cameras if self.source.shop else {}
        names = dict.fromkeys(path[1] for path in self.put_back if path[:1] == ("cameras",))
        nodes = system.nodes() or ()
        there = [
            name
            for name in names
            if name in cameras and any(is_plugged_in(node, cameras[name]) for node in nodes)
        ]
        return self._replace(plugged_in=tuple(there))

    @property
    def is_motion(self) -> bool:
        """Whether something is put back that the machine moves by."""
        return any(set(path) & set(_MOTION) and path[0] != "cameras" for path in self.touched)


def restore(
    root: FilePath,
    texts: Sequence[str],
    state: str,
    *,
    write: bool,
    beside: Mapping[str, Rewrite] | None = None,
    controller: FilePath | None = None,
) -> Restored:
    """Put the selected part of a state back into the shop in the folder `root`.

    `beside` are other files of the shop that are written with it, all or none.

    Settings of the selections are put back; measurements only where a selection names them (or
    the whole entry that they belong to is gone), each with its own day; counts never. A feeder's
    slot goes with its pick, `tuned` with `tuned_under`.

    Raises:
        CallRefused: a state or selection does not exist, or a file cannot be edited or written.
    """
    now = read_shop(folder_state(root))
    source = read_state(state, root, now)
    good = understood(source)
    if now.shop is None:
        first = now.faults[0]
        raise CallRefused(
            f"{first.place}: {first.message} Put the file itself back first, from the record or "
            "from version control; a record's files can be copied as they are."
        )
    selected = selections(texts, good, now.shop)
    changes = diff(now.shop, good)
    wanted = [edit for path in selected for edit in _edits(within(changes, path))]
    put_back, left = _sorted_out(wanted, selected)
    together = companions(put_back, changes, now.shop)
    put_back += together.edits
    left = [edit for edit in left if edit not in together.edits]
    _check_files(put_back, now, source)
    edits = [Edit(edit.path, edit.new) for edit in put_back]
    edits += _no_longer_seen(put_back, now.shop)
    without = [edit.path for edit in left if _lies_in(edit.path, put_back)]
    without += [(*edit.path, "seen") for edit in put_back if _is_camera(edit)]
    try:
        proposal = propose(
            root, now, edits, like=source, without=without, beside=beside, write=write
        )
    except CallRefused as refused:
        raise CallRefused(str(refused), *_by_hand(now, source, root)) from None
    covered = (*selected, *(edit.path for edit in put_back), *_brought(put_back))
    elsewhere = tuple(
        change for change in changes if not any(any_within(path, covered) for path in change.paths)
    )
    return Restored(
        selected,
        source,
        record_of(source, root),
        proposal,
        tuple(dict.fromkeys(edit.path for edit in put_back)),
        tuple(path for edit in put_back for path, _, _ in leaves(edit.path, edit.old, edit.new)),
        tuple(left),
        elsewhere,
        state == "good",
        together.stays,
        _controller_differs(proposal.edited.reading, selected, controller),
    )


def _controller_differs(
    after: Reading, selected: Sequence[Path], folder: FilePath | None
) -> tuple[Path, ...]:
    """Return the selected values that the controller's files have differently, counts apart."""
    controller = controller_of(after, folder)
    shop = controller.compared().shop if controller and controller.is_writable else None
    differing = (one.path for one in shop.controller if is_compared(one.path)) if shop else ()
    return tuple(path for path in differing if any_within(path, selected))


def _brought(put_back: Sequence[ValueChange]) -> Iterator[Path]:
    """Yield the collections of files that shop.yaml names again."""
    for edit in put_back:
        if edit.path[0] == "shop" and len(edit.path) > 1:
            yield from ((held,) for held in BRINGS.get(edit.path[1], ()))


def _is_camera(edit: ValueChange) -> bool:
    """Tell whether a camera goes back as a whole with a day on which it was seen."""
    is_whole = edit.path[0] == "cameras" and len(edit.path) == 2
    return is_whole and isinstance(edit.new, dict) and "seen" in edit.new


def _check_files(put_back: Sequence[ValueChange], now: Reading, source: Reading) -> None:
    """Refuse to write entries of an unnamed file into another file.

    Raises:
        CallRefused: the whole file went from shop.yaml, so that naming it puts its entries back.
    """
    assert now.shop
    kinds = {collection: kind for kind, held in COLLECTIONS.items() for collection in held}
    for edit in put_back:
        kind = kinds.get(edit.path[0])
        if kind is None or len(edit.path) > 2 or not is_absent(edit.old):
            continue
        holder = source.places.holder(edit.path)
        named: list[str] = getattr(now.shop.root, kind)
        if not holder or not named or any(fnmatch(holder[0], pattern) for pattern in named):
            continue
        if _is_gone_whole(holder[1].plain, now.shop):
            raise CallRefused(
                f"{show(edit.path)} was in {holder[0]}, which is no longer named in shop.yaml.",
                "Name the file again:",
                command("restore", f"shop.{kind}"),
            )


def _is_gone_whole(plain: Mapping[str, Any], shop: Shop) -> bool:
    """Return whether no entry of a file is left in the description."""
    held = {name: entries for name, entries in plain.items() if isinstance(entries, dict)}
    return all(shop.plain_at((name, key)) is None for name, keys in held.items() for key in keys)


def _by_hand(now: Reading, source: Reading, root: FilePath) -> Iterator[str | Command]:
    """Yield which file of the shop is not understood, and the command that puts it back whole."""
    held = now.places.held
    for fault in now.faults:
        name = fault.place.file
        if name in held and held[name].table is None and held[name].cells is None:
            file = from_here(root / name)
            place = f"{file}:{fault.place.line}:{fault.place.column}"
            yield f"{place}: {fault.message} {sentences(fault.remedy)}"
            record = record_of(source, root)
            if record and name in record.about.sums:
                yield "Or take the whole file as it was recorded:"
                yield Command((), "cp", (root / record.entry.folder / name, root / name))


def _edits(changes: Sequence[Change]) -> Iterator[ValueChange]:
    for change in changes:
        yield from edits_of(change)


def _sorted_out(
    wanted: Sequence[ValueChange], selected: Sequence[Path]
) -> tuple[list[ValueChange], list[ValueChange]]:
    """Split differences into those that are put back and those that are left."""
    put_back: list[ValueChange] = []
    left: list[ValueChange] = []
    for edit in {edit.path: edit for edit in wanted}.values():
        if _is_put_back(edit, selected):
            put_back.append(edit)
            left += [
                ValueChange(path, old, new)
                for path, old, new in leaves(edit.path, edit.old, edit.new)
                if path != edit.path and _stays_out(path) and not is_absent(new)
            ]
        else:
            left.append(edit)
    return put_back, left


def _is_put_back(edit: ValueChange, selected: Sequence[Path]) -> bool:
    field_class = class_of(edit.path)
    if is_entry(edit.path, edit.old) and is_absent(edit.new):
        return edit.path in selected
    if is_entry(edit.path, edit.new) and is_absent(edit.old):
        return True
    if field_class is FieldClass.SETTING:
        return True
    if field_class is FieldClass.MEASUREMENT:
        return any(
            class_of(path) is FieldClass.MEASUREMENT and is_within(edit.path, path)
            for path in selected
        )
    return False


def _lies_in(path: Path, put_back: Sequence[ValueChange]) -> bool:
    return any(is_within(path, edit.path) for edit in put_back)


def _is_count(path: Path) -> bool:
    return class_of(path) is FieldClass.COUNT


def _stays_out(path: Path) -> bool:
    """Tell whether a value is left out of a block that goes back: a count that may be unknown."""
    return _is_count(path) and not is_required(path)


def _no_longer_seen(put_back: Sequence[ValueChange], shop: Shop) -> list[Edit]:
    """Remove the day a camera was seen: its device was not compared with the restored values."""
    cameras = {
        edit.path[1] for edit in put_back if edit.path[0] == "cameras" and "controls" in edit.path
    }
    return [
        Edit(("cameras", name, "seen"), MISSING)
        for name in sorted(cameras)
        if name in shop.cameras and shop.cameras[name].seen is not None
    ]
