"""The walk over two shops by identity: the values that differ, and no equal ones."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from jobcheck.shop.classes import is_angle
from jobcheck.shop.paths import Path, is_within
from jobcheck.shop.values import MISSING, same


class ValueChange(NamedTuple):
    """A path with its old and new value; MISSING where there is none."""

    path: Path
    old: Any
    new: Any

    @property
    def is_full_circle(self) -> bool:
        """Whether an angle was only written another way: 270 and -90, 180 and -180."""
        is_turned = all(map(_is_angle, (self.old, self.new))) and (self.new - self.old) % 360 == 0
        return is_turned and (not self.path or is_angle(self.path))


def _is_angle(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e6


def is_collection(path: Path) -> bool:
    """Tell whether a path holds a collection, walked by its keys; below it are entries."""
    if path[:1] != ("jobs",):
        return len(path) <= 1
    return len(path) <= 2 or (len(path) == 3 and path[2] in ("placements", "bill"))


def differences(
    old: object, new: object, path: Path = (), only: Path = ()
) -> Iterator[ValueChange]:
    """Yield what differs between two plain values at a path, pruned where both are equal.

    A block that is on one side only is one edit, save a whole collection, which is one
    edit for each of its entries. `only` leaves out all that neither holds that path nor is
    within it.
    """
    if old is new or not (is_within(path, only) or is_within(only, path)):
        return
    if is_collection(path) and _is_walked(old, new, path):
        olds, news = (side if isinstance(side, dict) else {} for side in (old, new))
        for key in dict.fromkeys([*olds, *news]):
            yield from differences(
                olds.get(key, MISSING), news.get(key, MISSING), (*path, key), only
            )
    elif not same(old, new):
        if isinstance(old, dict) and isinstance(new, dict):
            yield from _inside(old, new, path)
        else:
            yield ValueChange(path, old, new)


def _is_walked(old: object, new: object, path: Path) -> bool:
    """Tell whether to go inside: mappings on both sides, or a collection that has no entry now."""
    if isinstance(old, dict) and isinstance(new, dict):
        return True
    held = old if new is MISSING else new
    return (
        len(path) <= 1
        and MISSING in (old, new)
        and isinstance(held, dict)
        and all(isinstance(entry, dict) for entry in held.values())
    )


class _WholeValues:
    """Directs deepdiff: a value that is not a mapping on both sides is compared as one."""

    def match(self, level: Any) -> bool:
        return not _are_mappings(level.t1, level.t2)

    def give_up_diffing(self, level: Any, diff_instance: Any) -> bool:
        if not same(level.t1, level.t2):
            diff_instance.custom_report_result("values_changed", level)
        return True


def _inside(old: dict[str, Any], new: dict[str, Any], path: Path) -> Iterator[ValueChange]:
    """Yield what differs inside two records that are known to differ, blocks of values included."""
    for key in _unlike(old, new):
        before, after = _sides(old, new, key)
        at = (*path, key)
        if not _are_mappings(before, after):
            yield ValueChange(at, before, after)
            continue
        inner = _unlike(before, after)
        if any(_are_mappings(*_sides(before, after, name)) for name in inner):
            yield from _deep_inside(before, after, at)
        else:
            yield from (ValueChange((*at, name), *_sides(before, after, name)) for name in inner)


def _unlike(old: dict[str, Any], new: dict[str, Any]) -> list[str]:
    """Return the keys under which two records do not say the same, sorted."""
    return sorted(key for key in {**old, **new} if not same(*_sides(old, new, key)))


def _deep_inside(old: dict[str, Any], new: dict[str, Any], path: Path) -> Iterator[ValueChange]:
    """Yield what differs inside two records, and inside the records in them."""
    from deepdiff import DeepDiff  # 0.3 s of import, so only where a record inside one differs

    found = DeepDiff(
        old,
        new,
        view="tree",
        custom_operators=[_WholeValues()],
        threshold_to_diff_deeper=0,
        ignore_private_variables=False,
    )
    inside = (level.path(output_format="list") for levels in found.values() for level in levels)
    for keys in sorted(inside):
        before, after = _at(old, keys), _at(new, keys)
        if not same(before, after):
            yield ValueChange((*path, *keys), before, after)


def _sides(old: dict[str, Any], new: dict[str, Any], key: str) -> tuple[Any, Any]:
    return old.get(key, MISSING), new.get(key, MISSING)


def _are_mappings(old: object, new: object) -> bool:
    return isinstance(old, dict) and isinstance(new, dict)


def _at(plain: Any, keys: list[str]) -> Any:
    for key in keys:
        plain = plain.get(key, MISSING)
    return plain
