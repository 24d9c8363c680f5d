"""The shop's part of each reference of a list, by the list and by its bill."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from jobcheck.sources.lists.contradictions import polar_word
from jobcheck.sources.lists.matching import PartCatalogue, PartMatch
from jobcheck.sources.lists.reading import List, PartName

_WITH_NEAREST = 50
"""Unknown parts for which near names are searched: each search reads all parts."""

_NOT_IN_KEYS = re.compile(r"[^A-Za-z0-9_-]+")


@dataclass
class Unknown:
    """A part that is missing in the shop: its name, its place, near names.

    `is_described`: there is an entry of that key, with values still missing. `is_left_out`: it gets
    none, because its outline cannot be described. `refused`: part of the
    shop -> why it is not this one. `polar`: what says that it is polarised.
    """

    key: str
    named: PartName
    references: list[str]
    nearest: tuple[str, ...] = ()
    outline: str | None = None
    is_new_outline: bool = False
    is_described: bool = False
    is_left_out: bool = False
    refused: Mapping[str, str] = field(default_factory=dict)
    polar: str = ""


@dataclass
class UndecidedPart:
    """A naming that may be several of the shop's parts, or that list and bill contradict."""

    named: PartName
    references: list[str]
    candidates: tuple[str, ...]
    why: str


@dataclass
class Join:
    """References that are one of the shop's parts, and the reason."""

    part: str
    because: str
    references: list[str]


@dataclass
class Decisions:
    """The part of each reference, and the undecided ones."""

    parts: dict[str, str] = field(default_factory=dict)
    by: dict[str, str] = field(default_factory=dict)
    unknown: list[Unknown] = field(default_factory=list)
    undecided: list[UndecidedPart] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)
    joins: list[Join] = field(default_factory=list)


def decide_parts(
    read: List,
    bill: List | None,
    catalogue: PartCatalogue,
    said: Mapping[str, str],
    plain: Mapping[str, Any],
) -> Decisions:
    """Decide the part of each fitted reference.

    The bill's name has priority if both name one part; `said` maps a list's or bill's naming to
    the part that the user chose. `plain` are the plain values of the shop, including incomplete
    entries.
    """
    result = Decisions()
    unknown: dict[tuple[PartName, str], Unknown] = {}
    joins: dict[tuple[str, str], Join] = {}
    undecided: dict[tuple[PartName, tuple[str, ...]], UndecidedPart] = {}
    for reference, row in read.rows.items():
        ours = _naming(read, reference)
        theirs = _naming(bill, reference) if bill else PartName()
        named = _joined(ours, theirs)
        match, why = _match(reference, ours, theirs, catalogue, said)
        if match.part:
            result.parts[reference], result.by[reference] = match.part, match.by
            why = _because(match, named, catalogue)
            join = joins.setdefault((match.part, why), Join(match.part, why, []))
            join.references.append(reference)
        elif not is_placed(row, bill, reference):
            continue
        elif match.parts:
            entry = undecided.setdefault(
                (named, match.parts), UndecidedPart(named, [], match.parts, why)
            )
            entry.references.append(reference)
        elif named:
            polar = polar_word(named, reference)
            new = Unknown("", named, [], refused=match.refused, polar=polar)
            unknown.setdefault((named, polar), new).references.append(reference)
        else:
            result.unnamed.append(reference)
    result.undecided = list(undecided.values())
    result.unknown = list(unknown.values())
    result.joins = list(joins.values())
    _describe(result, catalogue, plain)
    return result


def _because(match: PartMatch, named: PartName, catalogue: PartCatalogue) -> str:
    """Return the reason for a join, in words."""
    assert match.part is not None
    if match.by == "value and outline":
        outline = catalogue.parts[match.part].outline
        return f"value {named.value} is equal, and {named.footprint} is {outline}"
    if match.by == "maker_number":
        return f"maker's number {named.maker_number} is equal"
    return "name is equal" if match.by == "name" else f"{match.by}: {named.text}"


