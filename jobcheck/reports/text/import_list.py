"""The report of `jobcheck import`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from jobcheck.commands.import_list import Imported
from jobcheck.commands.import_reading import extent_mm
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, columns, paragraph, proposed
from jobcheck.reports.text.proposals import to_write
from jobcheck.shop.paths import show
from jobcheck.sources.lists.parts import Decisions, Unknown
from jobcheck.sources.lists.reading import List
from jobcheck.sources.lists.table import Skipped
from jobcheck.wording import listed, number

_SHOWN = 12
_IN = "  "


def import_text(result: Imported, call: Call, quiet: bool = False) -> list[str]:
    """Report a list as it was recognised, the parts that it names, and what is written."""
    lines = [] if quiet else _recognised(result)
    lines += _parts(result, call)
    lines += _changes(result)
    if result.written is None:
        lines += ["", "Preview. Nothing has been written."]
        lines += columns(_files(result, call))
        lines += _notes(result)
        lines += _ask(result, call) if result.questions else to_write(result.proposed.asked, call)
    else:
        lines += ["", *paragraph(f"Written and read back: {_named(result, result.written, call)}.")]
        lines += _notes(result)
        lines += proposed("Next", call.typed(command("lint")))
    return lines


def _recognised(result: Imported) -> list[str]:
    read, form = result.read, result.read.format
    head = f"{result.request.list_file.name}: {amount(len(read.rows), 'placement')}, "
    shape = _SHAPES.get(form.shape) or f"text delimited by {form.shape}"
    lines = paragraph(f"{head}read as {shape}, {form.encoding.upper()}.")
    if form.columns:
        lines += ["", "Columns", *columns(_columns(read))]
    lines += ["", *_facts(result)]
    return lines


_SHAPES = {
    "Gerber X3": "a Gerber X3 component layer",
    "IPC-2581": "IPC-2581",
    "aligned": "text aligned by blanks",
}


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
    is_clause = said_by.startswith(("as ", "if "))
    return f"{unit}, {said_by}" if is_clause else f"{unit}, as {said_by} says"


def _unit_from(result: Imported) -> str:
    is_open = result.proposed.options.units != result.request.options.units
    return "if the answer below is right" if is_open else result.read.format.unit_from


def _facts(result: Imported) -> list[str]:
    read, form = result.read, result.read.format
    sides = Counter(row.get("side", "top") for row in result.rows.values())
    apart = {name for names in result.apart.values() for name in names}
    unfitted = [
        n for n, row in result.rows.items() if row.get("fitted") is False and n not in apart
    ]
    no_turn = sum("rotation" not in row for row in result.rows.values())
    mark = "comma" if form.decimal == "," else "point"
    facts = [
        ("positions", _positions(form.unit, _unit_from(result))),
        ("extents", _extents(result)),
        ("board", _board(result)),
        ("side", f"{result.side} is built" if result.side and len(sides) > 1 else ""),
        ("decimals", f"decimal {mark}" if form.columns else ""),
        ("sides", ", ".join(f"{side} {sides[side]}" for side in sorted(sides, reverse=True))),
        ("", form.side_from),
        ("rotations", f"{amount(no_turn, 'row')} without one, taken as 0" if no_turn else ""),
        ("not fitted", _some(unfitted)),
        ("set apart", _apart(result)),
        ("fiducials", f"{_some(read.fiducials)}: not placed" if read.fiducials else ""),
        ("bill only", f"{_some(result.only_billed)}: not in the list" if result.bill else ""),
        ("list only", f"{_some(result.only_listed)}: not in the bill" if result.bill else ""),
        *(("pads", reason) for reason in result.evidence.reasons),
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
    is_known = result.is_known_board and board is not None
    size = f"; the board is {' x '.join(map(number, board or ()))} mm" if is_known else ""
    return f"x {low_x} to {high_x} mm, y {low_y} to {high_y} mm{size}"


def _board(result: Imported) -> str:
    if result.board_mm is None or result.is_known_board:
        return ""
    size = " x ".join(map(number, result.board_mm))
    return f"{size} mm by the extents; state the true size with --board WIDTH HEIGHT"


def _apart(result: Imported) -> str:
    """Say what no nozzle places; a row that is placed after all is named with --fitted."""
    groups = [f"{kind} {_some(names)}" for kind, names in result.apart.items()]
    return "; ".join(groups)


def _line(row: Skipped) -> int:
    return row.line


def _some(names: Iterable[str]) -> str:
    return listed(list(names), _SHOWN)


def _parts(result: Imported, call: Call) -> list[str]:
    decisions = result.decisions
    known = set(decisions.parts.values()) - {entry.key for entry in decisions.unknown}
    lines = ["", f"Parts: {amount(len(known), 'known one')}, {len(decisions.unknown)} unknown."]
    lines += _joins(decisions)
    lines += _undescribed(decisions)
    for entry in decisions.unknown:
        if _is_undescribed(entry):
            continue
        lines += ["", *paragraph(f"{entry.named.text}: {_some(entry.references)}", _IN * 2, _IN)]
        lines += paragraph(f"{_becomes(entry)}{_near(entry)}", _IN * 2, _IN * 2)
        if entry.polar:
            text = f"{entry.polar}: polarised{_pin1(result, entry)}"
            lines += paragraph(text, _IN * 2, _IN * 2)
        for name, why in entry.refused.items():
            lines += paragraph(f"not joined to {name}: {why}", _IN * 2, _IN * 2)
    lines += _derived(result)
    near = (e for e in decisions.unknown if e.nearest and not e.is_new_outline)
    first = next(near, None)
    if first and result.written is None and not result.questions:
        part = result.request.asked.adding("--part", f"{first.named.text}={first.nearest[0]}")
        lines += proposed(
            "If the shop has one of them under another name, say so", call.typed(part)
        )
    if decisions.unnamed:
        lines += ["", *paragraph(f"Without any part: {_some(decisions.unnamed)}.")]
    return lines


def _near(entry: Unknown) -> str:
    return f"; nearest: {', '.join(entry.nearest)}" if entry.nearest else ""


def _is_undescribed(entry: Unknown) -> bool:
    return not entry.is_described and (entry.is_left_out or not entry.outline)


def _undescribed(decisions: Decisions) -> list[str]:
    """List the parts that get no entry, each with its rows."""
    lines = []
    for entry in filter(_is_undescribed, decisions.unknown):
        polar = f"; {entry.polar}: polarised" if entry.polar else ""
        text = f"{entry.key}: {_some(entry.references)}{polar}{_near(entry)}"
        lines += paragraph(text, _IN * 2, _IN)
    title = "Without an entry, because their names do not say the case:"
    return ["", title, *lines] if lines else []


def _becomes(entry: Unknown) -> str:
    if entry.is_described:
        return f"is incomplete, as {entry.key}"
    return f"becomes {entry.key}, {'new ' if entry.is_new_outline else ''}outline {entry.outline}"


def _pin1(result: Imported, entry: Unknown) -> str:
    if not entry.is_new_outline:
        return ""
    stub = result.outlines.get(entry.outline or "", {})
    return ", pin 1 from the pads" if "pin1_at_zero" in stub else ", pin 1 is not known yet"


def _derived(result: Imported) -> list[str]:
    """Say in one line which values of new outlines nobody measured."""
    heights = [name for name, stub in result.outlines.items() if "height_mm" in stub]
    if not result.outlines:
        return []
    text = f"Derived from names, not measured: {amount(len(result.outlines), 'outline')}"
    more = f", with the height of {_some(heights)}" if heights else ", no height"
    return ["", *paragraph(f"{text}{more}.")]


def _changes(result: Imported) -> list[str]:
    """Say what the list changes in a job that has one, harmful first."""
    if not result.changes:
        return []
    kinds = Counter(change.kind for change in result.changes)
    lines = ["", f"Changes in {result.request.job}: {len(result.changes)}"]
    for kind, count in kinds.items():
        changes = [change for change in result.changes if change.kind == kind]
        if all(not change.says for change in changes):
            names = _some(change.reference for change in changes)
            lines += paragraph(f"{count} {kind}: {names}", _IN * 2, _IN)
            continue
        lines += paragraph(f"{count} {kind}", _IN * 2, _IN)
        lines += columns([(change.reference, change.says) for change in changes[:_SHOWN]], _IN * 2)
        lines += [f"{_IN * 2}and {count - _SHOWN} more"] if count > _SHOWN else []
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


def _ask(result: Imported, call: Call) -> list[str]:
    """Ask all that is open, with one command that answers it."""
    lines = ["", f"Open: {amount(len(result.questions), 'question')}."]
    for question in result.questions:
        lines += paragraph(question, _IN * 2, _IN)
    title = "If the answers below are right, import with them. If not, change them"
    return [*lines, *proposed(title, call.typed(result.proposed.asked))]


def _files(result: Imported, call: Call) -> list[tuple[str, ...]]:
    lines: list[tuple[str, ...]] = []
    for name, rewrite in result.files.items():
        old = rewrite.old
        what = "new" if old is None else "as it is" if old == rewrite.new else "replaced"
        if old is not None and name.endswith(".yaml"):
            unknown = result.decisions.unknown
            added = sum(not (e.is_described or e.is_left_out or not e.outline) for e in unknown)
            parts, outlines = amount(added, "part"), amount(len(result.outlines), "outline")
            what = f"{parts} and {outlines} added"
        lines.append((call.path(result.root / name), what))
    return lines


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
        "set_apart": dict(result.apart),
        "questions": list(result.questions),
        "evidence": list(result.evidence.reasons),
        "changes": [change._asdict() for change in result.changes],
        "only_in_list": result.only_listed,
        "only_in_bill": result.only_billed,
        "files": list(result.files),
        "written": list(result.written) if result.written is not None else None,
    }
