"""Carrier tape as EIA-481 and IEC 60286-3 describe it: widths, pockets, holes.

Lengths are mm. Tape frame: seen from above with the cover up, x along the feed, y toward the
round holes.
"""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from jobcheck.trade.plane import Point, turned

HOLE_PITCH_MM = 4.0
"""P0, ±0.1; over ten pitches ±0.2. Source: EIA-481-D Tables 2, 3."""

HOLE_DIAMETER_MM = 1.5
"""D0, +0.1/-0. Source: EIA-481-D Tables 2, 3."""

EDGE_TO_HOLE_MM = 1.75
"""E1, tape edge to the line of holes, ±0.1. Source: EIA-481-D Tables 2, 3."""

HOLE_TO_POCKET_ALONG_MM = 2.0
"""P2, hole centre to pocket centre along the tape. Source: EIA-481-D Tables 2, 3."""

SMALL_PITCH_MM = 2.0
"""Pocket pitch for cases 0402 and smaller.

Source: common practice; makers' packing notes (Philips Components 1996, Panasonic) use it.
"""

SMALL_PITCH_BODY_MM = 1.1
"""Longest body that counts as 0402 or smaller: 1.00 + 0.10. Source: Fenghua RC datasheet."""


LARGE_PITCH_BODY_MM = 1.45
"""Shortest body that counts as 0603 or larger: 1.60 - 0.15. Source: Fenghua RC datasheet."""


class StandardTape(NamedTuple):
    """One width of tape. Source: EIA-481-D Tables 2 and 3.

    `hole_to_pocket_mm` is F, across the tape; `pocket_across_mm` the largest outer size of a
    pocket across the tape (B1), `thickness_mm` the largest overall thickness with its pocket
    (T2); `part_turn_deg` the largest turn of a part in its pocket, None where not known.
    """

    width_mm: float
    pitches_mm: tuple[float, ...]
    hole_to_pocket_mm: float
    across_tolerance_mm: float
    along_tolerance_mm: float
    pocket_across_mm: float
    thickness_mm: float
    part_turn_deg: float | None


def _by_four(largest: int) -> tuple[float, ...]:
    return tuple(float(pitch) for pitch in range(4, largest + 1, 4))


TAPES: Mapping[float, StandardTape] = MappingProxyType(
    {
        tape.width_mm: tape
        for tape in (
            StandardTape(8.0, (2.0, 4.0), 3.5, 0.05, 0.05, 4.35, 2.5, 20.0),
            StandardTape(12.0, (2.0, 4.0, 8.0), 5.5, 0.05, 0.05, 8.2, 6.5, 20.0),
            StandardTape(16.0, _by_four(12), 7.5, 0.1, 0.1, 12.1, 8.0, 10.0),
            StandardTape(24.0, _by_four(20), 11.5, 0.1, 0.1, 20.1, 12.0, 10.0),
            StandardTape(32.0, _by_four(32), 14.2, 0.1, 0.1, 23.0, 12.0, None),
            StandardTape(44.0, _by_four(44), 20.2, 0.15, 0.15, 35.0, 16.0, None),
            StandardTape(56.0, _by_four(56), 26.2, 0.15, 0.15, 46.0, 20.0, None),
        )
    }
)
"""The standard widths up to 56 mm; wider ones, from 72 on, exist and are not described.

Source: EIA-481-D Tables 2 and 3.
"""


WIDE_TAPES_MM = (72.0, 88.0, 104.0, 120.0, 144.0, 152.0, 200.0)
"""Widths that exist beside those of TAPES, whose other sizes are not described here.

Source: EIA-481, from memory.
"""


def nearest_width(width_mm: float) -> float:
    """The standard width nearest to a width; of two equally near the narrower.

    Source: EIA-481-D Tables 2, 3.
    """
    return min(TAPES, key=lambda standard: (abs(standard - width_mm), standard))


