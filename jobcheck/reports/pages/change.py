"""The picture of a change: old outlined, new filled, an arrow between; below it the impact."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from jobcheck.changes.groups import Group
from jobcheck.commands.picture import ChangedPart, ChangedSide, ChangePicture
from jobcheck.facts.board_view import Body
from jobcheck.reports.pages.arrows import arc, straight
from jobcheck.reports.pages.board import BOTTOM, LEFT, MARK_MM, NAMED, RIGHT, SEEN, TOP, rulers
from jobcheck.reports.pages.bodies import Glyph, glyph
from jobcheck.reports.pages.page import Figure, Remark, drawn
from jobcheck.schema.controls import show_control
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import MISSING
from jobcheck.trade.plane import wrap
from jobcheck.wording import count, listed, number

_MOST = 8
_NEAR_MM = 0.3
"""A shorter way is drawn without an arrow, as the two outlines nearly cover each other."""


def change_figures(picture: ChangePicture) -> list[Figure]:
    """Draw each side with what moved on it."""
    return [_side(picture, side) for side in picture.sides]


def change_words(picture: ChangePicture) -> list[str]:
    """Return the key, and the two states."""
    compared = picture.compared
    old = compared.record.entry.title if compared.record else compared.old.state.label
    return [
        f"Before: {old}. After: {compared.new.state.label}.",
        "Dashed and empty: before. Filled: after. Faint: unchanged. The triangle is pin 1.",
    ]


def change_remarks(picture: ChangePicture) -> list[Remark]:
    """Return the changes by cause, each with its impact."""
    ids = {
        part.reference: _id(side, at)
        for side in reversed(picture.sides)
        for at, part in enumerate(side.parts)
    }
    groups = picture.compared.groups
    return [_remark(at, group, picture.job, ids) for at, group in enumerate(groups, 1)]


def _remark(at: int, group: Group, job: str, ids: dict[str, str]) -> Remark:
    values = sum(1 for change in group.changes for _ in change.leaves())
    changed = group.whole or f"{count(values, 'value')} changed"
    title = show(group.path) if group.path else "counts and notes"
    row = ("jobs", job, "placements")
    own = [one.path[3] for one in group.changes if one.path[:3] == row and len(one.path) > 3]
    reached = [ref for one in group.impact.jobs if one.job == job for ref in one.references]
    names = [ref for ref in dict.fromkeys((*own, *reached)) if ref in ids]
    return Remark(
        at,
        "change",
        "",
        f"{title}: {changed}",
        (*_values(group), *_impact(group)),
        (),
        tuple(ids[ref] for ref in names),
        tuple((ids[ref], ref) for ref in names[:NAMED]),
    )


def _values(group: Group) -> Iterator[tuple[str, str]]:
    leaves = [leaf for change in group.changes for leaf in change.leaves()]
    if group.whole:
        return
    yield from (("was", _became(*leaf)) for leaf in leaves[:_MOST])
    if len(leaves) > _MOST:
        yield "", f"and {len(leaves) - _MOST} more"


def _impact(group: Group) -> Iterator[tuple[str, str]]:
    """Yield what follows: from recognitions to parts and placements."""
    impact = group.impact
    if impact.so:
        yield "so", "; ".join(impact.so)
    if impact.recognitions:
        yield "then", f"tuned under it: {listed(list(impact.recognitions), 12)}"
    if impact.parts:
        yield "then", f"parts: {listed(list(impact.parts), 12)}"
    for one in impact.jobs:
        run = f", {one.in_run:,} in the planned run" if one.in_run is not None else ""
        yield "then", f"{one.job}: {len(one.references)} of {one.of} placements a board{run}"


def _became(path: Path, old: object, new: object) -> str:
    return f"{show(path)}: {_value(path, old)} became {_value(path, new)}"


def _value(path: Path, value: object) -> str:
    if value is None or value is MISSING:
        return "missing"
    if path[2:3] == ("controls",) and isinstance(value, (int, float)):
        return show_control(path[-1], value)
    return number(value) if isinstance(value, float) else str(value)[:80]


def _id(side: ChangedSide, at: int) -> str:
    return f"{side.after.side}-{at}"


def _side(picture: ChangePicture, side: ChangedSide) -> Figure:
    olds, news = picture.compared.old_shop, picture.compared.new_shop
    before = _glyphs(olds, f"{side.after.side}-old", [part.old for part in side.parts])
    after = _glyphs(news, f"{side.after.side}-new", [part.new for part in side.parts])
    width, height = side.after.board
    parts = [
        _part(_id(side, at), part, before, after, height)
        for at, part in sorted(enumerate(side.parts), key=lambda entry: entry[1].is_changed)
    ]
    content = drawn(
        "change.svg",
        board=side.after.board,
        rulers=list(rulers(width, height)),
        glyphs=[*before.values(), *after.values()],
        parts=parts,
    )
    words = tuple(_words(side))
    return Figure(
        SEEN[side.after.side],
        content,
        width + LEFT + RIGHT,
        height + TOP + BOTTOM,
        words,
        side=side.after.side,
        describes=f"{SEEN[side.after.side]}. {' '.join(words)}",
        left=-LEFT,
        top=-TOP,
    )


def _glyphs(shop: Shop, prefix: str, bodies: list[Body | None]) -> dict[str, Glyph]:
    names = dict.fromkeys(body.outline for body in bodies if body and body.outline)
    return {
        name: glyph(shop.outlines[name], f"{prefix}-{name}", 1.0, MARK_MM) for name in names if name
    }


def _words(side: ChangedSide) -> Iterator[str]:
    changed = sorted(
        (part for part in side.parts if part.is_changed), key=lambda part: natural(part.reference)
    )
    if not changed:
        yield "No part has moved or turned on this side."
    gone = [part.reference for part in changed if part.new is None]
    come = [part.reference for part in changed if part.old is None]
    for part in changed[:40]:
        if part.old is not None and part.new is not None:
            yield f"{part.reference} {_moved(part.old, part.new)}."
    yield from [f"No longer placed: {listed(gone, 20)}."] if gone else []
    yield from [f"New: {listed(come, 20)}."] if come else []
    if side.before.board != side.after.board:
        width, height = map(number, side.before.board)
        yield f"The board was {width} by {height} mm."


def _moved(old: Body, new: Body) -> str:
    says = []
    if old.pose.point != new.pose.point:
        x, y = new.pose.x - old.pose.x, new.pose.y - old.pose.y
        says.append(f"moved by {number(round(x, 3))}, {number(round(y, 3))} mm")
    turn = _turn(old, new)
    says += [f"turned by {number(round(turn, 3))}"] if turn else []
    says += [f"became {new.outline}, was {old.outline}"] if old.outline != new.outline else []
    return " and ".join(says)


def _turn(old: Body, new: Body) -> float:
    if old.pose.angle is None or new.pose.angle is None:
        return 0.0
    return wrap(new.pose.angle - old.pose.angle)


def _part(
    id: str,
    part: ChangedPart,
    before: dict[str, Glyph],
    after: dict[str, Glyph],
    height: float,
) -> dict[str, Any]:
    old, new = _placed(part.old, before, height), _placed(part.new, after, height)
    at = new or old or {"x": 0.0, "y": 0.0, "half": 0.0}
    return {
        "id": id,
        "reference": part.reference,
        "title": f"{part.reference}: {'changed' if part.is_changed else 'unchanged'}",
        "changed": part.is_changed,
        "old": old if part.is_changed else None,
        "new": new,
        "arrow": _arrow(part, old, new) if part.is_changed else "",
        "label_x": at["x"],
        "label_y": round(at["y"] - at["half"] - 1.4, 3),
    }


def _placed(body: Body | None, glyphs: dict[str, Glyph], height: float) -> dict[str, Any] | None:
    if body is None or body.outline is None or body.pose.angle is None:
        return None
    shape = glyphs[body.outline]
    return {
        "glyph": shape.id,
        "x": round(body.pose.x, 4) + 0.0,
        "y": round(height - body.pose.y, 4) + 0.0,
        "turn": round(-body.pose.angle, 4) + 0.0,
        "half": max(shape.span_length, shape.span_width) / 2,
    }


def _arrow(part: ChangedPart, old: dict[str, Any] | None, new: dict[str, Any] | None) -> str:
    """Return the way of the centre, and around it the turn."""
    if old is None or new is None or part.old is None or part.new is None:
        return ""
    start, end = (old["x"], old["y"]), (new["x"], new["y"])
    is_far = abs(end[0] - start[0]) + abs(end[1] - start[1]) > _NEAR_MM
    way = straight(start, end, 1.0) if is_far else ""
    first = part.old.pin1 if part.old.pin1 is not None else part.old.pose.angle or 0.0
    return way + arc(first, _turn(part.old, part.new), round(new["half"] + 0.6, 3), end, 0.9)
