"""What changed between two states of a shop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import NamedTuple

from jobcheck.changes.apply import within
from jobcheck.changes.change import Change
from jobcheck.changes.diff import diff
from jobcheck.changes.groups import Group, groups
from jobcheck.changes.selections import selections
from jobcheck.commands.lint import controller_of
from jobcheck.facts.facts import Facts
from jobcheck.known_good.known import KnownGood
from jobcheck.known_good.states import read_state, record_of
from jobcheck.known_good.store import Record
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.sources.bridge.mapping import map_values
from jobcheck.sources.bridge.outside import changes_outside
from jobcheck.sources.shop_reader import Reading, understood
from jobcheck.sources.state.state import HeldFiles


class Compared(NamedTuple):
    """Two readings and what changed from the old to the new one.

    `record` is the record that the old state comes from, if it is one; `asked` is how the call
    names the two states, `only` what it is narrowed to. `outside` are the lines in which the
    controller's files differ from the record's copies outside the map, `removed` the numbers of
    records that are no longer there, as ranges.
    """

    root: FilePath
    old: Reading
    new: Reading
    old_shop: Shop
    new_shop: Shop
    changes: tuple[Change, ...]
    groups: tuple[Group, ...]
    record: Record | None
    asked: tuple[str, str] = ("good", "now")
    only: tuple[Path, ...] = ()
    outside: Mapping[str, tuple[int, ...]] = MappingProxyType({})
    removed: tuple[tuple[int, int], ...] = ()

    @property
    def differs(self) -> bool:
        """Whether more than counts changed: those change with every part that is placed."""
        return any(change.field_class is not FieldClass.COUNT for change in self.changes)


def compare(
    root: FilePath, old: str, new: str, only: Sequence[str] = (), folder: FilePath | None = None
) -> Compared:
    """Compare two states of the shop in the folder `root`; `only` narrows to selections.

    Raises:
        CallRefused: a state or selection does not exist, or a file of a state is not understood.
    """
    before = read_state(old, root)
    after = read_state(new, root, before)
    old_shop, new_shop = understood(before), understood(after)
    wanted = selections(only, old_shop, new_shop)
    changes = diff(old_shop, new_shop)
    if wanted:
        cut = {change.paths: change for path in wanted for change in within(changes, path)}
        changes = tuple(sorted(cut.values(), key=lambda change: change.order))
    found = groups(changes, Facts(old_shop), Facts(new_shop))
    record = record_of(before, root)
    return Compared(
        root,
        before,
        after,
        old_shop,
        new_shop,
        changes,
        found,
        record,
        asked=(old, new),
        only=wanted,
        outside={} if wanted else _outside(before, after, record, folder),
        removed=tuple(KnownGood(after, root).removed),
    )


def _outside(
    before: Reading, after: Reading, record: Record | None, folder: FilePath | None
) -> dict[str, tuple[int, ...]]:
    """Compare the controller's files with the record's copies, where both are there."""
    controller = controller_of(after, folder)
    if controller is None or record is None or after.shop is None or after.shop.bridge is None:
        return {}
    copies = {name: before.state.files[name] for name in record.about.controller}
    now = {name: data for name, data in controller.mapped.data.items() if name in copies}
    if all(copies[name] == data for name, data in now.items()):
        return {}
    good = map_values(after.shop.bridge, HeldFiles(copies), after.places.of)
    return changes_outside(good, controller.mapped)
