"""The effect of a change on pin 1: the polarity chain before and after it.

Pin 1 ends at f + Q + B - A: where the tape has it, turned from pick to place. A part is turned on
its pads by as much as that changed while the pads stayed. Angles are degrees, counter-clockwise
seen from the side being placed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from jobcheck.changes.change import Change
from jobcheck.facts.facts import Facts
from jobcheck.facts.feeder_leg import pin1_faces_at_pick
from jobcheck.facts.frames import frames_of
from jobcheck.schema.parts import Outline
from jobcheck.shop.paths import natural
from jobcheck.shop.values import is_absent
from jobcheck.trade.plane import wrap
from jobcheck.trade.polarity import attitude_difference, is_square

_CARRIER = (
    ("tape", "pin1"),
    ("stick", "pin1"),
    ("tray", "attitude"),
    ("feed_direction",),
    ("row",),
)


def turning(change: Change, old: Facts, new: Facts) -> str | None:
    """Return the effect of a change on pin 1; None if it has none or is unknown."""
    look = _LOOKS.get(change.path[0])
    return look(change, old, new) if look and len(change.path) > 2 else None


def _number(value: object) -> float | None:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if is_number else None  # type: ignore[arg-type]


NO_HARM = "looks the same so turned, which does no harm"
"""The consequence of a turn that no one can see on the board."""


# feeders


def _feeder(change: Change, old: Facts, new: Facts) -> str | None:
    name, inside = change.path[1], change.path[2:]
    if inside != ("pick", "rotation") and inside not in _CARRIER:
        return None
    feeder = new.shop.feeders.get(name)
    outline = new.shop.outline_of(feeder.part) if feeder else None
    turn = _turn_by_feeder(name, old, new)
    if feeder is None or outline is None or turn is None:
        return None
    if inside == ("pick", "rotation"):
        if not turn:
            return _is_so_now(name, old, new)
        return turned(outline, turn, _symmetry(feeder.part, old, new))
    if not turn or feeder.pick is None:
        return None
    says = turned(outline, turn, _symmetry(feeder.part, old, new))
    return f"pick.rotation stayed at {feeder.pick.rotation:g}: {says}"


def _is_so_now(name: str, old: Facts, new: Facts) -> str | None:
    """Say that a pick was turned with its carrier; nothing where only the picture's share moved."""
    carried = [pin1_faces_at_pick(facts.shop, name) for facts in (old, new)]
    is_turned = None not in carried and carried[0] != carried[1]
    return "it was turned with its carrier: pin 1 stays on its pad" if is_turned else None


def _turn_by_feeder(name: str, old: Facts, new: Facts) -> float | None:
    """Return how far a part from a feeder is turned on its pads: change of f + Q less that of A.

    A carrier that says nothing, before or after, is taken to be as it was. The picture from below
    takes away what is left to a quarter turn. None without picks, or with another part.
    """
    before, after = (facts.shop.feeders.get(name) for facts in (old, new))
    if not (before and after and before.pick and after.pick and before.part == after.part):
        return None
    faces = [pin1_faces_at_pick(facts.shop, name) for facts in (old, new)]
    carried = faces[1] - faces[0] if faces[0] is not None and faces[1] is not None else 0.0
    if (before.carrier == "tray") != (after.carrier == "tray"):
        carried = 0.0
    turn = wrap(round(carried - (after.pick.rotation - before.pick.rotation), 6))
    quarter = wrap(90.0 * round(turn / 90.0))
    is_near = abs(wrap(turn - quarter)) <= new.shop.limits.half_turn_tolerance_deg
    return quarter if is_near else turn


def _row(change: Change, old: Facts, new: Facts) -> str | None:
    if change.path[2:] != ("feed_direction",) or is_absent(change.old) or is_absent(change.new):
        return None
    standing = sorted(
        (n for n, f in new.shop.feeders.items() if f.row == change.path[1]), key=natural
    )
    turns = {name: _turn_by_feeder(name, old, new) for name in standing}
    off = [name for name, turn in turns.items() if turn]
    if not off:
        return None
    angle = degrees(turns[off[0]] or 0.0)
    return f"the picks of {_listed(off)} stayed: their parts would be placed {angle} off"


