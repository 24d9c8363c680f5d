"""The picture of a board and its panel: every part at its place, findings on what they concern."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from jobcheck.commands.picture import BoardPicture, Concern
from jobcheck.facts.board_view import BoardView, Body, Spot
from jobcheck.findings import Command, sentences
from jobcheck.reports.calls import Call
from jobcheck.reports.pages.bodies import Glyph, glyph
from jobcheck.reports.pages.drawing import Scale
from jobcheck.reports.pages.page import Figure, Remark, drawn
from jobcheck.shop.paths import show
from jobcheck.trade.bodies import extent
from jobcheck.wording import count, listed, number

SEEN = {
    "top": "Top, seen from above",
    "bottom": "Bottom, turned over left to right and seen from above",
}
LEFT, RIGHT, TOP, BOTTOM = 7.0, 2.0, 2.0, 6.0
MARK_MM = 1.6
NAMED = 24
"""A finding on more parts is not marked at each of them: its number would be all over the board."""
_LETTER = 0.62
"""Width of a letter in parts of its height (common practice, no published source)."""

_Ids = Mapping[tuple[str, str], str]


def board_figures(picture: BoardPicture) -> list[Figure]:
    """Draw each side of the board, and of its panel."""
    numbers = _numbers(picture)
    figures = []
    for view in picture.sides:
        figures.append(_board(picture, view, numbers))
        if view.panel is not None:
            figures.append(_panel(view))
    return figures


def board_words(picture: BoardPicture) -> list[str]:
    """Return what is said above the board."""
    words = ["The filled triangle is pin 1. Dashed: the span of the terminals. Rulers in mm."]
    if picture.concerns:
        words.append(f"{count(len(picture.concerns), 'finding')} on this board, numbered below.")
    for at, concern in enumerate(picture.concerns, 1):
        if len(concern.references) > NAMED:
            words.append(f"Finding {at} is on {len(concern.references)} placements, not marked.")
    if picture.elsewhere:
        more = count(picture.elsewhere, "finding")
        words.append(f"{more} elsewhere in the shop: jobcheck lint.")
    return words


def board_remarks(picture: BoardPicture, call: Call) -> list[Remark]:
    """Return the findings, numbered as on the board, errors first."""
    ids = _ids(picture)
    return [_remark(at, one, ids, call) for at, one in enumerate(picture.concerns, 1)]


def _remark(at: int, concern: Concern, ids: _Ids, call: Call) -> Remark:
    finding = concern.finding
    names = [("", reference) for reference in concern.references] + list(concern.spots)
    on = [(ids[name], name[1]) for name in names if name in ids]
    place = f"{finding.place}  {show(finding.path)}  [{finding.rule}]"
    lines = (
        ("at", place),
        ("now", finding.observed),
        ("good", finding.expected),
        ("so", finding.consequence),
        ("do", sentences(finding.remedy)),
    )
    return Remark(
        at,
        finding.level.value,
        finding.rule,
        finding.message,
        tuple((label, text) for label, text in lines if text),
        tuple(call.typed(step) for step in finding.remedy if isinstance(step, Command)),
        tuple(id for id, _ in on),
        tuple(on[:NAMED]),
    )


def _ids(picture: BoardPicture) -> dict[tuple[str, str], str]:
    """Return the id in the drawing of every placement, fiducial and hole, by kind and name."""
    ids: dict[tuple[str, str], str] = {}
    for view in picture.sides:
        for at, body in enumerate(view.bodies):
            ids.setdefault(("", body.reference), f"{view.side}-{at}")
        for kind, at, spot in _spots(view):
            ids.setdefault((kind, spot.name), f"{view.side}-{kind}-{at}")
    return ids


def _spots(view: BoardView) -> Iterator[tuple[str, int, Spot]]:
    yield from (("fiducials", at, spot) for at, spot in enumerate(view.fiducials))
    yield from (("holes", at, spot) for at, spot in enumerate(view.holes))


def _numbers(picture: BoardPicture) -> Mapping[tuple[str, str], list[int]]:
    found: dict[tuple[str, str], list[int]] = defaultdict(list)
    for at, concern in enumerate(picture.concerns, 1):
        names = [*(("", ref) for ref in concern.references), *concern.spots]
        for name in names if len(names) <= NAMED else ():
            found[name].append(at)
    return found


def _board(
    picture: BoardPicture, view: BoardView, numbers: Mapping[tuple[str, str], list[int]]
) -> Figure:
    width, height = view.board
    outlines = dict.fromkeys(body.outline for body in view.bodies if body.outline)
    glyphs = {
        name: glyph(picture.shop.outlines[name], f"{view.side}-outline-{name}", 1.0, MARK_MM)
        for name in outlines
    }
    spots = [
        _spot(f"{view.side}-{kind}-{at}", kind, spot, height, numbers.get((kind, spot.name), []))
        for kind, at, spot in _spots(view)
    ]
    bodies = [
        _body(view, at, body, glyphs.get(body.outline or ""), numbers.get(("", body.reference), []))
        for at, body in enumerate(view.bodies)
    ]
    content = drawn(
        "board.svg",
        id=f"{view.side}-board",
        board=view.board,
        glyphs=glyphs.values(),
        rulers=list(rulers(width, height)),
        spots=spots,
        bodies=bodies,
    )
    return Figure(
        SEEN[view.side],
        content,
        width + LEFT + RIGHT,
        height + TOP + BOTTOM,
        tuple(_board_words(view)),
        side=view.side,
        describes=f"{SEEN[view.side]}: {count(len(bodies), 'placement')}",
        left=-LEFT,
        top=-TOP,
    )


def _board_words(view: BoardView) -> Iterator[str]:
    width, height = view.board
    yield f"{count(len(view.bodies), 'placement')} on {number(width)} by {number(height)} mm."
    if not view.is_built:
        yield "The job does not build this side; its fiducials are not described."
    unknown = [body.reference for body in view.bodies if body.pose.angle is None]
    if unknown:
        yield f"Turn or outline unknown, drawn as a cross: {listed(unknown, 12)}."
    if view.not_fitted:
        yield f"Not fitted, not drawn: {listed(list(view.not_fitted), 12)}."


def _body(
    view: BoardView, at: int, body: Body, shape: Glyph | None, marks: list[int]
) -> dict[str, Any]:
    """Return one part in the coordinates of the drawing: x right, y down from the upper edge."""
    x, y, angle = body.pose
    down = round(view.board[1] - y, 4)
    is_drawn = shape is not None and angle is not None
    across, along = (1.2, 1.2)
    if shape is not None and angle is not None:
        across, along = extent(shape.span_length, shape.span_width, angle)
    fitting = across / (_LETTER * max(2, len(body.reference)))
    size = round(min(2.2, max(0.5, min(fitting, 0.6 * along))), 2)
    turn = "unknown" if angle is None else f"{number(angle)}"
    pin1 = "" if body.pin1 is None else f", pin 1 faces {number(body.pin1)}"
    return {
        "id": f"{view.side}-{at}",
        "reference": body.reference,
        "title": f"{body.reference}: {body.part or 'no part'}, x {number(x)}, y {number(y)}, "
        f"turned {turn}{pin1}",
        "glyph": shape.id if shape is not None and is_drawn else None,
        "x": round(x, 4) + 0.0,
        "y": down + 0.0,
        "turn": round(-(angle or 0.0), 4) + 0.0,
        "label_y": round(down + 0.35 * size, 3),
        "size": size,
        "marks": marks,
        "mark_x": round(x + across / 2, 3),
        "mark_y": round(down - along / 2, 3),
    }


def _spot(id: str, kind: str, spot: Spot, height: float, marks: list[int]) -> dict[str, Any]:
    x, y = spot.centre
    is_hole = kind == "holes"
    what = "hole" if is_hole else "fiducial"
    return {
        "id": id,
        "title": f"{what} {spot.name}: x {number(x)}, y {number(y)}, {number(spot.diameter)} mm",
        "x": x,
        "y": round(height - y, 4),
        "radius": spot.diameter / 2,
        "ring": spot.diameter / 2 + spot.clear if spot.clear else None,
        "look": "line paper" if is_hole else "full",
        "marks": marks,
    }


def rulers(width: float, height: float) -> Iterator[dict[str, Any]]:
    """Yield ticks along the lower and the left edge."""
    for x, text in Scale(0.0, width, 0.0, width).ticks(6):
        yield {"path": f"M{x} {height + 1}v1.2", "x": x, "y": height + 4, "text": text} | {
            "anchor": "middle"
        }
    for y, text in Scale(0.0, height, height, 0.0).ticks(5):
        yield {"path": f"M-1 {y}h-1.2", "x": -2.6, "y": y + 0.5, "text": text, "anchor": "end"}


def _panel(view: BoardView) -> Figure:
    assert view.panel is not None
    width, height = view.panel
    cells = [_cell(view, at) for at in range(len(view.cells))]
    spots = [
        _spot(f"{view.side}-panel-{at}", "fiducials", spot, height, [])
        for at, spot in enumerate(view.panel_fiducials)
    ]
    content = drawn(
        "panel.svg", panel=view.panel, board=f"{view.side}-board", cells=cells, spots=spots
    )
    skipped = [cell.name for cell in view.cells if cell.is_skipped]
    turned = [cell.name for cell in view.cells if cell.turn]
    words = [f"{count(len(cells), 'board')} on {number(width)} by {number(height)} mm."]
    words += [f"Turned by a half turn: {listed(turned)}."] if turned else []
    words += [f"Skipped, crossed out: {listed(skipped)}."] if skipped else []
    sentence = "The panel, seen the same way; cells are named as seen from the top"
    return Figure(
        sentence,
        content,
        width + LEFT + RIGHT,
        height + TOP + BOTTOM,
        tuple(words),
        side=view.side,
        left=-LEFT,
        top=-TOP,
    )


def _cell(view: BoardView, at: int) -> dict[str, Any]:
    """Return one cell: the board's origin on the panel, and its turn, y down."""
    assert view.panel is not None
    cell, (width, height) = view.cells[at], view.board
    x, y = cell.origin
    down = view.panel[1] - y
    left, upper = (x - width, down) if cell.turn else (x, down - height)
    half = "; half-turned" if cell.turn else ""
    return {
        "title": f"cell {cell.name}{half}{'; skipped' if cell.is_skipped else ''}",
        "x": round(x, 4),
        "y": round(down, 4),
        "turn": -cell.turn + 0.0,
        "down": -height,
        "text_x": left + width / 2,
        "text_y": upper + 3.4,
        "says": f"{cell.name}{', skipped' if cell.is_skipped else ''}",
        "crossed": f"M{left} {upper}l{width} {height}m0 {-height}l{-width} {height}"
        if cell.is_skipped
        else "",
    }
