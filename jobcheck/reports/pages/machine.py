"""The picture of the machine from above: what is where, and how far it reaches."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from jobcheck.commands.picture import FeederSpot, MachinePicture
from jobcheck.facts.fixtures import Fixture
from jobcheck.reports.pages.drawing import Scale
from jobcheck.reports.pages.page import Figure, drawn
from jobcheck.trade.bodies import Body, box_of
from jobcheck.trade.plane import Point, direction
from jobcheck.wording import count, number

_MARGIN, _BEHIND, _LETTER = 14.0, 7.0, 2.4
_LEAST = 3.0
"""Things without a size are drawn this wide, mm."""

_LOOKS = {
    "bin": "cross",
    "rack": "round",
    "home": "round",
    "obstacle": "hatched",
    "camera": "round",
}


def machine_figures(picture: MachinePicture) -> list[Figure]:
    """Draw the machine from above."""
    left, lower, right, upper = _extent(picture)
    across, up = right - left + 2 * _MARGIN, upper - lower + 2 * _MARGIN
    content = drawn(
        "machine.svg",
        travel=_corners(_travel(picture, (0.0, 0.0))),
        reaches=[_reach(picture, name) for name in picture.machine.spindles],
        rulers=list(_rulers(picture)),
        boxes=[_box(fixture) for fixture in picture.fixtures],
        cells=[_corners(body) for body in picture.cells],
        fields=[
            {
                "corners": _corners(body),
                "says": f"{name}: field",
                "x": body.centre[0],
                "y": -_top(body) - 1,
            }
            for name, body in picture.fields
        ],
        carriers=[_corners(body) for body in picture.carriers],
        slots=[(x, -y) for x, y in picture.empty_slots],
        feeders=[_feeder(spot) for spot in picture.feeders],
    )
    things = count(len(picture.fixtures), "fixture")
    return [
        Figure(
            "The machine, seen from above; you are at the lower edge",
            content,
            across,
            up,
            tuple(_words(picture)),
            describes=f"The machine from above: {things}, {count(len(picture.feeders), 'feeder')}",
            left=left - _MARGIN,
            top=-upper - _MARGIN,
        )
    ]


def _words(picture: MachinePicture) -> Iterator[str]:
    travel = picture.machine.travel
    yield (
        f"Thick: travel of the head, x {_span(travel.x)}, y {_span(travel.y)} mm. Dashed: what "
        "each spindle reaches, and the fields of cameras. Crossed: obstacles and the reject bin."
    )
    moving = [name for name, camera in picture.machine.cameras.items() if camera.position is None]
    for name in moving:
        yield f"Camera {name} is on the head: its field is drawn where the head rests."
    if picture.not_drawn:
        yield f"Not drawn, no pick described: {', '.join(picture.not_drawn)}."
    yield "From the description, not from the machine: heights are not shown."


def _span(limits: list[float]) -> str:
    return f"{number(limits[0])} to {number(limits[1])}"


def _travel(picture: MachinePicture, offset: Point) -> Body:
    (left, right), (lower, upper) = picture.machine.travel.x, picture.machine.travel.y
    centre = (left + right) / 2 + offset[0], (lower + upper) / 2 + offset[1]
    return Body(centre, right - left, upper - lower)


def _reach(picture: MachinePicture, name: str) -> dict[str, Any]:
    offset = picture.machine.spindles[name].offset_from_camera
    body = _travel(picture, (offset.x, offset.y))
    return {"corners": _corners(body), "says": f"spindle {name}", "at": box_of(body)}


def _extent(picture: MachinePicture) -> tuple[float, float, float, float]:
    bodies = [_travel(picture, (0.0, 0.0)), *(fixture.body for fixture in picture.fixtures)]
    offsets = [spindle.offset_from_camera for spindle in picture.machine.spindles.values()]
    bodies += [_travel(picture, (offset.x, offset.y)) for offset in offsets]
    bodies += [*(body for _, body in picture.fields), *picture.carriers]
    boxes = [box_of(body) for body in bodies]
    for spot in picture.feeders:
        x, y = spot.pick
        back = _BEHIND + _LETTER * (len(spot.label) + 1)
        u, v = direction(spot.feed)
        boxes += [(x, y, x, y), (x - back * u, y - back * v, x - back * u, y - back * v)]
    lefts, lowers, rights, uppers = zip(*boxes, strict=True)
    return min(lefts), min(lowers), max(rights), max(uppers)


def _corners(body: Body) -> str:
    """Return the corners of a body for a polygon, y down."""
    u, v = direction(body.angle)
    half_length, half_width = body.length / 2, body.width / 2
    points = []
    for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        x = body.centre[0] + a * half_length * u - b * half_width * v
        y = body.centre[1] + a * half_length * v + b * half_width * u
        points.append(f"{x:.3f},{-y:.3f}")
    return " ".join(points)


def _top(body: Body) -> float:
    return box_of(body)[3]


def _box(fixture: Fixture) -> dict[str, Any]:
    body = fixture.body
    if min(body.length, body.width) < _LEAST and fixture.kind != "obstacle":
        body = body._replace(length=max(body.length, _LEAST), width=max(body.width, _LEAST))
    look = _LOOKS.get(fixture.kind, "")
    left, lower, right, upper = box_of(body)
    x, y = fixture.body.centre
    return {
        "id": f"{fixture.kind}-{'-'.join(fixture.path)}",
        "title": f"{fixture.name}: x {number(round(x, 3))}, y {number(round(y, 3))}",
        "says": _short(fixture),
        "corners": _corners(body),
        "radius": body.length / 2 if look == "round" else None,
        "x": round(x, 3),
        "y": round(-y, 3),
        "cross": f"M{left} {-lower}L{right} {-upper}M{left} {-upper}L{right} {-lower}"
        if look in ("cross", "hatched")
        else "",
        "text_y": round(-upper - 1.5, 3),
        "board": fixture.kind == "board",
    }


def _short(fixture: Fixture) -> str:
    """Return the label of a fixture; the field of a camera has its name."""
    if fixture.kind == "camera":
        return ""
    return fixture.path[-1] if fixture.kind in ("rack", "obstacle") else fixture.name[4:]


def _feeder(spot: FeederSpot) -> dict[str, Any]:
    """Return a pick, and the name behind it against the feed, readable from the front or right."""
    x, y = spot.pick
    u, v = direction(spot.feed)
    turn = -spot.feed % 180
    turn = turn - 180 if turn > 90 else turn
    is_ended = u > 0 or (u == 0 and v > 0 and turn < 0) or (u == 0 and v < 0 and turn > 0)
    at = x - _BEHIND * u, -(y - _BEHIND * v)
    return {
        "title": spot.title,
        "x": round(x, 3),
        "y": round(-y, 3),
        "label": spot.label,
        "text_x": round(at[0], 3),
        "text_y": round(at[1], 3),
        "turn": turn + 0.0,
        "anchor": "end" if is_ended else "start",
        "way": f"M{x - 5 * u:.3f} {-y + 5 * v:.3f}L{x:.3f} {-y:.3f}",
    }


def _rulers(picture: MachinePicture) -> Iterator[dict[str, Any]]:
    (left, right), (lower, upper) = picture.machine.travel.x, picture.machine.travel.y
    for x, text in Scale(left, right, left, right).ticks(8):
        yield {"path": f"M{x} {-upper}v-3", "x": x, "y": -upper - 5, "text": text}
    for y, text in Scale(lower, upper, -lower, -upper).ticks(8):
        yield {"path": f"M{left} {y}h3", "x": left + 9, "y": y + 1.4, "text": text}
