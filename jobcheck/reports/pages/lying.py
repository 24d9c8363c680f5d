"""How one part lies: four drawings from pocket to pad, pin 1 followed, in the machine's frame."""

from __future__ import annotations

from typing import Any

from jobcheck.commands.picture import Carried, PartPicture
from jobcheck.commands.where import CAUTION
from jobcheck.reports.pages.bodies import Glyph, glyph
from jobcheck.reports.pages.page import Figure, drawn
from jobcheck.trade.plane import direction, wrap
from jobcheck.trade.polarity import PIN1_AT_ZERO
from jobcheck.trade.tape import (
    EDGE_TO_HOLE_MM,
    HOLE_DIAMETER_MM,
    HOLE_PITCH_MM,
    TAPES,
    nearest_width,
    pocket_from_hole,
)
from jobcheck.wording import number

_HALF, _PART = 130.0, 110.0
"""Half the size of a drawing, and the size of the larger side of the part in it."""

IN_TAPE = {
    "forward": "toward the front of the feed",
    "q2": "forward, on the side of the round holes (quadrant 2)",
    "holes": "toward the round holes",
    "q1": "backward, on the side of the round holes (quadrant 1)",
    "backward": "toward the reel",
    "q3": "backward, on the plain side (quadrant 3)",
    "plain_edge": "toward the plain edge",
    "q4": "forward, on the plain side (quadrant 4)",
}
"""Where pin 1 is in a pocket, in words; the feed goes forward."""


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


def _pin1(picture: PartPicture, attitude: float | None) -> float | None:
    at_zero = picture.outline.pin1_at_zero
    return None if at_zero is None or attitude is None else wrap(PIN1_AT_ZERO[at_zero] + attitude)


def _figure(sentence: str, template: str, words: list[str], **values: Any) -> Figure:
    content = drawn(template, **values)
    describes = f"{sentence}. {' '.join(words)}"
    side = 2 * _HALF
    return Figure(
        sentence, content, side, side, tuple(words), describes=describes, left=-_HALF, top=-_HALF
    )


def _in_pocket(picture: PartPicture) -> Figure:
    carried, take = picture.carried, picture.take
    if carried is None or take is None:
        words = ["No feeder holds the part."]
        return _figure("1. In its pocket", "pocket.svg", words, tape=None, glyph=None, pointer=None)
    scale = _tape_scale(carried, picture)
    faces = _pin1(picture, take.attitude)
    words = [f"{carried.name}, {carried.feeder.carrier}. {pin1_sentence(carried)}"]
    if carried.feed is not None:
        words.append(f"Pockets move toward {number(wrap(carried.feed))} (arrow).")
    return _figure(
        "1. In its pocket",
        "pocket.svg",
        words,
        tape=tape_drawing(carried, picture.outline.size_mm, scale, take.attitude, _HALF),
        glyph=None if take.attitude is None else glyph(picture.outline, scale=scale),
        turn=-(take.attitude or 0.0),
        pointer=_pointer(faces, 100.0),
    )


def pin1_sentence(carried: Carried) -> str:
    """Say where pin 1 is in the pocket."""
    if carried.feeder.carrier == "tray":
        tray = carried.feeder.tray
        attitude = tray.attitude if tray else None
        known = "unknown" if attitude is None else number(attitude)
        return f"Attitude in the tray: {known}."
    if carried.pin1_in_tape is None:
        return "Where pin 1 is in the pocket is not described."
    return f"Pin 1 is {IN_TAPE[carried.pin1_in_tape]}."


def _tape_scale(carried: Carried, picture: PartPicture) -> float:
    tape = carried.feeder.tape
    largest = max(picture.outline.size_mm)
    width = max(tape.width_mm, largest) if tape else 2.0 * largest
    return 1.7 * _HALF / (1.3 * width)


