"""How one part lies: four drawings from pocket to pad, pin 1 followed, in the machine's frame."""

from __future__ import annotations

from typing import Any

from jobcheck.commands.picture import PartPicture
from jobcheck.commands.where import CAUTION
from jobcheck.reports.pages.arrows import arc, pointer
from jobcheck.reports.pages.bodies import Glyph, glyph
from jobcheck.reports.pages.page import Figure, drawn
from jobcheck.reports.pages.pocket import (
    HALF,
    feed_sentence,
    pin1_at,
    pin1_sentence,
    pocket_values,
)
from jobcheck.trade.plane import direction, wrap
from jobcheck.wording import number

_PART, _REACH = 110.0, 100.0
"""Size of the larger side of the part in a drawing, and how far out pin 1 is pointed at."""


def part_figures(picture: PartPicture) -> list[Figure]:
    """Draw pocket, nozzle, turn and pad."""
    return [_in_pocket(picture), _on_nozzle(picture), _turning(picture), _on_pad(picture)]


def part_words(picture: PartPicture) -> list[str]:
    """Return what is said above: frames, the verdict on polarity, the caution of `where`."""
    words = [
        "All four are seen from above, in the machine: 0 is right, 90 is away from you. "
        "The filled triangle is pin 1."
    ]
    legs = picture.chain.legs
    if not picture.outline.polarised:
        words.append("The part is not polarised.")
    else:
        named = legs._asdict().items()
        each = "; ".join(f"{name} {leg.proof.value}: {leg.why}" for name, leg in named)
        words.append(f"Polarity is {legs.verdict.value}. {each[0].upper()}{each[1:]}.")
    return [*words, CAUTION]


def _scaled(picture: PartPicture) -> Glyph:
    outline = picture.outline
    return glyph(outline, scale=_PART / max(*outline.body_mm, *outline.size_mm))


def _figure(sentence: str, template: str, words: list[str], **values: Any) -> Figure:
    content = drawn(template, **values)
    describes = f"{sentence}. {' '.join(words)}"
    side = 2 * HALF
    return Figure(
        sentence, content, side, side, tuple(words), describes=describes, left=-HALF, top=-HALF
    )


def _in_pocket(picture: PartPicture) -> Figure:
    carried, take = picture.carried, picture.take
    if carried is None or take is None:
        words = ["No feeder holds the part."]
        values = {"tape": None, "glyph": None, "unknown": "no feeder", "pointer": None}
        return _figure("1. In its pocket", "pocket.svg", words, **values)
    says = [pin1_sentence(carried, picture.outline), feed_sentence(carried)]
    words = [f"{carried.name}, {carried.feeder.carrier}. {' '.join(filter(None, says))}"]
    if None not in (carried.attitude, take.attitude) and carried.attitude != take.attitude:
        words.append(
            f"By the carrier it is turned {number(carried.attitude or 0.0)}; pick.rotation states "
            f"{number(take.attitude or 0.0)}."
        )
    return _figure(
        "1. In its pocket", "pocket.svg", words, **pocket_values(carried, picture.outline)
    )


def _on_nozzle(picture: PartPicture) -> Figure:
    attitude = picture.take.attitude if picture.take else None
    faces = pin1_at(picture.outline, attitude)
    words = [
        "Attitude at pick is unknown."
        if attitude is None
        else f"Attitude at pick {number(attitude)}{_faces(faces)}."
    ]
    if picture.tip_mm is not None:
        words.append(f"Circle: the tip, {number(picture.tip_mm)} mm.")
    shape = _scaled(picture)
    scale = shape.length / picture.outline.body_mm[0]
    return _figure(
        "2. On the nozzle",
        "turned.svg",
        words,
        board=None,
        was=None,
        glyph=shape,
        turn=None if attitude is None else -attitude + 0.0,
        unknown="attitude unknown",
        tip=picture.tip_mm and round(picture.tip_mm * scale / 2, 2),
        pointer=pointer(faces, _REACH),
    )


def _turning(picture: PartPicture) -> Figure:
    take, target = picture.take, picture.chain.machine.angle
    turn = take.turn if take else None
    shape = _scaled(picture)
    was = None
    if take is not None and take.attitude is not None and turn is not None:
        start = pin1_at(picture.outline, take.attitude)
        start = take.attitude if start is None else start
        was = {"turn": -take.attitude + 0.0, "arc": arc(start, turn, 74.0)}
    words = [
        "The turn is unknown."
        if turn is None
        else f"Turn by {number(turn)}; {_way(turn)}. Dashed: before."
    ]
    return _figure(
        "3. Turned by the spindle",
        "turned.svg",
        words,
        board=None,
        was=was,
        glyph=shape,
        turn=None if turn is None or target is None else -target + 0.0,
        unknown="turn unknown",
        tip=None,
        pointer=pointer(pin1_at(picture.outline, target) if turn is not None else None, _REACH),
    )


def _way(turn: float) -> str:
    if turn == 0:
        return "it stays as it is"
    return "half a turn" if turn == 180 else "to the left" if turn > 0 else "to the right"


def _on_pad(picture: PartPicture) -> Figure:
    chain = picture.chain
    target, faces = chain.machine.angle, chain.pin1_faces
    cell = f", cell {chain.cell.name}" if chain.cell.name else ""
    words = [
        f"x {number(round(chain.machine.x, 3))}, y {number(round(chain.machine.y, 3))}{cell}.",
        "Its angle is unknown."
        if target is None
        else f"Turned {number(target)} in the machine{_faces(faces)}.",
    ]
    b = chain.board.angle
    board = None if target is None or b is None else _axes(wrap(target - b))
    if board is not None:
        words.append("Corner lines: the board's own x and y.")
    return _figure(
        "4. On its pad",
        "turned.svg",
        words,
        board=board,
        was=None,
        glyph=_scaled(picture),
        turn=None if target is None else -target + 0.0,
        unknown="angle unknown",
        tip=None,
        pointer=pointer(faces, _REACH),
    )


def _faces(faces: float | None) -> str:
    return "" if faces is None else f", pin 1 faces {number(faces)}"


def _axes(turn: float) -> dict[str, Any]:
    """Return the board's own x and y, from the lower left of the drawing; `turn` in the machine."""
    (x, y), (u, v) = direction(turn), direction(turn + 90)
    at = -90 - 13 * (x + u), -90 - 13 * (y + v)
    path = f"M{at[0]:.2f} {-at[1]:.2f}l{26 * x:.2f} {-26 * y:.2f}"
    path += f"M{at[0]:.2f} {-at[1]:.2f}l{26 * u:.2f} {-26 * v:.2f}"
    return {
        "axes": path,
        "x": (round(at[0] + 34 * x, 1), round(-at[1] - 34 * y + 4, 1)),
        "y": (round(at[0] + 34 * u, 1), round(-at[1] - 34 * v + 4, 1)),
    }
