"""The drawing and the listing leg of polarity: pad data beside an outline and the rows of a list.

Pad data are the pads of a list (Gerber X3 pins, columns `pin1_x` and `pin1_y`) and the footprint
that an outline describes in `pad1_at_zero`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from jobcheck.facts.frames import Frames, frames_of, listed_x
from jobcheck.schema.job import Bottom, Job, Placement
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

BOTTOMS: tuple[Bottom, ...] = ("as-placed", "through-top-mirrored-y", "through-top-mirrored-x")

ASKEW = 45.0
"""Off by neither none, a quarter nor a half: pad 1 is between a corner and mid-side."""

_CLOSE_TO_CENTRE_MM = 0.01
_NEAR_A_QUARTER = 43.0
"""Pin 1 of a long body is nearly above its centre and yet belongs to a corner: anything up to
here counts, and exactly between corner and mid-side (45) does not.

Both: common practice, no published source.
"""


@dataclass(frozen=True)
class PadLegs:
    """What pad data say of one job: how far a list or a drawing turns each part too far.

    `pads` is outline -> reference -> angle of the pad in its row, in the order of the list, drawing
    and listing together; `footprints` is outline -> angle of the drawing from its footprint. Angles
    are 0, 90, -90 or 180 degrees, counter-clockwise seen from the side being placed, reduced by
    the part's symmetry, or `ASKEW`.
    """

    pads: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    footprints: Mapping[str, float] = field(default_factory=dict)

    def total(self, name: str, reference: str) -> float | None:
        """How far drawing and listing of a placement are off together; None where no pad shows."""
        return self.pads.get(name, {}).get(reference, self.footprints.get(name))

    def listing(self, outline: Outline, name: str, reference: str) -> float | None:
        """How far the listing of a placement is off; None where its row has no pad to compare.

        Where the footprint shows that the drawing is off, that share is not the listing's.
        """
        off = self.pads.get(name, {}).get(reference)
        drawing = self.footprints.get(name, 0.0)
        if off is None or ASKEW in (off, drawing):
            return off
        return attitude_difference(off, drawing, outline.symmetry)


def pad_legs(shop: Shop, job: str) -> PadLegs:
    """Compare one job's list with its pad data, for what it places."""
    frames = frames_of(shop, job)
    drawn = {
        name: outline
        for name, part in shop.parts.items()
        if (outline := shop.outlines.get(part.outline)) and outline.pin1_at_zero
    }
    pads: dict[str, dict[str, float]] = defaultdict(dict)
    footprints: dict[str, float | None] = {}
    for reference, placement in shop.placed(job) if drawn else ():
        if placement.part not in drawn:
            continue
        outline, name = drawn[placement.part], shop.parts[placement.part].outline
        if name not in footprints:
            footprints[name] = _by_footprint(frames, outline)
        if placement.pin1_x is not None:
            off = turned_too_far(frames, outline, placement, frames.convention(placement))
            if off is not None:
                pads[name][reference] = off
    known = {name: off for name, off in footprints.items() if off is not None}
    return PadLegs(dict(pads), known)


def pad_direction(job: Job, placement: Placement) -> float | None:
    """Return where pad 1 is from the part's centre, degrees, seen from the side being placed.

    None where it is not known, or in the centre.
    """
    if placement.pin1_x is None or placement.pin1_y is None:
        return None
    right, up = placement.pin1_x - placement.x, placement.pin1_y - placement.y
    if placement.side == "bottom":
        right = listed_x(job, placement.x) - listed_x(job, placement.pin1_x)
    if math.hypot(right, up) < _CLOSE_TO_CENTRE_MM:
        return None
    return wrap(math.degrees(math.atan2(up, right)))


def turned_too_far(
    frames: Frames, outline: Outline, placement: Placement, bottom: Bottom | None
) -> float | None:
    """Return how far a list that counts the bottom so turns a part too far, as in `PadLegs`.

    None where pad 1, pin 1, g or the convention is not known.
    Source: P + b beside the direction of the pad, arithmetic.
    """
    pad, zero = pad_direction(frames.job, placement), frames.zero_offset(outline)
    if pad is None or zero is None or outline.pin1_at_zero is None:
        return None
    if (placement.side, bottom) == ("bottom", None):
        return None
    is_on = board_angle(placement.rotation, zero, bottom)
    return _quarters(pin1_faces(PIN1_AT_ZERO[outline.pin1_at_zero], is_on) - pad, outline)


def _by_footprint(frames: Frames, outline: Outline) -> float | None:
    zero = frames.zero_offset(outline)
    if zero is None or outline.pin1_at_zero is None or outline.pad1_at_zero is None:
        return None
    listed = PIN1_AT_ZERO[outline.pin1_at_zero] + zero
    return _quarters(listed - PIN1_AT_ZERO[outline.pad1_at_zero], outline)


def conventions_that_fit(shop: Shop, job: str) -> tuple[Bottom, ...]:
    """Return the conventions for the bottom under which every pad of its rows is met.

    None of them where no row has a pad to compare.
    """
    frames = frames_of(shop, job)
    rows = [
        (outline, placement)
        for _, placement in shop.placed(job)
        if placement.side == "bottom" and (outline := shop.outline_of(placement.part))
    ]
    found = []
    for bottom in BOTTOMS:
        off = [turned_too_far(frames, outline, placement, bottom) for outline, placement in rows]
        compared = [angle for angle in off if angle is not None]
        if compared and not any(compared):
            found.append(bottom)
    return tuple(found)


def assumptions(
    frames: Frames, outline: Outline, off: float, rows: Collection[float] | None = None
) -> tuple[str, ...]:
    """Return the conditions of a finding that a part is off by an angle; none if it is certain.

    `rows` are the angles of all rows of the outline where the pad is that of a row, None where it
    is that of the footprint. An unknown level can be behind a quarter turn, unnamed terminals
    behind a half, unless another row fits.
    """
    found = []
    is_row = rows is not None
    if rows and 0.0 in rows:
        off = 0.0
    if outline.is_pad1_opposite is None and abs(off) == 180:
        pin = outline.pin1_means or "pin 1"
        found.append(f"if pad 1 is {pin if pin == 'pin 1' else f'the {pin}'} ({_unnamed(outline)})")
    if frames.is_zero_assumed and abs(off) == 90:
        found.append("if outline and list are drawn alike (no zero level)")
    if is_row and frames.is_bottom and frames.job.placements.bottom_positions is None:
        found.append("if positions are seen through the top (no bottom_positions)")
    return tuple(found)


def _unnamed(outline: Outline) -> str:
    """Say why it is unknown whether pad 1 is the terminal that pin 1 is."""
    if outline.pad1_means and outline.pin1_means:
        return f"pad1_means {outline.pad1_means}"
    return "no pin1_means" if outline.pad1_means else "no pad1_means"


def _quarters(angle: float, outline: Outline) -> float:
    """Return pin 1 less pad 1 as quarter turns, reduced by the part's symmetry; or `ASKEW`."""
    if outline.is_pad1_opposite:
        angle += 180.0
    quarter = 90.0 * round(wrap(angle) / 90.0)
    if abs(wrap(angle - quarter)) > _NEAR_A_QUARTER:
        return ASKEW
    return attitude_difference(quarter, 0.0, outline.symmetry)
