"""The files of an import: read, or refused with all that is open in one answer."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath

from jobcheck.findings import CallRefused, Command, command, sentences
from jobcheck.sources.lists.bill import read_bill
from jobcheck.sources.lists.gerber import read_component_layer
from jobcheck.sources.lists.options import GERBER, ListOptions
from jobcheck.sources.lists.placement_list import read_placement_list
from jobcheck.sources.lists.reading import List, PartName
from jobcheck.sources.lists.words import UNCLEAR
from jobcheck.sources.state.state import Unreadable, bytes_of
from jobcheck.text import NotUnderstood
from jobcheck.wording import listed

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
    conventions: Mapping[str, str] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)
    fitted: Mapping[str, bool] = field(default_factory=dict)

    @property
    def asked(self) -> Command:
        """The call as a command, so that what it proposes can be pasted."""
        said = self.options
        words = [str(self.list_file), "--job", self.job]
        words += ["--bill", str(self.bill_file)] if self.bill_file else []
        for name in ("units", "decimal", "encoding", "delimiter", "side"):
            value = getattr(said, name)
            words += [f"--{name}", value] if value else []
        for name, value in self.conventions.items():
            words += [f"--{name.replace('_', '-')}", value]
        if said.origin_mm != (0, 0):
            words += ["--origin", *map(str, said.origin_mm)]
        for name, value in said.columns.items():
            words += ["--column", f"{name}={value}"]
        for name, value in self.parts.items():
            words += ["--part", f"{name}={value}"]
        for word, is_fitted in self.fitted.items():
            words += ["--fitted" if is_fitted else "--not-fitted", word]
        return command("import", *words)

    def declaring(self, key: str, value: str) -> Request:
        """Return the request with a key of the list declared."""
        block, _, meaning = key.rpartition(".")
        if block:
            columns = {**self.options.columns, meaning: value}
            return replace(self, options=replace(self.options, columns=columns))
        return replace(self, options=replace(self.options, **{key: value}))  # type: ignore[arg-type]


def read_files(request: Request) -> tuple[List, List | None]:
    """Read the list and the bill of a request.

    Raises:
        CallRefused: a file cannot be read, or questions are open: all of them in one message, with
            one command that answers them.
    """
    questions: list[str] = []
    data = _bytes(request.list_file)
    said = request
    while True:
        try:
            read = _read(data, said)
            break
        except NotUnderstood as error:
            key, equals, value = error.declare.partition("=")
            fault = error.fault
            text = f"{fault.place}: {fault.message}\n{sentences(fault.remedy)}"
            if not equals or text in questions:
                _refuse(said, [*questions, text], is_open=False)
            questions.append(text)
            said = said.declaring(key, value)
    bill = _read_bill(request.bill_file, request) if request.bill_file else None
    _refuse_repeated(read, request.list_file.name)
    _refuse_too_large(read)
    for word, references in _unclear_words(read, bill).items():
        if word not in said.fitted:
            questions.append(f"{word} of {listed(references, 6)} may mean not fitted.")
            said = replace(said, fitted={**said.fitted, word: False})
        for reference in references if said.fitted[word] is False else ():
            read.rows[reference]["fitted"] = False
    if questions:
        _refuse(said, questions, is_open=True)
    return read, bill


def _refuse(request: Request, questions: list[str], *, is_open: bool) -> None:
    if not is_open:
        raise CallRefused("\n".join(questions))
    head = "1 question is open." if len(questions) == 1 else f"{len(questions)} questions are open."
    last = "If the answers below are right, import with them. If not, change them:"
    raise CallRefused("\n".join([*questions, head, last]), request.asked)


def _read(data: bytes, request: Request) -> List:
    options, name = request.options, request.list_file.as_posix()
    if options.format == GERBER or options.is_gerber(name) or _LAYER.search(data[:4096]):
        return read_component_layer(data, name, options)
    return read_placement_list(data, name, replace(options, skips_unnamed=True))


def _read_bill(file: FilePath, request: Request) -> List:
    options = ListOptions(encoding=request.options.encoding)
    try:
        return read_bill(_bytes(file), file.as_posix(), options)
    except NotUnderstood as error:
        fault = error.fault
        raise CallRefused(f"{fault.place}: {fault.message}\n{sentences(fault.remedy)}") from None


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


def extent_mm(read: List) -> tuple[float, float, float, float] | None:
    """Return the lowest and highest x, then the lowest and highest y of all rows, mm."""
    xs = [row["x"] for row in read.rows.values() if "x" in row]
    ys = [row["y"] for row in read.rows.values() if "y" in row]
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
