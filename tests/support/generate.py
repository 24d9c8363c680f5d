"""Generated shops: valid, free of findings on the day `AS_OF`, of any size, the same by seed.

`python -m tests.support.generate FOLDER --placements 5000 --inline` writes one.
"""

import argparse
import csv
import io
import pathlib
from collections import Counter
from dataclasses import dataclass
from datetime import date
from random import Random
from typing import Any

from jobcheck.facts.fingerprint import tuning_fingerprint
from jobcheck.known_good.record import About, sum_of, written
from jobcheck.schema.machine import Camera
from jobcheck.schema.parts import Recognition
from tests.support.generate_machine import make_machine
from tests.support.generate_parts import (
    CASES,
    Case,
    make_nozzles,
    make_outlines,
    make_parts,
    make_tape,
)
from tests.support.write_yaml import Style, write_yaml

AS_OF = date(2026, 10, 15)
"""The day on which generated shops have no finding that the calendar brings."""

Document = dict[str, Any]
Rows = list[list[str]]
Documents = dict[str, Document | Rows]
"""Documents by file: plain values for YAML, rows of cells for CSV."""

_SMALL_MM = 3.0
_EDGE_MM = 10.0
_SLOT_STEP_MM = 20.0
_SHIFT = 3500
"""Placements of a run: what such a machine places before paste dries on the stencil."""

_SERVICE_MM = 80.0
"""Room left of the panel for camera, rack and reject bin, and right of it."""


@dataclass(frozen=True)
class Size:
    """How large a shop is: placements a board of each job, kinds of part, jobs.

    `inline` writes placements into the job's document, seven lines each, instead of a CSV list
    with its bill.
    """

    placements: int = 80
    parts: int = 25
    jobs: int = 1
    inline: bool = False


def make_shop(seed: int, size: Size = Size()) -> Documents:
    """Return the documents of one shop."""
    draw = Random(seed)
    cases = _choose_cases(draw, size)
    parts = make_parts(draw, cases, min(size.parts, size.placements))
    cases = [case for case in cases if any(p["outline"] == case.name for p in parts.values())]
    jobs = {
        f"board-{i + 1}": _Board(draw, parts, cases, size, first=i == 0) for i in range(size.jobs)
    }
    width = max(board.extent()[0] for board in jobs.values())
    height = max(board.extent()[1] for board in jobs.values())
    feeders, rows = _make_feeders(draw, parts, cases, _needs(jobs), max(height + 120.0, 340.0))
    slots = max(row["slots"] for row in rows.values())
    width = max(width, slots * _SLOT_STEP_MM)
    machine = make_machine(
        draw, make_nozzles(cases), rows, width + 2 * _SERVICE_MM, max(height + 120.0, 340.0)
    )
    return {
        "shop.yaml": _make_root(draw, size),
        "placer.yaml": machine,
        "parts.yaml": _make_parts_document(draw, cases, parts, machine),
        "feeders.yaml": {"describes": "feeders", "edition": 1, "feeders": feeders},
        **{file: doc for name, board in jobs.items() for file, doc in board.documents(name)},
    }


def write(documents: Documents, style: Style = Style()) -> dict[str, bytes]:  # noqa: B008
    """Return the bytes of each file."""
    return {
        file: write_yaml(document, style) if isinstance(document, dict) else _csv(document)
        for file, document in documents.items()
    }


def make_files(seed: int, size: Size = Size(), style: Style = Style()) -> dict[str, bytes]:  # noqa: B008
    """Return the bytes of each file of one shop."""
    return write(make_shop(seed, size), style)


def with_record(files: dict[str, bytes], label: str = "good") -> dict[str, bytes]:
    """Return the files with a first known-good record of them."""
    about = About(
        number=1,
        date=AS_OF,
        label=label,
        tool="tests",
        sums={name: sum_of(content) for name, content in files.items()},
    )
    kept = {**files, "record.yaml": written(about)}
    return {**files, **{f"known-good/1-{label}/{name}": kept[name] for name in kept}}


def save(files: dict[str, bytes], folder: pathlib.Path) -> None:
    """Write files below a folder."""
    for file, content in files.items():
        target = folder / file
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)


