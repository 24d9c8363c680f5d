"""Match a list's or a bill's name of a part with the parts of a shop."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, NamedTuple

from jobcheck.schema.parts import Outline, Part
from jobcheck.sources.lists.contradictions import contradiction
from jobcheck.sources.lists.reading import List, PartName
from jobcheck.trade.cases import chip_code
from jobcheck.trade.component_values import ComponentValue, read_value

_APART = re.compile(r"[\W_]+")
_UNIT_OF_LETTER = {"R": "ohm", "C": "F", "L": "H"}


class PartMatch(NamedTuple):
    """The parts that a naming may mean, and the criterion that found them.

    `refused`: part -> why the names contradict it, although value and outline are called so.
    """

    parts: tuple[str, ...] = ()
    by: str = ""
    refused: Mapping[str, str] = MappingProxyType({})

    @property
    def part(self) -> str | None:
        """The part, if the match is unique."""
        return self.parts[0] if len(self.parts) == 1 else None


@dataclass(frozen=True)
class PartCatalogue:
    """The parts of a shop, found by the names in lists."""

    parts: Mapping[str, Part]
    outlines: Mapping[str, Outline]

    def match(self, named: PartName, reference: str = "") -> PartMatch:
        """Return the matching parts: by name, else maker's number, else value and outline.

        The letter of the reference separates capacitors from inductors; a value alone cannot.
        """
        for text in (named.maker_number, named.value, named.footprint):
            if text in self.parts:
                only_case = PartName("", named.footprint if named.footprint != text else "")
                return self._unless_contradicted((text,), "name", only_case, "")
        number = _compact(named.maker_number)
        if number and number in self._by_number:
            found = tuple(self._by_number[number])
            return self._unless_contradicted(found, "maker_number", named, reference)
        if not (named.value and named.footprint):
            return PartMatch()
        value = _value_of(named.value, reference)
        same = tuple(
            name
            for name in self._with_outline(named.footprint)
            if _same_value(value, named.value, self.parts[name].value)
        )
        return self._unless_contradicted(same, "value and outline", named, reference)

    def _unless_contradicted(
        self, parts: tuple[str, ...], by: str, named: PartName, reference: str
    ) -> PartMatch:
        against = {name: self.contradiction(named, reference, name) for name in parts}
        found = tuple(name for name, why in against.items() if not why)
        refused = {name: why for name, why in against.items() if why}
        return PartMatch(found, by if found else "", refused)

    def contradiction(self, named: PartName, reference: str, name: str) -> str:
        """Return what the names say against a part of the shop, empty where nothing does."""
        part = self.parts[name]
        ours, theirs = named.maker_number, part.maker_number or ""
        if ours and theirs and _compact(ours) != _compact(theirs):
            return f"the maker's number is {ours}, that of the part {theirs}"
        value, known = _value_of(named.value, reference), _value_of(part.value or "", reference)
        if value and known and not value.agrees(known):
            return f"the value is {named.value}, that of the part {part.value}"
        outline = self.outlines.get(part.outline)
        return contradiction(named, reference, outline, part) if outline else ""

    def outlines_for(self, named: PartName, reference: str) -> tuple[str, ...]:
        """Return the outlines that a footprint's name means and that no name contradicts."""
        return tuple(
            name
            for name in self.outlines_called(named.footprint)
            if not contradiction(named, reference, self.outlines[name])
            and not _is_of_another_kind(name, reference)
        )

    def outlines_called(self, footprint: str) -> tuple[str, ...]:
        """Return the outlines that match a footprint's name."""
        keys = outline_keys(footprint)
        return tuple(
            dict.fromkeys(name for key in keys for name in self._outlines_by_key.get(key, ()))
        )

    def nearest(self, named: PartName, reference: str = "", count: int = 3) -> tuple[str, ...]:
        """Return the parts nearest to a naming, the best first.

        None of another value, and none that the names contradict, is among them.
        """
        from difflib import get_close_matches

        value = _value_of(named.value, reference)
        same = [n for n, part in self.parts.items() if _same_value(value, named.value, part.value)]
        same_outline = set(self._with_outline(named.footprint)) if named.footprint else set()
        same.sort(key=lambda name: name not in same_outline)
        wanted = named.value or named.maker_number or named.footprint
        close = get_close_matches(_compact(wanted), [_compact(n) for n in self.parts], count, 0.7)
        by_text = [
            name
            for text in close
            for name, part in self.parts.items()
            if _compact(name) == text and _may_be(value, wanted, name, part)
        ]
        found = dict.fromkeys([*same, *by_text])
        return tuple(n for n in found if not self.contradiction(named, reference, n))[:count]

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
    """Return the rows of a list with the part of each, found by the list's own naming.

    A naming that matches no part of the shop, or several, stays as in the list.
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
    """Return the names of an outline or footprint: its own, a family in it, a chip code.

    `R_0603_1608Metric` and `chip-0603` share one.
    """
    keys = {_compact(name)}
    keys |= {
        _compact(token)
        for token in name.split("_")
        if re.search(r"[A-Za-z]", token) and re.search(r"\d", token)
    }
    chip = chip_code(name, [case] if case else (), system)
    if chip:
        keys.add(f"chip {chip}")
    return keys


def _compact(text: str) -> str:
    return _APART.sub("", text).lower()


def _value_of(text: str, reference: str) -> ComponentValue | None:
    value = read_value(_amount(text)[0])
    letters = re.match(r"[A-Za-z]*", reference)
    unit = _UNIT_OF_LETTER.get(letters[0].upper() if letters else "", "")
    if value and not value.unit and unit:
        return ComponentValue(value.amount, unit)
    return value


def _same_value(value: ComponentValue | None, text: str, other: str | None) -> bool:
    if not text or other is None:
        return False
    amount, rating = _amount(other)
    if value is not None and (known := read_value(amount)):
        ours = _compact(_amount(text)[1])
        return value.agrees(known) and ours in ("", _compact(rating))
    return _compact(text) == _compact(other)


_KINDS = {
    **dict.fromkeys(("res", "r"), ("R",)),
    **dict.fromkeys(("cap", "c"), ("C",)),
    **dict.fromkeys(("led", "dio", "sod"), ("D", "LED", "DS", "ZD", "VD")),
    **dict.fromkeys(("ind", "coil", "l"), ("L",)),
    **dict.fromkeys(("fuse", "f"), ("F",)),
    "bead": ("FB", "L"),
}
"""Reference letters by the first word of an outline's name.

