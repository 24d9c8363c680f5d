"""A small working shop to start from."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import CallRefused


class NewShop(NamedTuple):
    """What was added to a folder, and what stood there already."""

    folder: FilePath
    added: tuple[str, ...]
    kept: tuple[str, ...]


def new_shop(folder: FilePath) -> NewShop:
    """Add the files of the starter shop that a folder does not have.

    Raises:
        CallRefused: the folder is a file, or cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise CallRefused(f"{folder} is a file, not a folder.")
    added, kept = [], []
    has_jobs = (folder / "jobs").exists()
    try:
        for name, source in _starter_files(files("jobcheck.commands") / "starter", ""):
            target = folder / name
            if target.exists() or (has_jobs and name.startswith("jobs/")):
                kept.append(name)
                continue
            target.parent.mkdir(parents=True, exist_ok=True)
            with target.open("xb") as stream:
                stream.write(source.read_bytes())
            added.append(name)
    except OSError as error:
        raise CallRefused(f"{folder} cannot be written: {error.strerror}.") from None
    return NewShop(folder, tuple(added), tuple(kept))


def _starter_files(folder: Traversable, prefix: str) -> list[tuple[str, Traversable]]:
    found: list[tuple[str, Traversable]] = []
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        name = prefix + entry.name
        if entry.is_dir():
            found += _starter_files(entry, name + "/")
        elif entry.name.endswith((".yaml", ".csv")):
            found.append((name, entry))
    return found
