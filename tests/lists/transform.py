"""One true board written as lists of every shape, with what makes some of them unreadable.

`python -m tests.lists.transform --cases 20000 --seed 1` tries many; a case that fails is told by
its number.
"""

from __future__ import annotations

import argparse
import csv
import io
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any, Literal

from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.text import NotUnderstood
from tests.support.remedies import in_words

Row = dict[str, Any]
UNIT_MM = {"mm": 1.0, "mil": 0.0254, "inch": 25.4, "um": 0.001}
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "aligned": "  "}
NAMES = {
    "reference": ("reference", "Ref", "RefDes", "Designator", "REFERENCE DESIGNATOR", "ref."),
    "part": ("part", "Part Name", "PART"),
    "x": ("x", "X", "PosX", "Mid X", "Center-X", "pos_x", "X-Position", "Centroid X"),
    "y": ("y", "Y", "PosY", "Mid Y", "Center-Y", "pos_y", "Y-Position", "Centroid Y"),
    "rotation": ("rotation", "Rot", "Angle", "ROT.", "Orientation"),
    "side": ("side", "Layer", "Board Side", "Top/Bottom", "TB"),
}
UNKNOWN_NAMES = ("Drehung", "Lage", "Achse 1", "Bemerkung", "Nr", "Name", "")
EXTRA = {
    "Height": lambda draw: f"{draw.uniform(0.2, 5):.2f}",
    "Checked": lambda draw: draw.choice(("yes", "", "ja")),
    "Remark": lambda draw: draw.choice(("", "see; drawing", 'the "big" one', "a, b", "# 5")),
    "Net count": lambda draw: str(draw.randint(1, 9)),
}
SIDES = (
    ("top", "bottom"),
    ("T", "B"),
    ("Front", "Back"),
    ("F.Cu", "B.Cu"),
    ("TopLayer", "BottomLayer"),
    ("Component Side", "Solder Side"),
)
TITLES = ("Soil logger, revision C", "Bench 2: placements", "printed 2026-11-25", "1;2;3", "a,b,c")


@dataclass
class Written:
    """A list as it was written: the bytes, what is declared of it, what it truly says.

    `doubts` say why it may be refused; without any it must be read.
    """

    data: bytes
    options: ListOptions
    truth: dict[str, Row]
    doubts: list[str] = field(default_factory=list)


@dataclass
class _Style:
    draw: Random
    delimiter: str
    decimal: str = "."
    unit: str = "mm"
    unit_stands: str = "declared"
    digits: int = 4
    doubts: list[str] = field(default_factory=list)

    def length(self, value_mm: float) -> str:
        text = f"{value_mm / UNIT_MM[self.unit]:.{self.digits}f}"
        if self.draw.random() < 0.3 and self.digits > 3:
            text = text.rstrip("0").rstrip(".") if "." in text else text
        text = text.replace(".", self.decimal)
        return text + self.unit if self.unit_stands == "cells" else text

    def angle(self, value: float) -> str:
        text = f"{value:g}" if self.draw.random() < 0.7 else f"{value:.2f}"
        return text.replace(".", self.decimal)


def board(draw: Random) -> dict[str, Row]:
    """A board of a few placements at places that every unit writes without a loss."""
    rows: dict[str, Row] = {}
    for number in range(1, draw.randint(2, 9)):
        letter = draw.choice("RCDUQL")
        rows[f"{letter}{number}"] = {
            "part": draw.choice(("10k-0603", "cap 100n", "diode, fast", 'the 5" one', "soic-8")),
            "x": round(draw.randint(1, 9000) * 0.0127, 6),
            "y": round(draw.randint(1, 9000) * 0.0127, 6),
            "rotation": draw.choice((0, 90, 180, 270, -90, 450, 45, 0.5, 359.75)),
            "side": draw.choice(("top", "bottom")),
        }
    return rows


