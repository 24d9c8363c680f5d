"""How the program was called, so that proposed commands can be pasted as printed."""

from __future__ import annotations

import os
import shlex
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import Command

_COMPARING = ("lint", "diff", "keep", "gather", "deliver")
"""Commands that read the controller's files; a restore does with `--deliver`."""


def _as_it_is(proposed: Command) -> Command:
    return proposed


class Call(NamedTuple):
    """How the program was called, and from where.

    `shop` is the argument for `--shop`, None if it is not needed. `folder` is the folder that
    the user is in, `here` the folder of the shop that it belongs to, None for none.
    `controller` is what `--controller` was given for this call, and is for those proposed.
    `both_sides` adds `--deliver` to a restore where the controller has one of its values.
    """

    program: str = "jobcheck"
    shop: str | None = None
    folder: FilePath = FilePath()
    here: FilePath | None = None
    controller: FilePath | None = None
    both_sides: Callable[[Command], Command] = _as_it_is

    def path(self, path: FilePath) -> str:
        """Return a path as it is written in the folder that the user is in, with `/`."""
        try:
            return FilePath(os.path.relpath(path, self.folder)).as_posix()
        except ValueError:  # another drive
            return path.as_posix()

    def about(self, root: FilePath) -> Call:
        """Return the call that is about the shop in a folder."""
        return self._replace(shop=None if self.here == root.resolve() else self.path(root))

    def arguments(self, proposed: Command) -> list[str]:
        """Return a proposed command as a list of arguments, about the same shop from here."""
        if "--write" not in proposed.arguments:
            proposed = self.both_sides(proposed)
        words = [*proposed.arguments, *map(self.path, proposed.files)]
        if proposed.program:
            return [proposed.program, *words]
        about = ["--shop", self.shop] if self.shop else []
        if self.controller and (words[0] in _COMPARING or "--deliver" in words):
            about += ["--controller", self.path(self.controller)]
        return [*shlex.split(self.program), *words, *about]

    def typed(self, proposed: Command) -> str:
        """Return a proposed command as it is typed."""
        return shlex.join(self.arguments(proposed))
