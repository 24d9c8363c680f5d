"""Reads drawings back: where each part is in them, and how it is turned."""

import re
from math import cos, radians, sin

from lxml import etree

from jobcheck.reports.pages.pictures import Drawn

SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = r"(-?[\d.]+(?:e-?\d+)?)"
_MOVED = re.compile(rf"translate\({_NUMBER} {_NUMBER}\) rotate\({_NUMBER}\)")

Place = tuple[float, float, float]
"""x right and y down, in the units of the drawing; the turn as SVG counts it, clockwise."""


def root_of(drawn: Drawn) -> etree._Element:
    """Return the picture as XML; it must be well-formed."""
    return etree.fromstring(drawn.svg().encode(), etree.XMLParser(resolve_entities=False))


def moved(transform: str) -> tuple[Place, tuple[float, float]]:
    """Return a transformation as place and turn, and the move that comes before both."""
    found = _MOVED.match(transform)
    assert found, transform
    x, y, turn = map(float, found.groups())
    rest = transform[found.end() :]
    first = re.match(rf" translate\({_NUMBER} {_NUMBER}\)", rest)
    return (x, y, turn), (float(first[1]), float(first[2])) if first else (0.0, 0.0)


def through(transform: str, place: Place) -> Place:
    """Return where a place of a group is after the group's transformation."""
    (x, y, turn), (across, down) = moved(transform)
    u, v = place[0] + across, place[1] + down
    cosine, sine = cos(radians(turn)), sin(radians(turn))
    return x + u * cosine - v * sine, y + u * sine + v * cosine, place[2] + turn


def parts_in(group: etree._Element) -> dict[str, Place]:
    """Return reference -> place of every part that a board's group draws."""
    found = {}
    for part in group.iter(f"{SVG}g"):
        use, label = part.find(f"{SVG}use"), part.find(f"{SVG}text")
        if use is not None and label is not None and label.text:
            found[label.text] = moved(use.get("transform", ""))[0]
    return found