def write(draw: Random) -> Written:
    """Write a board in a drawn style."""
    truth = board(draw)
    style = _style(draw)
    columns = ["reference", "part", "x", "y", "rotation", "side"]
    if draw.random() < 0.2:
        columns.remove("part")
        truth = {name: {k: v for k, v in row.items() if k != "part"} for name, row in truth.items()}
    names, declared = _names(draw, style, columns)
    extra = draw.sample(list(EXTRA), draw.choice((0, 0, 1, 2)))
    order = [*columns, *extra]
    if draw.random() < 0.5:
        draw.shuffle(order)
    words = dict(zip(("top", "bottom"), draw.choice(SIDES), strict=True))
    table = [[names.get(column, column) for column in order]]
    for reference, row in truth.items():
        cells = {
            "reference": reference,
            "part": str(row.get("part", "")),
            "x": style.length(row["x"]),
            "y": style.length(row["y"]),
            "rotation": style.angle(row["rotation"]),
            "side": words[row["side"]],
        }
        table.append([cells[c] if c in cells else EXTRA[c](draw) for c in order])
    options = ListOptions(
        columns=declared,
        units=style.unit if style.unit_stands == "declared" else None,
        decimal=style.decimal if draw.random() < 0.3 else None,
        encoding=None,
    )
    return _assembled(draw, style, table, options, truth)


def _style(draw: Random) -> _Style:
    style = _Style(draw, draw.choice(list(DELIMITERS)))
    style.decimal = draw.choice((".", ".", ","))
    style.unit = draw.choice(list(UNIT_MM))
    style.unit_stands = draw.choice(("declared", "names", "cells", "title", "nowhere"))
    style.digits = {"mm": 4, "mil": 1, "inch": 6, "um": 1}[style.unit]
    if style.unit_stands == "nowhere":
        style.doubts.append("no unit")
    return style


def _names(
    draw: Random, style: _Style, columns: list[str]
) -> tuple[dict[str, str], dict[str, str]]:
    """Draw a name for each column, and declare those that nobody could recognise."""
    names = {column: draw.choice(NAMES[column]) for column in columns}
    declared = {}
    for column in columns:
        if draw.random() < 0.06:
            names[column] = draw.choice(UNKNOWN_NAMES)
            if names[column] and draw.random() < 0.6:
                declared[column] = names[column]
            else:
                style.doubts.append(f"{column} under an unknown name")
    if len({name.lower() for name in names.values()}) < len(names):
        style.doubts.append("two columns of one name")
    if style.unit_stands == "names":
        for axis in ("x", "y"):
            brackets = draw.choice((" (%s)", "[%s]", " %s", "_%s", " [%s]"))
            names[axis] += brackets % style.unit
            declared = {k: names[k] if k == axis else v for k, v in declared.items()}
    return names, declared


def _assembled(
    draw: Random,
    style: _Style,
    table: list[list[str]],
    options: ListOptions,
    truth: dict[str, Row],
) -> Written:
    is_quoted = draw.random() < 0.5
    lines = (
        _aligned(draw, table)
        if style.delimiter == "aligned"
        else _parted(DELIMITERS[style.delimiter], table, is_quoted)
    )
    if not is_quoted and draw.random() < 0.15:
        _damage(draw, style, lines)
    before = draw.sample(TITLES, draw.choice((0, 0, 1, 3)))
    if style.unit_stands == "title":
        before.append(
            draw.choice(("Units: %s", "## Unit = %s, Angle = deg", "# units used: %s")) % style.unit
        )
    before += [""] * draw.choice((0, 0, 1))
    after = draw.choice(([], [], ["", "Total: 5"], ["# end"], ["", ""]))
    whole = draw.choice(("\n", "\n", "\r\n", "\r")).join([*before, *lines, *after])
    whole += draw.choice(("\n", "\n", "")) if not after else ""
    data = whole.encode("utf-8-sig" if draw.random() < 0.2 else "utf-8")
    return Written(data, options, truth, style.doubts)


def _parted(delimiter: str, table: list[list[str]], is_quoted: bool) -> list[str]:
    text = io.StringIO()
    quoting: Literal[0, 1] = csv.QUOTE_ALL if is_quoted else csv.QUOTE_MINIMAL
    csv.writer(text, delimiter=delimiter, quoting=quoting, lineterminator="\n").writerows(table)
    return text.getvalue().splitlines()


