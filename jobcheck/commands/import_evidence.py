"""What the pads of a list show: pin 1 of its drawings at 0, its level, how it counts the bottom."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from jobcheck.schema.parts import Outline, Pin1AtZero
from jobcheck.sources.lists.reading import List
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import (
    PIN1_AT_ZERO,
    Bottom,
    BottomPositions,
    ZeroLevel,
    board_angle,
    list_to_outline,
)
from jobcheck.wording import count

_MID_SIDE = 0.1
"""Pin 1 is in mid-side if one offset is at most this share of the other: common practice, no
published source."""

_LEAST_FOOTPRINTS = 2
_LEAST_ROWS = 2
"""One alone may be drawn in another way than the rest: common practice, no published source."""

_CLOSE_MM = 0.01
_AT_LEVEL: Mapping[ZeroLevel, tuple[str, str]] = {
    "A": ("upper_left", "left"),
    "B": ("lower_left", "bottom"),
}
"""Pin 1 of a part with corners and of one with two terminals: IPC-7351A and IEC 61188-7, as
secondary sources quote them."""

_BOTTOMS: tuple[Bottom, ...] = ("as-placed", "through-top-mirrored-y", "through-top-mirrored-x")


class Evidence(NamedTuple):
    """What pads show: pin 1 at 0 by footprint, and conventions with the reason of each."""

    pin1_at_zero: Mapping[str, Pin1AtZero] = {}
    conventions: Mapping[str, str] = {}
    reasons: Sequence[str] = ()


class _Pad(NamedTuple):
    """The pad of one row: its direction as listed, degrees, and the row."""

    footprint: str
    direction: float
    row: Mapping[str, Any]


def evidence_of(
    read: List, terminals: Mapping[str, int], outlines: Mapping[str, Outline]
) -> Evidence:
    """Compare the pads of a list with each other and with outlines of the shop.

    `terminals` are those of each footprint, where they are known, `outlines` the outlines of
    footprints that the shop describes. A component layer declares its conventions itself.
    """
    pads = list(_pads(read))
    drawn = _drawn(pads, terminals)
    conventions: dict[str, str] = {}
    reasons: list[str] = []
    if read.format.shape != "Gerber X3":
        for finding in (_level(drawn, terminals, outlines), _bottom(pads, drawn), _negated(read)):
            conventions |= finding[0]
            reasons += [finding[1]] if finding[1] else []
    return Evidence(drawn, conventions, reasons)


def _pads(read: List) -> Iterator[_Pad]:
    for reference, row in read.rows.items():
        named = read.named.get(reference)
        if "pin1_x" not in row or "pin1_y" not in row or not named or not named.footprint:
            continue
        right, up = row["pin1_x"] - row["x"], row["pin1_y"] - row["y"]
        if math.hypot(right, up) >= _CLOSE_MM:
            yield _Pad(named.footprint, math.degrees(math.atan2(up, right)), row)


def _drawn(pads: Sequence[_Pad], terminals: Mapping[str, int]) -> dict[str, Pin1AtZero]:
    """Return pin 1 at 0 of each footprint whose rows on the top all agree."""
    found: dict[str, set[Pin1AtZero]] = defaultdict(set)
    for pad in pads:
        if pad.row.get("side", "top") == "top":
            angle = pad.direction - pad.row.get("rotation", 0)
            found[pad.footprint].add(_place(angle, terminals.get(pad.footprint)))
    return {name: places.pop() for name, places in found.items() if len(places) == 1}


def _place(angle: float, terminals: int | None) -> Pin1AtZero:
    """Return the side or corner in a direction; two terminals have sides only."""
    right, up = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    if terminals == 2 or min(abs(right), abs(up)) <= _MID_SIDE * max(abs(right), abs(up)):
        if abs(right) >= abs(up):
            return "right" if right > 0 else "left"
        return "top" if up > 0 else "bottom"
    if up > 0:
        return "upper_right" if right > 0 else "upper_left"
    return "lower_right" if right > 0 else "lower_left"


def _level(
    drawn: Mapping[str, Pin1AtZero],
    terminals: Mapping[str, int],
    outlines: Mapping[str, Outline],
) -> tuple[dict[str, str], str]:
    """Return the level that all footprints have; none where one of them differs.

    An outline of the shop with a level of its own counts; else the level's definition does.
    """
    agree: dict[ZeroLevel, list[str]] = {"A": [], "B": []}
    for name, place in drawn.items():
        for level, places in _AT_LEVEL.items():
            expected = _by_outline(outlines.get(name), level)
            if expected is None:
                expected = PIN1_AT_ZERO[places[terminals.get(name) == 2]]
            if abs(wrap(PIN1_AT_ZERO[place] - expected)) < 1:
                agree[level].append(name)
    best: ZeroLevel = max(agree, key=lambda level: len(agree[level]))
    met = len(agree[best])
    if len(drawn) < _LEAST_FOOTPRINTS or not met:
        return {}, ""
    said = f"{met} of {count(len(drawn), 'footprint')} with pad 1"
    if met == len(drawn):
        return {"zero": best}, f"zero {best}: {said} agree"
    others = ", ".join(name for name in drawn if name not in agree[best])
    return {}, f"zero is not known: {said} are drawn at level {best}, but not {others}"


def _by_outline(outline: Outline | None, level: ZeroLevel) -> float | None:
    if not outline or not outline.zero or not outline.pin1_at_zero or outline.is_pad1_opposite:
        return None
    return wrap(PIN1_AT_ZERO[outline.pin1_at_zero] + list_to_outline(outline.zero, level))


def _bottom(pads: Sequence[_Pad], drawn: Mapping[str, Pin1AtZero]) -> tuple[dict[str, str], str]:
    """Return how the list counts the bottom, where exactly one way fits each pad there."""
    rows = [p for p in pads if p.row.get("side") == "bottom" and p.footprint in drawn]
    ways: tuple[tuple[BottomPositions, bool], ...] = (("through-top", True), ("as-placed", False))
    for positions, is_mirrored in ways:
        fitting = [
            bottom
            for bottom in _BOTTOMS
            if all(_fits(pad, drawn[pad.footprint], bottom, is_mirrored) for pad in rows)
        ]
        if len(rows) < _LEAST_ROWS or len(fitting) > 1:
            return {}, ""
        if fitting:
            said = f"bottom {fitting[0]}: {len(rows)} of {count(len(rows), 'pad')} on the bottom"
            return {"bottom": fitting[0], "bottom_positions": positions}, f"{said} agree"
    return {}, ""


def _fits(pad: _Pad, place: Pin1AtZero, bottom: Bottom, is_mirrored: bool) -> bool:
    """Tell whether a pad, seen from the bottom, is where a convention turns the drawing to."""
    turn = board_angle(pad.row.get("rotation", 0), 0, bottom)
    seen = 180 - pad.direction if is_mirrored else pad.direction
    return abs(wrap(PIN1_AT_ZERO[place] + turn - seen)) < 40


def _negated(read: List) -> tuple[dict[str, str], str]:
    """Return that x is negated on the bottom, where every row there is negative and none else."""
    top = [row["x"] for row in read.rows.values() if row.get("side", "top") == "top"]
    bottom = [row["x"] for row in read.rows.values() if row.get("side") == "bottom"]
    if len(bottom) < _LEAST_ROWS or not top or min(top) < 0 or max(bottom) >= 0:
        return {}, ""
    said = f"bottom_positions x-negated: all {len(bottom)} x on the bottom are negative"
    return {"bottom_positions": "x-negated"}, f"{said}, none on the top"
