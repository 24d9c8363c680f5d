"""Changes and what they endanger, as people read them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.groups import Group
from jobcheck.changes.impact import Impact, endangered
from jobcheck.commands.diff import Compared
from jobcheck.findings import command
from jobcheck.known_good.store import Record
from jobcheck.reports.calls import Call
from jobcheck.reports.text.findings import removed_text
from jobcheck.reports.text.layout import WIDTH, Line, amount, columns, paragraph, proposed, titled
from jobcheck.schema.controls import show_control
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import MISSING
from jobcheck.wording import listed

Row = tuple[str, ...]
_WIDEST_VALUE = 24


def record_title(record: Record) -> str:
    """Name a record with its day: `record 3, after-lens-swap (2026-10-02, kept without trials)`."""
    trials = amount(len(record.about.evidence), "trial")
    kept = f"kept with {trials}" if record.about.evidence else "kept without a trial"
    return f"{record.entry.title} ({record.about.date.isoformat()}, {kept})"


def diff_text(compared: Compared, call: Call, quiet: bool) -> list[str]:
    """Report what changed between two states: lost camera settings first, counts in one line."""
    lines = [] if quiet else paragraph(_head(compared))
    found = compared.groups
    lost = [group for group in found if group.is_camera_loss]
    title = "good" if compared.record else "before"
    others = [group for group in found if not group.is_camera_loss]
    for group in lost:
        lines += ["", *_lost(group, title)]
    weighty = [group for group in others if _class_of(group) not in _LIGHT]
    lines += _section("Other changes" if lost else "Changes", weighty)
    for group in others:
        lines += ["", *_counts(group)] if _class_of(group) is FieldClass.COUNT else []
    notes = [group for group in others if _class_of(group) is FieldClass.NOTE]
    lines += _section("Notes changed", notes)
    lines += _outside(compared)
    lines += ["", *removed_text(compared.removed)] if compared.removed else []
    if lost and not quiet and compared.asked[1] == "now":
        lines += _next(lost[0], compared.asked[0], call)
    return lines[1:] if lines[:1] == [""] else lines


def _outside(compared: Compared) -> list[str]:
    """Say in which lines the controller's files changed outside the map."""
    lines: list[str] = []
    for name, numbers in compared.outside.items():
        where = listed([str(number) for number in dict.fromkeys(numbers)], 8)
        of = "line" if len(set(numbers)) == 1 else "lines"
        says = f"{name}: {amount(len(numbers), 'change')} outside the map, {of} {where}."
        lines += ["", *titled("note", "Note:", says)]
    return lines


def _section(title: str, found: Sequence[Group]) -> list[str]:
    """Lay out groups with both values of each change, and what each group endangers."""
    if not found:
        return []
    lines = ["", f"{title}: {sum(map(_number, found)):,}"]
    rows = [_rows(group) for group in found]
    laid_out = iter(_laid_out([row for each in rows for row in each]))
    for group, each in zip(found, rows, strict=True):
        lines += ["", *(line for _ in each for line in next(laid_out))]
        lines += [*_tuned(group.impact), *_endangered(group.impact, "; ".join(group.impact.so))]
        for stopped in group.impact.no_longer_checked:
            lines += paragraph(f"No longer checked: {stopped}", "    ", "  ")
    return lines


def _number(group: Group) -> int:
    """Count the values of a group: a block that was added has several."""
    return sum(1 for change in group.changes for _ in change.leaves())


def _head(compared: Compared) -> str:
    name = compared.new.state.name
    since = record_title(compared.record) if compared.record else compared.old.state.label
    where = f" in {listed(list(map(show, compared.only)), 3)}" if compared.only else ""
    if not compared.changes:
        return f"{name}: nothing changed{where} since {since}."
    number = sum(1 for change in compared.changes for _ in change.leaves())
    label = compared.new.state.label
    now = "the files as they are now" if label == "now" else f"the state {label}"
    return f"{name}: {amount(number, 'value')} changed{where} since {since}. Compared with {now}."


def _lost(group: Group, before: str) -> list[str]:
    rows = [_control_row(change, *leaf) for change in group.changes for leaf in change.leaves()]
    head = f"Camera settings lost: {len(rows)}, all of camera {group.path[1]}"
    inner = _common(group)
    if inner == group.path[:2] and group.changes[0].path == inner:
        head += ", which is gone"
        inner = (*inner, "controls")
    lines = [Line(head, "error"), ""]
    shown = [row for row in rows if row[0].startswith(f"{show(inner)}.")]
    title = (show(inner), before, "now", "")
    lines += [line for row in _laid_out([title, *_short(shown, inner)]) for line in row]
    if len(shown) < len(rows):
        lines.append(f"  and {len(rows) - len(shown):,} more")
    tuned = _tuned(group.impact)
    return [*lines, *([""] if tuned else []), *tuned, *_endangered(group.impact)]


def _tuned(impact: Impact) -> list[str]:
    if not impact.recognitions:
        return []
    names = listed(list(impact.recognitions), 8)
    count = amount(len(impact.recognitions), "recognition")
    return paragraph(f"Tuned under it: {count}: {names}", "  ")


def _common(group: Group) -> Path:
    """Return the longest path that all lost settings share."""
    paths = [path for change in group.changes for path, _, _ in change.leaves()]
    shared = paths[0][:-1]
    for path in paths:
        while path[: len(shared)] != shared:
            shared = shared[:-1]
    return shared


