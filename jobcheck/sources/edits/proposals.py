"""The proposed edits of a command: shown always, written only on request."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.findings import CallRefused
from jobcheck.shop.paths import Path, is_within
from jobcheck.shop.values import MISSING
from jobcheck.sources.edits.edits import Edit, Edited, edit_shop
from jobcheck.sources.edits.files import WHOLE_FILE
from jobcheck.sources.edits.replacing import EditRefused, LineEdit, Replacing
from jobcheck.sources.edits.yaml_entries import Entries
from jobcheck.sources.shop_reader import Reading
from jobcheck.sources.state.writing import Rewrite, WriteRefused, write_files


class Proposal(NamedTuple):
    """Edits of a shop's files, and whether they were written."""

    root: FilePath
    before: Reading
    edited: Edited
    written: bool

    @property
    def values(self) -> int:
        """How many values or blocks it touches."""
        return len(self.edited.lines)


def propose(
    root: FilePath,
    reading: Reading,
    edits: Iterable[Edit],
    *,
    like: Reading | None = None,
    without: Iterable[Path] = (),
    beside: Mapping[str, Rewrite] | None = None,
    write: bool = False,
) -> Proposal:
    """Work out edits of a shop's files and, with `write`, replace the files.

    `without` are paths to leave out of blocks that are copied from `like`;
    `beside` are other files of the shop that are written with these, all or none.
    Written files are read back before the report.

    Raises:
        CallRefused: an edit cannot be made by span, or a file cannot be written.
    """
    edits = list(edits)
    try:
        edited = edit_shop(reading, edits, like) if edits else Edited({}, (), (), reading)
        edited = _leaving_out(edited, list(without))
        if write:
            _write(root, reading, edited, beside or {})
    except (EditRefused, WriteRefused) as error:
        raise CallRefused(str(error)) from None
    return Proposal(root, reading, edited, write)


def _leaving_out(edited: Edited, paths: list[Path]) -> Edited:
    """Remove values from added blocks; the preview shows the blocks without them."""
    if not paths:
        return edited
    after = edit_shop(edited.reading, [Edit(path, MISSING) for path in paths])
    lines = tuple(replace(line, after=_without(line, paths, after)) for line in edited.lines)
    return Edited({**edited.files, **after.files}, lines, edited.notes, after.reading)


def _without(line: LineEdit, paths: list[Path], after: Edited) -> str:
    if line.after == WHOLE_FILE:
        return f"{WHOLE_FILE}, without counts" if line.file in after.files else WHOLE_FILE
    if not any(is_within(path, line.path) for path in paths):
        return line.after
    return _lines_at(line.path, after.reading) or line.after


def _lines_at(path: Path, reading: Reading) -> str:
    found = reading.places.holder(path)
    if found is None or found[1].table is None:
        return ""
    entries = Entries(found[1].table, Replacing(found[1].table.text))
    spot = entries.find(path[len(found[1].prefix) :])
    return "\n".join(entries.own_lines((spot.key, spot.value), with_comments=True) or ())


def _write(root: FilePath, reading: Reading, edited: Edited, beside: Mapping[str, Rewrite]) -> None:
    held = reading.places.held
    rewrites = {
        name: Rewrite(held[name].data if name in held else None, new)
        for name, new in edited.files.items()
    }
    write_and_read_back(root, {**rewrites, **beside})


def write_and_read_back(root: FilePath, rewrites: Mapping[str, Rewrite]) -> None:
    """Replace whole files and compare their contents afterwards.

    Raises:
        WriteRefused: one cannot be written, or has other contents than those written.
    """
    write_files(root, rewrites)
    for name, rewrite in rewrites.items():
        if (root / name).read_bytes() != rewrite.new:
            raise WriteRefused(name, "its contents differ from those written; check the disk")
