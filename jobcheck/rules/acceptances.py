"""The findings that a shop accepts."""

from __future__ import annotations

from jobcheck.schema.shop_file import ShopFile
from jobcheck.shop.paths import Path, parse

LONGEST_DAYS = 366
"""An acceptance ends at most a year ahead."""


class Acceptances:
    """The acceptances of a shop, each known by its rule and its path as written."""

    def __init__(self, root: ShopFile) -> None:
        self._texts: dict[tuple[str, Path], str] = {
            (rule, accepted_path(text)): text
            for rule, paths in root.accepted.items()
            for text in paths
        }

    def covering(self, rule: str, path: Path) -> tuple[str, ...]:
        """Return the acceptances of a rule that cover a finding's path: at it or above it."""
        if not self._texts:
            return ()
        ends = range(len(path) + 1)
        found = (self._texts.get((rule, path[:end])) for end in ends)
        return tuple(text for text in found if text is not None)


def accepted_path(text: str) -> Path:
    """Return the path that an acceptance names; a text that is not a path covers nothing."""
    try:
        return parse(text)
    except ValueError:
        return (text,)
