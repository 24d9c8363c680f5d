"""A first map of a controller's file."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.findings import CallRefused
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of, leaf_types
from jobcheck.shop.paths import Path, show
from jobcheck.sources.bridge.naming import first_column, kind_of, number_of, open_file, read_file
from jobcheck.sources.bridge.source import Native, Source
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import Rewrite, WriteRefused, write_files
from jobcheck.sources.yaml.spelling import flow_text

BRIDGE_FILE = "bridge.yaml"
_MOST = 80
_TELLING = re.compile(r"[1-9]\d{2,}|[^\d\s]{5,}")
"""A text unlikely to match by chance: three digits of a number, or a word of five letters."""


class StartedBridge(NamedTuple):
    """A new map: the mapped file, and the number of proposed values.

    `is_outside`: the file is outside the shop; `is_named`: shop.yaml names the map.
    """

    root: FilePath
    file: FilePath
    proposed: int
    is_outside: bool
    is_named: bool

    @property
    def map_file(self) -> FilePath:
        """The file of the map."""
        return self.root / BRIDGE_FILE


def start_bridge(
    root: FilePath,
    file: FilePath,
    *,
    kind: str | None = None,
    key_column: str | None = None,
    encoding: str | None = None,
) -> StartedBridge:
    """Write bridge.yaml for one file of the controller, with proposed addresses.

    Raises:
        CallRefused: there is a map already, or the file cannot be read.
    """
    reading = read_shop(folder_state(root))
    if (root / BRIDGE_FILE).exists():
        raise CallRefused(f"{BRIDGE_FILE} already exists: add the file to it.")
    source = open_file(file, kind, key_column, encoding)
    known = kind_of(file, kind)
    if known == "csv" and key_column is None:
        key_column = first_column(read_file(file), file)
    name, is_outside = _inside(root, file)
    proposals = list(_proposals(source, reading.shop.plain if reading.shop else {}))
    head = {"file": name, "kind": known, "key_column": key_column, "encoding": encoding}
    text = "\n".join(_lines(file, {k: v for k, v in head.items() if v}, proposals)) + "\n"
    try:
        write_files(root, {BRIDGE_FILE: Rewrite(None, text.encode())})
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
    is_named = reading.shop is not None and reading.shop.root.bridge == BRIDGE_FILE
    return StartedBridge(root, file, len(proposals), is_outside, is_named)


def _inside(root: FilePath, file: FilePath) -> tuple[str, bool]:
    """Return the map's name for a file, and whether it is outside the shop."""
    try:
        return file.resolve().relative_to(root.resolve()).as_posix(), False
    except ValueError:
        return file.name, True


def _lines(
    file: FilePath, head: dict[str, str], proposals: list[tuple[Path, str, str]]
) -> Iterator[str]:
    key = re.sub(r"[^A-Za-z0-9_-]", "-", file.stem) or "file"
    yield "# Where the values of the description live in the controller's own files."
    yield "# `jobcheck find FILE VALUE` lists the addresses of a value."
    yield from ("describes: bridge", "edition: 1", "", "files:", f"  {key}:")
    yield from (f"    {name}: {flow_text((name,), value)}" for name, value in head.items())
    yield "    values: {}"
    if proposals:
        yield "    # These values are in one place only. Look at each, then write it above:"
        yield "    # values:"
        for path, address, text in proposals:
            yield f"    #   {show(path)}: {flow_text(('at',), address)}   # {text}"


def _proposals(source: Source, plain: dict[str, Any]) -> Iterator[tuple[Path, str, str]]:
    """Yield values that occur once in the description and once in the file."""
    here: dict[object, list[Path]] = defaultdict(list)
    for path, value in _leaves(plain, ()):
        here[_said(str(value))].append(path)
    there: dict[object, list[tuple[str, str]]] = defaultdict(list)
    for address, hit in source.everything():
        if hit.native is not Native.SWITCH and _said(hit.text) in here:
            there[_said(hit.text)].append((address, hit.text.strip()))
    found = [
        (paths[0], *there[said][0])
        for said, paths in here.items()
        if len(paths) == 1 and len(there[said]) == 1
    ]
    yield from found[:_MOST]


def _said(text: str) -> object:
    number = number_of(text)
    return text.strip() if number is None else number


def _leaves(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Yield the settings and measurements of the machine and its feeders that are distinctive."""
    if isinstance(value, (dict, list)):
        items = value.items() if isinstance(value, dict) else enumerate(value)
        for key, item in items:
            if path or key not in ("shop", "jobs", "bridge"):
                yield from _leaves(item, (*path, str(key)))
    elif not isinstance(value, bool) and _TELLING.search(str(value).replace(".", "")):
        settled = class_of(path) in (FieldClass.SETTING, FieldClass.MEASUREMENT)
        if settled and leaf_types(path):
            yield path, value
