"""Values of resistors, capacitors and inductors as they are written: 4k7, 4.7k, 100nF, 0R1."""

from __future__ import annotations

import re
from typing import NamedTuple

_FACTORS = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "r": 1.0, "R": 1.0, "E": 1.0}
_FACTORS |= {"k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9, "L": 1e-6}
_UNIT = r"(?P<unit>ohms?|Ohms?|OHMS?|Ω|Ω|R|F|H)?"
_PLAIN = re.compile(r"(?P<whole>\d+(?:[.,]\d+)?)(?P<letter>[pnumkKMGR]?)" + _UNIT)
_LETTERED = re.compile(r"(?P<whole>\d+)(?P<letter>[pnumkKMGRrEL])(?P<part>\d+)" + _UNIT)
_UNITS = {"f": "F", "h": "H"}


class ComponentValue(NamedTuple):
    """An amount in ohm, farad or henry; `unit` is empty where it is not said."""

    amount: float
    unit: str = ""

    def agrees(self, other: ComponentValue) -> bool:
        """Whether two values are the same, an unsaid unit being any."""
        nearly = abs(self.amount - other.amount) <= 1e-9 * max(self.amount, other.amount)
        return nearly and (self.unit == other.unit or not self.unit or not other.unit)


def read_value(text: str) -> ComponentValue | None:
    """The value that a text is, or None where it is none: `4k7` is 4700 ohm, `2u2` is 2.2e-6.

    Letters in the place of the decimal point: IEC 60062, from memory. Kilo and more without a
    unit is taken for ohm: common practice, no published source.
    """
    compact = re.sub(r"\s+", "", text).replace("µ", "u").replace("μ", "u")
    found = _LETTERED.fullmatch(compact) or _PLAIN.fullmatch(compact)
    if found is None:
        return None
    letter, unit = found["letter"], (found["unit"] or "").lower()
    digits = found["whole"].replace(",", ".")
    if found.re is _LETTERED:
        digits = f"{digits}.{found['part']}"
    amount = round(float(digits) * _FACTORS[letter], 18)
    if unit in _UNITS:
        return ComponentValue(amount, _UNITS[unit])
    if letter == "L":
        return ComponentValue(amount, "H")
    return ComponentValue(amount, "ohm" if unit or (letter in "RrEkKMG" and letter) else "")
