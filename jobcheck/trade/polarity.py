"""Where pin 1 ends up: one chain of angles from the tape and from the list to the spindle.

Angles are degrees, counter-clockwise positive: seen from above in the tape and the machine,
from the side being placed on a board. Points are mm.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from jobcheck.trade.plane import Point, moved, turned, wrap

ZeroLevel = Literal["A", "B"]
"""Level of IEC 61188-7 at which an outline or a list is drawn at 0."""

Bottom = Literal["as-placed", "through-top-mirrored-y", "through-top-mirrored-x"]
"""What a list means by the rotation of a part on the bottom."""

BottomPositions = Literal["through-top", "as-placed", "x-negated"]
"""What a list means by the position of a part on the bottom."""

PIN1_AT_ZERO: Mapping[str, float] = MappingProxyType(
    {
        "right": 0.0,
        "upper_right": 45.0,
        "top": 90.0,
        "upper_left": 135.0,
        "left": 180.0,
        "lower_left": 225.0,
        "bottom": 270.0,
        "lower_right": 315.0,
    }
)
"""P: direction of pin 1 in the outline's drawing at 0, from its centre, seen from above."""

PIN1_IN_TAPE: Mapping[str, float] = MappingProxyType(
    {
        "forward": 0.0,
        "q2": 45.0,
        "holes": 90.0,
        "q1": 135.0,
        "backward": 180.0,
        "q3": 225.0,
        "plain_edge": 270.0,
        "q4": 315.0,
    }
)
"""Q: direction of pin 1 in the tape, x along the feed, y toward the round holes.

Source: quadrants 1 upper left, 2 upper right, 3 lower left, 4 lower right with the round holes
along the top, EIA-481-E Figure 1; that figure's feed direction points right (from memory of
makers' tape drawings).
"""

_PIN1_AT_LEVEL: Mapping[ZeroLevel, float] = MappingProxyType({"A": 135.0, "B": 225.0})

SQUARE_WITHIN_MM = 0.3
"""A case is square when its length and width differ by no more. Source: EIA-481-E."""


def attitude_in_pocket(pin1_in_tape: float, pin1_at_zero: float) -> float | None:
    """a = Q - P: how the outline's drawing is turned in its pocket, tape frame, (-180, 180].

    None where that is not a multiple of 90: a quadrant was named for a pin in mid-side, or an
    edge for a pin in a corner. Source: arithmetic on the quadrants of EIA-481-E Figure 1.
    """
    attitude = wrap(pin1_in_tape - pin1_at_zero)
    return attitude if attitude % 90.0 == 0.0 else None


def attitude_at_pick(feed_direction: float, in_pocket: float) -> float:
    """A = f + a: how the outline's drawing is turned in the machine before the nozzle takes it.

    `feed_direction` is the machine direction in which pockets move. Source: arithmetic.
    """
    return wrap(feed_direction + in_pocket)


def list_to_outline(outline: ZeroLevel, placements: ZeroLevel) -> float:
    """g: the angle that turns the outline's drawing at 0 into the list's drawing at 0.

    Level A has pin 1 upper left, level B lower left, so a part drawn at A in a list at B has
    g = 90. Two terminals turn with the rest: left at A, bottom at B.
    Source: IPC-7351A and IEC 61188-7, as secondary sources quote them; bottom for two terminals
    follows from the turn and is in no text that was read.
    """
    return wrap(_PIN1_AT_LEVEL[placements] - _PIN1_AT_LEVEL[outline])


def board_angle(rotation: float, zero_offset: float, bottom: Bottom | None = None) -> float:
    """b: the outline's turn on its board, seen from the side being placed.

    `rotation` is the listed r, `zero_offset` is g, `bottom` the list's convention for a part
    on the bottom and None for a part on the top. Raises `ValueError` on another convention.
    Source: mirroring y for the bottom's zero is Gerber Layer Format Specification 5.6.16.
    """
    if bottom is None or bottom == "as-placed":
        return wrap(rotation + zero_offset)
    if bottom == "through-top-mirrored-y":
        return wrap(180.0 - rotation + zero_offset)
    if bottom == "through-top-mirrored-x":
        return wrap(zero_offset - rotation)
    raise ValueError(f"unknown bottom convention: {bottom}")


