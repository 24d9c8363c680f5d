"""Add entries to mappings of a YAML file, and remove them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from jobcheck.shop.paths import Path, show
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.edits.yaml_recorded import Worksheet
from jobcheck.sources.edits.yaml_values import set_value
from jobcheck.sources.yaml.places import Step
from jobcheck.sources.yaml.spelling import flow_text, spell_key


@dataclass
class Changed:
    """The additions to the mapping `node` and the removals from it, by key."""

    path: Path
    node: int
    put: dict[str, Any] = field(default_factory=dict)
    taken: set[str] = field(default_factory=set)


class InsertionPoint(NamedTuple):
    """The place for a new entry: below or above an existing one, or in an empty mapping."""

    below: Step | None
    above: Step | None


def change_mapping(sheet: Worksheet, changed: Changed) -> None:
    """Put entries in and take entries out.

    Raises:
        EditRefused: one is not written in this mapping, or shares its line with something else.
    """
    own = sheet.table.own_children(changed.node)
    for key in changed.taken - set(own):
        path = show((*sheet.prefix, *changed.path, key))
        raise EditRefused(f"{path} is merged from another mapping and cannot be removed here")
    steps = list(sheet.table.items(changed.node))
    kept = [step for step in steps if sheet.table.values[step[0]] not in changed.taken]
    is_flow = sheet.entries.is_flow(changed.node)
    if not kept and (not is_flow or _is_in_lines(sheet, changed.path)):
        _refill(sheet, changed)
    elif is_flow:
        _change_flow(sheet, changed, steps, kept)
    else:
        for key in changed.taken:
            _drop_lines(sheet, (*changed.path, key), own[key])
        for key, spot in _placed(sheet, changed, kept):
            _put_lines(sheet, (*changed.path, key), changed, spot)


def _is_in_lines(sheet: Worksheet, path: Path) -> bool:
    """Return whether a value is outside brackets."""
    parent = sheet.table.resolved(sheet.entries.find(path[:-1]).value)
    return bool(path) and not sheet.entries.is_flow(parent)


def _refill(sheet: Worksheet, changed: Changed) -> None:
    """Replace the content of a mapping that becomes empty."""
    parent = sheet.table.resolved(sheet.entries.find(changed.path[:-1]).value)
    step = sheet.table.own_children(parent).get(changed.path[-1]) if changed.path else None
    if step is None or step[1] != changed.node:
        raise EditRefused("the mapping would become empty")
    value = {key: changed.put[key] for key in _ordered(sheet, changed)}
    set_value(sheet, changed.path, step, value, parent)


def _ordered(sheet: Worksheet, changed: Changed) -> list[str]:
    """Return the new keys in the order of the record."""
    order = dict.fromkeys(sheet.recorded.order(changed.path) if sheet.recorded else ())
    known = [key for key in order if key in changed.put]
    return known + [key for key in changed.put if key not in order]


def _placed(
    sheet: Worksheet, changed: Changed, kept: list[Step]
) -> Iterator[tuple[str, InsertionPoint]]:
    """Yield each new key with its place: below the nearest recorded sibling that exists.

    If none is above, it goes above the nearest one below; a key that the record lacks goes
    last.
    """
    standing = {sheet.table.values[step[0]]: step for step in kept}
    order = sheet.recorded.order(changed.path) if sheet.recorded else []
    first = next((standing[key] for key in order if key in standing), None)
    above: Step | None = None
    for key in order if first else ():
        above = standing.get(key, above)
        if key in changed.put:
            yield key, InsertionPoint(above, None if above else first)
    last = kept[-1] if kept else None
    for key in _ordered(sheet, changed):
        if key not in order or not first:
            yield key, InsertionPoint(last, None)


# in lines


def _drop_lines(sheet: Worksheet, path: Path, step: Step) -> None:
    start = sheet.entries.start(step[0])
    end = sheet.replacing.next_line(sheet.entries.end(step[1]))
    sheet.show(path, start, sheet.own_text(step), "")
    if isinstance(sheet.table.values[step[1]], dict) and _has_new_comments(sheet, step[0]):
        start = sheet.entries.comments(step[0])
    sheet.replacing.drop(start, end)


def _has_new_comments(sheet: Worksheet, key: int) -> bool:
    """Return whether the comments above an entry came with it: the record has none of them."""
    if sheet.recorded is None:
        return False
    above = sheet.entries.text[sheet.entries.comments(key) : sheet.entries.start(key)]
    return sheet.recorded.lines.isdisjoint(line.strip() for line in above.splitlines())


def _put_lines(sheet: Worksheet, path: Path, changed: Changed, spot: InsertionPoint) -> None:
    value = changed.put[path[-1]]
    lines = sheet.recorded_lines(path, value) or sheet.fresh_lines(path, value, changed.node)
    column = sheet.entries.column(next(sheet.table.items(changed.node))[0])
    if spot.above:
        place = sheet.entries.comments(spot.above[0])
        lines = lines if lines[0] else lines[1:]
        at, lines = sheet.standing_comments(sheet.placed.get(place, place), lines)
        content = sheet.joined([*lines, ""], column, at)
        sheet.show(path, max(at - 1, 0), "", "\n".join(lines))
    else:
        assert spot.below is not None
        place = sheet.replacing.line_end(sheet.entries.end(spot.below[1]))
        at = sheet.placed.get(place, place)
        next_line = sheet.replacing.beyond(sheet.replacing.next_line(at))
        following, lines = sheet.standing_comments(next_line, lines)
        at = at if following == next_line else sheet.replacing.line_end(following - 1)
        content = sheet.replacing.newline(at) + sheet.joined(lines, column, at)
        sheet.show(path, at, "", "\n".join(lines).lstrip("\n"))
    sheet.placed[place] = at
    sheet.replacing.put(at, content)


# in brackets


def _change_flow(sheet: Worksheet, changed: Changed, steps: list[Step], kept: list[Step]) -> None:
    if not kept:
        _drop_all(sheet, changed, steps)
    for step in steps if kept else ():
        if step not in kept:
            _drop_flow(sheet, step, [other for other in kept if other < step])
            name = sheet.table.values[step[0]]
            sheet.show((*changed.path, name), sheet.table.starts[step[0]], sheet.own_text(step), "")
    for number, (key, spot) in enumerate(_placed(sheet, changed, kept)):
        _put_flow(sheet, (*changed.path, key), changed, spot, number == 0)
    if changed.put:
        path = show((*sheet.prefix, *changed.path))
        sheet.notes.append(
            f"{path} is written in brackets, so {', '.join(changed.put)} is put inside them, "
            "without comments."
        )


def _drop_all(sheet: Worksheet, changed: Changed, steps: list[Step]) -> None:
    for step in steps:
        path = (*changed.path, sheet.table.values[step[0]])
        sheet.show(path, sheet.table.starts[step[0]], sheet.own_text(step), "")
    if steps:
        last = steps[-1][1]
        end = sheet.entries.comma_after(last) or sheet.entries.end(last)
        sheet.replacing.drop(sheet.entries.begin(steps[0][0]), end)


def _drop_flow(sheet: Worksheet, step: Step, kept_before: list[Step]) -> None:
    """Remove an entry and one comma from brackets; a line with nothing else goes too."""
    text = sheet.entries.text
    start = sheet.entries.begin(step[0])
    comma = sheet.entries.comma_after(step[1])
    end = comma or sheet.entries.end(step[1])
    line_end = sheet.replacing.line_end(end)
    rest = text[end:line_end].strip()
    is_alone = not text[sheet.replacing.line_start(start) : start].strip()
    if is_alone and (not rest or rest[0] == "#"):
        sheet.replacing.drop(sheet.replacing.line_start(start), sheet.replacing.next_line(end))
    elif comma:
        sheet.replacing.drop(start, line_end - len(text[comma:line_end].lstrip(" \t")))
    else:
        before = sheet.entries.end(kept_before[-1][1]) if kept_before else start
        is_one_line = not set("\r\n#") & set(text[before:start])
        sheet.replacing.drop(before if is_one_line else start, end)


def _put_flow(
    sheet: Worksheet, path: Path, changed: Changed, spot: InsertionPoint, is_first: bool
) -> None:
    steps = list(sheet.table.items(changed.node))
    first = sheet.entries.begin(steps[0][0]) if steps else sheet.table.span(changed.node)[0] + 1
    quote = sheet.entries.text[first : first + 1] if steps else ""
    quote = quote if quote in ('"', "'") else ""
    value = flow_text(path, changed.put[path[-1]], sheet.spell, quote)
    entry = f"{spell_key(path[-1], quote)}: {value}"
    if spot.below:
        at, content = sheet.entries.end(spot.below[1]), f", {entry}"
    elif spot.above:
        at, content = sheet.entries.begin(spot.above[0]), f"{entry}, "
    else:
        at, content = first, entry if is_first else f", {entry}"
    sheet.replacing.put(at, content)
    sheet.show(path, at, "", entry)
