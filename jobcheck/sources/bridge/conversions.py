"""Convert the controller's values to the description's values, and exactly back.

Arithmetic uses fractions, never floats, so that nothing is lost: a delivered number is the
shortest one that is gathered again as exactly the same value.
"""

from __future__ import annotations

import re
from decimal import Context, Decimal
from fractions import Fraction
from typing import NamedTuple

from jobcheck.schema.bridge import Conversion
from jobcheck.sources.bridge.source import Hit, MapWrong, Native
from jobcheck.trade.units import factor, units_like

Plain = str | int | float | bool

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_MOST_DIGITS = 31
_SWITCHES = {"true": True, "false": False}


class Converter(NamedTuple):
    """One declared conversion, for a field that may hold values of `types`, in `unit`."""

    how: Conversion
    types: frozenset[type]
    unit: str | None = None

    def fault(self) -> str:
        """Return why the conversion does not fit the field; empty if it does."""
        how = self.how
        if how.unit and self.unit is None:
            return "has no unit of its own: write scale instead of unit"
        if how.unit and factor(how.unit, self.unit or "") is None:
            known = ", ".join(units_like(self.unit or "")) or "none"
            return f"is in {self.unit}; {how.unit} cannot be converted to it (known: {known})"
        if self._is_numeric and not self.types & {int, float}:
            return "is not a number, so it cannot be scaled"
        if how.on is not None and not self.types & {bool, int}:
            return "is neither true or false nor 0 or 1"
        return ""

    @property
    def _is_numeric(self) -> bool:
        how = self.how
        return bool(how.unit or how.negate) or how.scale is not None or how.offset is not None

    # from the controller

    def part(self, content: str) -> tuple[int, int]:
        """Return the span of the value within a content: one part of it, without blanks.

        Raises:
            MapWrong: the text has fewer parts.
        """
        split = self.how.split
        first, last = 0, len(content)
        if split:
            parts = list(_parts(content, split.by))
            if len(parts) < split.take:
                raise MapWrong(f"has {len(parts)} parts, not {split.take}: {content.strip()!r}")
            first, last = parts[split.take - 1]
        text = content[first:last]
        first += len(text) - len(text.lstrip())
        return first, max(first, first + len(text.strip()))

    def gathered(self, hit: Hit) -> Plain | None:
        """Return the description's value of a hit in a controller's file, None if it is empty.

        Raises:
            MapWrong: it is of the wrong type.
        """
        if hit.native is Native.NOTHING:
            return None
        if hit.native is Native.BLOCK:
            raise MapWrong("has several values instead of one")
        first, last = self.part(hit.text)
        text = hit.text[first:last]
        if not text:
            return None
        return self.value(text, hit.native)

    def value(self, text: str, native: Native = Native.TEXT) -> Plain:
        """Return the description's value of one text.

        Raises:
            MapWrong: it is of the wrong type.
        """
        if self.how.words is not None:
            if text not in self.how.words:
                raise MapWrong(f"is {text!r}, which is not in words: {', '.join(self.how.words)}")
            return self.how.words[text]
        if self.how.on is not None:
            return self._switched(text)
        if self._is_numeric or (self.types & {int, float} and not self.types & {str, bool}):
            return self._number(text)
        return self._as_it_is(text, native)

    def _switched(self, text: str) -> Plain:
        if text not in (self.how.on, self.how.off):
            raise MapWrong(f"is {text!r}; expected {self.how.on} or {self.how.off}")
        is_on = text == self.how.on
        return is_on if bool in self.types else int(is_on)

    def _as_it_is(self, text: str, native: Native) -> Plain:
        if bool in self.types and text in _SWITCHES:
            return _SWITCHES[text]
        if self.types & {int, float} and _NUMBER.fullmatch(text):
            return self._number(text)
        if str in self.types:
            return text
        wanted = "true or false" if bool in self.types else "a number"
        raise MapWrong(f"is {text!r}, not {wanted}")

    def _number(self, text: str) -> Plain:
        if not _NUMBER.fullmatch(text) or len(text) > 40:
            raise MapWrong(f"is {text[:40]!r}, not a number")
        value = _plain(self._forward(Fraction(text)))
        if isinstance(value, float) and float not in self.types:
            raise MapWrong(f"becomes {value:g}, not a whole number")
        return value

    def _forward(self, number: Fraction) -> Fraction:
        slope, offset = self._line
        return number * slope + offset

    @property
    def _line(self) -> tuple[Fraction, Fraction]:
        """Slope and offset of the conversion."""
        how = self.how
        scale = _exact(how.scale) if how.scale is not None else Fraction(1)
        offset = _exact(how.offset) if how.offset is not None else Fraction(0)
        unit = factor(how.unit, self.unit or "") if how.unit else Fraction(1)
        unit = unit if unit is not None else Fraction(1)
        return (-scale if how.negate else scale) * unit, offset * unit

    # to the controller

    def delivered(self, value: Plain, like: str = "") -> str:
        """Return the spelling of a value in the controller's file.

        Numbers get as many decimals as the text `like`, unless that changes them.

        Raises:
            MapWrong: no text would be gathered as this value.
        """
        if self.how.words is not None:
            for word, stands_for in self.how.words.items():
                if stands_for == value and isinstance(stands_for, bool) == isinstance(value, bool):
                    return word
            raise MapWrong(f"is {value}; the map has no word for it")
        if self.how.on is not None and self.how.off is not None:
            if value not in (0, 1):
                raise MapWrong(f"is {value}, which is neither on nor off")
            return self.how.on if value else self.how.off
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, (int, float)):
            return self._written(value, like)
        return self._text(value)

    def _text(self, value: str) -> str:
        split = self.how.split
        if not value or value != value.strip() or (split and split.by in value):
            raise MapWrong(f"is {value!r}, which the controller would read as another value")
        return value

    def _written(self, value: float, like: str) -> str:
        slope, offset = self._line
        exact = (_exact(value) - offset) / slope
        for digits in range(1, _MOST_DIGITS):
            text = _decimal(exact, digits)
            if _plain(self._forward(Fraction(text))) == value:
                return _padded(text, like)
        raise MapWrong(f"is {value}, which the conversion cannot express")


def _parts(content: str, by: str) -> list[tuple[int, int]]:
    if not by.strip():
        return [found.span() for found in re.finditer(r"\S+", content)]
    spans, at = [], 0
    for text in content.split(by):
        spans.append((at, at + len(text)))
        at += len(text) + len(by)
    return spans


def _exact(value: float) -> Fraction:
    """Return a number exactly as written, not its nearest float."""
    return Fraction(repr(value))


def _plain(number: Fraction) -> int | float:
    if number.denominator == 1 and abs(number) < 1 << 63:
        return int(number)
    try:
        value = float(number)
    except OverflowError:
        raise MapWrong("is too large") from None
    return int(value) if value.is_integer() and abs(value) < 1 << 53 else value


def _decimal(number: Fraction, digits: int) -> str:
    """Write a number with the given count of significant digits, without an exponent."""
    context = Context(prec=digits)
    rounded = context.divide(Decimal(number.numerator), Decimal(number.denominator))
    text = format(rounded, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _padded(text: str, like: str) -> str:
    """Give a number the decimals and the sign of the old text."""
    found = re.fullmatch(r"([+-]?)\d+\.(\d+)", like)
    decimals = len(found[2]) if found else 0
    whole, _, after = text.partition(".")
    if len(after) < decimals:
        text = f"{whole}.{after.ljust(decimals, '0')}"
    return f"+{text}" if like.startswith("+") and not text.startswith("-") else text
