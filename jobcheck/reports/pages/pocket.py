"""A part in its pocket: the tape as it is on the machine, pin 1, and where it is in words."""

from __future__ import annotations

from typing import Any

from jobcheck.facts.carried import Carried
from jobcheck.reports.pages.arrows import pointer
from jobcheck.reports.pages.bodies import glyph
from jobcheck.schema.feeders import Feeder, Tape
from jobcheck.schema.parts import Outline
from jobcheck.trade.plane import wrap
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

HALF = 130.0
"""Half the size of a drawing, in its own units."""

_IN_TAPE = {
    "forward": "at the front",
    "q2": "at the front, hole side (quadrant 2)",
    "holes": "toward the round holes",
    "q1": "at the back, hole side (quadrant 1)",
    "backward": "at the back",
    "q3": "at the back, plain side (quadrant 3)",
    "plain_edge": "toward the plain edge",
    "q4": "at the front, plain side (quadrant 4)",
}
SIDES = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")
"""Where a pin is, counter-clockwise from 0 in steps of 45 degrees."""

_MACHINE = ("right", "away from you", "left", "toward you")


def pin1_sentence(carried: Carried, outline: Outline | None) -> str:
    """Say where pin 1 is in the pocket."""
    if outline is None:
        return "The outline is not described."
    if not outline.polarised and outline.pin1_at_zero is None:
        return "Not polarised."
    if carried.feeder.carrier == "tray":
        return _in_tray(outline, carried.attitude)
    if carried.pin1_in_tape is None:
        return "Where pin 1 is in the pocket is not described."
    means = outline.pin1_means
    named = f" ({means})" if means and means != "pin 1" else ""
    return f"Pin 1{named} is {_IN_TAPE[carried.pin1_in_tape]}."


def _in_tray(outline: Outline, attitude: float | None) -> str:
    faces = pin1_at(outline, attitude)
    if faces is None or attitude is None:
        return "How it is turned in the tray is not described."
    if faces % 45:
        return f"Turned {number(attitude)} in the tray."
    return (
        f"Pin 1 is at the {SIDES[int(faces // 45) % 8]} of its pocket, as you look from the front."
    )


def feed_sentence(carried: Carried) -> str:
    """Say in which direction pockets move."""
    if carried.feeder.carrier == "tray":
        return ""
    if carried.feed is None:
        return "The direction in which pockets move is not described."
    way = wrap(carried.feed)
    if way % 90:
        return f"Pockets move toward {number(way)}."
    return f"Pockets move {_MACHINE[int(way // 90) % 4]}."


def pin1_at(outline: Outline, attitude: float | None) -> float | None:
    """Return the direction of pin 1 of an outline at an attitude; None is unknown."""
    at_zero = outline.pin1_at_zero
    return None if at_zero is None or attitude is None else wrap(PIN1_AT_ZERO[at_zero] + attitude)


def pocket_values(carried: Carried, outline: Outline | None) -> dict[str, Any]:
    """Return what the template of a pocket takes."""
    scale = _scale(carried.feeder, outline)
    size = outline.size_mm if outline else (1.0, 1.0)
    return {
        "tape": _tape(carried, size, scale),
        "glyph": glyph(outline, scale=scale) if outline and carried.attitude is not None else None,
        "turn": -(carried.attitude or 0.0) + 0.0,
        "unknown": "not described" if outline is None else "attitude unknown",
        "pointer": pointer(pin1_at(outline, carried.attitude) if outline else None, 100.0),
    }


def _scale(feeder: Feeder, outline: Outline | None) -> float:
    largest = max(outline.size_mm) if outline else 1.0
    width = max(feeder.tape.width_mm, largest) if feeder.tape else 2.0 * largest
    return 1.7 * HALF / (1.3 * width)


def _tape(carried: Carried, size: tuple[float, float], scale: float) -> dict[str, Any] | None:
    """Return a tape around its pocket at 0, in the tape's own frame, turned to the feed; y down.

    Hole and edge distances: EIA-481-D Tables 2 and 3. None where the feed is unknown or the
    carrier is not tape.
    """
    tape, feed = carried.feeder.tape, carried.feed
    if tape is None or feed is None:
        return None
    along, across = map(abs, pocket_from_hole(TAPES[nearest_width(tape.width_mm)]))
    upper = -scale * (across + EDGE_TO_HOLE_MM)
    lower = upper + scale * tape.width_mm
    length, width = _pocket(tape, size, carried.attitude, feed)
    return {
        "turn": -feed + 0.0,
        "edges": f"M{-HALF} {upper:.2f}H{HALF}M{-HALF} {lower:.2f}H{HALF}",
        "holes": [
            (x, round(-scale * across, 2)) for x in _steps(scale * HOLE_PITCH_MM, scale * along)
        ],
        "radius": round(scale * HOLE_DIAMETER_MM / 2, 2),
        "pockets": _steps(scale * tape.pocket_pitch_mm, 0.0),
        "pocket": (round(scale * length, 2), round(scale * width, 2)),
        "arrow": f"M{HALF - 40} {lower + 10:.2f}h34m-7 -4l7 4l-7 4",
    }


def _pocket(
    tape: Tape, size: tuple[float, float], attitude: float | None, feed: float
) -> tuple[float, float]:
    """Return the pocket along and across the tape, mm; a little more than the part if unknown."""
    if tape.pocket_mm:
        return tape.pocket_mm[0], tape.pocket_mm[1]
    is_across = attitude is not None and abs(wrap(2 * (attitude - feed))) > 90
    length, width = size[::-1] if is_across else size
    return length * 1.12, width * 1.12


def _steps(step: float, first: float) -> list[float]:
    """Return multiples of a step from `first` that are within the drawing, both ways."""
    lowest, highest = -int((HALF + first) / step), int((HALF - first) / step)
    return [round(first + n * step, 2) for n in range(lowest, highest + 1)]
