"""Numbers in lists: decimal points and commas, units in the cell, degrees."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobcheck.sources.lists.meanings import UNITS
from jobcheck.trade.units import MM_PER_UNIT

DECIMALS = 6
"""Decimals kept of a length in mm: a nanometre."""

_NUMBER = re.compile(
    r"(?P<number>[-+\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>[A-Za-zµμ\"°]*)"
)
_PLAIN = re.compile(r"[-+0-9.\n]*")
_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}(?:,\d{3})+")
_LONGEST = 40


class AmbiguousNumbers(Exception):
    """Two readings of the same cells are possible; it has the sentences of a fault."""

    def __init__(self, says: str, do: str, declare: str = "") -> None:
        """Keep both sentences, and the key that decides."""
        super().__init__(says)
        self.says = says
        self.do = do
        self.declare = declare


@dataclass(frozen=True)
class Numbers:
    """How the numbers of one list are written: `,` or `.`, and the unit where a cell has none.

    Positions come back in mm, `origin_mm` (by axis) added.
    """

    decimal: str = "."
    unit: str | None = None
    named: str | None = None

    def length(self, cell: str, origin_mm: float = 0) -> float | int | None:
        """Return a length in mm, None for an empty cell.

        Raises:
            ValueError: it is not a length, or has no unit; the message is a clause.
        """
        if not cell:
            return None
        value, unit = self._taken(cell)
        if unit is not None and unit not in MM_PER_UNIT:
            raise ValueError(f"{cell!r} is not a length")
        if unit and self.named and unit != self.named:
            raise ValueError(f"{cell!r} is in {unit}, but the column says {self.named}")
        unit = unit or self.unit
        if unit is None:
            raise ValueError(f"{cell!r} has no unit, but other cells of the list have one")
        return moved(value, MM_PER_UNIT[unit], origin_mm)

    def angle(self, cell: str) -> float | int | None:
        """Return an angle in degrees, None for an empty cell.

        Raises:
            ValueError: it is not an angle; the message is a clause.
        """
        if not cell:
            return None
        value, unit = self._taken(cell)
        if unit not in (None, "deg"):
            raise ValueError(f"{cell!r} is not an angle in degrees")
        return value

    def _taken(self, cell: str) -> tuple[float | int, str | None]:
        found = _NUMBER.fullmatch(cell)
        if found is None or len(cell) > _LONGEST:
            raise ValueError(f"{cell[:_LONGEST]!r} is not a number")
        unit = found["unit"].lower()
        if unit and unit not in UNITS:
            raise ValueError(f"{cell!r} has an unknown unit")
        number = found["number"].replace("\u2212", "-")
        other = "," if self.decimal == "." else "."
        if other in number:
            raise ValueError(f"{cell!r} has a {_word(other)}, other cells a {_word(self.decimal)}")
        return finite(number.replace(",", ".")), UNITS[unit] if unit else None


def _word(mark: str) -> str:
    return "decimal comma" if mark == "," else "decimal point"


def finite(number: str) -> float | int:
    """Return a number written with a point; an integer if it has no point.

    Raises:
        ValueError: it is not a number, or too large.
    """
    if number.lstrip("+-").isdecimal():
        return int(number)
    value = float(number)
    if value - value != 0:
        raise ValueError(f"{number} is too large")
    return value


def moved(value: float | int, scale: float, origin_mm: float) -> float | int:
    """Return a length in mm on the board; without scale and offset it stays as written."""
    if scale == 1.0 and not origin_mm:
        return value
    return round(value * scale + origin_mm, DECIMALS)


def plain_numbers(cells: Sequence[str]) -> list[float | int] | None:
    """Return a whole column of plainly written numbers, or None if any cell is something else."""
    distinct = set(cells)
    if len(distinct) * 2 < len(cells):
        values = plain_numbers(list(distinct))
        known = dict(zip(distinct, values, strict=True)) if values is not None else {}
        return list(map(known.__getitem__, cells)) if known else None
    joined = "\n".join(cells)
    if not _PLAIN.fullmatch(joined) or max(map(len, cells), default=0) > _LONGEST:
        return None
    try:
        if joined.count(".") == len(cells):
            return list(map(float, cells))  # one with two points is refused by float
        return [float(cell) if "." in cell else int(cell) for cell in cells]
    except ValueError:
        return None


def decide_decimal(cells: Iterable[str]) -> str:
    """Return the decimal mark of the numeric cells of a list.

    Raises:
        AmbiguousNumbers: points and commas both occur, or every comma could separate thousands.
    """
    commas, points = [], False
    for cell in cells:
        if "," in cell:
            commas.append(cell)
        points = points or "." in cell
    if not commas:
        return "."
    if points:
        raise AmbiguousNumbers(
            f"The numbers have commas and points, for example {commas[0]!r}.",
            "Export it without thousands separators, and with one decimal mark.",
        )
    bare = [found["number"] if (found := _NUMBER.fullmatch(cell)) else cell for cell in commas]
    if all(map(_THOUSANDS.fullmatch, bare)):
        raise AmbiguousNumbers(
            f"{commas[0]!r} may have a decimal comma or thousands separator: each has three "
            "digits behind it.",
            'Declare decimal: "," if it is a decimal comma.',
            "decimal=,",
        )
    return ","


def has_unit(cell: str) -> bool:
    """Return whether a cell is a number with a unit behind it."""
    found = _NUMBER.fullmatch(cell)
    return bool(found and found["unit"])
