"""One value of a YAML file gets another content: on its line, or in lines of its own."""

from __future__ import annotations

import re
from typing import Any

from jobcheck.shop.paths import Path
from jobcheck.shop.values import same
from jobcheck.sources.edits.yaml_recorded import Worksheet, split_comments
from jobcheck.sources.yaml.places import Step
from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.sources.yaml.spelling import flow_text, spell_scalar
from jobcheck.text import NotUnderstood


def set_value(sheet: Worksheet, path: Path, step: Step, value: Any, parent: int) -> None:
    """Replace the value of an entry of the mapping or list `parent`."""
    entries = sheet.entries
    in_flow = entries.is_flow(parent)
    lines: list[str] = []
    if not in_flow and isinstance(sheet.table.values[parent], dict):
        lines = split_comments(sheet.recorded_lines(path, value))[1]
        if isinstance(value, dict) and value and not lines:
            lines = sheet.fresh_lines(path, value, parent)
    if len(lines) > 1:
        _set_lines(sheet, path, step, lines)
    elif entries.is_block(step[1]):
        _close(sheet, path, step, inline(sheet, path, value, step[1], in_flow))
    else:
        content = inline(sheet, path, value, step[1], in_flow)
        _drop_tag(sheet, step[1], content, value)
        set_inline(sheet, path, step[1], content)


def inline(sheet: Worksheet, path: Path, value: Any, node: int, in_flow: bool) -> str:
    """Write a value on one line: as the record does, or with the quotes that the old one has."""
    recorded = sheet.recorded and sheet.recorded.spelling(path, value, in_flow)
    if recorded:
        return recorded
    if isinstance(value, (dict, list)):
        return flow_text(path, value, sheet.spell)
    start = sheet.table.span(node)[0]
    quote = sheet.entries.text[start : start + 1]
    return spell_scalar(value, quote if quote in ('"', "'") else "")


def set_inline(sheet: Worksheet, path: Path, node: int, content: str) -> None:
    """Put a value on one line in the place of another."""
    start, end = sheet.table.span(node)
    text = sheet.entries.text
    written = text[start:end].rstrip()
    lead = "" if written else _lead(text[:start])
    sheet.replacing.replace(start, start + len(written), lead + content)
    name = f"{path[-2]}[{path[-1]}]" if path[-1].isdecimal() and len(path) > 1 else path[-1]
    sheet.show(path, start, f"{name}: {written}".rstrip(), f"{name}: {content}")


def _drop_tag(sheet: Worksheet, node: int, content: str, value: Any) -> None:
    """Remove a tag that would change the value behind it."""
    start = sheet.table.starts[node]
    for word in re.finditer(r"!\S*\s+", sheet.entries.text[start : sheet.table.span(node)[0]]):
        try:
            reads_as = read_yaml(f"a: {word[0]}{content}\n".encode(), "").plain["a"]
        except NotUnderstood:
            reads_as = None
        if not same(reads_as, value):
            sheet.replacing.drop(start + word.start(), start + word.end())


def _lead(before: str) -> str:
    """Return the text between a key, or its anchor, and a value that was missing."""
    if before[-1:].isspace():
        return ""
    word = before.split()[-1]
    return " " if word[-1] in ":-?" or word[0] in "&!" else ": "


def _set_lines(sheet: Worksheet, path: Path, step: Step, lines: list[str]) -> None:
    """Replace an entry by other lines; its comments above stay."""
    start = sheet.entries.start(step[0])
    end = sheet.replacing.line_end(sheet.entries.end(step[1]))
    column = sheet.entries.column(step[0])
    sheet.show(path, start, sheet.own_text(step), "\n".join(lines))
    following, rest = sheet.standing_comments(sheet.replacing.next_line(end), lines[1:])
    if rest != lines[1:]:
        end = sheet.replacing.line_end(following - 1)
    sheet.replacing.replace(start, end, sheet.joined(lines, column, start))


def _close(sheet: Worksheet, path: Path, step: Step, content: str) -> None:
    """Put a value on one line in the place of a block; comments between key and block stay."""
    sheet.show(path, sheet.table.starts[step[0]], sheet.own_text(step), f"{path[-1]}: {content}")
    after_colon = sheet.entries.after_colon(step[0])
    sheet.replacing.put(after_colon, f" {content}")
    first_line = sheet.replacing.line_start(sheet.table.span(step[1])[0])
    end = sheet.replacing.line_end(sheet.entries.end(step[1]))
    sheet.replacing.drop(sheet.replacing.line_end(first_line - 1), end)
