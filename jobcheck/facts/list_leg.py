"""The list leg of polarity: how each part lies by its list, beside where its pad 1 lies.

Pad data are the pads of a list (Gerber X3 pins, columns `pin1_x` and `pin1_y`), else the
footprint that an outline names in `pad1_at_zero`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from jobcheck.facts.frames import Frames
from jobcheck.facts.usage import Usage
from jobcheck.schema.job import Bottom, Placement
from jobcheck.schema.parts import Outline
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import (
    PIN1_AT_ZERO,
    attitude_difference,
    board_angle,
    pin1_faces,
)

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop

ASKEW = 45.0
"""Off by neither none, a quarter nor a half: pad 1 lies between a corner and mid-side."""

_CLOSE_TO_CENTRE_MM = 0.01
_NEAR_A_QUARTER = 43.0
"""Pin 1 of a long body lies nearly above its centre and yet belongs to a corner: anything up to
here counts, and exactly between corner and mid-side (45) does not.

Both: common practice, no published source.
"""


@dataclass(frozen=True)
class PadLegs:
    """What pad data say of one job: how far the list turns each part too far.

    `pads` is outline -> reference -> angle, in the order of the list; `footprints` is outline ->
    angle for outlines that have no pads in the list. Angles are 0, 90, -90 or 180 degrees,
    counter-clockwise seen from the side being placed, reduced by the part's symmetry, or `ASKEW`.
    """

    pads: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    footprints: Mapping[str, float] = field(default_factory=dict)

    def off(self, outline: str, reference: str) -> float | None:
        """How far one placement is off; None where no pad data tell."""
        return self.pads.get(outline, {}).get(reference, self.footprints.get(outline))


def pad_legs(shop: Shop, usage: Usage, job: str) -> PadLegs:
    """Compare one job's list with its pad data, for what it places."""
    frames = Frames(shop.jobs[job])
    drawn = {
        name: outline
        for name, part in shop.parts.items()
        if (outline := shop.outlines.get(part.outline)) and outline.pin1_at_zero
    }
    pads: dict[str, dict[str, float]] = defaultdict(dict)
    for reference, placement in shop.placed(job) if drawn else ():
        if placement.pin1_x is not None and placement.part in drawn:
            outline = drawn[placement.part]
            off = turned_too_far(frames, outline, placement, frames.convention(placement))
            if off is not None:
                pads[shop.parts[placement.part].outline][reference] = off
    placed = {shop.parts[part].outline for part in usage.placements_by_part[job] if part in drawn}
    footprints = {
        name: off
        for name in shop.outlines
        if name in placed and name not in pads
        if (off := _by_footprint(frames, shop.outlines[name])) is not None
    }
    return PadLegs(dict(pads), footprints)


def pad_direction(placement: Placement) -> float | None:
    """Return where pad 1 lies from the part's centre, degrees, seen from the side being placed.

    None where it is not known, or lies in the centre. Pads of a list are seen from the top.
    """
    if placement.pin1_x is None or placement.pin1_y is None:
        return None
    right, up = placement.pin1_x - placement.x, placement.pin1_y - placement.y
    if math.hypot(right, up) < _CLOSE_TO_CENTRE_MM:
        return None
    return wrap(math.degrees(math.atan2(up, -right if placement.side == "bottom" else right)))


def turned_too_far(
    frames: Frames, outline: Outline, placement: Placement, bottom: Bottom | None
) -> float | None:
    """Return how far a list that counts the bottom so turns a part too far, as in `PadLegs`.

    None where pad 1, pin 1 or the convention is not known.
    Source: P + b beside the direction of the pad, arithmetic.
    """
    pad = pad_direction(placement)
    if pad is None or outline.pin1_at_zero is None or (placement.side, bottom) == ("bottom", None):
        return None
    lies = board_angle(placement.rotation, frames.zero_offset(outline) or 0.0, bottom)
    return _quarters(pin1_faces(PIN1_AT_ZERO[outline.pin1_at_zero], lies) - pad, outline)


def _by_footprint(frames: Frames, outline: Outline) -> float | None:
    if outline.pin1_at_zero is None or outline.pad1_at_zero is None:
        return None
    listed = PIN1_AT_ZERO[outline.pin1_at_zero] + (frames.zero_offset(outline) or 0.0)
    return _quarters(listed - PIN1_AT_ZERO[outline.pad1_at_zero], outline)


def _quarters(angle: float, outline: Outline) -> float:
    """Return an angle as quarter turns, reduced by the part's symmetry; `ASKEW` for others."""
    quarter = 90.0 * round(wrap(angle) / 90.0)
    if abs(wrap(angle - quarter)) > _NEAR_A_QUARTER:
        return ASKEW
    return attitude_difference(quarter, 0.0, outline.symmetry)
