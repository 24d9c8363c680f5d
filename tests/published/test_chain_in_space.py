"""The whole polarity table through a described shop, against rigid bodies turned in space.

8 pin places x 8 tape places x 4 feed directions x both levels of outline and list x top and the
bottom in three conventions x 8 board angles x both cell turns. Reference: the bodies of
`test_polarity_in_space`, turned by `scipy.spatial.transform.Rotation`; nothing of the chain is used
but its results.
"""

import itertools
import json
from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from jobcheck.facts.chain import chain
from jobcheck.facts.facts import Facts
from jobcheck.facts.frames import Frames
from jobcheck.facts.polarity import Proof
from tests.published.test_polarity_in_space import (
    BOTTOMS,
    DRAWN,
    FEEDS,
    LEVEL_PIN,
    LEVELS,
    ROLLED_OVER_Y,
    TAPE,
    body_on_board,
    quarter_that_lays,
    spun,
)
from tests.support.edited import edited

ANGLES = range(0, 360, 45)
PITCH, RAIL, SIZE = (63, 43), (10, 5), (60, 40)
WIDTH = 2 * RAIL[0] + PITCH[0] + SIZE[0]
SEAT, SEAT_TURN = np.array([150.0, 210.0, 0.0]), 17.5
FOUND_TURN, FOUND_MOVE = 0.4, np.array([0.31, -0.22, 0.0])
MARKS = {"p1": (5.0, 4.0), "p2": (131.0, 80.0)}
PARTS = list(itertools.product(DRAWN, LEVELS))


def heading(body):
    """The angle at which a body's own x points, seen from above."""
    x, y, _ = body.apply([1, 0, 0])
    return float(np.degrees(np.arctan2(y, x)))


def taken(pin, place, feed):
    """The body as it lies in a feeder before it is taken; None where it cannot lie so."""
    pocketed = quarter_that_lays((*DRAWN[pin], 0), TAPE[place])
    return pocketed and quarter_that_lays((1, 0, 0), FEEDS[feed]) * pocketed


FEEDERS = {
    f"{pin}-{level}-{place}-{feed}": (f"{pin}-{level}", taken(pin, place, feed))
    for (pin, level), place, feed in itertools.product(PARTS, TAPE, FEEDS)
    if taken(pin, place, feed) is not None
}
JOBS = {
    f"{bottom or 'top'}-{level}": (bottom, level)
    for bottom, level in itertools.product(BOTTOMS, LEVELS)
}


def lying(pin, level, bottom, listed_level, listed):
    """The placed body in the board's frame seen from the top; a bottom part hangs below."""
    return body_on_board(
        listed, quarter_that_lays(LEVEL_PIN[level], LEVEL_PIN[listed_level]), bottom
    )


def by_marks(point):
    """Where a point of the machine really is, by the marks."""
    return spun(FOUND_TURN).apply(point) + FOUND_MOVE


def on_seat(point):
    return spun(SEAT_TURN).apply(point) + SEAT


def placement(pin, level, bottom, listed_level, listed):
    x, y = 4 + ANGLES.index(listed) * 7, 3 + 2 * PARTS.index((pin, level))
    arm = lying(pin, level, bottom, listed_level, listed).apply((*DRAWN[pin], 0))
    return {
        "part": f"{pin}-{level}",
        "x": x,
        "y": y,
        "rotation": listed,
        "side": "top" if bottom is None else "bottom",
        "pin1_x": x + float(arm[0]),
        "pin1_y": y + float(arm[1]),
    }


def job(bottom, listed_level):
    measured = {}
    for name, mark in MARKS.items():
        x, y, _ = by_marks(on_seat(np.array([*mark, 0.0])))
        measured[name] = {"x": float(x), "y": float(y)}
    return {
        "describes": "job",
        "edition": 1,
        "side": "top" if bottom is None else "bottom",
        "board": {"size_mm": SIZE},
        "panel": {
            "columns": 2,
            "rows": 2,
            "pitch_mm": PITCH,
            "origin_mm": RAIL,
            "half_turned": ["2-1", "1-2"],
            "fiducials": {
                name: {"x": x, "y": y, "diameter_mm": 1} for name, (x, y) in MARKS.items()
            },
        },
        "seat": {"x": 150, "y": 210, "z": -20, "rotation": SEAT_TURN, "measured": measured},
        "placements": {
            "zero": listed_level,
            **({"bottom": bottom, "bottom_positions": "through-top"} if bottom else {}),
            **{
                f"{pin}-{level}-{listed}": placement(pin, level, bottom, listed_level, listed)
                for (pin, level), listed in itertools.product(PARTS, ANGLES)
            },
        },
    }


