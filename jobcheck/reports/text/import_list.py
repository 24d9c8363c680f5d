"""The report of `jobcheck import`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from jobcheck.commands.import_list import Imported
from jobcheck.commands.import_reading import extent_mm
from jobcheck.findings import Command, command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, columns, paragraph, proposed
from jobcheck.reports.text.proposals import to_write
from jobcheck.shop.paths import show
from jobcheck.sources.lists.parts import Decisions
from jobcheck.sources.lists.reading import List
from jobcheck.sources.lists.table import Skipped
from jobcheck.wording import listed, number

_SHOWN = 12
_IN = "  "


def import_text(result: Imported, call: Call, asked: Command, quiet: bool = False) -> list[str]:
    """Report a list as it was recognised, the parts that it names, and what is written."""
    lines = [] if quiet else _recognised(result)
    lines += _parts(result, call, asked)
    if not result.is_decided:
        lines += ["", *_ask(result, call, asked)]
    elif result.written is None:
        lines += ["", "Preview. Nothing has been written."]
        lines += _files(result, result.files, call)
        lines += _notes(result)
        lines += to_write(asked, call)
    else:
        lines += ["", *paragraph(f"Written and read back: {_named(result, result.written, call)}.")]
        lines += _notes(result)
        lines += proposed("Next", call.typed(command("lint")))
    return lines


def _recognised(result: Imported) -> list[str]:
    read, form = result.read, result.read.format
    head = f"{result.request.list_file.name}: {amount(len(read.rows), 'placement')}, "
    shape = "a Gerber X3 component layer" if form.shape == "Gerber X3" else _shape(form.shape)
    lines = paragraph(f"{head}read as {shape}, {form.encoding.upper()}.")
    if form.columns:
        lines += ["", "Columns", *columns(_columns(read))]
    lines += ["", *_facts(result)]
    return lines


def _shape(name: str) -> str:
    return "text aligned by blanks" if name == "aligned" else f"text delimited by {name}"


def _columns(read: List) -> list[tuple[str, ...]]:
    form = read.format
    rows: list[tuple[str, ...]] = [
        (meaning, name, "not used" if meaning in ("comment", "quantity") else "")
        for meaning, name in form.columns.items()
    ]
    return rows + [("(unknown)", name, "not used") for name in form.unknown]


def _positions(unit: str, said_by: str) -> str:
    if not unit:
        return "mm"
    return f"{unit}, {said_by}" if said_by == "as declared" else f"{unit}, as {said_by} says"


def _facts(result: Imported) -> list[str]:
    read, form = result.read, result.read.format
    sides = Counter(row.get("side", "top") for row in result.rows.values())
    unfitted = [name for name, row in result.rows.items() if row.get("fitted") is False]
    no_turn = sum("rotation" not in row for row in result.rows.values())
    mark = "comma" if form.decimal == "," else "point"
    facts = [
        ("positions", _positions(form.unit, form.unit_from)),
        ("extents", _extents(result)),
        ("decimals", f"decimal {mark}" if form.shape != "Gerber X3" else ""),
        ("sides", ", ".join(f"{side} {sides[side]}" for side in sorted(sides, reverse=True))),
        ("", form.side_from),
        ("rotations", f"{amount(no_turn, 'row')} without one, taken as 0" if no_turn else ""),
        ("not fitted", _some(unfitted)),
        ("fiducials", f"{_some(read.fiducials)}: not placed" if read.fiducials else ""),
        ("bill only", f"{_some(result.only_billed)}: not in the list" if result.bill else ""),
        ("list only", f"{_some(result.only_listed)}: not in the bill" if result.bill else ""),
    ]
    facts = [(name, text) for name, text in facts if text and not text.startswith(":")]
    lines = [line for name, text in facts for line in paragraph(text, " " * 14, f"  {name:<12}")]
    quiet = ("comment", "ruled line", "fiducial")
    skipped = sorted((row for row in read.skipped if row.why not in quiet), key=_line)
    for row in skipped[:_SHOWN]:
        lines += paragraph(
            f"line {row.line}, {row.why}: {row.text}", " " * 14, f"  {'left out':<12}"
        )
    if len(skipped) > _SHOWN:
        lines.append(f"  {'':<12}and {len(skipped) - _SHOWN} more")
    return lines


def _extents(result: Imported) -> str:
    extent = extent_mm(result.read)
    if extent is None:
        return ""
    low_x, high_x, low_y, high_y = (number(value) for value in extent)
    board = result.board_mm
    size = f"; the board is {number(board[0])} x {number(board[1])} mm" if board else ""
    return f"x {low_x} to {high_x} mm, y {low_y} to {high_y} mm{size}"


def _line(row: Skipped) -> int:
    return row.line


def _some(names: Iterable[str]) -> str:
    return listed(list(names), _SHOWN)


def _parts(result: Imported, call: Call, asked: Command) -> list[str]:
    decisions = result.decisions
    known = set(decisions.parts.values()) - {entry.key for entry in decisions.unknown}
    lines = ["", f"Parts: {amount(len(known), 'known one')}, {len(decisions.unknown)} unknown."]
    lines += _joins(decisions)
    for entry in decisions.unknown:
        near = f"nearest: {', '.join(entry.nearest)}" if entry.nearest else "none is near"
        lines += ["", *paragraph(f"{entry.named.text}: {_some(entry.references)}", _IN * 2, _IN)]
        becomes = "is incomplete, as" if entry.is_described else "becomes"
        lines += paragraph(f"{becomes} {entry.key}; {near}", _IN * 2, _IN * 2)
        if entry.polar:
            text = f"{entry.polar}: polarised, pin 1 is not known yet"
            lines += paragraph(text, _IN * 2, _IN * 2)
        for name, why in entry.refused.items():
            lines += paragraph(f"not joined to {name}: {why}", _IN * 2, _IN * 2)
    first = next((entry for entry in decisions.unknown if entry.nearest), None)
    if first and result.written is None:
        part = asked.adding("--part", f"{first.named.text}={first.nearest[0]}")
        lines += proposed(
            "If the shop has one of them under another name, say so", call.typed(part)
        )
    if decisions.unnamed:
        lines += ["", *paragraph(f"Without any part: {_some(decisions.unnamed)}.")]
    return lines


def _joins(decisions: Decisions) -> list[str]:
    """Return every join with its rows and its reason; those by an equal name in one line."""
    by_name = [join for join in decisions.joins if join.because == "name is equal"]
    rows = [
        (join.part, str(len(join.references)), join.because)
        for join in decisions.joins
        if join not in by_name
    ]
    if by_name:
        count = sum(len(join.references) for join in by_name)
        rows.append((amount(len(by_name), "part"), str(count), "name is equal"))
    return ["", *columns([("joined to", "rows", "because"), *rows])] if rows else []


def _ask(result: Imported, call: Call, asked: Command) -> list[str]:
    lines = ["Undecided. Nothing is written before each is one part:"]
    for entry in result.decisions.undecided:
        text = f"{entry.named.text}: {_some(entry.references)}; {entry.why}:"
        lines += paragraph(f"{text} {', '.join(entry.candidates)}", _IN * 2, _IN)
    for entry in result.decisions.undecided:
        asked = asked.adding("--part", f"{entry.named.text}={entry.candidates[0]}")
    return [*lines, *proposed("Say which each is", call.typed(asked))]


def _files(result: Imported, names: Iterable[str], call: Call) -> list[str]:
    lines: list[tuple[str, ...]] = []
    for name in names:
        old = result.files[name].old
        what = "new" if old is None else "as it is" if old == result.files[name].new else "replaced"
        if old is not None and name.endswith(".yaml"):
            added = sum(not entry.is_described for entry in result.decisions.unknown)
            what = f"{amount(added, 'part')} added, values still missing"
        lines.append((call.path(result.root / name), what))
    return columns(lines)


def _named(result: Imported, names: Iterable[str], call: Call) -> str:
    found = [call.path(result.root / name) for name in names]
    return ", ".join(found) if found else "nothing, all files have it already"


def _notes(result: Imported) -> list[str]:
    return [line for note in result.notes for line in ["", *paragraph(note)]]


def import_data(result: Imported) -> dict[str, Any]:
    """Return an import as JSON data."""
    decisions, form = result.decisions, result.read.format
    return {
        "list": result.request.list_file.as_posix(),
        "job": result.request.job,
        "shape": form.shape,
        "encoding": form.encoding,
        "decimal": form.decimal,
        "units": form.unit,
        "units_from": form.unit_from,
        "columns": dict(form.columns),
        "unknown_columns": list(form.unknown),
        "placements": {show((name,)): dict(row) for name, row in result.rows.items()},
        "fiducials": result.read.fiducials,
        "repeated": {name: len(starts) for name, starts in result.read.repeated.items()},
        "skipped": [
            {"line": row.line, "why": row.why, "text": row.text} for row in result.read.skipped
        ],
        "joined_parts": [
            {"part": join.part, "because": join.because, "references": join.references}
            for join in decisions.joins
        ],
        "unknown_parts": [
            {
                "key": entry.key,
                "called": entry.named.text,
                "references": entry.references,
                "nearest": list(entry.nearest),
                "polarised_by": entry.polar,
                "not_joined": dict(entry.refused),
            }
            for entry in decisions.unknown
        ],
        "undecided_parts": [
            {
                "called": entry.named.text,
                "references": entry.references,
                "candidates": list(entry.candidates),
                "why": entry.why,
            }
            for entry in decisions.undecided
        ],
        "only_in_list": result.only_listed,
        "only_in_bill": result.only_billed,
        "files": list(result.files),
        "written": list(result.written) if result.written is not None else None,
    }
