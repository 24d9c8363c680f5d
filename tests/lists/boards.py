"""Four invented boards from export to a lint without errors: questions asked, lines to type.

`python -m tests.lists.boards` prints the table; `--program PATH` measures another installation.
The board is imported into the starter shop with the commands that are proposed. Then every error
of lint is met with the value that its key needs, one line each, until none is left.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

from tests.support.edited import STARTER

SIZES = (70, 140, 450, 850)
MOST_ROUNDS = 40

_KINDS = (
    ("R", ("10k", "4k7", "1k", "100R", "22k"), ("R_0603_1608Metric", "R_0402_1005Metric"), 30),
    ("C", ("100n", "1u", "10u", "22p"), ("C_0603_1608Metric", "C_0805_2012Metric"), 30),
    ("C", ("100u", "220u"), ("CP_Elec_6.3x5.4",), 3),
    ("D", ("SF14", "SZ56"), ("D_SOD-123", "D_SMA"), 6),
    ("LED", ("green", "red"), ("LED_0603_1608Metric",), 4),
    ("L", ("10u", "4u7"), ("L_1210_3225Metric",), 3),
    ("Q", ("SN-7", "SP-7"), ("SOT-23",), 6),
    ("U", ("TM-1", "OA-2"), ("SOIC-8_3.9x4.9mm_P1.27mm", "SOT-23-5"), 6),
    ("U", ("SL-32",), ("QFN-32-1EP_5x5mm_P0.5mm_EP3.1x3.1mm", "LQFP-48_7x7mm_P0.5mm"), 2),
    ("Y", ("16 MHz",), ("Crystal_SMD_3225-4Pin_3.2x2.5mm",), 2),
    ("J", ("plug",), ("PinHeader_1x04_P2.54mm_Vertical",), 3),
    ("TP", ("TestPoint",), ("TestPoint_Pad_D1.0mm",), 5),
)
_SHAPES = {
    70: {"delimiter": ",", "unit": "mm", "pads": False},
    140: {"delimiter": ";", "unit": "mm", "pads": True},
    450: {"delimiter": ",", "unit": "mil", "pads": True},
    850: {"delimiter": "\t", "unit": "mm", "pads": True},
}
_PAD_1 = {"R": (-0.8, 0), "C": (-0.8, 0), "D": (-1.6, 0), "LED": (-0.8, 0), "L": (-1.4, 0)}


class Walk(NamedTuple):
    """How one board was brought in: commands, questions, typed lines, what lint says last."""

    placements: int
    questions: int
    commands: int
    typed: int
    last: str


def export(placements: int) -> bytes:
    """The list of an invented board, as a design program writes it."""
    draw = Random(placements)
    shape = _SHAPES[placements]
    scale = 1 if shape["unit"] == "mm" else 1 / 0.0254
    text = io.StringIO()
    writer = csv.writer(text, delimiter=str(shape["delimiter"]), lineterminator="\r\n")
    unit = f" ({shape['unit']})"
    pads = [f"Pad X{unit}", f"Pad Y{unit}"] if shape["pads"] else []
    head = ["Designator", "Val", "Package", f"Mid X{unit}", f"Mid Y{unit}", "Rotation", "Layer"]
    writer.writerow([*head, *pads])
    numbers: dict[str, int] = {}
    kinds = draw.choices(_KINDS, weights=[kind[3] for kind in _KINDS], k=placements)
    places, width, height = _places([kind[0] for kind in kinds])
    for (letter, values, footprints, _), (x, y) in zip(kinds, places, strict=True):
        numbers[letter] = numbers.get(letter, 0) + 1
        turn = draw.choice((0, 90, 180, 270))
        dx, dy = _PAD_1.get(letter, (-2, 1.8))
        for _ in range(turn // 90):
            dx, dy = -dy, dx
        at = [f"{value * scale:.4f}" for value in (x, y)]
        pad = [f"{value * scale:.4f}" for value in (x + dx, y + dy)] if shape["pads"] else []
        name, package = draw.choice(values), draw.choice(footprints)
        writer.writerow([f"{letter}{numbers[letter]}", name, package, *at, turn, "Top", *pad])
    for number, corner in enumerate(((3, 3), (width, height)), 1):
        at = [f"{value * scale:.4f}" for value in corner]
        row = [f"FID{number}", "Fiducial", "Fiducial_1mm_Mask2mm", *at, 0, "Top"]
        writer.writerow([*row, *([""] * len(pads))])
    return text.getvalue().encode()


def _places(letters: list[str]) -> tuple[list[tuple[float, float]], float, float]:
    """Rows of cells for small parts, and above them rows of wider cells for the others."""
    width = 5.0 * round(len(letters) ** 0.5 * 1.7)
    x, y, pitch = 8.0, 8.0, 4.5
    found: dict[int, tuple[float, float]] = {}
    for is_large in (False, True):
        if is_large:
            x, y, pitch = 8.0, y + 9.0, 10.5
        for at, letter in enumerate(letters):
            if (letter in ("U", "J", "Y", "C")) == is_large:
                found[at] = (x, y)
                x, y = (x + pitch, y) if x + pitch < width else (8.0, y + pitch)
    return [found[at] for at in range(len(letters))], width, y + 8


def walk(placements: int, folder: Path, program: str) -> Walk:
    """Import a board with the proposed commands, then type what lint's errors ask for."""
    shop = folder / "shop"
    shutil.copytree(STARTER, shop)
    file = folder / "board.csv"
    file.write_bytes(export(placements))
    asked = ["import", str(file), "--job", "board", "--shop", str(shop)]
    questions = commands = 0
    while True:
        commands += 1
        said = _run(program, folder, *asked)
        proposed = re.findall(r"^  .*\bjobcheck (import .*--job board.*)$", said, re.M)
        writing = [line for line in proposed if "--write" in line]
        if not proposed or commands > 5:
            return Walk(placements, questions, commands, 0, said[-300:])
        asked = shlex.split((writing or proposed)[-1])
        if "Written" in said or writing:
            commands += 1
            _run(program, folder, *asked)
            break
        questions += 1
    typed, last = _type(shop, program)
    return Walk(placements, questions, commands, typed, last)


