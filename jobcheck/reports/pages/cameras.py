"""The camera card: each control on the device's own range, with lettered marks."""

from __future__ import annotations

from typing import Any

from jobcheck.commands.picture import CameraCard, CamerasPicture, ControlRow
from jobcheck.reports.pages.drawing import Scale
from jobcheck.reports.pages.page import Figure, drawn
from jobcheck.wording import count

_LEFT, _RIGHT, _LINE, _TOP = 390.0, 860.0, 15.0, 46.0
_NEAR = 7.0


def camera_figures(picture: CamerasPicture) -> list[Figure]:
    """Draw the card of each camera."""
    return [_card(card, picture.record) for card in picture.cards]


def camera_words(picture: CamerasPicture) -> list[str]:
    """Return the key of the letters."""
    record = picture.record or "none kept yet"
    return [
        "D is the device's default, d the described value, R the recorded one, S the value seen on "
        "the device. Letters together: the same value.",
        f"Recorded: {record}.",
        *picture.damaged,
    ]


def _card(card: CameraCard, record: str) -> Figure:
    rows, y = [], _TOP
    for row in card.rows:
        rows.append(_row(row, y))
        y += _TOP + _LINE * max(1, len(rows[-1]["says"]))
    lost = [row.name for row in card.rows if row.is_lost]
    verdict = "as recorded" if record else "no record to compare with"
    if lost:
        verdict = f"{count(len(lost), 'setting')} not as recorded"
    seen = "never seen" if card.seen is None else f"last seen as described on {card.seen}"
    return Figure(
        f"Camera {card.name}: {verdict}; {seen}",
        drawn("card.svg", rows=rows, left=_LEFT),
        920.0,
        y,
        ("A bar at the left marks a setting that is not as recorded.",) if lost else (),
        describes=f"Camera {card.name}: " + "; ".join(f"{r.name} {r.says}" for r in card.rows),
        left=-20.0,
        top=0.0,
    )


def _row(row: ControlRow, y: float) -> dict[str, Any]:
    reported, says = row.reported, row.says.split("; ")
    drawing: dict[str, Any] = {
        "name": row.name,
        "says": [(round(y + 18 + at * _LINE, 1), text) for at, text in enumerate(says)],
        "title": f"{row.name}: {row.says}",
        "y": y,
        "is_lost": row.is_lost,
        "line": "",
        "without": "The device's range is not described.",
    }
    if reported is None or reported.max <= reported.min:
        return drawing
    scale = Scale(reported.min, reported.max, _LEFT, _RIGHT)
    default = reported.default
    values = {"D": default, "d": row.described, "R": row.recorded, "S": row.seen}
    return drawing | {
        "line": f"M{_LEFT} {y}H{_RIGHT}",
        "ticks": _ticks(row, scale),
        "marks": _marks(values, scale, y),
    }


def _ticks(row: ControlRow, scale: Scale) -> list[tuple[float, str]]:
    """Return a tick for each choice of a switch or menu, else the ends and round values."""
    assert row.reported is not None
    low, high, menu = row.reported.min, row.reported.max, row.reported.menu
    if menu:
        return [(scale.at(int(value)), f"{value} {name}") for value, name in menu.items()]
    if high - low == 1:
        return [(scale.at(value), row.shown(value)) for value in (low, high)]
    ends = [(_LEFT, f"{low}"), (_RIGHT, f"{high}")]
    between = [tick for tick in scale.ticks(5) if tick[0] - _LEFT > 60 and _RIGHT - tick[0] > 60]
    return [ends[0], *between, ends[1]]


def _marks(values: dict[str, int | None], scale: Scale, y: float) -> list[dict[str, Any]]:
    """Return one stem for each value, letters of equal values together; near stems differ."""
    letters: dict[int, str] = {}
    for letter, value in values.items():
        if value is not None:
            letters[value] = letters.get(value, "") + letter
    marks: list[dict[str, Any]] = []
    last = -100.0
    level = 0
    for value in sorted(letters):
        x = min(max(scale.at(value), _LEFT), _RIGHT)
        level = level + 1 if x - last < 10 * len(letters) + _NEAR else 0
        last = x
        look = "bold" if "d" in letters[value] else "tick"
        top = y - 13 - 14 * (level % 3)
        marks.append({"x": x, "y": top, "text_x": x + 3, "letters": letters[value], "look": look})
    return marks
