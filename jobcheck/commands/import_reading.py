"""The files of an import: read with likely answers to what is open, or refused."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath

from jobcheck.findings import CallRefused, Command, command, sentences
from jobcheck.sources.lists.apart import kind_apart
from jobcheck.sources.lists.bill import read_bill
from jobcheck.sources.lists.gerber import read_component_layer
from jobcheck.sources.lists.ipc2581 import is_ipc2581, read_ipc2581
from jobcheck.sources.lists.options import GERBER, ListOptions
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.sources.lists.reading import List, PartName
from jobcheck.sources.lists.words import UNCLEAR
from jobcheck.sources.state.state import Unreadable, bytes_of
from jobcheck.text import NotUnderstood
from jobcheck.wording import listed, number

_LAYER = re.compile(rb"TF\.FileFunction,Component\b")
_LARGEST_BOARD_MM = 1000
"""No desktop machine takes a board of a metre: common practice, no published source."""


@dataclass(frozen=True)
class Request:
    """What is to be imported, and what is declared of it on the command line."""

    list_file: FilePath
    job: str
    bill_file: FilePath | None = None
    options: ListOptions = field(default_factory=ListOptions)
    bill_options: ListOptions = field(default_factory=ListOptions)
    conventions: Mapping[str, str] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)
    fitted: Mapping[str, bool] = field(default_factory=dict)
    board_mm: tuple[float, float] | None = None

    @property
    def asked(self) -> Command:
        """The call as a command, so that what it proposes can be pasted."""
        said = self.options
        words = [str(self.list_file), "--job", self.job]
        words += ["--bill", str(self.bill_file)] if self.bill_file else []
        for name in ("units", "decimal", "encoding", "delimiter", "side"):
            value = getattr(said, name)
            words += [f"--{name}", value] if value else []
        words += _pairs("--column", said.columns)
        encoding = self.bill_options.encoding
        words += ["--bill-encoding", encoding] if encoding else []
        words += _pairs("--bill-column", self.bill_options.columns)
        for name, value in self.conventions.items():
            words += [f"--{name.replace('_', '-')}", value]
        if said.origin_mm != (0, 0):
            words += ["--origin", *map(number, said.origin_mm)]
        words += ["--board", *map(number, self.board_mm)] if self.board_mm else []
        words += _pairs("--part", self.parts)
        for word, is_fitted in self.fitted.items():
            words += ["--fitted" if is_fitted else "--not-fitted", word]
        return command("import", *words)

    def declaring(self, block: str, key: str, value: str) -> Request:
        """Return the request with a key of the list or of the bill declared."""
        options: ListOptions = getattr(self, block)
        group, _, meaning = key.rpartition(".")
        changed = {"columns": {**options.columns, meaning: value}} if group else {key: value}
        return replace(self, **{block: replace(options, **changed)})  # type: ignore[arg-type]


def _pairs(option: str, values: Mapping[str, str]) -> list[str]:
    return [word for pair in values.items() for word in (option, "=".join(pair))]


@dataclass
class Questions:
    """What is open of a call, each with the answer that `said` has for it."""

    said: Request
    asked: list[str] = field(default_factory=list)

    def read(self, block: str, reader: Callable[[ListOptions], List]) -> List:
        """Read a file, declaring what it does not say until it can be read.

        Raises:
            CallRefused: no declaration helps.
        """
        while True:
            try:
                return reader(getattr(self.said, block))
            except NotUnderstood as error:
                answers = [line.partition("=") for line in error.declare.split("\n")]
                fault = error.fault
                text = f"{fault.place}: {fault.message}\n{sentences(fault.remedy)}"
                is_known = all(
                    equals and (block == "options" or key == "encoding" or "." in key)
                    for key, equals, _ in answers
                )
                if not is_known or text in self.asked:
                    raise CallRefused("\n".join([*self.asked, text])) from None
                self.asked.append(text)
                for key, _, value in answers:
                    self.said = self.said.declaring(block, key, value)


def read_files(request: Request) -> tuple[List, List | None, Questions]:
    """Read the list and the bill of a request; what is open is asked, and answered likely.

    Raises:
        CallRefused: a file cannot be read or understood under any answer.
    """
    open_ = Questions(request)
    data, name = _bytes(request.list_file), request.list_file.as_posix()
    read = open_.read("options", lambda options: _read(data, name, options))
    bill = None
    if request.bill_file:
        billed, bill_name = _bytes(request.bill_file), request.bill_file.as_posix()
        bill = open_.read("bill_options", lambda options: read_bill(billed, bill_name, options))
    _refuse_repeated(read, request.list_file.name)
    _refuse_too_large(read)
    for word, references in _unclear_words(read, bill).items():
        fitted = open_.said.fitted
        if word not in fitted:
            open_.asked.append(f"{word} of {listed(references, 6)} may mean not fitted.")
            open_.said = replace(open_.said, fitted={**fitted, word: False})
        for reference in references if open_.said.fitted[word] is False else ():
            read.rows[reference]["fitted"] = False
    return read, bill, open_


def _read(data: bytes, name: str, options: ListOptions) -> List:
    if options.format == GERBER or options.is_gerber(name) or _LAYER.search(data[:4096]):
        return read_component_layer(data, name, options)
    if is_ipc2581(data):
        return read_ipc2581(data, name, options)
    _refuse_other_formats(data, name)
    return read_placement_list(data, name, replace(options, skips_unnamed=True))


_OTHER_FORMATS = (
    (rb"\APK\x03\x04", "a spreadsheet or an archive", "Save its sheet as CSV in UTF-8"),
    (rb"\A\xd0\xcf\x11\xe0", "an old spreadsheet", "Save its sheet as CSV in UTF-8"),
    (rb"\A%PDF", "a PDF", "Export the placements as CSV"),
    (rb"(?m)^CMP \d+ [-\d.]+ [-\d.]+ ", "a component file of ODB++", "Export IPC-2581 or CSV"),
    (rb"(?m)^\$HEADER", "GenCAD", "Export IPC-2581 or CSV"),
    (rb"\A\s*(?:<\?xml|<!DOCTYPE|<[A-Za-z])", "XML of a kind that is not read", "Export CSV"),
    (rb"\A\s*[({\[]", "a design file", "Export the placements as CSV"),
    (rb"(?m)^%FSLA", "a Gerber layer without components", "Export the component layer, or CSV"),
    (rb"(?m)^M48\s*$", "a drill file", "Export the placements as CSV"),
)
"""First bytes of files that are not lists, their kind, and what to export instead."""


def _refuse_other_formats(data: bytes, name: str) -> None:
    """Refuse a file of another format with its name.

    Raises:
        CallRefused: it is one of those that are known.
    """
    for pattern, kind, do in _OTHER_FORMATS:
        if re.search(pattern, data[:4096]):
            raise CallRefused(f"{name} is {kind}, not a placement list.\n{do}, and import that.")


def set_apart(read: List, bill: List | None, fitted: Mapping[str, bool]) -> dict[str, list[str]]:
    """Mark what no nozzle places as not fitted, and return it: kind -> references.

    A reference that the call names as fitted is placed.
    """
    found: dict[str, list[str]] = {}
    for reference, row in read.rows.items():
        named = [side.named.get(reference) for side in (read, bill) if side]
        kind = next((k for n in named if n and (k := kind_apart(reference, n))), "")
        if kind and row.get("fitted", True) and not fitted.get(reference.lower()):
            row["fitted"] = False
            found.setdefault(kind, []).append(reference)
    return found


def _bytes(file: FilePath) -> bytes:
    try:
        return bytes_of(file)
    except FileNotFoundError:
        raise CallRefused(f"There is no file {file}.") from None
    except Unreadable as error:
        raise CallRefused(f"{file} {error}.") from None


def _refuse_repeated(read: List, name: str) -> None:
    """Refuse references that are listed more than once: nothing says which row counts."""
    text = read.cells.text
    said = [
        f"{reference} is in lines "
        f"{listed([str(text.place(start, start).line) for start in starts], 12)} of {name}."
        for reference, starts in read.repeated.items()
    ]
    if said:
        raise CallRefused("\n".join([*said[:20], "Keep one row of each, and import again."]))


def _unclear_words(read: List, bill: List | None) -> dict[str, list[str]]:
    """Return words that may mean not fitted -> the references that have them."""
    found: dict[str, list[str]] = {}
    for reference, row in read.rows.items():
        names = {str(row.get("part", "")).lower()}
        for side in filter(None, (read, bill)):
            names.add(side.named.get(reference, PartName()).value.lower())
        for word in sorted(names & UNCLEAR) if row.get("fitted", True) else ():
            found.setdefault(word, []).append(reference)
    return found


def extent_mm(
    read: List, *, with_fiducials: bool = False
) -> tuple[float, float, float, float] | None:
    """Return the lowest and highest x, then the lowest and highest y of all rows, mm."""
    rows = [*read.rows.values(), *(read.fiducials.values() if with_fiducials else ())]
    xs = [row["x"] for row in rows if "x" in row]
    ys = [row["y"] for row in rows if "y" in row]
    return (min(xs), max(xs), min(ys), max(ys)) if xs and ys else None


def _refuse_too_large(read: List) -> None:
    """Refuse positions that span more than any board."""
    low_x, high_x, low_y, high_y = extent_mm(read) or (0, 0, 0, 0)
    span = max(high_x - low_x, high_y - low_y)
    if span > _LARGEST_BOARD_MM:
        raise CallRefused(
            f"The positions span {span:,.0f} mm, read in {read.format.unit or 'mm'} as "
            f"{read.format.unit_from or 'the format'} says: the unit is wrong.\n"
            "Correct it in the list or in --units."
        )
