"""Names that a shell can complete."""

from __future__ import annotations

from pathlib import Path as FilePath

from jobcheck.known_good.store import Records
from jobcheck.shop.paths import look_up, parse, show
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state


def selections_for(root: FilePath, incomplete: str) -> list[str]:
    """Return the paths that begin with what is typed, one level further."""
    shop = read_shop(folder_state(root)).shop
    typed, dot, _ = incomplete.rpartition(".")
    try:
        above = parse(typed) if dot else ()
    except ValueError:
        return []
    held = look_up(shop.plain, above) if shop else None
    if not isinstance(held, dict):
        return []
    return [path for key in held if (path := show((*above, key))).startswith(incomplete)]


def cameras(root: FilePath) -> list[str]:
    """Return the names of the cameras."""
    shop = read_shop(folder_state(root)).shop
    return list(shop.cameras) if shop else []


def labels(root: FilePath) -> list[str]:
    """Return the labels of the records, the last one first."""
    return [entry.slug for entry in reversed(Records(folder_state(root)).entries)]