def target_attitude(
    on_board: float, cell_turn: float, seat_rotation: float, found_rotation: float = 0.0
) -> float:
    """B = b + c + seat + d: how the outline must be turned in the machine when it is placed.

    `cell_turn` is 0 or 180, `found_rotation` what the fiducials measured. Source: arithmetic.
    """
    return wrap(on_board + cell_turn + seat_rotation + found_rotation)


def spindle_turn(target: float, at_pick: float) -> float:
    """T = B - A: the turn from pick to place, within (-180, 180]. Source: arithmetic."""
    return wrap(target - at_pick)


def pin1_faces(pin1_at_zero: float, attitude: float) -> float:
    """Direction of pin 1 of an outline at an attitude. Source: arithmetic."""
    return wrap(pin1_at_zero + attitude)


def symmetry(
    *,
    terminals: int | None,
    polarised: bool,
    length_mm: float,
    width_mm: float,
    same_turned_deg: float | None = None,
) -> float:
    """The smallest turn in degrees that leaves a part as good as before: 90, 180 or 360.

    Polarised 360. Unpolarised: as `same_turned_deg` says; two terminals 180; square with another
    count 90; all else, an unknown count of terminals (None) too, 360.
    Source: square is EIA-481-E; the rest is common practice, no published source.
    """
    if polarised:
        return 360.0
    if same_turned_deg is not None:
        return same_turned_deg
    if terminals == 2:
        return 180.0
    return 90.0 if is_square(length_mm, width_mm) and terminals is not None else 360.0


def is_square(length_mm: float, width_mm: float) -> bool:
    """Whether a case counts as square: length and width differ by 0.3 mm or less.

    Source: EIA-481-E.
    """
    return abs(length_mm - width_mm) <= SQUARE_WITHIN_MM + 1e-9


def attitude_difference(a: float, b: float, symmetry_deg: float = 360.0) -> float:
    """a - b, reduced by the part's symmetry: within half of it either way.

    With symmetry 360 it is wrapped to (-180, 180]: 180 means half a turn off.
    Source: arithmetic.
    """
    return wrap((wrap(a) - wrap(b)) * 360.0 / symmetry_deg) * symmetry_deg / 360.0


def cell_origin(column: int, row: int, pitch: Point) -> Point:
    """Lower left corner of a cell in its panel, columns and rows counted from 0, from the top.

    Source: arithmetic.
    """
    return column * pitch[0], row * pitch[1]


def on_panel(point: Point, cell: Point, board_size: Point, half_turned: bool = False) -> Point:
    """A board point as a panel point, both seen from the top.

    `cell` is the cell's lower left corner. A half-turned cell maps p to
    cell + (width, height) - p. Source: arithmetic.
    """
    if half_turned:
        point = board_size[0] - point[0], board_size[1] - point[1]
    return moved(point, cell)


def through_top(
    x: float, board_width: float, origin: float = 0.0, positions: BottomPositions | None = None
) -> float:
    """Return x of a part on the bottom as seen through the top, mm.

    `x` has the list's origin added already; `positions` is how the list counts, through-top where
    it does not say. Source: arithmetic on the three conventions, which are common practice, no
    published source.
    """
    if positions == "as-placed":
        return board_width - x
    return 2 * origin - x if positions == "x-negated" else x


def turned_over(point: Point, panel_width: float) -> Point:
    """A panel point after turning the panel over left to right: x' = width - x.

    Source: arithmetic.
    """
    return panel_width - point[0], point[1]


def in_machine(point: Point, seat: Point, seat_rotation: float) -> Point:
    """A panel point, seen from the side being placed, in the machine's frame.

    Source: arithmetic.
    """
    return moved(turned(point, seat_rotation), seat)