def turn_placements(documents: Documents, count: int) -> None:
    """Turn `count` placements of the first job by 90 degrees, spread over its document."""
    job = documents["jobs/board-1/job.yaml"]
    assert isinstance(job, dict)
    placed = [entry for entry in job["placements"].values() if isinstance(entry, dict)]
    for index in range(count):
        entry = placed[index * len(placed) // count]
        entry["rotation"] = (entry["rotation"] + 90) % 360


def _csv(rows: Rows) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def _choose_cases(draw: Random, size: Size) -> list[Case]:
    """Return the cases in use; a board of thousands has small ones only, to stay a board."""
    fitting = [c for c in CASES if size.placements <= 1000 or max(c.body) <= _SMALL_MM]
    wanted = min(len(fitting), max(1, size.parts // 2))
    chosen = set(draw.sample(range(len(fitting)), wanted))
    return [case for index, case in enumerate(fitting) if index in chosen]


class _Board:
    """One job under construction: a grid of places, each wide enough for the largest case."""

    def __init__(
        self, draw: Random, parts: Document, cases: list[Case], size: Size, first: bool
    ) -> None:
        self.side = draw.choice(["top", "top", "bottom"])
        self.inline = size.inline
        by_name = {case.name: case for case in cases}
        names = list(parts) if first else []
        names += draw.choices(list(parts), k=size.placements - len(names))
        draw.shuffle(names)
        largest = max(max(by_name[parts[name]["outline"]].body) for name in set(names))
        self._lay_out(draw, largest + 2.0, len(names))
        self.placements = self._place(draw, names, parts, by_name)
        self._join_panel(draw, size)

    def _lay_out(self, draw: Random, pitch: float, count: int) -> None:
        self.pitch = pitch
        self.across = max(2, round((count * draw.uniform(1.0, 2.0)) ** 0.5))
        lines = max(2, -(-count // self.across))
        self.size = [
            round(2 * _EDGE_MM + pitch * self.across, 2),
            round(2 * _EDGE_MM + pitch * lines, 2),
        ]

    def _place(
        self, draw: Random, names: list[str], parts: Document, by_name: dict[str, Case]
    ) -> Document:
        numbers: Counter[str] = Counter()
        placements = {}
        for index, name in enumerate(names):
            letter = by_name[parts[name]["outline"]].letter
            numbers[letter] += 1
            placements[f"{letter}{numbers[letter]}"] = {
                "part": name,
                "x": self._coordinate(draw, index % self.across),
                "y": self._coordinate(draw, index // self.across),
                "rotation": draw.choice([0, 90, 180, 270]),
                "side": self.side,
                "fitted": True,
            }
        return placements

    def _coordinate(self, draw: Random, index: int) -> float:
        return round(_EDGE_MM + self.pitch * (index + 0.5) + draw.uniform(-0.3, 0.3), 3)

    def _join_panel(self, draw: Random, size: Size) -> None:
        few = size.placements <= 200
        self.columns, self.rows = (draw.randint(1, 3), draw.randint(1, 3)) if few else (1, 1)
        self.panels = draw.randint(1, 12) if few else 1
        self.rotation = draw.choice([0, 90, 180, 270])
        cells = [f"{c + 1}-{r + 1}" for c in range(self.columns) for r in range(self.rows)]
        self.half_turned = [cell for cell in cells if draw.random() < 0.2]
        self.skip = [cell for cell in cells[1:] if draw.random() < 0.1]
        if self.skip:  # it holds for every panel of a run, and that brings a note
            self.panels = 1
        self.cells = len(cells) - len(self.skip)
        self.panels = min(self.panels, max(1, _SHIFT // (self.cells * size.placements)))
        self.panel_size = [
            round(count * (length + 3.0) - 3.0, 2)
            for count, length in zip((self.columns, self.rows), self.size, strict=True)
        ]

    def extent(self) -> tuple[float, float]:
        """Width and height on the machine."""
        width, height = self.panel_size
        return (width, height) if self.rotation % 180 == 0 else (height, width)

    def documents(self, name: str) -> list[tuple[str, Document | Rows]]:
        folder = f"jobs/{name}"
        job = self._job()
        if self.inline:
            job["placements"].update(self.placements)
            return [(f"{folder}/job.yaml", job)]
        job["placements"]["file"] = "placements.csv"
        job["bill"] = {"file": "bill.csv"}
        columns = ["reference", "part", "x", "y", "rotation", "side"]
        return [
            (f"{folder}/job.yaml", job),
            (f"{folder}/placements.csv", [columns, *self._rows(columns[1:])]),
            (f"{folder}/bill.csv", [columns[:2], *self._rows(columns[1:2])]),
        ]

    def _rows(self, columns: list[str]) -> Rows:
        return [
            [reference, *(str(placement[column]) for column in columns)]
            for reference, placement in self.placements.items()
        ]

    def _job(self) -> Document:
        job: Document = {"describes": "job", "edition": 1, "side": self.side}
        job["board"] = {
            "size_mm": self.size,
            "thickness_mm": 1.6,
            "fiducials": self._fiducials(),
        }
        if self.columns * self.rows > 1:
            job["panel"] = self._panel()
        job["seat"] = self._seat()
        job["placements"] = {"units": "mm", "zero": "A", "bottom": "as-placed"}
        job["run"] = {"panels": self.panels, "paste_um": 120}
        return job

    def _fiducials(self) -> Document:
        """Two marks on a diagonal that a half turn does not map onto each other."""
        width, height = self.size
        return {
            "m1": {"x": 6.5, "y": 6.5, "diameter_mm": 1.0, "clear_mm": 1.0},
            "m2": {
                "x": round(width - 6.5, 2),
                "y": round(height - 9.0, 2),
                "diameter_mm": 1.0,
                "clear_mm": 1.0,
            },
        }

    def _panel(self) -> Document:
        return {
            "columns": self.columns,
            "rows": self.rows,
            "pitch_mm": [round(length + 3.0, 2) for length in self.size],
            "size_mm": self.panel_size,
            "half_turned": self.half_turned,
            "skip": self.skip,
        }

    def _seat(self) -> Document:
        """The corner that the panel turns about, so that it always fills the same room."""
        width, height = self.extent()
        x, y = {0: (0.0, 0.0), 90: (width, 0.0), 180: (width, height), 270: (0.0, height)}[
            self.rotation
        ]
        return {
            "x": round(_SERVICE_MM + x, 2),
            "y": round(60.0 + y, 2),
            "z": -20.0,
            "rotation": self.rotation,
        }


def _needs(jobs: dict[str, _Board]) -> Counter[str]:
    needs: Counter[str] = Counter()
    for board in jobs.values():
        for placement in board.placements.values():
            needs[placement["part"]] += board.cells * board.panels
    return needs


def _make_root(draw: Random, size: Size) -> Document:
    """The root; paste for boards that take longer than a shift is of another kind."""
    paste = {"stencil_life_h": 1000} if size.placements > _SHIFT else {}
    return {
        "describes": "shop",
        "edition": 1,
        "machine": "placer.yaml",
        "parts": ["parts.yaml"],
        "feeders": ["feeders.yaml"],
        "jobs": ["jobs/*/job.yaml"],
        "limits": {"attrition_percent": draw.choice([1, 2, 3]), **paste},
    }


def _make_feeders(
    draw: Random, parts: Document, cases: list[Case], needs: Counter[str], depth: float
) -> tuple[Document, Document]:
    """Return feeders, one a part, and the rows that hold them."""
    by_name = {case.name: case for case in cases}
    slots = -(-len(parts) // 2) + draw.randint(0, 4)
    rows = {"front": _make_row(slots, 8.0, 90), "back": _make_row(slots, depth - 8.0, 270)}
    places = [(row, slot) for row in rows for slot in range(1, slots + 1)]
    places = draw.sample(places, len(parts))
    feeders = {}
    for index, (name, (row, slot)) in enumerate(zip(parts, places, strict=True)):
        tape, attitude = make_tape(draw, by_name[parts[name]["outline"]])
        rotation = 180 - (180 - rows[row]["feed_direction"] - attitude) % 360
        feeders[f"f{index + 1:02}"] = {
            "row": row,
            "slot": slot,
            "part": name,
            "carrier": draw.choice(["tape", "tape", "cut-tape"]),
            "tape": tape,
            "reel": {"lot": f"L{draw.randrange(10**6):06}", "orientation_seen": "2026-10-05"},
            "pick": {**_make_pick(draw, rows[row], slot), "rotation": rotation},
            "remaining": needs[name] + needs[name] // 10 + draw.randint(50, 3000),
        }
    used = {row for row, _ in places}
    return feeders, {row: described for row, described in rows.items() if row in used}


def _make_row(slots: int, y: float, feed_direction: int) -> Document:
    return {
        "slots": slots,
        "first": {"x": _SERVICE_MM, "y": y, "z": -18.0},
        "step": {"x": _SLOT_STEP_MM, "y": 0.0},
        "feed_direction": feed_direction,
    }


def _make_pick(draw: Random, row: Document, slot: int) -> Document:
    """A pick as somebody measured it: near its slot, on a row that is a little out of level."""
    return {
        "x": round(row["first"]["x"] + _SLOT_STEP_MM * (slot - 1) + draw.uniform(-0.1, 0.1), 2),
        "y": round(row["first"]["y"] + draw.uniform(-0.1, 0.1), 2),
        "z": round(row["first"]["z"] + 0.011 * (slot - 1), 3),
    }


def _make_parts_document(
    draw: Random, cases: list[Case], parts: Document, machine: Document
) -> Document:
    up = machine["cameras"]["up"]
    recognitions = {}
    for case in cases:
        recognition = {
            "camera": "up",
            "light_percent": draw.randint(30, 80),
            "threshold_grey": draw.randint(80, 170),
            "expect_mm": list(case.body),
            "tolerance_mm": round(min(0.3, 0.15 * min(case.body)), 3),
        }
        stamp = tuning_fingerprint(
            Camera.model_validate(up), Recognition.model_validate(recognition)
        )
        recognitions[f"see-{case.name}"] = {
            **recognition,
            "tuned": "2026-10-02",
            "tuned_under": stamp,
        }
    return {
        "describes": "parts",
        "edition": 1,
        "outlines": make_outlines(cases, machine["nozzles"]),
        "recognitions": recognitions,
        "parts": parts,
    }


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.support.generate", description=__doc__)
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--placements", type=int, default=Size.placements)
    parser.add_argument("--parts", type=int, default=Size.parts)
    parser.add_argument("--jobs", type=int, default=Size.jobs)
    parser.add_argument("--inline", action="store_true")
    parser.add_argument("--flow", action="store_true", help="small mappings on one line")
    parser.add_argument("--edits", type=int, default=0, help="placements to turn by 90")
    given = parser.parse_args()
    size = Size(given.placements, given.parts, given.jobs, given.inline)
    documents = make_shop(given.seed, size)
    turn_placements(documents, given.edits)
    save(write(documents, Style(flow=float(given.flow))), given.folder)


if __name__ == "__main__":
    main()
