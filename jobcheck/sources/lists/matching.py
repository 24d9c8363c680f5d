"""What a list or a bill calls a part, against the parts that a shop has."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

from jobcheck.schema.parts import Outline, Part
from jobcheck.sources.lists.reading import List, PartName
from jobcheck.trade.cases import CHIP_CASES, ChipCase, codes_in, inch_to_metric, readings
from jobcheck.trade.component_values import ComponentValue, read_value

_APART = re.compile(r"[\W_]+")
_UNIT_OF_LETTER = {"R": "ohm", "C": "F", "L": "H"}


class PartMatch(NamedTuple):
    """The parts that a naming may mean, and by what they were found."""

    parts: tuple[str, ...] = ()
    by: str = ""

    @property
    def part(self) -> str | None:
        """The only part that is meant, if it is one."""
        return self.parts[0] if len(self.parts) == 1 else None


@dataclass(frozen=True)
class PartCatalogue:
    """The parts of a shop, found by what others call them."""

    parts: Mapping[str, Part]
    outlines: Mapping[str, Outline]

    def match(self, named: PartName, reference: str = "") -> PartMatch:
        """Return the parts that are meant: by name, else maker's number, else value and outline.

        The letter of the reference tells capacitors from inductors: a value alone does not.
        """
        for text in (named.maker_number, named.value, named.footprint):
            if text in self.parts:
                return PartMatch((text,), "name")
        number = _compact(named.maker_number)
        if number and number in self._by_number:
            return PartMatch(tuple(self._by_number[number]), "maker_number")
        if named.value and named.footprint:
            value = _value_of(named.value, reference)
            found = [
                name
                for name in self._with_outline(named.footprint)
                if _same_value(value, named.value, self.parts[name].value)
            ]
            return PartMatch(tuple(found), "value and outline" if found else "")
        return PartMatch()

    def outlines_called(self, footprint: str) -> tuple[str, ...]:
        """Return the outlines that a footprint's name means."""
        keys = outline_keys(footprint)
        return tuple(
            dict.fromkeys(name for key in keys for name in self._outlines_by_key.get(key, ()))
        )

    def nearest(self, named: PartName, count: int = 3) -> tuple[str, ...]:
        """Return the parts that come nearest to a naming, the best first."""
        from difflib import get_close_matches

        same_outline = set(self._with_outline(named.footprint)) if named.footprint else set()
        value = read_value(named.value)
        same_value = [
            name for name, part in self.parts.items() if _same_value(value, named.value, part.value)
        ]
        same_value.sort(key=lambda name: name not in same_outline)
        wanted = " ".join(filter(None, (named.value, named.footprint))) or named.maker_number
        close = get_close_matches(_compact(wanted), [_compact(n) for n in self.parts], count, 0.5)
        by_text = [name for text in close for name in self.parts if _compact(name) == text]
        others = [name for name in self.parts if name in same_outline]
        return tuple(dict.fromkeys([*same_value, *by_text, *others]))[:count]

    @cached_property
    def _by_number(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for name, part in self.parts.items():
            if part.maker_number:
                found[_compact(part.maker_number)].append(name)
        return dict(found)

    @cached_property
    def _outlines_by_key(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for name, outline in self.outlines.items():
            for key in outline_keys(name, outline.case, outline.case_system):
                found[key].append(name)
        return dict(found)

    def _with_outline(self, footprint: str) -> Iterable[str]:
        outlines = set(self.outlines_called(footprint))
        return [name for name, part in self.parts.items() if part.outline in outlines]


def with_parts(read: List, catalogue: PartCatalogue) -> dict[str, dict[str, Any]]:
    """Return the rows of a list with the part that each is, told by what the list calls it.

    What means none of the shop's parts, or several, keeps the list's own word.
    """
    if not any(read.named.values()):
        return read.rows
    known: dict[tuple[PartName, str], str | None] = {}
    rows = {}
    for reference, row in read.rows.items():
        named = read.named.get(reference)
        if not named or "part" in row:
            rows[reference] = row
            continue
        letters = reference.rstrip("0123456789")
        if (named, letters) not in known:
            found = catalogue.match(named, reference).part
            known[named, letters] = found or named.value or named.maker_number or named.footprint
        rows[reference] = {**row, "part": known[named, letters]}
    return rows


def outline_keys(name: str, case: str | None = None, system: str = "inch") -> set[str]:
    """Return what an outline or footprint may be known by: its name, a family in it, a chip code.

    `R_0603_1608Metric` and `chip-0603` share one.
    """
    keys = {_compact(name)}
    keys |= {
        _compact(token)
        for token in name.split("_")
        if re.search(r"[A-Za-z]", token) and re.search(r"\d", token)
    }
    chip = _chip_code([case] if case else list(codes_in(name)), name, system)
    if chip:
        keys.add(f"chip {chip}")
    return keys


def chip_case(footprint: str) -> ChipCase | None:
    """Return the chip case that a footprint's name speaks of, if any."""
    code = _chip_code(list(codes_in(footprint)), footprint, "inch")
    return CHIP_CASES.get(code) if code else None


def _chip_code(codes: list[str], name: str, system: str) -> str | None:
    """Return the inch code of a chip case; a code that reads both ways counts as inch."""
    pairs = [code for code in codes if inch_to_metric(code) in codes]
    if pairs:
        return pairs[0]
    wanted = "metric" if "metric" in name.lower() else system
    for code in codes[:1]:
        read = readings(code)
        fitting = [reading for reading in read if reading.system == wanted] or list(read)
        return fitting[0].case.inch if fitting else code if code in CHIP_CASES else None
    return None


def _compact(text: str) -> str:
    return _APART.sub("", text).lower()


def _value_of(text: str, reference: str) -> ComponentValue | None:
    value = read_value(text)
    letters = re.match(r"[A-Za-z]*", reference)
    unit = _UNIT_OF_LETTER.get(letters[0].upper() if letters else "", "")
    if value and not value.unit and unit:
        return ComponentValue(value.amount, unit)
    return value


def _same_value(value: ComponentValue | None, text: str, other: str | None) -> bool:
    if not text or other is None:
        return False
    if value is not None and (known := read_value(other)):
        return value.agrees(known)
    return _compact(text) == _compact(other)