Common practice, no published source.
"""


def _is_of_another_kind(outline: str, reference: str) -> bool:
    """Tell whether an outline is named for another kind of part: `cap-0603` for R1."""
    word = re.match(r"[A-Za-z]*", outline)
    kinds = _KINDS.get(word[0].lower()) if word else None
    letters = reference.rstrip("0123456789").upper()
    known = {letter for letters in _KINDS.values() for letter in letters}
    return kinds is not None and letters in known and letters not in kinds


def _amount(text: str) -> tuple[str, str]:
    """Return a value without its rating, and the rating: `100n 25 V` is 100n and 25 V."""
    words = text.split()
    for count in (1, 2):
        amount = " ".join(words[:count])
        if re.search(r"\d\s*[A-Za-zµμΩ]", amount) and read_value(amount):
            return amount, " ".join(words[count:])
    return text, ""


def _may_be(value: ComponentValue | None, wanted: str, name: str, part: Part) -> bool:
    """Tell whether no value in the names of a part is another one than that which is wanted."""
    ours = _values_in(wanted) | ({value.amount} if value else set())
    theirs = _values_in(f"{name} {part.value or ''}")
    return ours == theirs if ours or theirs else True


def _values_in(text: str) -> set[float]:
    """Return the amounts in a text, as `10k` in `res-10k-0603`; a bare number is none."""
    words = [re.sub(r"(?<=\d)[UNP]", lambda m: m[0].lower(), w) for w in re.split(r"[\s_-]", text)]
    read = [read_value(word) for word in words if re.search(r"\d[A-Za-zµμΩ]", word)]
    return {value.amount for value in read if value}
