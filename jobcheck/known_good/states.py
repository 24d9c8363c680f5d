"""The states that a command line can name."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path as FilePath

from jobcheck.findings import CallRefused, command
from jobcheck.known_good.store import Record, RecordRefused, Records
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.git import GitRefused, revision_state, staged_state, top_folder
from jobcheck.sources.state.state import ROOT_FILE, State, folder_state

WORDS = ("now", "staged", "good")


def open_state(text: str, root: FilePath) -> State:
    """Return the state that a text names, for the shop in the folder `root`.

    `now`, `staged`, `good` (the last record not withdrawn), `good:LABEL` (a label or a number),
    `git:REVISION`, or a folder relative to the current one; one called `good` is `./good`.

    Raises:
        CallRefused: the state does not exist, or it is unusable.
    """
    kind, _, name = text.partition(":")
    if text == "now":
        return folder_state(root)
    if text == "good" or (kind == "good" and name):
        return _recorded(name, root)
    if text == "staged" or (kind == "git" and name):
        return _from_git(name, root)
    return _folder(text, root)


def read_state(text: str, root: FilePath, like: Reading | None = None) -> Reading:
    """Read the state that a text names.

    Raises:
        CallRefused: the state does not exist.
    """
    return read_shop(open_state(text, root), like)


def record_of(reading: Reading, root: FilePath) -> Record | None:
    """Return the record that a reading's state comes from, if it is one."""
    kind, _, number = reading.state.label.partition(":")
    if kind != "good":
        return None
    records = Records(folder_state(root))
    return records.read(records.find(number))


def _recorded(label: str, root: FilePath) -> State:
    records = Records(folder_state(root))
    try:
        if label:
            return records.open(records.read(records.find(label)))
        last = records.last_good()
    except (LookupError, RecordRefused) as error:
        raise CallRefused(str(error.args[0])) from None
    if last is None:
        if withdrawn := len(records.entries):
            count = "The only record is" if withdrawn == 1 else f"All {withdrawn} records are"
            raise CallRefused(
                f"{count} withdrawn. A withdrawn record can still be named: good:LABEL. To make a "
                "new one:",
                command("keep", "--label", "TEXT"),
            )
        raise CallRefused(
            "This shop has no known-good record yet. To make one:",
            command("keep", "--label", "TEXT"),
        )
    if last.refused:
        bad = last.refused[0]
        raise CallRefused(str(RecordRefused(bad.entry, bad.why, last.record.entry)))
    return last.reading.state


def _from_git(revision: str, root: FilePath) -> State:
    try:
        top = top_folder(root)
        folder = root.resolve().relative_to(top.resolve()).as_posix()
        inside = "" if folder == "." else folder
        state = revision_state(top, inside, revision) if revision else staged_state(top, inside)
    except GitRefused as error:
        asked = f"git:{revision}" if revision else "staged"
        raise CallRefused(f"{asked} cannot be read: {error}.") from None
    if ROOT_FILE not in state.files:
        raise CallRefused(f"{state.label} holds no {ROOT_FILE} of this shop.")
    return state


def _folder(text: str, root: FilePath) -> State:
    folder = FilePath(text)
    if not folder.is_dir():
        raise CallRefused(f"State {text} does not exist. {_near(text, root)}")
    if not (folder / ROOT_FILE).exists():
        raise CallRefused(f"No shop there: no {ROOT_FILE} in {text}.")
    return folder_state(folder, text)


def _near(text: str, root: FilePath) -> str:
    try:
        return f"Did you mean good:{Records(folder_state(root)).find(text).slug}?"
    except LookupError:
        pass  # no record is called so either
    near = get_close_matches(text.partition(":")[0], [*WORDS, "git"], n=1)
    if not near:
        return "A state is now, staged, good, good:LABEL, git:REVISION, or a folder with a shop."
    return f"Did you mean {'git:REVISION' if near[0] == 'git' else near[0]}?"
