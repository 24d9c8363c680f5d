"""Faults of files: what cannot be read or understood."""

import re
from collections.abc import Callable

from tests.faults.plant import Fault
from tests.faults.scene import Files, Scene

MACHINE, PARTS, FEEDERS, ROOT = "placer.yaml", "parts.yaml", "feeders.yaml", "shop.yaml"
RECORD = "known-good/1-good"
Change = Callable[[bytes], bytes]


def _spoiled(file: str, by: Change) -> Callable[[Files, Scene], None]:
    def spoil(files: Files, scene: Scene) -> None:
        files[file] = by(files[file])

    return spoil


def _list(by: Change, name: str = "placements.csv") -> Callable[[Files, Scene], None]:
    def spoil(files: Files, scene: Scene) -> None:
        file = f"jobs/{scene.job_name}/{name}"
        files[file] = by(files[file])

    return spoil


def _without(file: str) -> Callable[[Files, Scene], None]:
    return lambda files, scene: files.__delitem__(file)


def _in_record(by: Callable[[Files], object]) -> Callable[[Files, Scene], None]:
    """Spoil a record; a shop that is its record to the byte would not need it."""

    def spoil(files: Files, scene: Scene) -> None:
        by(files)
        files[ROOT] += b"\n"

    return spoil


def _line(data: bytes, number: int, by: Change) -> bytes:
    lines = data.split(b"\n")
    lines[number] = by(lines[number])
    return b"\n".join(lines)


def _cell(data: bytes, column: bytes, value: bytes, row: int = 3) -> bytes:
    at = data.split(b"\n")[0].split(b",").index(column)

    def put(line: bytes) -> bytes:
        cells = line.split(b",")
        cells[at] = value
        return b",".join(cells)

    return _line(data, row, put)


def _with_key(file: str, old: bytes, new: bytes) -> Callable[[Files, Scene], None]:
    return _spoiled(file, lambda data: data.replace(old, new, 1))


def _traverse(value: bytes) -> Callable[[Files, Scene], None]:
    number = rb'"traverse_z": [-0-9.]+'
    return _spoiled(MACHINE, lambda data: re.sub(number, b'"traverse_z": ' + value, data))


FAULTS = (
    Fault("yaml-malformed", "a file that breaks off", files=_spoiled(MACHINE, lambda d: d[:-40])),
    Fault(
        "yaml-malformed",
        "a tab among the blanks",
        files=_spoiled(PARTS, lambda d: b"describes: parts\nedition: 1\n\toutlines: {}\n"),
    ),
    Fault(
        "yaml-malformed",
        "two documents in one file",
        files=_spoiled(FEEDERS, lambda d: d + b"\n---\n{}\n"),
    ),
    Fault(
        "encoding-wrong", "a file in another encoding", files=_spoiled(ROOT, lambda d: d + b"\xe9")
    ),
    Fault(
        "encoding-wrong",
        "a list with a broken character",
        files=_list(lambda d: d.replace(b"top", b"t\xffp", 1)),
    ),
    Fault("file-missing", "the machine's file is not there", files=_without(MACHINE)),
    Fault("file-missing", "the feeders' file is not there", files=_without(FEEDERS)),
    Fault(
        "file-missing",
        "the list is not there",
        files=lambda files, s: files.__delitem__(f"jobs/{s.job_name}/placements.csv"),
    ),
    Fault(
        "file-missing",
        "a file named outside the shop",
        files=_with_key(ROOT, b'"placer.yaml"', b'"../placer.yaml"'),
    ),
    Fault(
        "kind-wrong",
        "parts where feeders are named",
        files=_with_key(FEEDERS, b'"describes": "feeders"', b'"describes": "parts"'),
    ),
    Fault(
        "edition-newer",
        "a file of a newer edition",
        files=_with_key(MACHINE, b'"edition": 1', b'"edition": 2'),
    ),
    Fault(
        "key-repeated",
        "a key that stands twice",
        files=_with_key(MACHINE, b'"traverse_z"', b'"traverse_z": -3,\n "traverse_z"'),
    ),
    Fault("key-unknown", "a misspelled setting", lambda s: s.put(f"{s.up}.controlls", {"gain": 1})),
    Fault("key-unknown", "a field at the wrong place", lambda s: s.put(f"{s.chip().path}.z", -18)),
    Fault("key-missing", "a board without a size", lambda s: s.drop(f"{s.job}.board.size_mm")),
    Fault(
        "key-missing",
        "a part without an outline",
        lambda s: s.drop(f"parts.{s.chip().part}.outline"),
    ),
    Fault("value-wrong", "a word for a number", lambda s: s.put("traverse_z", "high")),
    Fault("value-wrong", "limits of an axis exchanged", lambda s: s.put("travel.x", [500, 0])),
    Fault("value-wrong", "brightness over full", lambda s: s.put(f"{s.up}.light.percent", 155)),
    Fault(
        "value-wrong",
        "a skipped cell that the panel does not have",
        lambda s: s.put(f"{s.job}.panel.skip", ["9-9"]),
    ),
    Fault(
        "value-empty",
        "a key without a value",
        files=_spoiled(
            FEEDERS, lambda data: re.sub(rb'"remaining": \d+', b'"remaining": ', data, count=1)
        ),
    ),
    Fault(
        "number-wrong",
        "a number that is none",
        files=_traverse(b".nan"),
    ),
    Fault(
        "list-malformed",
        "a list without a column for x",
        files=_list(lambda d: _line(d, 0, lambda line: line.replace(b",x,", b",remark,"))),
    ),
    Fault(
        "list-malformed",
        "a position that is no number",
        files=_list(lambda d: _cell(d, b"x", b"12.4.1")),
    ),
    Fault(
        "list-malformed",
        "a row that is cut off",
        files=_list(lambda d: _line(d, 3, lambda _: b"R1")),
    ),
    Fault(
        "list-malformed",
        "a side that is none",
        files=_list(lambda d: _cell(d, b"side", b"inside")),
    ),
    Fault("list-malformed", "an empty list", files=_list(lambda d: b"")),
    Fault(
        "list-malformed",
        "a column that stands twice",
        files=_list(lambda d: _line(d, 0, lambda line: line.replace(b"rotation", b"x"))),
    ),
    Fault(
        "record-damaged",
        "a record that was edited",
        files=_in_record(lambda files: files.update({f"{RECORD}/{MACHINE}": b"{}"})),
        has_record=True,
    ),
    Fault(
        "record-damaged",
        "a file gone from a record",
        files=_in_record(lambda files: files.pop(f"{RECORD}/{PARTS}")),
        has_record=True,
    ),
)
