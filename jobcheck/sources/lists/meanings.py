"""Columns of a list, recognised by name, never by position."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from jobcheck.sources.lists.columns import LENGTHS, MEANINGS, NUMBERS
from jobcheck.trade.units import MM_PER_UNIT

_UNIT_WORDS = {
    "mm": ("mm", "millimeter", "millimetre", "millimeters", "millimetres"),
    "mil": ("mil", "mils", "thou"),
    "inch": ("inch", "inches", "in", '"'),
    "um": ("um", "µm", "μm", "micron", "microns"),
    "cm": ("cm",),
    "deg": ("deg", "degree", "degrees", "°"),
}
UNITS: Mapping[str, str] = {word: unit for unit, words in _UNIT_WORDS.items() for word in words}
"""Words for units in lists -> the unit."""

_MAKERS = frozenset(("manufacturer", "mfr", "mfg", "maker", "manufacturername", "vendor", "brand"))
_MAY_BE_REFERENCE = frozenset(
    ("name", "part", "component", "comp", "bauteil", "componente", "composant")
)
_PART_NUMBERS = frozenset(("partnumber", "partno", "pn", "articlenumber"))

_BRACKET = re.compile(r"[(\[{<]([^)\]}>]*)[)\]}>]\s*$")
_APART = re.compile(r"[\W_]+")
_LONGEST_NAME = 200


class Header(NamedTuple):
    """The name of one column: its compared form, and the unit beside it.

    `odd` is a text in brackets that is not a unit.
    """

    text: str
    key: str
    unit: str | None = None
    odd: str = ""


def read_header(cell: str) -> Header:
    """Parse a column's name: `PosX [mil]`, `pos_x_mm` and `Pos. X / mm` name a unit."""
    text = cell[:_LONGEST_NAME].strip().lstrip("#").strip()
    lowered = text.lower()
    bracket = _BRACKET.search(lowered)
    if bracket:
        name, inside = lowered[: bracket.start()], bracket[1].strip()
        unit = UNITS.get(inside)
        return Header(text, _APART.sub("", name), unit, "" if unit else inside)
    words = [word for word in _APART.split(lowered) if word]
    if len(words) > 1 and words[-1] in UNITS:
        return Header(text, "".join(words[:-1]), UNITS[words[-1]])
    return Header(text, "".join(words))


@dataclass
class Recognised:
    """The columns by meaning: meaning -> position in the row, and the units in their names.

    `several` are meanings that more than one column could have; `odd` those whose name has
    something in brackets that is not a unit; `missing` are declared names that no column has.
    """

    headers: Sequence[Header]
    columns: dict[str, int] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    several: dict[str, list[int]] = field(default_factory=dict)
    odd: dict[str, int] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    is_reference_guessed: bool = False

    @property
    def unknown(self) -> list[int]:
        """Columns without a known meaning, including those without a name."""
        known = {*self.columns.values(), *(at for found in self.several.values() for at in found)}
        return [i for i in range(len(self.headers)) if i not in known]

    def has(self, meaning: str) -> bool:
        """Return whether some column could have a meaning."""
        return meaning in self.columns or meaning in self.several


def recognise(cells: Sequence[str], named: Mapping[str, str]) -> Recognised:
    """Find the columns of a row of names; `named` are declared names by their meaning."""
    found = Recognised([read_header(cell) for cell in cells])
    taken = _declared(found, cells, named)
    candidates: dict[str, list[int]] = {}
    for at, header in enumerate(found.headers):
        meaning = MEANINGS.get(header.key)
        if at not in taken and meaning and meaning not in named:
            candidates.setdefault(meaning, []).append(at)
    _take_maker_number(found, candidates)
    _join_unsure(found, candidates, named)
    if "reference" not in named:
        _guess_reference(found, candidates)
    for meaning, places in candidates.items():
        if len(places) > 1:
            found.several[meaning] = places
        else:
            found.columns[meaning] = places[0]
    _note_units(found)
    return found


