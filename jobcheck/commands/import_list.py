"""A placement list of any shape into a job: what was recognised, which parts it names."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.commands.import_reading import Request, read_files
from jobcheck.findings import CallRefused, command, sentences
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.edits import Edit, edit_shop
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.lists.canonical import bill_csv, placements_csv
from jobcheck.sources.lists.contradictions import said_by
from jobcheck.sources.lists.matching import PartCatalogue, chip_case
from jobcheck.sources.lists.options import options_of
from jobcheck.sources.lists.parts import Decisions, decide_parts, is_placed
from jobcheck.sources.lists.reading import List
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import Rewrite, WriteRefused, write_files

_KEY = re.compile(r"[A-Za-z0-9_-]{1,100}")
_CONVENTIONS = ("zero", "bottom", "bottom_positions")


class Imported(NamedTuple):
    """A list as it was recognised, and the files that it makes."""

    request: Request
    root: FilePath
    is_new_job: bool
    read: List
    bill: List | None
    decisions: Decisions
    rows: Mapping[str, Mapping[str, Any]]
    files: Mapping[str, Rewrite]
    notes: tuple[str, ...]
    conventions: Mapping[str, str]
    board_mm: list[float] | None = None
    written: tuple[str, ...] | None = None

    @property
    def only_listed(self) -> list[str]:
        """References that the bill does not have."""
        return [name for name in self.rows if self.bill and name not in self.bill.rows]

    @property
    def only_billed(self) -> list[str]:
        """References that the list does not have; what is not fitted need not be there."""
        rows = self.bill.rows if self.bill else {}
        known = {*self.rows, *self.read.fiducials}
        return [n for n, row in rows.items() if n not in known and row.get("fitted", True)]

    @property
    def is_decided(self) -> bool:
        """Whether every part is one of the shop's or a new one, so that it can be written."""
        return not self.decisions.undecided


def import_list(root: FilePath, request: Request, *, write: bool) -> Imported:
    """Read a list (and its bill) for a job and, with `write`, put it into the shop.

    An existing job gets its list and bill replaced; a new one gets a skeleton, and so do unknown
    parts: values that the list lacks stay missing. Nothing is written
    while a part is undecided.

    Raises:
        CallRefused: a file cannot be read or understood, or the job cannot take the list.
    """
    reading = read_shop(folder_state(root))
    if reading.shop is None:
        fault = reading.faults[0]
        raise CallRefused(f"{fault.place}: {fault.message} {sentences(fault.remedy)}")
    read, bill = read_files(request)
    catalogue = _catalogue(reading.shop, request)
    decisions = decide_parts(read, bill, catalogue, request.parts, reading.shop.plain)
    rows = _rows(read, bill, decisions)
    conventions = _conventions(request, read)
    target = _Target(reading, request, conventions)
    files = dict(target.files(read, bill, rows, decisions))
    result = Imported(
        request,
        root,
        target.is_new,
        read,
        bill,
        decisions,
        rows,
        files,
        tuple(target.notes(bill, rows)),
        conventions,
        reading.shop.jobs[request.job].board.size_mm if request.job in reading.shop.jobs else None,
    )
    if write and result.is_decided:
        return _written(result)
    return result


def _written(result: Imported) -> Imported:
    try:
        written = write_files(result.root, result.files)
    except WriteRefused as error:
        raise CallRefused(str(error)) from None
    for name, rewrite in result.files.items():
        if (result.root / name).read_bytes() != rewrite.new:
            raise CallRefused(f"{name} has other contents than those written; check the disk.")
    return result._replace(written=written)


def _catalogue(shop: Shop, request: Request) -> PartCatalogue:
    for called, part in request.parts.items():
        if part not in shop.parts:
            raise CallRefused(f"Part {part}, given for {called}, does not exist.")
    return PartCatalogue(shop.parts, shop.outlines)


def _rows(read: List, bill: List | None, decisions: Decisions) -> dict[str, dict[str, Any]]:
    rows: dict[str, dict[str, Any]] = {}
    for reference, row in read.rows.items():
        values = {key: value for key, value in row.items() if key != "part"}
        if reference in decisions.parts:
            values["part"] = decisions.parts[reference]
        if not is_placed(row, bill, reference):
            values["fitted"] = False
        rows[reference] = values
    return rows


def _conventions(request: Request, read: List) -> dict[str, str]:
    """Return the conventions as declared; a component layer declares its own.

    Raises:
        CallRefused: another one is declared of a layer, or x is negated from another origin.
    """
    own = {"zero": "A", "bottom": "through-top-mirrored-y", "bottom_positions": "through-top"}
    if request.conventions.get("bottom_positions") == "x-negated" and request.options.origin_mm[0]:
        raise CallRefused(
            "The imported list has the origin added to x, which x-negated would count the wrong "
            "way: import it without --origin, and write origin_mm in the job."
        )
    is_layer = read.format.shape == "Gerber X3"
    for key, value in request.conventions.items():
        if is_layer and value != own[key]:
            raise CallRefused(f"A component layer has {key} {own[key]}, not {value}.")
    return own if is_layer else dict(request.conventions)