def feeder(name):
    part, body = FEEDERS[name]
    *_, place, feed = name.split("-")
    return {
        "part": part,
        "carrier": "tape",
        "tape": {"width_mm": 8, "pocket_pitch_mm": 4, "advance_mm": 4, "pin1": place},
        "feed_direction": int(feed),
        "pick": {"x": 20, "y": 8, "z": -18, "rotation": heading(body)},
    }


def outline(pin, level):
    return {
        "body_mm": [2, 2],
        "terminals": 8,
        "polarised": True,
        "pin1_at_zero": pin,
        "zero": level,
    }


@cache
def shop():
    named = {f"{pin}-{level}": (pin, level) for pin, level in PARTS}
    blocks = {
        "outlines": {name: outline(*drawn) for name, drawn in named.items()},
        "recognitions": {},
        "parts": {name: {"outline": name} for name in named},
        "feeders": {name: feeder(name) for name in FEEDERS},
        "jobs": {name: job(*told) for name, told in JOBS.items()},
    }
    return edited("".join(f"{key}: {json.dumps(value)}\n" for key, value in blocks.items())).shop


def panel_solid(cell, point):
    """A board point on the panel before it is turned over, both seen from the top."""
    column, row = (int(number) - 1 for number in cell.name.split("-"))
    middle = np.array([*SIZE, 0.0]) / 2
    if cell.name in ("2-1", "1-2"):
        point = spun(180).apply(point - middle) + middle
    return point + np.array([RAIL[0] + column * PITCH[0], RAIL[1] + row * PITCH[1], 0.0])


@pytest.mark.parametrize("name", JOBS)
def test_the_whole_table(name):
    bottom, listed_level = JOBS[name]
    frames = Frames(shop().jobs[name])
    edge = np.array([WIDTH / 2, 0.0, 0.0])
    over = Rotation.identity() if bottom is None else ROLLED_OVER_Y
    chains = 0
    for (pin, level), listed in itertools.product(PARTS, ANGLES):
        reference = f"{pin}-{level}-{listed}"
        at = frames.job.placements.by_reference[reference]
        body = lying(pin, level, bottom, listed_level, listed)
        for cell in (frames.cell("2-2"), frames.cell("2-1")):
            found = chain(Facts(shop()), name, reference, cell, frames=frames)
            solid = panel_solid(cell, np.array([at.x, at.y, 0.0]))
            lies = by_marks(on_seat(over.apply(solid - edge) + edge if bottom else solid))
            assert np.allclose(found.machine.point, lies[:2], atol=1e-9)
            goal = spun(SEAT_TURN + FOUND_TURN) * over * spun(180 * (cell.name == "2-1")) * body
            check_turns(found, goal, pin)
            chains += 1
    assert chains == 16 * 8 * 2


def check_turns(found, goal, pin):
    """Each feeder's turn makes the body that was taken the one that is wanted."""
    assert len(found.takes) == 16
    turns = np.array([take.turn for take in found.takes])
    assert np.all((turns > -180 - 1e-9) & (turns <= 180 + 1e-9))
    bodies = Rotation.concatenate([FEEDERS[take.feeder][1] for take in found.takes])
    assert np.allclose((spun(turns) * bodies).as_matrix(), goal.as_matrix(), atol=1e-9)
    arm = goal.apply((*DRAWN[pin], 0))
    faces = spun(found.pin1_faces).apply([np.hypot(*arm[:2]), 0, 0])
    assert np.allclose(faces, arm, atol=1e-9)


def test_every_leg_of_the_table_agrees():
    polarity = Facts(shop()).polarity
    assert len(FEEDERS) == 2 * 32 * 4
    assert {polarity.feeder(name).proof for name in FEEDERS} == {Proof.DECLARED}
    for name, described in shop().jobs.items():
        proofs = {polarity.listing(name, ref).proof for ref in described.placements.by_reference}
        assert proofs == {Proof.PROVEN}


def test_marks_of_two_leave_their_distance():
    found = Frames(shop().jobs["top-A"]).found
    assert found.fit.kind == "rigid"
    assert found.turn == pytest.approx(FOUND_TURN)
    assert found.distance_error_mm == pytest.approx(0, abs=1e-9)
    assert found.is_mirrored is None
