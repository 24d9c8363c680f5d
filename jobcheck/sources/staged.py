"""The shops of a commit, found with git alone: a commit elsewhere loads no model and no rule."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import CallRefused
from jobcheck.sources.state.git import (
    GitRefused,
    is_committing,
    known_paths,
    revision_state,
    staged_changes,
    staged_state,
    top_folder,
)
from jobcheck.sources.state.state import RECORDS, ROOT_FILE, State, folder_state


class Touched(NamedTuple):
    """A shop that a commit touches, as it is staged.

    `has_records`: files of records are in the commit; `removed` are the folders of
    records that it removes though they are not withdrawn, relative to the shop.
    """

    state: State
    has_records: bool = False
    removed: tuple[str, ...] = ()


def touched_shops(shop: str | None) -> dict[FilePath, Touched]:
    """Return the shops that the index touches, by their folders, each as it is staged.

    With nothing staged and no commit under way, these are all shops that git knows, as they are on
    the disk. `shop` narrows both to the shop in that folder.

    Raises:
        CallRefused: this is not a git repository, or `shop` is not a shop.
    """
    try:
        top = top_folder(_folder_there(shop or "."))
        changes = staged_changes(top)
        known = known_paths(top, ROOT_FILE)
        gone = {path for path, status in changes.items() if status == "D"}
        shops = _shop_folders({*known, *gone})
        asked = shops if shop is None else {_asked(top, shop, shops)}
        if changes:
            touched = _touched(changes, shops) & asked
            left = [folder for folder in sorted(touched) if _is_left(top, folder, gone)]
            return {top / folder: _staged(top, folder, changes) for folder in left}
    except GitRefused as error:
        raise CallRefused(f"--staged needs a git repository: {error}.") from None
    if is_committing():  # an empty commit, or one that is only worded anew
        return {}
    return {top / folder: Touched(folder_state(top / folder)) for folder in sorted(asked)}


def _staged(top: FilePath, folder: str, changes: Mapping[str, str]) -> Touched:
    inside = f"{folder}/{RECORDS}/".removeprefix("/")
    recorded = {path: status for path, status in changes.items() if path.startswith(inside)}
    gone = [
        path.removeprefix(f"{folder}/").rpartition("/")[0]
        for path, status in recorded.items()
        if status == "D" and path.endswith(f"/{_RECORD_FILE}")
    ]
    state = staged_state(top, folder)
    removed = [*_not_withdrawn(top, folder, gone), *_left_behind(top, folder, changes, state)]
    return Touched(state, bool(recorded), tuple(removed))


def _left_behind(
    top: FilePath, folder: str, changes: Mapping[str, str], state: State
) -> Iterator[str]:
    """Yield the records that a shop had in the folder that it is moved from, and has no more.

    A shop is moved where a commit adds its shop.yaml and deletes another's; a record that came
    along has the same name in the new folder.
    """
    if changes.get(f"{folder}/{ROOT_FILE}".lstrip("/")) != "A":
        return
    left = [path for path, status in changes.items() if status == "D"]
    for old in _shop_folders(set(left)):
        inside = f"{old}/{RECORDS}/".removeprefix("/")
        records = [p for p in left if p.startswith(inside) and p.endswith(f"/{_RECORD_FILE}")]
        names = [path.removeprefix(f"{old}/").rpartition("/")[0] for path in records]
        dropped = [name for name in names if f"{name}/{_RECORD_FILE}" not in state.files]
        yield from (
            os.path.relpath(top / old / name, top / folder)
            for name in _not_withdrawn(top, old, dropped)
        )


def _not_withdrawn(top: FilePath, folder: str, removed: list[str]) -> Iterator[str]:
    """Yield the folders of records that the last commit has and does not call withdrawn."""
    if not removed:
        return
    before = revision_state(top, folder, "HEAD").files
    yield from (name for name in removed if f"{name}/{_WITHDRAWN_FILE}" not in before)


_RECORD_FILE, _WITHDRAWN_FILE = "record.yaml", "withdrawn.yaml"


def _folder_there(folder: str) -> FilePath:
    """Return a folder or the nearest above it: a commit that deletes a shop leaves none."""
    start = FilePath(folder).absolute()
    return next(above for above in (start, *start.parents) if above.is_dir())


def _asked(top: FilePath, shop: str, shops: set[str]) -> str:
    """Return the folder that a call names, as git writes it."""
    folder = FilePath(shop).resolve()
    if not folder.is_relative_to(top):
        raise CallRefused(f"{shop} is outside the repository that is committed.")
    name = folder.relative_to(top).as_posix()
    name = "" if name == "." else name
    if name not in shops and not (folder / ROOT_FILE).exists():
        raise CallRefused(f"No shop there: no {ROOT_FILE} in {shop}.")
    return name


def _shop_folders(paths: set[str]) -> set[str]:
    """Return the folders of every shop.yaml among paths, without the copies in records."""
    found = {path.rpartition("/")[0] for path in paths if path.rpartition("/")[2] == ROOT_FILE}
    return {folder for folder in found if not _is_record(folder, found)}


def _is_record(folder: str, shops: set[str]) -> bool:
    shop, _, records = folder.rpartition("/")[0].rpartition("/")
    return records == RECORDS and shop in shops


def _touched(paths: Iterable[str], shops: set[str]) -> set[str]:
    """Return the shops that paths belong to, each to the nearest above it."""
    touched: set[str] = set()
    for path in paths:
        folder = path
        while folder:
            folder = folder.rpartition("/")[0]
            if folder in shops:
                touched.add(folder)
                break
    return touched


def _is_left(top: FilePath, folder: str, gone: set[str]) -> bool:
    """Return whether the index has a shop, or a file of one whose shop.yaml it deletes."""
    if f"{folder}/{ROOT_FILE}".lstrip("/") not in gone:
        return True
    from jobcheck.sources.shop_reader import read_shop

    left = staged_state(top, folder).files
    return any(name in left for name in read_shop(revision_state(top, folder, "HEAD")).files)
