"""Values that nobody measured, as the description marks them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop

STARTER = "starter"
"""The source of a value that `jobcheck new` invented."""


class Derived(NamedTuple):
    """One mark in `derived`: the path of the value, its source, and whether there is a value."""

    owner: Path
    key: str
    source: str
    has_value: bool

    @property
    def path(self) -> Path:
        """The path of the value that the mark is about."""
        return (*self.owner, self.key)


def derived_values(shop: Shop) -> Iterator[Derived]:
    """Yield every mark of a shop, the machine's first."""
    for owner in _owners(shop):
        marks = shop.plain_at((*owner, "derived"))
        if isinstance(marks, dict):
            for key, source in marks.items():
                yield Derived(owner, key, source, shop.plain_at((*owner, key)) is not None)


def starter_values(shop: Shop) -> list[Path]:
    """Return the paths of the values that are still those of `jobcheck new`."""
    return [one.path for one in derived_values(shop) if one.has_value and one.source == STARTER]


def _owners(shop: Shop) -> Iterator[Path]:
    yield ()
    for kind in ("cameras", "outlines", "recognitions", "parts", "feeders", "jobs"):
        entries = shop.plain.get(kind)
        for name in sorted(entries, key=natural) if isinstance(entries, dict) else ():
            yield (kind, name)
            if kind == "jobs":
                yield (kind, name, "board")
