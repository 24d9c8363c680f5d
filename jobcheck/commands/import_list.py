"""A placement list of any shape into a job: what was recognised, which parts it names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.commands.import_changes import RowChange, row_changes
from jobcheck.commands.import_evidence import Evidence, evidence_of
from jobcheck.commands.import_outlines import part_edits
from jobcheck.commands.import_reading import Questions, Request, read_files, set_apart
from jobcheck.commands.import_target import Target, built_side
from jobcheck.findings import CallRefused, sentences
from jobcheck.shop.shop import Shop
from jobcheck.sources.edits.edits import edit_shop
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.lists.matching import PartCatalogue
from jobcheck.sources.lists.parts import Decisions, decide_parts, is_placed
from jobcheck.sources.lists.reading import List
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import Rewrite, WriteRefused, write_files
from jobcheck.trade.packages import package_of
from jobcheck.wording import listed


class Imported(NamedTuple):
    """A list as it was recognised, and the files that it makes.

    `questions` are open, and `proposed` is the call that answers them and declares what the list
    shows; `apart` is what no nozzle places: kind -> references.
    """

    request: Request
    root: FilePath
    read: List
    bill: List | None
    decisions: Decisions
    rows: Mapping[str, Mapping[str, Any]]
    files: Mapping[str, Rewrite]
    notes: tuple[str, ...]
    questions: tuple[str, ...]
    proposed: Request
    apart: Mapping[str, list[str]]
    evidence: Evidence
    outlines: Mapping[str, Mapping[str, Any]]
    changes: tuple[RowChange, ...]
    board_mm: tuple[float, float] | None = None
    side: str = ""
    is_known_board: bool = False
    written: tuple[str, ...] | None = None

    @property
    def only_listed(self) -> list[str]:
        """References that the bill does not have."""
        placed = (name for name, row in self.rows.items() if row.get("fitted", True))
        return [name for name in placed if self.bill and name not in self.bill.rows]

    @property
    def only_billed(self) -> list[str]:
        """References that the list does not have; what is not fitted need not be there."""
        rows = self.bill.rows if self.bill else {}
        known = {*self.rows, *self.read.fiducials}
        return [n for n, row in rows.items() if n not in known and row.get("fitted", True)]


def import_list(root: FilePath, request: Request, *, write: bool) -> Imported:
    """Read a list (and its bill) for a job and, with `write`, put it into the shop.

    An existing job gets its list and bill replaced; a new one gets what the list proposes, and
    unknown parts what their names say, marked as derived. Nothing is written while a question is
    open.

    Raises:
        CallRefused: a file cannot be read or understood, or the job cannot take the list.
    """
    reading = read_shop(folder_state(root))
    if reading.shop is None:
        fault = reading.faults[0]
        raise CallRefused(f"{fault.place}: {fault.message} {sentences(fault.remedy)}")
    shop = reading.shop
    read, bill, open_ = read_files(request)
    apart = set_apart(read, bill, request.fitted)
    catalogue = _catalogue(shop, request)
    decisions = decide_parts(read, bill, catalogue, request.parts, shop.plain)
    _ask_parts(decisions, open_)
    rows = _rows(read, bill, decisions)
    evidence = _evidence(read, decisions, catalogue)
    conventions = _conventions(request, read)
    _propose(
        evidence, conventions, rows, open_, is_new=request.job not in shop.plain.get("jobs", {})
    )
    target = Target(reading, request, conventions)
    edits = list(part_edits(decisions, evidence.pin1_at_zero, conventions.get("zero")))
    files: dict[str, Rewrite] = {}
    if edits:
        try:
            edited = edit_shop(reading, edits)
        except EditRefused as error:
            raise CallRefused(str(error)) from None
        files |= dict(target.rewrite(name, new) for name, new in edited.files.items())
    files |= dict(target.files(read, bill, rows, decisions))
    result = Imported(
        request,
        root,
        read,
        bill,
        decisions,
        rows,
        files,
        tuple(target.notes(read, bill, rows)),
        tuple(open_.asked),
        open_.said,
        apart,
        evidence,
        {edit.path[1]: edit.value for edit in edits if edit.path[0] == "outlines"},
        tuple(row_changes(target.block, rows)),
        target.board_mm(read),
        built_side(rows) if target.is_new else "",
        is_known_board=not target.is_new or request.board_mm is not None,
    )
    return _written(result) if write and not result.questions else result


def _ask_parts(decisions: Decisions, open_: Questions) -> None:
    """Ask for each part that may be several; the first of them is the proposed answer."""
    for entry in decisions.undecided:
        open_.asked.append(
            f"{entry.named.text}: {listed(entry.references, 12)}; {entry.why}: "
            f"{', '.join(entry.candidates)}."
        )
        parts = {**open_.said.parts, entry.named.text: entry.candidates[0]}
        open_.said = replace(open_.said, parts=parts)


def _evidence(read: List, decisions: Decisions, catalogue: PartCatalogue) -> Evidence:
    """Return what the pads of the list show, beside the outlines of the shop that it names."""
    outlines, terminals = {}, {}
    for reference, named in read.named.items():
        if not named.footprint:
            continue
        part = catalogue.parts.get(decisions.parts.get(reference, ""))
        if part and part.outline in catalogue.outlines:
            outlines[named.footprint] = catalogue.outlines[part.outline]
            terminals[named.footprint] = catalogue.outlines[part.outline].terminals
        elif named.footprint not in terminals:
            terminals[named.footprint] = package_of(named.footprint).terminals or 0
    return evidence_of(read, terminals, outlines)


def _propose(
    evidence: Evidence,
    conventions: Mapping[str, str],
    rows: Mapping[str, Mapping[str, Any]],
    open_: Questions,
    *,
    is_new: bool,
) -> None:
    """Propose the conventions that the pads show; ask how a new job counts a built bottom."""
    found = {k: v for k, v in evidence.conventions.items() if k not in conventions and is_new}
    if is_new and built_side(rows) == "bottom" and "bottom" not in {**conventions, **found}:
        found["bottom"] = "as-placed"
        open_.asked.append(
            "Rotations on the bottom can be meant in three ways: as-placed, "
            "through-top-mirrored-y, through-top-mirrored-x."
        )
    open_.said = replace(open_.said, conventions={**open_.said.conventions, **found})


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
