"""Rows that no nozzle places: test points, holes, logos, through-hole parts."""

from __future__ import annotations

import re

from jobcheck.sources.lists.reading import PartName
from jobcheck.trade.packages import is_through_hole

_KINDS = (
    ("test points", re.compile(r"test[-_ ]?(?:point|pad)|(?<![a-z])tp[-_ ]?(?:pad|\d)", re.I)),
    ("holes", re.compile(r"(?:mounting|tooling|fixing)[-_ ]?holes?|(?<![a-z])mtg[-_ ]?hole", re.I)),
    ("logos", re.compile(r"(?<![a-z])logos?(?![a-z])|(?<![a-z])graphics?(?![a-z])", re.I)),
    ("bridges of copper", re.compile(r"net[-_ ]?tie|solder[-_ ]?(?:jumper|bridge)", re.I)),
)
_REFERENCES = (
    ("test points", re.compile(r"TP[-_]?\d*")),
    ("holes", re.compile(r"(?:MH|MTG|HOLE)[-_]?\d*")),
    ("logos", re.compile(r"LOGO[-_]?\d*")),
)


def kind_apart(reference: str, named: PartName) -> str:
    """Return what a row is, if it is nothing to place: its kind in the plural; empty for a part.

    A maker's number shows that something is bought, so words and letters do not count beside it.
    Source: common practice, no published source.
    """
    if not named.maker_number:
        text = f"{named.value} {named.footprint}"
        for kind, words in _KINDS:
            if words.search(text):
                return kind
        for kind, letters in _REFERENCES:
            if letters.fullmatch(reference.upper()):
                return kind
    return "through-hole" if is_through_hole(named.footprint) else ""
