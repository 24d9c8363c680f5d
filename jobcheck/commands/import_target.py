"""The job that takes a list: one that is there, or a new one with what the list proposes."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from jobcheck.commands.import_reading import Request, extent_mm
from jobcheck.findings import CallRefused, command
from jobcheck.sources.lists.canonical import bill_csv, placements_csv
from jobcheck.sources.lists.options import options_of
from jobcheck.sources.lists.parts import Decisions
from jobcheck.sources.lists.reading import List
from jobcheck.sources.shop_reader import Reading
from jobcheck.sources.state.writing import Rewrite
from jobcheck.wording import number

Rows = Mapping[str, Mapping[str, Any]]

_KEY = re.compile(r"[A-Za-z0-9_-]{1,100}")
_CONVENTIONS = ("zero", "bottom", "bottom_positions")
_DIAMETER = re.compile(r"(?<![\d.])([123](?:\.\d+)?)\s*mm", re.I)
BY_EXTENTS = "extents of the list"


@dataclass
class Target:
    """The job that takes the list, there already or new."""

    reading: Reading
    request: Request
    conventions: Mapping[str, str]

    def __post_init__(self) -> None:
        assert self.reading.shop is not None
        self.shop = self.reading.shop
        if not _KEY.fullmatch(self.request.job):
            raise CallRefused(
                f"{self.request.job} cannot name a job: use letters, digits, _ and - only."
            )
        jobs: Any = self.shop.plain.get("jobs", {})
        self.block: Any = jobs.get(self.request.job)
        self.is_new = self.block is None
        self.job_file = self._new_file() if self.is_new else self._known_file()
        self.folder = self.job_file.rpartition("/")[0]
        self.list_file = self._beside("placements.csv" if self.is_new else self._list_name())

    def _beside(self, name: str) -> str:
        return f"{self.folder}/{name}" if self.folder else name

    def _new_file(self) -> str:
        pattern = next((name for name in self.shop.root.jobs if "*" in name), None)
        if pattern is None:
            known = ", ".join(self.shop.jobs) or "none"
            raise CallRefused(
                f"Job {self.request.job} does not exist (jobs: {known}), and shop.yaml names its "
                "jobs one by one.\nAdd jobs: [jobs/*/job.yaml] to it for new ones."
            )
        file = pattern.replace("*", self.request.job)
        if (self.reading.state.files.get(file)) is not None:
            raise CallRefused(f"{file} is not understood as it is now. See:", command("lint"))
        return file

    def _known_file(self) -> str:
        prefix = ("jobs", self.request.job)
        held = self.reading.places.held
        return next(name for name, file in held.items() if file.prefix == prefix)

    def _list_name(self) -> str:
        """Return the name of the job's list, if the job can take one in the usual form.

        Raises:
            CallRefused: its placements are in the job itself, or it declares another form.
        """
        placements: Any = self.block.get("placements")
        name = placements.get("file") if isinstance(placements, dict) else None
        if not isinstance(name, str):
            raise CallRefused(
                f"The placements of {self.request.job} are in {self.job_file} itself.\n"
                "Write placements: {file: placements.csv, units: mm} there, and import again."
            )
        options = options_of(placements)
        odd = [
            key
            for key, usual in (
                ("units", (None, "mm")),
                ("delimiter", (None, "comma")),
                ("decimal", (None, ".")),
                ("encoding", (None, "utf-8")),
                ("side", (None,)),
                ("format", (None, "delimited")),
                ("origin_mm", ((0, 0),)),
                ("columns", ({},)),
            )
            if getattr(options, key) not in usual
        ]
        odd += [
            key
            for key in _CONVENTIONS
            if key in self.conventions and placements.get(key) not in (None, self.conventions[key])
        ]
        if odd or options.is_gerber(name):
            what = ", ".join(odd) or f"file {name}"
            raise CallRefused(
                f"{self.job_file} declares {what} of its list, but import writes the usual form: "
                "comma, UTF-8, mm.\nCorrect that block first: placements: {file: placements.csv, "
                "units: mm}, with zero and bottom as in the list that you import."
            )
        return name

    def _bill_name(self) -> str:
        bill: Any = {} if self.is_new else self.block.get("bill")
        name = bill.get("file") if isinstance(bill, dict) else None
        return self._beside(name if isinstance(name, str) else "bill.csv")

    def files(
        self, read: List, bill: List | None, rows: Rows, decisions: Decisions
    ) -> Iterator[tuple[str, Rewrite]]:
        """Yield the files to write: the list and the bill first, the job last."""
        declared: Any = {} if self.is_new else self.block.get("placements", {})
        name_units = not self.is_new and declared.get("units") is None
        yield self.rewrite(
            self.list_file, placements_csv(_kept(rows, decisions), name_units=name_units)
        )
        if bill is not None:
            fitted = {name: row.get("fitted", True) for name, row in rows.items()}
            billed = {name: decisions.parts.get(name, "") for name in bill.rows}
            yield self.rewrite(self._bill_name(), bill_csv(billed, fitted))
        if self.is_new:
            yield self.rewrite(self.job_file, self._new_job(read, rows, bill is not None))

    def rewrite(self, name: str, new: bytes) -> tuple[str, Rewrite]:
        """Return a file's new bytes beside those that it has now."""
        return name, Rewrite(self.reading.state.files.get(name), new)

    def _new_job(self, read: List, rows: Rows, has_bill: bool) -> bytes:
        said = {"file": "placements.csv", "units": "mm", **self.conventions}
        block = ", ".join(f"{key}: {value}" for key, value in said.items())
        side, size = built_side(rows), self.board_mm(read)
        lines = [
            f"# Imported from {self.request.list_file.name}. Not described yet:",
            f"# {self.missing(read)}.",
            "describes: job",
            "edition: 1",
            f"side: {side}",
        ]
        marks = {name: row for name, row in read.fiducials.items() if _is_mark(name, row, side)}
        if size:
            lines += ["board:", f"  size_mm: [{number(size[0])}, {number(size[1])}]"]
            if self.request.board_mm is None:
                lines.append(f"  derived: {{size_mm: {BY_EXTENTS}}}")
            known = {name: _diameter(read, name) for name in marks}
            lines += ["  fiducials:"] if any(known.values()) else []
            for name, diameter in known.items():
                x, y = number(marks[name]["x"]), number(marks[name]["y"])
                at = f"{name}: {{x: {x}, y: {y}"
                lines.append(f"    {at}, diameter_mm: {diameter}}}" if diameter else f"  # {at}}}")
        lines += [f"placements: {{{block}}}", *(["bill: {file: bill.csv}"] if has_bill else [])]
        return ("\n".join(lines) + "\n").encode()

    def board_mm(self, read: List) -> tuple[float, float] | None:
        """Return the board's size: as described or called, else from the extents of the list.

        The free margin is taken to be the same on both sides. None where the list's origin is not
        a corner of the board.
        """
        if not self.is_new:
            size: Any = (self.block.get("board") or {}).get("size_mm")
            return (size[0], size[1]) if size else None
        extent = extent_mm(read, with_fiducials=True)
        if self.request.board_mm or extent is None:
            return self.request.board_mm
        low_x, high_x, low_y, high_y = extent
        if not (0 <= low_x <= high_x / 2 and 0 <= low_y <= high_y / 2):
            return None
        return math.ceil(high_x + low_x), math.ceil(high_y + low_y)

    def missing(self, read: List) -> str:
        """Return the keys of a new job that a list cannot give."""
        return ", ".join([*([] if self.board_mm(read) else ["board.size_mm"]), "seat", "run"])

    def notes(self, read: List, bill: List | None, rows: Rows) -> Iterator[str]:
        """Yield what is left to do by hand."""
        if bill is not None and not self.is_new and not self.block.get("bill"):
            yield f"Add bill: {{file: bill.csv}} to {self.job_file}."
        if not self.is_new:
            return
        yield f"Keys that the list cannot give: {self.missing(read)}."
        has_bottom = built_side(rows) == "bottom"
        if has_bottom and "bottom_positions" not in self.conventions:
            yield "Positions on the bottom are taken as seen through the top: bottom_positions."
        if self.board_mm(read) is None:
            yield "The origin of the list is not a corner of the board: give it with --origin X Y."


def _kept(rows: Rows, decisions: Decisions) -> dict[str, dict[str, Any]]:
    """Return the rows with the maker's number of each part that has no entry to hold it."""
    kept = {name: dict(row) for name, row in rows.items()}
    for entry in decisions.unknown:
        if entry.is_left_out and entry.named.maker_number:
            for reference in entry.references:
                kept[reference]["maker_number"] = entry.named.maker_number
    return kept


def built_side(rows: Rows) -> str:
    """Return the side that a new job builds: the one with more parts to place, else the top."""
    sides = Counter(row.get("side", "top") for row in rows.values() if row.get("fitted", True))
    return "bottom" if sides["bottom"] > sides["top"] else "top"


def _is_mark(name: str, row: Mapping[str, Any], side: str) -> bool:
    return bool(_KEY.fullmatch(name)) and {"x", "y"} <= row.keys() and row.get("side", side) == side


def _diameter(read: List, name: str) -> str:
    """Return the diameter in the name of a fiducial's footprint; empty where it has none."""
    named = read.named.get(name)
    found = _DIAMETER.search(named.footprint) if named else None
    return found[1] if found else ""