# outlines


def _outline(change: Change, old: Facts, new: Facts) -> str | None:
    outline = new.shop.outlines.get(change.path[1])
    if outline is None or len(change.path) != 3:
        return None
    if change.path[2] == "zero":
        turns = {_turn_by_level(change.path[1], job, old, new) for job in new.shop.jobs} - {
            None,
            0.0,
        }
        return turned(outline, turns.pop() or 0.0, outline.symmetry) if len(turns) == 1 else None
    if change.path[2] != "pin1_at_zero" or is_absent(change.old):
        return None
    off = _no_longer_fit(change.path[1], new)
    return f"nothing turns by it, but the pick of {_listed(off)} no longer fits" if off else None


def _turn_by_level(outline: str, job: str, old: Facts, new: Facts) -> float | None:
    if (
        job not in old.shop.jobs
        or outline not in old.shop.outlines
        or outline not in new.shop.outlines
    ):
        return None
    before, after = (
        frames_of(facts.shop, job).zero_offset(facts.shop.outlines[outline]) for facts in (old, new)
    )
    return None if before is None or after is None else wrap(after - before)


def _no_longer_fit(outline: str, facts: Facts) -> list[str]:
    parts = facts.usage.parts_of_outline(outline)
    names = [name for part in parts for name in facts.usage.feeders_of_part(part)]
    legs, limit = facts.polarity.feeders, facts.shop.limits.half_turn_tolerance_deg
    off = [name for name in names if name in legs and abs(legs[name].difference) > limit]
    return sorted(off, key=natural)


# jobs


def _job(change: Change, old: Facts, new: Facts) -> str | None:
    job, inside = change.path[1], change.path[2:]
    if job not in old.shop.jobs or job not in new.shop.jobs:
        return None
    if inside in (("placements", "zero"), ("placements", "bottom")):
        return _list_turned(job, old, new)
    if inside == ("placements", "bottom_positions"):
        return _list_moved(job, old, new)
    if inside == ("seat", "rotation"):
        return _seat_turned(change)
    if inside == ("panel", "half_turned"):
        return _cells_turned(change)
    if len(inside) == 3 and (inside[0], inside[2]) == ("placements", "rotation"):
        return _placement(change, old, new)
    return None


def _placement(change: Change, old: Facts, new: Facts) -> str | None:
    job, reference = change.path[1], change.path[3]
    turn = _turn_by_list(job, reference, old, new)
    if not turn:
        return None
    part = new.shop.jobs[job].placements.by_reference[reference].part
    outline = new.shop.outline_of(part)
    if outline is None:
        return None
    feeders = new.usage.feeders_of_part(part) if part is not None else ()
    symmetry = _symmetry(part, old, new)
    if feeders and all(_makes_up(name, turn, symmetry, old, new) for name in feeders):
        return f"the pick of {_listed(list(feeders))} makes up for it: pin 1 stays on its pad"
    return turned(outline, turn, symmetry)


def _makes_up(feeder: str, turn: float, symmetry: float, old: Facts, new: Facts) -> bool:
    """Tell whether a feeder that was turned too takes back what a list turned."""
    back = _turn_by_feeder(feeder, old, new)
    return bool(back) and attitude_difference(turn, -(back or 0.0), symmetry) == 0


def _turn_by_list(job: str, reference: str, old: Facts, new: Facts) -> float | None:
    """Return how far b of a placement changed; None where it is not known before or after."""
    angles = []
    for facts in (old, new):
        placement = facts.shop.jobs[job].placements.by_reference.get(reference)
        if placement is None:
            return None
        outline = facts.shop.outline_of(placement.part)
        angles.append(frames_of(facts.shop, job).board_angle(placement, outline))
    before, after = angles
    return None if before is None or after is None else wrap(round(after - before, 6))


