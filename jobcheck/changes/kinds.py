"""The kind of change of an edit: lost, at the default, turned, mirrored, in another unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.moves import is_entry
from jobcheck.changes.walk import ValueChange
from jobcheck.schema.controls import is_automatic_on
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of, is_angle, unit_of
from jobcheck.shop.paths import Path, look_up
from jobcheck.shop.values import is_absent, same
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import PIN1_AT_ZERO, PIN1_IN_TAPE

Plain = dict[str, Any]
Told = tuple[Kind, float | None]

UNIT_FACTORS = (25.4, 1000 / 25.4, 10.0, 100.0, 1000.0)
"""Inches in mm (exact, the international inch of 1959), mils in a mm, and powers of ten."""

_FACTOR_TOLERANCE = 1e-3
"""Lists are rounded to three or four digits; closer than this two numbers differ by a unit."""

_UNITS_THAT_SCALE = {"mm", "um", "mm/s", "mm/s2", "kPa", "mg", "ms"}
_LARGEST = 1e12
"""Larger values are not numbers of anything here, and floats would overflow."""

_DIRECTIONS = {"+x": 0.0, "+y": 90.0, "-x": 180.0, "-y": 270.0}
_OTHER_SIDE = {"top": "bottom", "bottom": "top"}


def change_of(edit: ValueChange, old: Plain, new: Plain) -> Change:
    """Return the change that an edit is, in the light of both whole states."""
    field_class = class_of(edit.path)
    kind, by = _presence(edit, field_class) or _told(edit, old, new) or (Kind.CHANGED, None)
    return Change(edit.path, kind, edit.old, edit.new, field_class, by=by)


def _presence(edit: ValueChange, field_class: FieldClass) -> Told | None:
    if is_absent(edit.old):
        return Kind.ADDED, None
    if not is_absent(edit.new):
        return None
    is_whole = is_entry(edit.path, edit.old) and edit.path[0] != "cameras"
    return (Kind.REMOVED if is_whole or field_class is FieldClass.NOTE else Kind.LOST), None


def _told(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    looks: tuple[Callable[[ValueChange, Plain, Plain], Told | None], ...] = (
        *(_control, _place, _turn, _picture, _mirrored, _scaled),
    )
    return next((effect for look in looks if (effect := look(edit, old, new))), None)


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    return -_LARGEST < value < _LARGEST


def _control(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    """A control that fell back to the device's default, an automatic that was switched on."""
    if edit.path[0] != "cameras" or edit.path[2:3] != ("controls",) or len(edit.path) != 4:
        return None
    default_at = (*edit.path[:2], "reported", edit.path[3], "default")
    for shop in (new, old):
        default = look_up(shop, default_at)
        if default is not None and same(edit.new, default):
            return Kind.FELL_BACK, None
    was_on = is_automatic_on(edit.path[3], edit.old)
    if is_automatic_on(edit.path[3], edit.new) and not was_on:
        return Kind.AUTOMATIC_ON, None
    return None


def _place(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    """A feeder in another slot or row."""
    is_place = edit.path[0] == "feeders" and edit.path[2:] in (("slot",), ("row",))
    return (Kind.MOVED, None) if is_place else None


def _turn(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    """An angle, or a place of pin 1, turned by a half or a quarter."""
    before, after = (_angle(edit.path, value) for value in (edit.old, edit.new))
    return None if before is None or after is None else _turned_by(after - before)


def _turned_by(angle: float) -> Told | None:
    turn = wrap(round(angle, 6))
    if turn == 180:
        return Kind.HALF_TURN, turn
    return (Kind.QUARTER_TURN, turn) if abs(turn) == 90 else None


def _angle(path: Path, value: Any) -> float | None:
    if is_angle(path) and _is_number(value):
        return float(value)
    if isinstance(value, str) and path[-1] == "pin1":
        return PIN1_IN_TAPE.get(value)
    if isinstance(value, str) and path[-1] == "pin1_at_zero":
        return PIN1_AT_ZERO.get(value)
    return None


def _picture(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    """A picture that was turned as a whole, or flipped along one direction."""
    if edit.path[0] != "cameras" or edit.path[2:3] != ("image",) or len(edit.path) != 4:
        return None
    turns = {name: _direction_turn(edit.path[:3], name, old, new) for name in ("right", "up")}
    this = turns.get(edit.path[3])
    if this is None:
        return None
    if turns["right"] == turns["up"]:
        return _turned_by(this)
    return (Kind.MIRRORED, None) if this == 180 else None


def _direction_turn(image: Path, name: str, old: Plain, new: Plain) -> float | None:
    before, after = (_DIRECTIONS.get(str(look_up(shop, (*image, name)))) for shop in (old, new))
    return None if before is None or after is None else wrap(after - before)


def _mirrored(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    """A side, a sign, or a position on a board that was turned over."""
    if edit.path[-1] == "side" and isinstance(edit.old, str):
        return (Kind.MIRRORED, None) if _OTHER_SIDE.get(edit.old) == edit.new else None
    if not (_is_number(edit.old) and _is_number(edit.new)):
        return None
    is_sign = edit.old and edit.new == -edit.old and unit_of(edit.path) in ("mm", "deg")
    is_mirrored = is_sign or any(_is_across_board(edit, shop) for shop in (old, new))
    return (Kind.MIRRORED, None) if is_mirrored else None


def _is_across_board(edit: ValueChange, shop: Plain) -> bool:
    """Tell whether a placement went to the other side of its board's middle."""
    is_placed = edit.path[0] == "jobs" and edit.path[2:3] == ("placements",)
    if not is_placed or edit.path[-1] not in ("x", "y"):
        return False
    axis = "0" if edit.path[-1] == "x" else "1"
    size = look_up(shop, (*edit.path[:2], "board", "size_mm", axis))
    return _is_number(size) and abs(edit.old + edit.new - size) < 1e-6


def _scaled(edit: ValueChange, old: Plain, new: Plain) -> Told | None:
    """A length or its like, or a list of them, in another unit."""
    if unit_of(edit.path) not in _UNITS_THAT_SCALE:
        return None
    olds, news = (value if isinstance(value, list) else [value] for value in (edit.old, edit.new))
    if len(olds) != len(news) or not all(map(_is_number, [*olds, *news])) or 0 in [*olds, *news]:
        return None
    pairs = list(zip(olds, news, strict=True))
    for factor in (*UNIT_FACTORS, *(1 / factor for factor in UNIT_FACTORS)):
        if all(abs(after / before / factor - 1) < _FACTOR_TOLERANCE for before, after in pairs):
            return Kind.SCALED, factor
    return None
