"""Consequences of a change on the machine, in words with numbers."""

from __future__ import annotations

from collections.abc import Iterator
from math import dist

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.turns import turning
from jobcheck.facts.facts import Facts
from jobcheck.schema.feeders import Feeder
from jobcheck.shop.values import is_absent
from jobcheck.wording import count


def consequences(change: Change, old: Facts, new: Facts) -> Iterator[str]:
    """Yield the consequences on the machine, without a full stop; nothing where none is known."""
    if change.other is None and len(change.path) > 1:
        for says in (_height, _level, _place, _part, _pick, turning, _side, _unbuilt):
            if text := says(change, old, new):
                yield text


def _mm(value: float) -> str:
    return f"{round(abs(value), 3):g} mm"


def _number(value: object) -> float | None:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if is_number else None  # type: ignore[arg-type]


def _height(change: Change, old: Facts, new: Facts) -> str | None:
    """A nozzle places at seat + height; an unknown height counts as 0."""
    if change.path[-1] != "height_mm" or change.path[0] not in ("outlines", "parts"):
        return None
    before, after = _number(change.old), _number(change.new)
    if change.path[0] == "parts":
        before, after = old.shop.height_of(change.path[1]), new.shop.height_of(change.path[1])
    if before is None or before == (after or 0.0):
        return None
    return _pressed(before - (after or 0.0))


def _pressed(depth: float) -> str:
    if depth > 0:
        return f"the nozzle would press {_mm(depth)} too deep"
    return f"the part would be let go {_mm(depth)} above the paste"


def _level(change: Change, old: Facts, new: Facts) -> str | None:
    before, after = _number(change.old), _number(change.new)
    if before is None or after is None or before == after:
        return None
    if change.path[0] == "jobs" and change.path[2:] == ("seat", "z"):
        return _pressed(before - after)
    if change.path[0] == "feeders" and change.path[2:] == ("pick", "z"):
        return (
            f"the nozzle would press {_mm(before - after)} too deep into the pocket"
            if after < before
            else f"the nozzle would stay {_mm(after - before)} above the part"
        )
    return None


def _feeders(change: Change, old: Facts, new: Facts) -> tuple[Feeder, Feeder] | None:
    if change.path[0] != "feeders" or len(change.path) < 3:
        return None
    before, after = (facts.shop.feeders.get(change.path[1]) for facts in (old, new))
    return (before, after) if before and after else None


def _place(change: Change, old: Facts, new: Facts) -> str | None:
    """A feeder that moved while its pick point did not."""
    both = _feeders(change, old, new)
    if change.kind is not Kind.MOVED or both is None or is_absent(change.old):
        return None
    before, after = both[0].pick, both[1].pick
    if before is None or after is None or (before.x, before.y) != (after.x, after.y):
        return None
    return f"its pick point stayed at {change.path[-1]} {change.old}"


def _pick(change: Change, old: Facts, new: Facts) -> str | None:
    both = _feeders(change, old, new)
    if both is None or change.path[2] != "pick" or change.path[3:] not in (("x",), ("y",)):
        return None
    before, after = both[0].pick, both[1].pick
    if before is None or after is None or before == after:
        return None
    away = dist((before.x, before.y), (after.x, after.y))
    return f"the nozzle would pick {_mm(away)} from where it did"


def _part(change: Change, old: Facts, new: Facts) -> str | None:
    """A part that no feeder holds any more."""
    is_held = change.path[0] == "feeders" and change.path[2:] in ((), ("part",))
    held = old.shop.feeders.get(change.path[1]) if is_held else None
    if held is None or held.part is None or new.usage.feeders_of_part(held.part):
        return None
    return f"no feeder holds {held.part}"


def _unbuilt(change: Change, old: Facts, new: Facts) -> str | None:
    """A job or a row of a list that is gone, or a row without a part."""
    path = change.path
    if path[0] != "jobs" or path[1] not in old.shop.jobs or not is_absent(change.new):
        return None
    if len(path) == 2:
        placed = count(old.usage.placement_count(path[1]), "placement")
        return f"{path[1]} is no longer built: {placed} a board"
    if path[2] == "placements" and path[4:] in ((), ("part",)) and len(path) > 3:
        is_row = path[3] in old.shop.jobs[path[1]].placements.by_reference
        return f"{path[3]} is no longer placed" if is_row else None
    return None


def _side(change: Change, old: Facts, new: Facts) -> str | None:
    if change.path[0] == "jobs" and change.path[2:] == ("side",):
        placed = new.usage.placement_count(change.path[1])
        return f"{change.new} is built now: {count(placed, 'placement')} a board"
    is_side = change.kind is Kind.MIRRORED and change.path[-1] == "side" and len(change.path) == 5
    return f"it is listed on the {change.new} now" if is_side else None