def _list_turned(job: str, old: Facts, new: Facts) -> str | None:
    """Count what a whole list turns: another level, another convention for the bottom."""
    turns: Counter[float] = Counter()
    for reference, placement in new.shop.placed(job):
        outline = new.shop.outline_of(placement.part)
        turn = _turn_by_list(job, reference, old, new)
        if outline is not None and turn is not None:
            symmetry = _symmetry(placement.part, old, new)
            turns[abs(attitude_difference(turn, 0.0, symmetry))] += 1
    total = sum(turns.values())
    said = [
        f"{number:,} of {total:,} placements would be turned by {degrees(angle)}"
        for angle, number in sorted(turns.items(), reverse=True)
        if angle
    ]
    return ", ".join(said) or None


def _list_moved(job: str, old: Facts, new: Facts) -> str | None:
    """Count what another convention for positions moves to the other side of the board."""
    before, after = (
        dict(zip(placed.references, placed.xs, strict=True))
        for placed in (facts.usage.placed[job] for facts in (old, new))
    )
    moved = [ref for ref, x in after.items() if ref in before and abs(before[ref] - x) > 1e-6]
    if not moved:
        return None
    return f"{len(moved):,} of {len(after):,} placements would be mirrored left to right"


def _seat_turned(change: Change) -> str | None:
    before, after = _number(change.old) or 0.0, _number(change.new) or 0.0
    by = degrees(wrap(after - before))
    return f"where the board itself was not turned by {by}, every part would miss its pads"


def _cells_turned(change: Change) -> str | None:
    olds, news = (v if isinstance(v, list) else [] for v in (change.old, change.new))
    cells = sorted({*map(str, olds)} ^ {*map(str, news)}, key=natural)
    if len(cells) == 1:
        return f"where cell {cells[0]} was not turned, its parts would be placed half a turn off"
    where = f"where cells {_listed(cells)} were not turned"
    return f"{where}, their parts would be placed half a turn off"


_LOOKS: dict[str, Callable[[Change, Facts, Facts], str | None]] = {
    "feeders": _feeder,
    "feeder_rows": _row,
    "outlines": _outline,
    "jobs": _job,
}


# words


def _symmetry(part: str | None, old: Facts, new: Facts) -> float:
    """Return the turn after which a part is as good as before, by the stricter of both sides."""
    outlines = (facts.shop.outline_of(part) for facts in (old, new))
    return max((outline.symmetry for outline in outlines if outline), default=360.0)


def turned(outline: Outline, by: float, symmetry: float) -> str:
    """Say what a turn counter-clockwise does to pin 1.

    A pad is named only for two terminals, and for a square case with as many pins on each of its
    four sides, numbered counter-clockwise seen from above. A last odd pin of nine and more is the
    pad under the body; squares of less than 16 pins have two rows (all: common practice, no
    published source).
    """
    pins = outline.terminals
    if by % symmetry == 0:
        return f"it {NO_HARM}"
    if by % 90:
        return f"it would be turned by {degrees(by)}"
    around = pins - 1 if pins % 2 and pins >= 9 else pins
    has_four_sides = is_square(*outline.body_mm) and around % 4 == 0 and around >= 16
    if has_four_sides or (pins == 2 and abs(by) == 180):
        return f"pin 1 would be on the pad of pin {round(around * (by % 360) / 360) + 1}"
    if abs(by) == 90 and not is_square(*outline.body_mm):
        return "it would be across its pads"
    return f"it would be {degrees(by)} off"


def degrees(angle: float) -> str:
    """Write a turn: half a turn, a quarter turn, 45 degrees."""
    if abs(angle) == 180:
        return "half a turn"
    return (
        "a quarter turn" if abs(angle) == 90 else f"{abs(angle):g} degree{'s' * (abs(angle) != 1)}"
    )


def _listed(names: list[str], most: int = 6) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
