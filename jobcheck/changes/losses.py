"""Values that another state of a shop had and this one has not; nothing else is compared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.diff import diff
from jobcheck.changes.walk import is_collection
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of, fields_at
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import MISSING, is_absent, same

_LASTING = (FieldClass.SETTING, FieldClass.MEASUREMENT)


def camera_losses(old: Shop, new: Shop) -> tuple[Change, ...]:
    """Return the camera settings that were lost: missing, automatic, or at the default."""
    return tuple(change for change in diff(old, new, only=("cameras",)) if change.is_camera_loss)


def losses(old: Shop, new: Shop) -> Iterator[Change]:
    """Yield settings and measurements that an entry had and, still present, has no more.

    An entry that went as a whole may have been taken away; a collection that went with all of its
    entries is lost. A value that is the field's default is not a loss, nor is a value
    inside something that was not understood. The block `shop` is left out.
    """
    for path, value in _gone(old.plain, new.plain, ()):
        field_class = class_of(path)
        if field_class in _LASTING and new.understood(path) and not _is_default(path, value):
            yield Change(path, Kind.LOST, value, MISSING, field_class)


def _gone(old: Mapping[str, Any], new: Mapping[str, Any], path: Path) -> Iterator[tuple[Path, Any]]:
    """Yield the paths that only the old values have, the outermost of each."""
    may_go = bool(path) and is_collection(path)
    for key, value in old.items():
        at = (*path, key)
        held = new.get(key)
        if held is value or at == ("shop",):
            continue
        if is_absent(held):
            if not (may_go or is_absent(value)):
                yield at, value
        elif isinstance(value, dict) and isinstance(held, dict) and value != held:
            yield from _gone(value, held, at)


def _is_default(path: Path, value: object) -> bool:
    fields = tuple(fields_at(path))
    return bool(fields) and same(fields[-1].get_default(call_default_factory=True), value)
