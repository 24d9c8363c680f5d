"""Large files, read by a second process while this one still loads the models and the rules.

Of a lint of 35,000 lines a third is reading them and nearly half is the start, and neither waits
for the other. What the second process brings is what `read_yaml` returns; whatever it does not
bring is read as ever, so nothing but time depends on it.
"""

from __future__ import annotations

import marshal
import os
import sys
import threading
from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any, NoReturn

from jobcheck.description.text_keys import TEXT_KEYS
from jobcheck.sources.state import ROOT_FILE, Files, State, Unreadable, named_files
from jobcheck.sources.text import NotUnderstood, Text
from jobcheck.sources.yaml_places import NodeTable
from jobcheck.sources.yaml_reader import Document, read_yaml

LARGE = 100_000
"""Bytes from which on a file is worth it: so many take 30 ms to read, a second process takes 5."""

_KINDS = {"machine": "machine", "parts": "parts", "feeders": "feeders", "jobs": "job"}
"""What shop.yaml names files for -> the kind of those files."""


def read_ahead(state: State) -> State:
    """Return the state with what a second process reads of it; unchanged where none is begun."""
    wanted = dict(_large(state.files)) if _is_possible() else {}
    if not wanted:
        return state
    try:
        return state._replace(ahead=ReadingAhead(wanted))
    except OSError:  # no process or pipe is to be had
        return state


def _is_possible() -> bool:
    """Tell whether a second process runs beside this one and may be a copy of it."""
    if sys.platform != "linux" or threading.active_count() > 1:
        return False
    return len(os.sched_getaffinity(0)) > 1


def _large(files: Files) -> Iterator[tuple[str, tuple[str, bytes]]]:
    """Yield (name, (kind, bytes)) of the large files that shop.yaml names."""
    try:
        root = read_yaml(files[ROOT_FILE], ROOT_FILE, TEXT_KEYS["shop"]).plain
    except (KeyError, Unreadable, NotUnderstood):
        return  # that is told when it is read in earnest
    for named_for, kind in _KINDS.items():
        patterns = root.get(named_for)
        for pattern in patterns if isinstance(patterns, list) else [patterns]:
            for name in named_files(files, pattern) if isinstance(pattern, str) else ():
                try:
                    data = files[name]
                except (KeyError, Unreadable):
                    continue  # likewise
                if len(data) >= LARGE:
                    yield name, (kind, data)


class ReadingAhead:
    """Documents that a second process is reading."""

    def __init__(self, wanted: Mapping[str, tuple[str, bytes]]) -> None:
        """Begin to read files: name -> (kind, bytes).

        Raises:
            OSError: the system gives no process or pipe.
        """
        self._wanted = wanted
        self._pipe, writing = os.pipe()
        try:
            self._reader = os.fork()
        except OSError:
            os.close(self._pipe)
            os.close(writing)
            raise
        if self._reader == 0:
            # Only its end of the pipe may keep anybody waiting, and for nobody it goes on writing.
            os.close(self._pipe)
            os.closerange(0, 3)
            _bring(wanted, writing)
        os.close(writing)

    def document(self, name: str, kind: str, data: bytes) -> Document | None:
        """Return a file as it was read; None where it was not, or with other bytes or kind."""
        if self._wanted.get(name) != (kind, data) or name not in self._brought:
            return None
        plain, values, starts, ends, closes, empty = self._brought[name]
        table = NodeTable(Text(data, name))
        table.starts.frombytes(starts)
        table.ends.frombytes(ends)
        table.values, table.closes, table.empty = values, closes, empty
        return Document(plain, table)

    @cached_property
    def _brought(self) -> dict[str, Any]:
        """Wait for what is brought; nothing, where the second process did not end well."""
        with open(self._pipe, "rb") as pipe:
            said = pipe.read()
        try:
            _, status = os.waitpid(self._reader, 0)
        except ChildProcessError:  # whoever began this process has children forgotten at once
            return {}
        return marshal.loads(said) if status == 0 else {}


def _bring(wanted: Mapping[str, tuple[str, bytes]], writing: int) -> NoReturn:
    """Read files, write what was read into a pipe, and end without a word."""
    code = 1
    try:
        brought = {
            name: parts
            for name, (kind, data) in wanted.items()
            if (parts := _parts(name, kind, data)) is not None
        }
        with open(writing, "wb") as pipe:
            pipe.write(marshal.dumps(brought))
        code = 0
    finally:
        os._exit(code)


def _parts(name: str, kind: str, data: bytes) -> tuple[Any, ...] | None:
    """Return what a document is made of; None for one with faults or aliases.

    Those are rare, and what an alias or a merge leads to does not go through a pipe as one thing.
    """
    try:
        plain, table = read_yaml(data, name, TEXT_KEYS[kind])
    except NotUnderstood:
        return None
    if table.targets or table.merges:
        return None
    starts, ends = table.starts.tobytes(), table.ends.tobytes()
    return plain, table.values, starts, ends, table.closes, table.empty