def _take_maker_number(found: Recognised, candidates: dict[str, list[int]]) -> None:
    """Take a part number beside a maker's name for the number of that maker."""
    parts = candidates.get("part", [])
    has_maker = any(header.key in _MAKERS for header in found.headers)
    if not has_maker or "maker_number" in candidates or len(parts) != 1:
        return
    if found.headers[parts[0]].key in _PART_NUMBERS:
        candidates["maker_number"] = candidates.pop("part")


def _is_column_number(name: str, cells: Sequence[str], meaning: str) -> bool:
    """Tell whether a declared name is the number of a column; a row of numbers names none."""
    if not name.isdecimal() or not 0 < int(name) <= len(cells):
        return False
    return meaning not in NUMBERS or not any(map(str.isdigit, cells[int(name) - 1]))


def _declared(found: Recognised, cells: Sequence[str], named: Mapping[str, str]) -> set[int]:
    for meaning, name in named.items():
        wanted = name.strip().lower()
        exact = [i for i, cell in enumerate(cells) if cell.strip().lower() == wanted]
        key = read_header(name).key
        places = exact or [i for i, header in enumerate(found.headers) if header.key == key]
        if len(places) > 1:
            found.several[meaning] = places
        elif places:
            found.columns[meaning] = places[0]
        elif _is_column_number(name, cells, meaning):
            found.columns[meaning] = int(name) - 1
        else:
            found.missing[meaning] = name
    return {*found.columns.values()}


def _guess_reference(found: Recognised, candidates: dict[str, list[int]]) -> None:
    """Take a column `Name` or `Part` before the positions for the reference, where none is named.

    The reader asks where its cells do not look like references.
    """
    is_named = any("reference" in known for known in (found.columns, found.several, candidates))
    if is_named or not {"x", "y"} <= {*candidates}:
        return
    before = min(*candidates["x"], *candidates["y"])
    for at, header in enumerate(found.headers[:before]):
        if header.key in _MAY_BE_REFERENCE and at not in found.columns.values():
            candidates["reference"] = [at]
            found.is_reference_guessed = True
            if at in candidates.get("part", []):
                candidates["part"].remove(at)
                if not candidates["part"]:
                    del candidates["part"]
            return


def _is_centre(header: Header, axis: str) -> bool:
    """Tell whether a name says the centre of the part, as `Mid X`: no pad beside it is meant."""
    words = ("mid", "center", "centre", "centroid", "mitte", "centro")
    return header.key.replace(axis, "", 1) in words


def _join_unsure(
    found: Recognised, candidates: dict[str, list[int]], named: Mapping[str, str]
) -> None:
    """Take a pad beside the part's position for pad 1; else it is used only if a job declares it.

    A reference point is nothing where the centre of the part has a column, and else as a pad.
    """
    unsure = {axis: candidates.pop(f"unsure_{axis}", []) for axis in "xy"}
    pads = {axis: [at for at in unsure[axis] if "pad" in found.headers[at].key] for axis in "xy"}
    places = {axis: candidates.get(axis, []) for axis in "xy"}
    is_known = all(
        axis in named
        or (
            len(places[axis]) == 1
            and (unsure[axis] == pads[axis] or _is_centre(found.headers[places[axis][0]], axis))
        )
        for axis in "xy"
    )
    for axis in "xy":
        if is_known:
            if len(pads["x"]) == len(pads["y"]) == 1 and f"pin1_{axis}" not in named:
                candidates.setdefault(f"pin1_{axis}", pads[axis])
        elif unsure[axis] and axis not in named:
            if places[axis] or len(unsure[axis]) > 1:
                candidates[axis] = sorted([*places[axis], *unsure[axis]])
            else:
                candidates[f"unsure_{axis}"] = unsure[axis]


def _note_units(found: Recognised) -> None:
    for meaning, at in found.columns.items():
        header = found.headers[at]
        if meaning in LENGTHS and header.unit and header.unit != "deg":
            found.units[meaning] = header.unit
        wrong = header.unit in MM_PER_UNIT if meaning == "rotation" else header.unit == "deg"
        if meaning in NUMBERS and (header.odd or (header.unit and wrong)):
            found.odd[meaning] = at
