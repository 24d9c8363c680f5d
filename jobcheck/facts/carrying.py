"""How parts are turned in their carriers, and what carriers take up on the machine."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from jobcheck.facts.feeder_leg import feed_direction, pin1_directions
from jobcheck.schema.feeders import Feeder
from jobcheck.trade.bodies import Body
from jobcheck.trade.plane import Point, moved, turned
from jobcheck.trade.polarity import attitude_in_pocket
from jobcheck.trade.tape import TAPES, cut_tape_extent, turn_in_pocket

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop


def attitude_of(shop: Shop, name: str) -> float | None:
    """Return a: how a part is turned in its pocket, tape frame, degrees; None unknown.

    From pin 1 of the carrier, else from the pick; in a tray, whose frame is the
    machine's, by its attitude.
    """
    feeder = shop.feeders[name]
    outline = shop.outline_of(feeder.part)
    if feeder.carrier == "tray":
        stated = feeder.tray.attitude if feeder.tray else None
        return stated if stated is not None else feeder.pick.rotation if feeder.pick else None
    directions = pin1_directions(feeder, outline) if outline else None
    if directions is not None:
        return attitude_in_pocket(*directions)
    feed = feed_direction(shop, name, feeder)
    return feeder.pick.rotation - feed[0] if feeder.pick and feed else None


def size_in_carrier(shop: Shop, name: str) -> Point | None:
    """Return a part's size along and across its carrier, over terminals if known, mm.

    None where it is unknown, or where the attitude is between the quarter turns.
    """
    outline, attitude = shop.outline_of(shop.feeders[name].part), attitude_of(shop, name)
    if outline is None or attitude is None:
        return None
    length, width = outline.size_mm
    quarters = round(attitude / 90)
    if abs(attitude - 90 * quarters) > shop.limits.half_turn_tolerance_deg:
        return None
    return (width, length) if quarters % 2 else (length, width)


def most_turn_deg(shop: Shop, names: Iterable[str]) -> float:
    """Return how far a part may be turned in the pockets of some feeders, degrees.

    The least of what a pocket's size allows, EIA-481-D Table 2 note 1 for the tape, and
    `limits.pocket_turn_deg`; of several feeders the most.
    """
    return max((_turn(shop, name) for name in names), default=shop.limits.pocket_turn_deg)


def _turn(shop: Shop, name: str) -> float:
    turn, tape = shop.limits.pocket_turn_deg, shop.feeders[name].tape
    if tape is None:
        return turn
    standard, size = TAPES.get(tape.width_mm), size_in_carrier(shop, name)
    if standard and standard.part_turn_deg is not None:
        turn = min(turn, standard.part_turn_deg)
    if tape.pocket_mm and size:
        room = max(size[0], tape.pocket_mm[0]), max(size[1], tape.pocket_mm[1])
        turn = min(turn, turn_in_pocket(size, room))
    return turn


def taken_up(shop: Shop, name: str) -> Body | None:
    """Return the area of a cut tape or tray on the bed, mm; None for feeders or if unknown.

    As its extent says, else by its pockets: a tray reaches half a pitch beyond the outer ones, a
    cut tape from its pick back against the feed as far as there are parts.
    """
    feeder = shop.feeders[name]
    if feeder.extent is not None:
        (left, right), (lower, upper) = feeder.extent.x, feeder.extent.y
        return _box((left, lower), (right, upper), (0.0, 0.0), 0.0)
    if feeder.pick is None:
        return None
    at = feeder.pick.x, feeder.pick.y
    if feeder.carrier == "tray" and feeder.tray is not None:
        return _tray(feeder, at)
    if feeder.carrier == "cut-tape" and feeder.row is None and feeder.tape is not None:
        feed = feed_direction(shop, name, feeder)
        tape = feeder.tape
        lower_left, upper_right = cut_tape_extent(
            tape.width_mm, tape.pocket_pitch_mm, feeder.remaining or 0
        )
        return _box(lower_left, upper_right, at, feed[0]) if feed else None
    return None


def tray_pocket(feeder: Feeder, pocket: int) -> Point | None:
    """Return where a pocket of a tray is, the first is 1, machine frame, mm."""
    if feeder.tray is None or feeder.pick is None:
        return None
    row, column = divmod(pocket - 1, feeder.tray.columns)
    step_x, step_y = feeder.tray.pitch_mm
    return feeder.pick.x + column * step_x, feeder.pick.y + row * step_y


def _tray(feeder: Feeder, at: Point) -> Body | None:
    if feeder.tray is None:
        return None
    columns, rows = feeder.tray.columns, feeder.tray.rows
    step_x, step_y = feeder.tray.pitch_mm
    centre = at[0] + (columns - 1) * step_x / 2, at[1] + (rows - 1) * step_y / 2
    return Body(centre, columns * abs(step_x), rows * abs(step_y))


def _box(lower: Point, upper: Point, at: Point, turn: float) -> Body:
    """Return the box between two corners that is turned about its origin and moved there."""
    middle = (lower[0] + upper[0]) / 2, (lower[1] + upper[1]) / 2
    centre = moved(turned(middle, turn), at)
    return Body(centre, upper[0] - lower[0], upper[1] - lower[1], turn)
