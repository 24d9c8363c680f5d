"""Faults of the shop as a whole: unreadable files, losses since the record, kinds of change."""

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


def _lost(words: str, *edits: tuple[str, object]) -> Fault:
    """A loss of the upward camera's settings, found against the record."""

    def lose(s: Scene) -> None:
        for path, value in edits:
            if value is None:
                s.drop(f"{s.up}.{path}")
            else:
                s.put(f"{s.up}.{path}", value)

    return Fault("camera-settings-lost", words, lose, compares=True)


def _default(s: Scene, control: str) -> None:
    s.put(f"{s.up}.controls.{control}", s.get(f"{s.up}.reported.{control}.default"))


def _diff(kind: str, words: str, edit) -> Fault:
    return Fault(kind, words, edit, is_change=True)


def _rename(s: Scene) -> None:
    """A feeder under another name, all else as it was."""
    path = s.chip().path
    s.put("feeders.f99", s.get(path))
    s.drop(path)


def _exchange(s: Scene) -> None:
    one, other = s.chip(), s.diode()
    s.swap(one.path, other.path)


FAULTS = (
    Fault(
        "derived-without-value",
        "a source of a value that is not there",
        lambda s: s.put(f"{s.diode().outline_path}.derived", {"terminal_mm": "a drawing"}),
    ),
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
    # since the record, and in diff
    _lost("a gain lost", ("controls.gain", None)),
    _lost("an exposure lost", ("controls.exposure_time_absolute", None)),
    _lost("automatic exposure came back", ("controls.auto_exposure", 3)),
    _lost("automatic white balance came back", ("controls.white_balance_automatic", 1)),
    _lost("all controls lost", ("controls", None)),
    _lost("a light lost", ("light", None)),
    _lost("a pixel format lost", ("pixel_format", None)),
    Fault(
        "camera-settings-lost",
        "an exposure back at its default",
        lambda s: _default(s, "exposure_time_absolute"),
        compares=True,
    ),
    Fault("camera-settings-lost", "a camera lost", lambda s: s.drop(s.up), compares=True),
    Fault(
        "recorded-value-missing",
        "a recognition's threshold lost",
        lambda s: s.drop(f"recognitions.{min(s.shop.recognitions)}.threshold_grey"),
        compares=True,
    ),
    Fault("recorded-value-missing", "speeds lost", lambda s: s.drop("motion"), compares=True),
    Fault(
        "recorded-value-missing",
        "what the spindle carries lost",
        lambda s: s.drop(f"spindles.{min(s.shop.machine.spindles)}.carries"),
        compares=True,
    ),
    Fault(
        "file-no-longer-named",
        "the jobs' folder gone",
        lambda s: s.drop(f"jobs.{s.job_name}"),
        compares=True,
    ),
    Fault(
        "file-no-longer-named",
        "the feeders' file no longer named",
        lambda s: s.put("shop.feeders", []),
        compares=True,
    ),
    Fault(
        "date-implausible",
        "a pick measured in a year to come",
        lambda s: s.put(f"{s.chip().path}.pick.measured", "2031-03-01"),
    ),
    Fault(
        "date-implausible",
        "a day that went back",
        lambda s: s.change("cameras.head.calibrated.date", lambda day: f"2026{str(day)[4:-2]}01"),
        compares=True,
    ),
    Fault(
        "silencing-faulty",
        "lost camera settings disabled",
        lambda s: s.put("shop.disabled", {"camera-settings-lost": "the camera is fine"}),
    ),
    Fault(
        "silencing-faulty",
        "a rule disabled under its old name",
        lambda s: s.put("shop.disabled", {"copies-apart": "two jigs"}),
    ),
    Fault(
        "controller-differs",
        "the controller's own file says another gain",
        controller=lambda s: {("cameras", "up", "controls", "gain"): 99},
    ),
    _diff("lost", "a control lost", lambda s: s.drop(f"{s.up}.controls.gain")),
    _diff("fell back", "a control at its default", lambda s: _default(s, "gain")),
    _diff(
        "automatic on",
        "an automatic switched on",
        lambda s: s.put(f"{s.up}.controls.auto_exposure", 0),
    ),
    _diff("moved", "a feeder in another slot", lambda s: s.put(f"{s.chip().path}.slot", 9)),
    _diff("moved", "a feeder under another name", _rename),
    _diff("exchanged", "two feeders exchanged", _exchange),
    _diff(
        "half a turn",
        "a pick turned by half",
        lambda s: s.change(f"{s.chip().path}.pick.rotation", lambda r: (r + 360) % 360 - 180),
    ),
    _diff(
        "a quarter turn",
        "a placement turned by a quarter",
        lambda s: s.add(f"{s.placed(s.chip().references[0])}.rotation", 90),
    ),
    _diff("mirrored", "a picture flipped", lambda s: s.put(f"{s.up}.image.up", "+y")),
    _diff(
        "mirrored",
        "a placement on the other side of its board",
        lambda s: s.change(
            f"{s.placed(s.chip().references[0])}.x", lambda x: round(s.board[0] - x, 4)
        ),
    ),
    _diff(
        "scaled",
        "a height in inches",
        lambda s: s.change(f"{s.large().outline_path}.height_mm", lambda h: round(h / 25.4, 5)),
    ),
    _diff(
        "changed",
        "a threshold tuned",
        lambda s: s.add(f"{s.recognition(s.chip())}.threshold_grey", 3),
    ),
    _diff(
        "added",
        "an obstacle added",
        lambda s: s.put("obstacles.post", {"x": [1, 2], "y": [1, 2], "top_z": -9}),
    ),
    _diff("removed", "a feeder taken away", lambda s: s.drop(s.chip().path)),
)