def tape_drawing(
    carried: Carried,
    size: tuple[float, float],
    scale: float,
    attitude: float | None,
    half: float,
    feed: float | None = None,
) -> dict[str, Any] | None:
    """Return a tape around its pocket at 0, in the tape's own frame, turned to the feed; y down.

    `half` is how far it is drawn each way. Hole and edge distances: EIA-481-D Tables 2 and 3. None
    where the feed is unknown or the carrier is no tape.
    """
    tape, feed = carried.feeder.tape, carried.feed if feed is None else feed
    if tape is None or feed is None:
        return None
    standard = TAPES[nearest_width(tape.width_mm)]
    along, across = pocket_from_hole(standard)
    upper = -scale * (abs(across) + EDGE_TO_HOLE_MM)
    lower = upper + scale * tape.width_mm
    holes = _steps(scale * HOLE_PITCH_MM, scale * abs(along), half)
    length, width = _pocket(carried, size, attitude, feed)
    tip = half - 6
    y = lower + 9
    return {
        "turn": -feed + 0.0,
        "edges": f"M{-half} {upper:.2f}H{half}M{-half} {lower:.2f}H{half}",
        "holes": [(x, round(-scale * abs(across), 2)) for x in holes],
        "radius": round(scale * HOLE_DIAMETER_MM / 2, 2),
        "pockets": _steps(scale * tape.pocket_pitch_mm, 0.0, half),
        "pocket": (round(scale * length, 2), round(scale * width, 2)),
        "arrow": f"M{tip - 34} {y:.2f}H{tip}m-7 -4l7 4l-7 4",
    }


def _pocket(
    carried: Carried, size: tuple[float, float], attitude: float | None, feed: float
) -> tuple[float, float]:
    """Return the pocket along and across the tape, mm; a little more than the part if unknown."""
    tape = carried.feeder.tape
    if tape and tape.pocket_mm:
        return tape.pocket_mm[0], tape.pocket_mm[1]
    is_across = attitude is not None and abs(wrap(2 * (attitude - feed))) > 90
    length, width = size[::-1] if is_across else size
    return length * 1.12, width * 1.12


def _steps(step: float, first: float, half: float) -> list[float]:
    """Return multiples of a step from `first` that are within the drawing, both ways."""
    lowest = -int((half + first) / step)
    return [
        round(first + n * step, 2)
        for n in range(lowest, int((half - first) / step) + 1)
        if abs(first + n * step) <= half
    ]


def _on_nozzle(picture: PartPicture) -> Figure:
    attitude = picture.take.attitude if picture.take else None
    faces = _pin1(picture, attitude)
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
        pointer=_pointer(faces, 100.0),
    )


def _turning(picture: PartPicture) -> Figure:
    take, target = picture.take, picture.chain.machine.angle
    turn = take.turn if take else None
    shape = _scaled(picture)
    was = None
    if take is not None and take.attitude is not None and turn is not None:
        start = _pin1(picture, take.attitude)
        start = take.attitude if start is None else start
        was = {"turn": -take.attitude + 0.0, "arc": _arc(start, turn, 84.0)}
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
        pointer=_pointer(_pin1(picture, target) if turn is not None else None, 100.0),
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
        pointer=_pointer(faces, 100.0),
    )


def _faces(faces: float | None) -> str:
    return "" if faces is None else f", pin 1 faces {number(faces)}"


def _pointer(faces: float | None, reach: float) -> dict[str, Any] | None:
    """Return a short arrow outside the part toward which pin 1 faces."""
    if faces is None:
        return None
    x, y = direction(faces)
    start, end = 0.78 * reach, reach
    left, right = direction(faces + 150), direction(faces - 150)
    tip = f"{end * x:.2f} {-end * y:.2f}"
    barbs = (f"M{tip}l{7 * u:.2f} {-7 * v:.2f}" for u, v in (left, right))
    path = f"M{start * x:.2f} {-start * y:.2f}L{tip}{''.join(barbs)}"
    far = reach + 14
    return {"path": path, "x": round(far * x, 2), "y": round(-far * y + 4, 2)}


def _arc(start: float, turn: float, radius: float) -> str:
    """Return an arc from a direction by a turn, degrees counter-clockwise, with an arrow's head."""
    if turn == 0:
        return ""
    x, y = direction(start)
    u, v = direction(start + turn)
    onward = direction(start + turn + (90 if turn > 0 else -90))
    sweep = 0 if turn > 0 else 1
    heading = 150 if turn > 0 else 210
    path = f"M{radius * x:.2f} {-radius * y:.2f}A{radius} {radius} 0 0 {sweep} "
    path += f"{radius * u:.2f} {-radius * v:.2f}"
    for bend in (heading, -heading):
        back = _turned(onward, bend)
        path += f"M{radius * u:.2f} {-radius * v:.2f}l{8 * back[0]:.2f} {-8 * back[1]:.2f}"
    return path


def _turned(vector: tuple[float, float], angle: float) -> tuple[float, float]:
    cosine, sine = direction(angle)
    return vector[0] * cosine - vector[1] * sine, vector[0] * sine + vector[1] * cosine


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