def _run(program: str, folder: Path, *arguments: str) -> str:
    words = [*shlex.split(program), *arguments]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    return done.stdout + done.stderr


def _type(shop: Path, program: str) -> tuple[int, str]:
    """Answer lint's errors with lines until there is none; return how many and what is left."""
    typed = 0
    for _ in range(MOST_ROUNDS):
        out = json.loads(_run(program, shop, "lint", "--format", "json"))["shops"][0]
        errors = [f for f in out["findings"] if f["level"] == "error"]
        lines = {line for error in errors for line in _lines(error)}
        if not lines:
            break
        typed += len(lines)
        for path, value in sorted(lines):
            _write(shop, path.split("."), json.loads(value))
    not_checked = len(out.get("not_checked", ()))
    return typed, f"{len(errors)} errors, {not_checked} not checked"


_ANSWERS: dict[str, Any] = {
    "body_mm": [5.0, 5.0],
    "height_mm": 1.0,
    "terminals": 2,
    "polarised": True,
    "outline": "chip-0603",
    "side": "top",
    "board": {"size_mm": [260, 240]},
    "size_mm": [260, 240],
    "seat": {"x": 50, "y": 60, "z": -10},
}


def _lines(error: dict[str, Any]) -> list[tuple[str, str]]:
    """The lines that one error asks for: path and value; several alike each count."""
    places = [error["path"], *(related["path"] for related in error.get("related", ()))]
    if error["rule"] == "name-unknown" and "outline" in error["message"]:
        name = re.search(r"names? outline (\S+),", error["message"].replace("\n", " "))
        fields = ("body_mm", "terminals", "polarised") if name else ()
        return [(f"outlines.{name[1]}.{f}", json.dumps(_ANSWERS[f])) for f in fields if name]
    found = []
    for path in places:
        key = path.rpartition(".")[2]
        if error["rule"] == "key-missing" and key in _ANSWERS:
            found.append((path, json.dumps(_ANSWERS[key])))
    return found


def _write(shop: Path, path: list[str], value: Any) -> None:
    """Write a value into the description, the way a person would: one line."""
    from ruamel.yaml import YAML

    yaml = YAML()
    file = shop / ("jobs/board/job.yaml" if path[0] == "jobs" else "parts.yaml")
    inside = path[2:] if path[0] == "jobs" else path
    data = yaml.load(file.read_text())
    at = data
    for key in inside[:-1]:
        at = at.setdefault(key, {})
    at[inside[-1]] = value
    with file.open("w") as stream:
        yaml.dump(data, stream)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.lists.boards", description=__doc__)
    parser.add_argument("--program", default=f"{sys.executable} -m jobcheck")
    given = parser.parse_args()
    print("placements  questions  commands  typed lines  then")
    for size in SIZES:
        with tempfile.TemporaryDirectory() as folder:
            found = walk(size, Path(folder), given.program)
        print(
            f"{found.placements:<12}{found.questions:<11}{found.commands:<10}"
            f"{found.typed:<13}{found.last}"
        )


if __name__ == "__main__":
    main()
