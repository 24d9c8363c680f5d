"""Logs of repeated measurements: CSV files whose columns are recognised by name. Needs NumPy.

Nothing is guessed: a length or a time without a unit is asked for.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path as FilePath
from typing import NamedTuple

import numpy as np

from jobcheck.findings import CallRefused
from jobcheck.text import LARGEST_FILE, NotUnderstood, Text
from jobcheck.trade.series import Series
from jobcheck.trade.units import MM_PER_UNIT

SECONDS: Mapping[str, float] = {"us": 1e-6, "ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0}
"""Seconds of each unit of time."""

_GRAMS = {"mg": 1e-3, "g": 1.0}
_DEGREES = {"deg": 1.0}
_KELVINS = {"c": 1.0, "degc": 1.0, "celsius": 1.0, "k": 1.0}
_LEAST_ROWS = 3
_DELIMITERS = ",;\t"
_LARGEST = 1e9
_UNIT = re.compile(r"[(\[{<]\s*([^)\]}>]*?)\s*[)\]}>]\s*$|[_/ ]([a-zµμ°]+)$")
_WORDS = re.compile(r"[\W_]+")
_SPELLINGS = {
    **{"µm": "um", "μm": "um", "micron": "um", "microns": "um", "mils": "mil", "in": "inch"},
    **{"millimetres": "mm", "millimeters": "mm", "sec": "s", "second": "s", "seconds": "s"},
    **{"minute": "min", "minutes": "min", "hour": "h", "hours": "h", "hr": "h", "°": "deg"},
    **{"degree": "deg", "degrees": "deg", "°c": "c", "millisecond": "ms", "milliseconds": "ms"},
}


class _Kind(NamedTuple):
    """A column: its names, compared without punctuation, and its units with their factors.

    `option` asks for a missing unit; without one the unit may be missing.
    """

    names: tuple[str, ...]
    units: Mapping[str, float]
    option: str = ""


def _of_axis(axis: str, *forms: str) -> tuple[str, ...]:
    return tuple(form.format(axis) for form in forms)


_MEASURED = ("{}", "pos{}", "{}pos", "position{}", "measured{}", "{}measured", "actual{}", "seen{}")
_DEVIATION = ("d{}", "delta{}", "error{}", "{}error", "deviation{}", "{}deviation", "offset{}")
_COMMANDED = ("command{}", "commanded{}", "{}commanded", "target{}", "{}target", "nominal{}")

_KINDS: Mapping[str, _Kind] = {
    "time": _Kind(
        ("time", "t", "timestamp", "datetime", "date", "elapsed", "elapsedtime"),
        SECONDS,
        "--time-unit",
    ),
    "x": _Kind(_of_axis("x", *_MEASURED), MM_PER_UNIT, "--units"),
    "y": _Kind(_of_axis("y", *_MEASURED), MM_PER_UNIT, "--units"),
    "dx": _Kind(_of_axis("x", *_DEVIATION), MM_PER_UNIT, "--units"),
    "dy": _Kind(_of_axis("y", *_DEVIATION), MM_PER_UNIT, "--units"),
    "command_x": _Kind(_of_axis("x", *_COMMANDED), MM_PER_UNIT, "--units"),
    "command_y": _Kind(_of_axis("y", *_COMMANDED), MM_PER_UNIT, "--units"),
    "angle": _Kind(("angle", "spindleangle", "spindle", "rotation"), _DEGREES),
    "temperature": _Kind(("temperature", "temp"), _KELVINS),
    "load": _Kind(("load", "mass", "carried"), _GRAMS),
    "approach_x": _Kind(_of_axis("x", "approach{}", "direction{}", "{}approach"), {}),
    "approach_y": _Kind(_of_axis("y", "approach{}", "direction{}", "{}approach"), {}),
    "approach": _Kind(("approach", "direction"), {}),
    "what": _Kind(("what", "measuredwhat", "mark", "fiducial", "target", "point", "name"), {}),
}
_TEXTS = ("approach_x", "approach_y", "approach", "what")
_BY_NAME = {name: meaning for meaning, kind in _KINDS.items() for name in kind.names}


class Measurements(NamedTuple):
    """A log, in the order of measuring: lengths mm, times s from the first, angles degrees.

    `numbers` are the columns of numbers by meaning, `approach` +1 or -1 by axis (0: not said),
    `what` the thing that each row measured, `lines` the line of each row in the file. Without
    times `numbers` has no `time`. `unused` are columns whose name is unknown.
    """

    file: str
    numbers: Mapping[str, Series]
    approach: Mapping[str, Series]
    what: Sequence[str]
    lines: Sequence[int]
    unused: tuple[str, ...]


def read_measurements(
    file: FilePath, units: str | None = None, time_unit: str | None = None
) -> Measurements:
    """Read a log; `units` is that of lengths, `time_unit` that of times, where no name says it.

    Raises:
        CallRefused: it cannot be read, a column or a unit is missing, or a cell is wrong.
    """
    try:
        if not file.is_file():
            raise CallRefused(f"{file} is not a file.")
        if file.stat().st_size > LARGEST_FILE:
            raise CallRefused(f"{file} is larger than {LARGEST_FILE >> 20} MiB: split it.")
        text = Text(file.read_bytes(), file.name).text
    except OSError as error:
        raise CallRefused(f"{file} cannot be read: {error.strerror}.") from None
    except NotUnderstood as error:
        raise CallRefused(f"{file}:{error.fault.place.line}: {error.fault.message}") from None
    return _Log(str(file), {"--units": units, "--time-unit": time_unit}).read(text)


class _Log:
    """A log that is being read; every refusal names the file, and the line where there is one."""

    def __init__(self, file: str, options: Mapping[str, str | None]) -> None:
        self._file = file
        self._options = options
        self._lines: list[int] = []
        self._has_decimal_comma = False

    def read(self, text: str) -> Measurements:
        first_line = text[: text.find("\n") + 1 or None]
        delimiter = max(_DELIMITERS, key=first_line.count)
        names, cells = self._cells(text, delimiter)
        columns = self._recognised(names)
        found = {meaning: cells[at] for meaning, at in columns.items()}
        self._has_decimal_comma = delimiter != ","
        numbers = {
            meaning: self._numbers(names[at], cells[at]) * self._factor(meaning, names[at])
            for meaning, at in columns.items()
            if meaning not in (*_TEXTS, "time")
        }
        if "time" in columns:
            numbers["time"] = self._times(names[columns["time"]], found["time"])
        return Measurements(
            self._file,
            numbers,
            self._approaches(found),
            [cell.strip() for cell in found.get("what", ())] or [""] * len(self._lines),
            self._lines,
            tuple(name for at, name in enumerate(names) if at not in columns.values()),
        )

    def _refused(self, row: int, says: str) -> CallRefused:
        return CallRefused(f"{self._file}:{self._lines[row]}: {says}")

    def _cells(self, text: str, delimiter: str) -> tuple[list[str], list[tuple[str, ...]]]:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        rows: list[list[str]] = []
        try:
            names = [name.strip() for name in next(reader, [])]
            for row in reader:
                if row:
                    rows.append(row)
                    self._lines.append(reader.line_num)
        except csv.Error as error:
            raise CallRefused(f"{self._file}:{reader.line_num}: {error}.") from None
        if set(map(len, rows)) - {len(names)}:
            at, row = next((at, row) for at, row in enumerate(rows) if len(row) != len(names))
            cells = f"{len(row)} cells, but the first line names {len(names)} columns."
            raise self._refused(at, cells)
        if len(rows) < _LEAST_ROWS:
            raise CallRefused(
                f"{self._file} has {len(rows)} rows of measurements; {_LEAST_ROWS} are the least."
            )
        return names, list(zip(*rows, strict=True))

    def _recognised(self, names: list[str]) -> dict[str, int]:
        """Return the position of each column by its meaning."""
        columns: dict[str, int] = {}
        for at, name in enumerate(names):
            meaning = _BY_NAME.get(_key(name))
            if meaning in columns:
                raise CallRefused(
                    f"{self._file}: columns {names[columns[meaning]]} and {name} both give "
                    f"{meaning}. Rename one of them."
                )
            if meaning is not None:
                columns[meaning] = at
        if not {"x", "y", "dx", "dy"} & columns.keys():
            raise CallRefused(
                f"{self._file} has no column x or y. Its first line names: {', '.join(names)}. "
                "Name the measured columns x_mm and y_mm, deviations dx_mm and dy_mm."
            )
        for axis in "xy":
            if {axis, f"d{axis}"} <= columns.keys():
                both = f"{names[columns[axis]]} and {names[columns[f'd{axis}']]}"
                raise CallRefused(
                    f"{self._file} has two measurements of {axis}: {both}. Remove one of them."
                )
        return columns

    def _factor(self, meaning: str, name: str) -> float:
        """Return what a number of a column is multiplied by."""
        kind, unit = _KINDS[meaning], _unit(name)
        if unit is None:
            unit = self._options.get(kind.option)
        if unit is not None and unit in kind.units:
            return kind.units[unit]
        if unit is None and not kind.option:
            return 1.0
        known = ", ".join(kind.units)
        if unit is None:
            raise CallRefused(
                f"{self._file}: the unit of {name} is unknown. Give it with {kind.option} "
                f"({known}), or in the column's name, for example {name}_{next(iter(kind.units))}."
            )
        raise CallRefused(f"{self._file}: {name} has the unit {unit}; known units: {known}.")

    def _numbers(self, name: str, cells: Sequence[str]) -> Series:
        if self._has_decimal_comma:
            cells = [cell.replace(",", ".") for cell in cells]
        try:
            values = np.array(list(map(float, cells)))
        except ValueError:
            at = next(at for at, cell in enumerate(cells) if not _is_number(cell))
            says = (
                f"is {cells[at].strip()[:40]}, not a number." if cells[at].strip() else "is empty."
            )
            raise self._refused(at, f"{name} {says}") from None
        wrong = ~(np.abs(values) <= _LARGEST)
        if wrong.any():
            at = int(np.argmax(wrong))
            raise self._refused(at, f"{name} is {cells[at].strip()[:40]}, beyond {_LARGEST:g}.")
        return values

    def _times(self, name: str, cells: Sequence[str]) -> Series:
        """Return seconds from the first row; they must not go back."""
        if _is_number(cells[0].replace(",", ".")):
            times = self._numbers(name, cells) * self._factor("time", name)
        else:
            times = self._dates(name, cells)
        back = np.flatnonzero(np.diff(times) < 0)
        if len(back):
            at = int(back[0]) + 1
            raise self._refused(
                at,
                f"{name} goes back from {cells[at - 1].strip()} to {cells[at].strip()}. Sort the "
                "rows by time, or split the file.",
            )
        if times[0] == times[-1]:
            raise CallRefused(f"{self._file}: {name} is {cells[0].strip()} in every row.")
        return np.asarray(times - times[0])

    def _dates(self, name: str, cells: Sequence[str]) -> Series:
        moments = []
        for at, cell in enumerate(cells):
            try:
                moments.append(datetime.fromisoformat(cell.strip()))
            except ValueError:
                says = f"{name} is {cell.strip()[:40]}; write it as 2026-11-25T14:03:20."
                raise self._refused(at, says) from None
        try:
            return np.array([(moment - moments[0]).total_seconds() for moment in moments])
        except TypeError:
            raise CallRefused(
                f"{self._file}: some times of {name} have a time zone and some have not."
            ) from None

    def _approaches(self, found: Mapping[str, Sequence[str]]) -> dict[str, Series]:
        """Return the direction of the last move by axis: 1, -1, or 0 where it is not said."""
        approaches = {}
        for axis in "xy":
            cells = found.get(f"approach_{axis}")
            if cells is not None:
                signs = [self._sign(at, cell, axis) for at, cell in enumerate(cells)]
                approaches[axis] = np.array(signs)
            elif "approach" in found:
                signs = [self._sign_of_axis(at, c, axis) for at, c in enumerate(found["approach"])]
                if any(signs):
                    approaches[axis] = np.array(signs)
        return approaches

    def _sign(self, at: int, cell: str, axis: str) -> float:
        word = cell.strip().lower().replace(axis, "")
        if word in _SIGNS:
            return _SIGNS[word]
        raise self._refused(at, f"approach {cell.strip()[:40]} is not + or -.")

    def _sign_of_axis(self, at: int, cell: str, axis: str) -> float:
        words = re.findall(r"[+-][xy]", cell.lower())
        if "".join(words) != re.sub(r"[\s,/]", "", cell.lower()):
            raise self._refused(at, f"approach {cell.strip()[:40]} is not +x, -x, +y or -y.")
        return next((1.0 if word[0] == "+" else -1.0 for word in words if word[1] == axis), 0.0)


_SIGNS = {"+": 1.0, "+1": 1.0, "1": 1.0, "up": 1.0, "-": -1.0, "-1": -1.0, "down": -1.0, "": 0.0}


def _key(name: str) -> str:
    """The name of a column without its unit and punctuation."""
    lowered = name.lower()
    return _WORDS.sub("", lowered[: _unit_at(lowered)])


def _unit_at(name: str) -> int:
    found = _UNIT.search(name)
    if found is None or (found[2] and _SPELLINGS.get(found[2], found[2]) not in _UNITS):
        return len(name)
    return found.start()


def _unit(name: str) -> str | None:
    lowered = name.lower()
    if _unit_at(lowered) == len(lowered):
        return None
    found = _UNIT.search(lowered)
    word = (found[1] or found[2] or "") if found else ""
    return _SPELLINGS.get(word, word)


_UNITS = frozenset(unit for kind in _KINDS.values() for unit in kind.units)


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True