def is_placed(row: Mapping[str, Any], bill: List | None, reference: str) -> bool:
    """Return whether a reference is fitted by its list and, if there is one, by its bill."""
    billed = bill.rows.get(reference, {}) if bill else {}
    return row.get("fitted", True) is not False and billed.get("fitted", True) is not False


def _naming(read: List, reference: str) -> PartName:
    """Return a list's naming of a part; a word in its column of parts counts as a value."""
    named = read.named.get(reference, PartName())
    part = read.rows.get(reference, {}).get("part")
    return replace(named, value=part) if part else named


def _joined(ours: PartName, theirs: PartName) -> PartName:
    """Return the naming from list and bill together, the bill first."""
    return PartName(
        theirs.value or ours.value,
        theirs.footprint or ours.footprint,
        theirs.maker_number or ours.maker_number,
        ours.height_mm,
        ours.terminals,
    )


def _match(
    reference: str,
    ours: PartName,
    theirs: PartName,
    catalogue: PartCatalogue,
    said: Mapping[str, str],
) -> tuple[PartMatch, str]:
    for named in (theirs, ours):
        for text in (named.text, named.value, named.maker_number, named.footprint):
            if text and text in said:
                return PartMatch((said[text],), "your word"), ""
    found = [catalogue.match(named, reference) for named in (theirs, ours) if named]
    found = [match for match in found if match.parts]
    if not found:
        return catalogue.match(_joined(ours, theirs), reference), "several parts have this name"
    if len(found) == 1 or set(found[0].parts) == set(found[1].parts):
        return found[0], "several parts have this name"
    common = tuple(part for part in found[0].parts if part in found[1].parts)
    if common:
        return PartMatch(common, found[0].by), "several parts have this name"
    return PartMatch(found[0].parts + found[1].parts, ""), "list and bill name different parts"


def _describe(result: Decisions, catalogue: PartCatalogue, plain: Mapping[str, Any]) -> None:
    """Find a key, an outline and the nearest known parts for each unknown part."""
    taken: dict[str, Any] = dict(plain.get("parts") or {})
    outlines = set(plain.get("outlines") or {})
    for number, entry in enumerate(result.unknown):
        named = entry.named
        text = "-".join(filter(None, (named.value, named.footprint))) or named.maker_number
        entry.key = slug(text)
        entry.is_described = _is_same(taken.get(entry.key), named)
        if not entry.is_described:
            entry.key = _free(entry.key, taken)
        taken[entry.key] = {}
        one = entry.references[0]
        entry.nearest = catalogue.nearest(named, one) if number < _WITH_NEAREST else ()
        known = catalogue.outlines_for(named, one) if named.footprint else ()
        if len(known) == 1:
            entry.outline = known[0]
        elif named.footprint:
            entry.outline = _new_outline(entry, catalogue)
            entry.is_new_outline = entry.outline not in outlines
            outlines.add(entry.outline)
        for reference in entry.references:
            result.parts[reference] = entry.key


def _new_outline(entry: Unknown, catalogue: PartCatalogue) -> str:
    """Return the name of an outline that the shop does not have yet.

    One name for parts with and without polarity would give both the same polarity.
    """
    name = slug(entry.named.footprint)
    if entry.polar and not entry.polar.endswith(entry.named.footprint):
        name = f"{name}-polarised"
    free = (f"{name}-{number}" for number in range(2, 10**6))
    while name in catalogue.outlines:
        name = next(free)
    return name


def _is_same(entry: Any, named: PartName) -> bool:
    """Return whether an incomplete entry agrees with a list."""
    if not isinstance(entry, dict):
        return False
    said = (str(entry.get("value") or ""), str(entry.get("maker_number") or ""))
    return said == (named.value, named.maker_number)


def slug(text: str) -> str:
    """Return a text as a key of the description: letters, digits, `_` and `-`."""
    return _NOT_IN_KEYS.sub("-", text).strip("-")[:100] or "part"


def _free(key: str, taken: Mapping[str, Any]) -> str:
    if key not in taken:
        return key
    return next(f"{key}-{n}" for n in range(2, 10**6) if f"{key}-{n}" not in taken)