# what is written


@dataclass
class _Target:
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
        self,
        read: List,
        bill: List | None,
        rows: Mapping[str, Mapping[str, Any]],
        decisions: Decisions,
    ) -> Iterator[tuple[str, Rewrite]]:
        """Yield the files to write: parts first, the job last, each before its users."""
        yield from self._parts(decisions)
        declared: Any = {} if self.is_new else self.block.get("placements", {})
        name_units = not self.is_new and declared.get("units") is None
        yield self._rewrite(self.list_file, placements_csv(rows, name_units=name_units))
        if bill is not None:
            fitted = {name: row.get("fitted", True) for name, row in rows.items()}
            parts = {name: part for name, part in decisions.parts.items() if name in bill.rows}
            yield self._rewrite(self._bill_name(), bill_csv(parts, fitted))
        if self.is_new:
            yield self._rewrite(self.job_file, self._skeleton(read, rows, bill is not None))

    def _rewrite(self, name: str, new: bytes) -> tuple[str, Rewrite]:
        return name, Rewrite(self.reading.state.files.get(name), new)

    def _parts(self, decisions: Decisions) -> Iterator[tuple[str, Rewrite]]:
        """Yield the files of parts with an entry for each unknown one, of what is known alone."""
        edits = []
        for entry in decisions.unknown:
            outline = _outline(decisions, entry.outline) if entry.is_new_outline else {}
            if outline and entry.outline:
                edits.append(Edit(("outlines", entry.outline), outline))
            said = {
                "outline": entry.outline,
                "value": entry.named.value or None,
                "maker_number": entry.named.maker_number or None,
                "height_mm": None if entry.is_new_outline else entry.named.height_mm,
            }
            values = {key: value for key, value in said.items() if value is not None}
            if not entry.is_described:
                edits.append(Edit(("parts", entry.key), values))
        if not edits:
            return
        try:
            edited = edit_shop(self.reading, edits)
        except EditRefused as error:
            raise CallRefused(str(error)) from None
        for name, new in edited.files.items():
            yield self._rewrite(name, new)

    def _skeleton(self, read: List, rows: Mapping[str, Mapping[str, Any]], has_bill: bool) -> bytes:
        sides = {row.get("side", "top") for row in rows.values()}
        side = next(iter(sides)) if len(sides) == 1 else None
        said = {"file": "placements.csv", "units": "mm", **self.conventions}
        block = ", ".join(f"{key}: {value}" for key, value in said.items())
        missing = ["board.size_mm", "seat.x, seat.y and seat.z", *([] if side else ["side"])]
        lines = [
            f"# Imported from {self.request.list_file.name}. Still to be written, as jobcheck lint",
            f"# says: {', '.join(missing)}.",
            "describes: job",
            "edition: 1",
            *([f"side: {side}"] if side else []),
            f"placements: {{{block}}}",
            *(["bill: {file: bill.csv}"] if has_bill else []),
        ]
        lines += [
            f"# fiducial {name} of the list: x {mark.get('x')}, y {mark.get('y')} mm"
            for name, mark in read.fiducials.items()
        ]
        return ("\n".join(lines) + "\n").encode()

    def notes(self, bill: List | None, rows: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
        """Yield what is left to do by hand."""
        if bill is not None and not self.is_new and not self.block.get("bill"):
            yield f"Add bill: {{file: bill.csv}} to {self.job_file}."
        has_bottom = any(row.get("side") == "bottom" for row in rows.values())
        if self.is_new and has_bottom and "bottom" not in self.conventions:
            yield "The list does not say how it turns parts on the bottom: declare bottom."
        if self.is_new and has_bottom and "bottom_positions" not in self.conventions:
            yield "Positions on the bottom are taken as seen through the top: bottom_positions."


def _outline(decisions: Decisions, outline: str | None) -> dict[str, Any]:
    """Return what is known of a new outline: its height and terminals where all rows agree.

    A chip's body is that of its code. Source: the tables that `trade.cases.CHIP_CASES` names.
    """
    users = [entry.named for entry in decisions.unknown if entry.outline == outline]
    heights = {named.height_mm for named in users}
    terminals = {named.terminals for named in users}
    chip = chip_case(users[0].footprint)
    sizes = said_by(users[0].footprint)
    body = sizes.body_mm or (chip.body_mm if chip else None)
    heights -= {None}
    heights |= {sizes.height_mm} if sizes.height_mm and not heights else set()
    said: dict[str, Any] = {
        "body_mm": list(body) if body else None,
        "height_mm": heights.pop() if len(heights) == 1 else None,
        "terminals": terminals.pop() if len(terminals) == 1 else None,
    }
    if chip and said["terminals"] is None:
        said["terminals"] = 2
    if any(entry.polar for entry in decisions.unknown if entry.outline == outline):
        said["polarised"] = True
    return {key: value for key, value in said.items() if value is not None}
