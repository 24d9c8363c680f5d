"""How a command is called, and what is said of a call that cannot be understood."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import Command
from jobcheck.sources.state.state import ROOT_FILE, State, folder_state, shop_above


class CallRefused(Exception):
    """The command line asks for something that is not there; the message names the remedy."""


class Call(NamedTuple):
    """How the program was called: so that what it proposes can be pasted as it stands."""

    program: str = "jobcheck"
    shop: str | None = None

    def about(self, root: FilePath) -> Call:
        """Return the call that is about the shop in a folder, from the current folder."""
        is_here = shop_above(FilePath.cwd()) == root.resolve()
        return Call(self.program, None if is_here else from_here(root))

    def command(self, words: str) -> str:
        """Return a command line for the same shop from the same folder."""
        shop = f" --shop {shlex.quote(self.shop)}" if self.shop else ""
        return f"{self.program} {words}{shop}"

    def arguments(self, proposed: Command) -> list[str]:
        """Return a proposed command as a list of arguments, about the same shop from here."""
        if proposed.program:
            return [proposed.program, *proposed.arguments]
        about = ["--shop", self.shop] if self.shop else []
        return [*shlex.split(self.program), *proposed.arguments, *about]

    def typed(self, proposed: Command) -> str:
        """Return a proposed command as it is typed."""
        return shlex.join(self.arguments(proposed))


def shop_root(shop: str | None) -> FilePath:
    """Return the folder of the shop that a call is about.

    Raises:
        CallRefused: there is no shop.
    """
    if shop is not None:
        folder = FilePath(shop)
        if not (folder / ROOT_FILE).exists():
            raise CallRefused(f"No shop there: no {ROOT_FILE} in {shop}.")
        return folder.resolve()
    found = shop_above(FilePath.cwd())
    if found is None:
        raise CallRefused(
            f"No shop here: no {ROOT_FILE} in this folder or in any above it.\n\n"
            "  To start one here        jobcheck new .\n"
            "  To look at one elsewhere jobcheck --shop FOLDER"
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
            raise CallRefused(f"There is no file or folder {path}.")
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
