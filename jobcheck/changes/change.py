"""Differences between two states of a shop: the data that diff, restore and reports share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from jobcheck.facts.fingerprint import covers
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.values import leaves


class Kind(StrEnum):
    """Kinds of difference, in the words of the screens."""

    LOST = "lost"
    AUTOMATIC_ON = "automatic on"
    FELL_BACK = "fell back"
    MOVED = "moved"
    EXCHANGED = "exchanged"
    HALF_TURN = "half a turn"
    QUARTER_TURN = "a quarter turn"
    MIRRORED = "mirrored"
    SCALED = "scaled"
    CHANGED = "changed"
    ADDED = "added"
    REMOVED = "removed"


_LOSSES = (Kind.LOST, Kind.AUTOMATIC_ON, Kind.FELL_BACK)
_CLASSES = tuple(FieldClass)


@dataclass(frozen=True)
class Change:
    """One difference between an old and a new state.

    `old` and `new` are plain values: a scalar, a list, a whole mapping where a block as a whole
    came or went, MISSING. `other` is the second path of two kinds: where the same content is
    now (moved to another name), and the place that it changed places with (exchanged). `by` is
    the angle of a turn, degrees counter-clockwise, or the factor of a scaling.
    """

    path: Path
    kind: Kind
    old: object
    new: object
    field_class: FieldClass
    other: Path | None = None
    by: float | None = None

    @property
    def paths(self) -> tuple[Path, ...]:
        """Every path that it touches."""
        return (self.path,) if self.other is None else (self.path, self.other)

    def leaves(self) -> Iterator[tuple[Path, object, object]]:
        """Yield (path, old, new) of each value, one a line of the screens: a block has many."""
        if self.other is None:
            yield from leaves(self.path, self.old, self.new)
        else:
            yield self.path, self.old, self.new

    @cached_property
    def is_camera_loss(self) -> bool:
        """Tell whether a setting that tunings depend on was lost: missing, automatic, default."""
        return (
            self.path[:1] == ("cameras",)
            and self.kind in _LOSSES
            and self.field_class is FieldClass.SETTING
            and any(covers(path) for path, _, _ in self.leaves())
        )

    @property
    def rank(self) -> int:
        """0 for lost camera settings, then 1 settings, 2 measurements, 3 counts, 4 notes."""
        return 0 if self.is_camera_loss else 1 + _CLASSES.index(self.field_class)

    @property
    def order(self) -> tuple[object, ...]:
        """The sort key of changes, whatever the order of keys in the files."""
        kind = list(Kind).index(self.kind) if self.is_camera_loss else 0
        return (self.rank, _natural(self.path[:2]), kind, _natural(self.path))


def _natural(path: Path) -> tuple[object, ...]:
    return tuple(map(natural, path))