def _short(rows: Sequence[Row], inner: Path) -> list[Row]:
    prefix = f"{show(inner)}."
    return [(row[0].removeprefix(prefix), *row[1:]) for row in rows]


def _laid_out(rows: list[Row]) -> list[list[str]]:
    """Lay each row out on one line; if that is too wide, its values are below its path."""
    lines = columns(rows)
    if all(len(line) <= WIDTH for line in lines):
        return [[line] for line in lines]
    values = columns([row[1:] for row in rows], "    ")
    return [[f"  {row[0]}", value] for row, value in zip(rows, values, strict=True)]


def _control_row(change: Change, path: Path, old: object, new: object) -> Row:
    word = "lost" if new is MISSING else "fell back" if change.kind is not Kind.LOST else "lost"
    return (show(path), _value(path, old), _value(path, new), word)


def _rows(group: Group) -> list[Row]:
    if group.whole:
        return [(show(group.path), "", "", group.whole)]
    return _limited(
        [
            row
            for change in group.changes
            for row in _rows_of(change, group.parts.get(change.path, ""))
        ]
    )


def _rows_of(change: Change, part: str) -> list[Row]:
    """Return a row for each value of a note's block, else one for the whole change."""
    if change.field_class is FieldClass.NOTE and change.other is None:
        return [
            (show(path), _value(path, old), _value(path, new), change.kind.value)
            for path, old, new in change.leaves()
        ]
    word = f"{change.kind.value} of {part}" if part else change.kind.value
    return [(show(change.path), *_values(change), word)]


def _limited(rows: list[Row], most: int = 12) -> list[Row]:
    if len(rows) <= most:
        return rows
    return [*rows[:most], (f"and {len(rows) - most:,} more", "", "", "")]


def _values(change: Change) -> tuple[str, str]:
    if change.other is not None:
        return "", f"is now {show(change.other)}" if change.kind is Kind.MOVED else show(
            change.other
        )
    return _value(change.path, change.old), _value(change.path, change.new)


def _value(path: Path, value: object) -> str:
    if value is MISSING:
        return "missing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)) and "controls" in path:
        return show_control(path[-1], value)
    if isinstance(value, dict):
        return f"a block of {amount(len(value), 'value')}" if value else "empty"
    if isinstance(value, list):
        return f"[{', '.join(_value(path, item) for item in value)}]"
    text = f"{value:.10g}" if isinstance(value, float) else str(value)
    return text if len(text) <= _WIDEST_VALUE else text[: _WIDEST_VALUE - 3] + "..."


def _endangered(impact: Impact, so: str = "") -> list[str]:
    reached = endangered(impact)
    if reached:
        return paragraph("; ".join(filter(None, [f"Endangered: {reached}", so])), "  ")
    return paragraph(f"{so[0].upper()}{so[1:]}", "  ") if so else []


_LIGHT = (FieldClass.COUNT, FieldClass.NOTE)


def _class_of(group: Group) -> FieldClass:
    return group.changes[0].field_class


def _counts(group: Group) -> list[str]:
    names = listed([show(change.path) for change in group.changes], 4)
    return paragraph(f"Counts changed: {_number(group):,}: {names}")


def _next(group: Group, source: str, call: Call) -> list[str]:
    source_words = () if source == "good" else ("--from", source)
    return proposed("Next", call.typed(command("restore", show(group.path[:2]), *source_words)))


def diff_lines(compared: Compared, call: Call) -> list[str]:
    """Report each changed value on one line: `path:line:column: word: PATH: old -> new`."""
    lines = []
    for change in compared.changes:
        for path, old, new in change.leaves():
            place = compared.new.places.of(path)
            where = f"{call.path(compared.root / place.file)}:{place.line}:{place.column}"
            values = f"{_value(path, old)} -> {_value(path, new)}"
            lines.append(f"{where}: {change.kind.value}: {show(path)}: {values}")
    return lines


def diff_data(compared: Compared) -> dict[str, Any]:
    """Return what changed, by cause and with impact, as JSON data."""
    found = compared.groups
    return {
        "shop": compared.new.state.name,
        "from": compared.old.state.label,
        "to": compared.new.state.label,
        "record": compared.record.entry.title if compared.record else None,
        "changes": len(compared.changes),
        "outside_the_map": {name: list(lines) for name, lines in compared.outside.items()},
        "groups": [_group_data(group) for group in found],
    }


def _group_data(group: Group) -> dict[str, Any]:
    impact = group.impact
    return {
        "path": show(group.path) if group.path else None,
        "camera_settings_lost": group.is_camera_loss,
        "whole": group.whole or None,
        "changes": [_change_data(change) for change in group.changes],
        "impact": {
            "recognitions": list(impact.recognitions),
            "parts": list(impact.parts),
            "of_parts": impact.of_parts,
            "jobs": [
                {
                    "job": job.job,
                    "references": list(job.references),
                    "of": job.of,
                    "in_run": job.in_run,
                    "panels": job.panels,
                }
                for job in impact.jobs
            ],
            "so": list(impact.so),
            "no_longer_checked": list(impact.no_longer_checked),
        },
    }


def _change_data(change: Change) -> dict[str, Any]:
    return {
        "path": show(change.path),
        "kind": change.kind.value,
        "class": change.field_class.value,
        "old": None if change.old is MISSING else change.old,
        "new": None if change.new is MISSING else change.new,
        "other": show(change.other) if change.other else None,
        "by": change.by,
    }
