"""What the name of a part says against an outline: polarity, height, size, terminals."""

from __future__ import annotations

import re

from jobcheck.schema.parts import Outline, Part
from jobcheck.sources.lists.reading import PartName
from jobcheck.trade.packages import package_of, said_by

_HEIGHT_SLACK_MM = 0.1
"""A name gives the maximum, an outline often the nominal height: common practice, no published
source."""

_SIZE_SLACK = 0.1
"""Share of a size by which name and outline may differ: common practice, no published source."""

_POLAR_WORD = re.compile(
    r"(?<![A-Za-z])(?:LED|DIO(?:DE)?[CM]?|CP|CAPP[A-Z]*|CAPMP|TAN(?:T(?:AL(?:UM)?)?)?|POL|CPOL|"
    r"POLARI[SZ]ED|ELKO|ELECTROLYTIC|SCHOTTKY|ZENER|TVS)(?![A-Za-z])",
    re.I,
)
_POLAR_FIRST = re.compile(r"D(?=[_-]|\d{4}(?!\d))", re.I)
_IPC_POLAR = re.compile(r"(?<![A-Za-z])(?:LED|DIO|CAPP)[CM]\d{4}", re.I)
_UNPOLARISED = re.compile(r"non[-_ ]?polar|unpolar|bipolar|bidirectional", re.I)
_POLAR_LETTERS = {"D": "D", "LED": "LED", "DS": "DS", "VD": "VD", "ZD": "ZD", "DZ": "DZ"}


def polar_word(named: PartName, reference: str) -> str:
    """Return what says that a part is polarised: a word in its names, or its reference letters."""
    if any(map(_UNPOLARISED.search, (named.value, named.footprint))):
        return ""
    if found := _POLAR_FIRST.match(named.footprint):
        return f"{found[0]} in {named.footprint}"
    for text in (named.footprint, named.value, named.maker_number):
        found = _POLAR_WORD.search(text.replace("_", " ")) or _IPC_POLAR.search(text)
        if found:
            return f"{found[0]} in {text}"
    letters = _POLAR_LETTERS.get(reference.rstrip("0123456789").upper())
    return f"reference letter {letters}" if letters else ""


def contradiction(
    named: PartName, reference: str, outline: Outline, part: Part | None = None
) -> str:
    """Return why a naming cannot be this outline, in words; empty where nothing speaks against."""
    polar = polar_word(named, reference)
    if polar and not outline.polarised:
        return f"{polar} means polarised, and the outline is unpolarised"
    package = package_of(named.footprint)
    if package.polarised and package.terminals == 2 and not outline.polarised:
        return f"{named.footprint} is a polarised case, and the outline is unpolarised"
    if named.terminals not in (None, outline.terminals):
        return f"it has {named.terminals} terminals, the outline {outline.terminals}"
    said = said_by(named.footprint)
    height = named.height_mm if named.height_mm is not None else said.height_mm
    known = part.height_mm if part and part.height_mm is not None else outline.height_mm
    if None not in (height, known) and abs(height - known) > _HEIGHT_SLACK_MM + 1e-9:  # type: ignore[operator]
        return f"the name says {height:g} mm high, the outline {known:g} mm"
    if said.body_mm and not _fits(said.body_mm, outline):
        body = " x ".join(f"{length:g}" for length in said.body_mm)
        own = " x ".join(f"{length:g}" for length in outline.body_mm)
        return f"the name says {body} mm, the outline {own} mm"
    return ""


def _fits(body_mm: tuple[float, float], outline: Outline) -> bool:
    sizes = filter(None, (outline.body_mm, outline.over_terminals_mm))
    return any(
        all(
            abs(a - b) <= max(_SIZE_SLACK * b, 0.15)
            for a, b in zip(sorted(body_mm), sorted(size), strict=True)
        )
        for size in sizes
    )