def nearest_pitch(tape: StandardTape, pitch_mm: float) -> float:
    """The allowed pocket pitch nearest to a pitch; of two equally near the smaller.

    Source: EIA-481-D Tables 2, 3.
    """
    return min(tape.pitches_mm, key=lambda allowed: (abs(allowed - pitch_mm), allowed))


def usual_pitch(tape: StandardTape, body_mm: float) -> float | None:
    """The one pitch that practice expects on 8 mm tape; None where practice does not say.

    `body_mm` is the body's longer side. Source: common practice; makers' packing notes
    (Philips Components 1996, Panasonic) use 2 mm for 0402.
    """
    if tape.width_mm != 8.0:
        return None
    if body_mm <= SMALL_PITCH_BODY_MM:
        return SMALL_PITCH_MM
    return HOLE_PITCH_MM if body_mm >= LARGE_PITCH_BODY_MM else None


def turn_in_pocket(body: Point, pocket: Point) -> float:
    """How far a body can turn in its pocket before it touches, degrees, at most 90.

    Both are along and across the tape; the body fits as it is turned. Source: the corner of a
    rectangle turned by t reaches l cos t + w sin t; arithmetic.
    """
    along, across = body
    diagonal = math.hypot(along, across)
    turns = [90.0]
    for own, other, room in ((along, across, pocket[0]), (across, along, pocket[1])):
        if room < diagonal:
            turns.append(math.degrees(math.atan2(other, own) - math.acos(room / diagonal)))
    return max(0.0, min(turns))


def cut_tape_extent(width_mm: float, pitch_mm: float, pockets: int) -> tuple[Point, Point]:
    """Lower and upper corner of a cut tape with its pockets, from the pick, tape frame.

    The cut tape reaches half a pitch beyond its first pocket, which is the one at the pick, and
    beyond its last. Source: EIA-481-D Tables 2, 3 (E1, F); a width that is not described there has
    its pocket in mid-width.
    """
    standard = TAPES.get(width_mm)
    to_edge = pocket_from_edge(standard) if standard else width_mm / 2
    back = (max(pockets, 1) - 0.5) * pitch_mm
    return (-back, to_edge - width_mm), (pitch_mm / 2, to_edge)


def advance_mm(pitch_mm: float, pockets: int) -> float:
    """How far the tape moves for a count of pockets. Source: arithmetic."""
    return pitch_mm * pockets


def slots_covered(width_mm: float, step_mm: float) -> int:
    """How many slots of a row a feeder takes that is as wide as its carrier; at least 1.

    Source: common practice, no published source.
    """
    return max(1, math.ceil(min(width_mm / step_mm - 1e-9, 1e6)))  # no row has more


def pocket_from_hole(tape: StandardTape) -> Point:
    """Centre of the next pocket ahead of a hole, from that hole, tape frame: (P2, -F).

    Source: EIA-481-D Tables 2, 3.
    """
    return HOLE_TO_POCKET_ALONG_MM, -tape.hole_to_pocket_mm


def pocket_from_edge(tape: StandardTape) -> float:
    """Pocket centre from the tape's edge beside the holes: E1 + F.

    Source: EIA-481-D Tables 2, 3.
    """
    return EDGE_TO_HOLE_MM + tape.hole_to_pocket_mm


def pick_error(
    pick: Point, hole: Point, tape: StandardTape, pitch_mm: float, feed_direction: float
) -> Point:
    """How far a pick is from the nearest pocket centre: along and across, tape frame.

    `hole` is any hole of the tape at rest, machine frame. Along it is reduced by the distance
    at which pockets repeat beside a hole, the smaller of both pitches.
    Source: EIA-481-D Tables 2, 3.
    """
    seen = turned((pick[0] - hole[0], pick[1] - hole[1]), -feed_direction)
    along, across = pocket_from_hole(tape)
    repeat = min(pitch_mm, HOLE_PITCH_MM)
    return math.remainder(seen[0] - along, repeat), seen[1] - across
