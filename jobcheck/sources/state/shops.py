"""The shops that a command line names, by their folders."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path as FilePath

from jobcheck.findings import CallRefused, command
from jobcheck.sources.state.state import ROOT_FILE, State, folder_state, shop_above


def shop_root(shop: str | None) -> FilePath:
    """Return the folder of the shop that a call is about.

    Raises:
        CallRefused: no shop was found.
    """
    if shop is not None:
        folder = FilePath(shop)
        if not (folder / ROOT_FILE).exists():
            raise CallRefused(f"No shop there: no {ROOT_FILE} in {shop}.")
        return folder.resolve()
    found = shop_above(FilePath.cwd())
    if found is None:
        raise CallRefused(
            f"No shop here: no {ROOT_FILE} in this folder or in any above it. To create one here:",
            command("new", "."),
            "To look at one elsewhere:",
            command("--shop", "FOLDER"),
        )
    return found


def shops_of(paths: Iterable[FilePath]) -> dict[FilePath, State]:
    """Return the whole shops that paths belong to, by their folders, as they are on the disk.

    Raises:
        CallRefused: a path does not exist or belongs to no shop.
    """
    shops: dict[FilePath, State] = {}
    for path in paths:
        if not path.exists():
            raise CallRefused(f"{path} does not exist.")
        root = shop_above(path if path.is_dir() else path.parent)
        if root is None:
            raise CallRefused(f"{path} belongs to no shop: no {ROOT_FILE} at or above it.")
        shops[root] = folder_state(root)
    return shops


def from_here(path: FilePath) -> str:
    """Return a path as it is written from the current folder, with `/`."""
    try:
        return FilePath(os.path.relpath(path)).as_posix()
    except ValueError:  # another drive
        return path.as_posix()