def _aligned(draw: Random, table: list[list[str]]) -> list[str]:
    """Pad each column to its widest cell, to the left or to the right."""
    columns = list(zip(*table, strict=True))
    widths = [max(map(len, column)) + draw.randint(0, 4) for column in columns]
    sides = [draw.choice("<<>") for _ in columns]
    return [
        "  ".join(
            f"{cell:{side}{width}}" for cell, side, width in zip(row, sides, widths, strict=True)
        ).rstrip()
        for row in table
    ]


def _damage(draw: Random, style: _Style, lines: list[str]) -> None:
    """Take quotes away, cut a row off, lose a delimiter: what files go through."""
    at = draw.randrange(1, len(lines))
    if style.delimiter == "aligned":
        gaps = [found.start() for found in re.finditer("  +", lines[at])]
        lines[at] = lines[at][: draw.choice(gaps or [1])].rstrip() or "-"
        style.doubts.append("row cut off")
        return
    kind = draw.randrange(4)
    if kind == 0 and '5"' not in "".join(lines):
        lines[1:] = [line.replace('"', "") for line in lines[1:]]
        style.doubts.append("quotes lost")
    elif kind == 1:
        last = lines[at].rfind(DELIMITERS[style.delimiter])
        lines[at] = lines[at][: draw.randint(1, max(last, 1))]
        style.doubts.append("row cut off")
    elif kind == 2 and '"' not in lines[at]:
        lines[at] = lines[at].replace(DELIMITERS[style.delimiter], "", 1)
        style.doubts.append("delimiter lost")
    else:
        lines[at] = lines[at].replace(DELIMITERS[style.delimiter], DELIMITERS[style.delimiter] * 2)
        style.doubts.append("delimiters doubled")


class Misread(Exception):
    """A list was read as something that it does not say, or refused without a reason."""


def check(written: Written) -> str:
    """Read a list; return how it went.

    Raises:
        Misread: a value is another than the true one, a row is missing, or nothing was in doubt
            and it was refused.
    """
    try:
        read = read_placement_list(written.data, "list", written.options)
    except NotUnderstood as error:
        fault = error.fault
        if not written.doubts and not _may_be_thousands(fault.message):
            raise Misread(f"refused: {fault.message}") from None
        if not (fault.message and in_words(fault.remedy) and fault.place.line >= 1):
            raise Misread("refused without a reason") from None
        return "refused"
    for reference, row in written.truth.items():
        got = read.rows.get(reference)
        if got is None:
            raise Misread(f"{reference} is missing; doubts: {written.doubts}")
        _compare(reference, row, got, written)
    extra = set(read.rows) - set(written.truth)
    if extra:
        raise Misread(f"rows that are none: {extra}")
    return "read"


def _may_be_thousands(says: str) -> bool:
    return "thousands separator" in says


def _compare(reference: str, row: Row, got: Row, written: Written) -> None:
    for key, value in row.items():
        have = got.get(key)
        if key in ("x", "y"):
            is_same = isinstance(have, (int, float)) and abs(have - value) < 2e-4
        else:
            is_same = have == value
        if not is_same and not _is_absent_openly(key, got, written):
            raise Misread(f"{reference}.{key} is {have}, truly {value}; {written.doubts}")


def _is_absent_openly(key: str, got: Row, written: Written) -> bool:
    """A value that is not there at all, where the file itself does not say it any more.

    A part under an unknown name is nowhere; so is a nameless column that was cut off as well.
    """
    is_nameless = f"{key} under an unknown name" in written.doubts
    return key not in got and is_nameless and (key == "part" or "row cut off" in written.doubts)


def run(cases: int, seed: int, first: int = 0) -> tuple[Counter[str], list[str]]:
    """Try lists by number; return how many were read and refused, and what failed."""
    tally: Counter[str] = Counter()
    failures = []
    for number in range(first, first + cases):
        written = write(Random(f"{seed}/{number}"))
        try:
            tally[check(written)] += 1
        except Misread as error:
            failures.append(f"case {number}: {error}\n{written.data!r}\n{written.options}")
    return tally, failures


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.lists.transform", description=__doc__)
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args()
    tally, failures = run(given.cases, given.seed, given.first)
    print(dict(tally), f"{len(failures)} failed")
    print("\n\n".join(failures[:5]))


Check = Callable[[Written], str]

if __name__ == "__main__":
    main()
