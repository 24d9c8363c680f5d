"""A small working shop to start from."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import CallRefused
from jobcheck.sources.state.writing import Rewrite, WriteRefused, reason, write_files


class NewShop(NamedTuple):
    """The files added to a folder, and those that were there already."""

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
    added: dict[str, Rewrite] = {}
    kept = []
    has_jobs = any((folder / "jobs").glob("*/job.yaml"))
    starter = _starter_files(files("jobcheck.commands") / "starter", "")
    # a job's list before job.yaml: a run that was stopped between the two is completed by the next
    for name, source in sorted(starter, key=lambda file: file[0].endswith("/job.yaml")):
        if (folder / name).exists() or (has_jobs and name.startswith("jobs/")):
            kept.append(name)
        else:
            added[name] = Rewrite(None, source.read_bytes())
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_files(folder, added)
    except OSError as error:
        raise CallRefused(f"{folder} cannot be written: {reason(error)}.") from None
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
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
