"""The polarity chain against rigid bodies turned in space by scipy.

Reference: `scipy.spatial.transform.Rotation`. Nothing of the chain is used but its results: the
pin places are drawn as corners and edges of a body, the board is turned over as a solid, and
a spindle's turn is right when the body that was taken up ends as the body that was wanted.
Meaning of the bottom's zero: Gerber Layer Format Specification 5.6.16.
"""

import itertools

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from jobcheck.trade import polarity
from jobcheck.trade.plane import turned

FORWARD, HOLES = np.array([1, 0, 0]), np.array([0, 1, 0])
DRAWN = {
    "right": (1, 0), "upper_right": (1, 1), "top": (0, 1), "upper_left": (-1, 1),
    "left": (-1, 0), "lower_left": (-1, -1), "bottom": (0, -1), "lower_right": (1, -1),
}  # fmt: skip
TAPE = {
    "forward": FORWARD, "backward": -FORWARD, "holes": HOLES, "plain_edge": -HOLES,
    "q1": HOLES - FORWARD, "q2": HOLES + FORWARD, "q3": -HOLES - FORWARD, "q4": FORWARD - HOLES,
}  # fmt: skip
FEEDS = {0: (1, 0, 0), 90: (0, 1, 0), 180: (-1, 0, 0), 270: (0, -1, 0)}
LEVEL_PIN = {"A": (-1, 1, 0), "B": (-1, -1, 0)}
LEVELS: tuple[polarity.ZeroLevel, ...] = ("A", "B")
BOTTOMS: tuple[polarity.Bottom | None, ...] = (
    None,
    "as-placed",
    "through-top-mirrored-y",
    "through-top-mirrored-x",
)
SEAT = np.array([150.0, 210.0, 0.0])
BOARD, CELL, WIDTH = np.array([60.0, 40.0, 0.0]), np.array([63.0, 43.0, 0.0]), 123.0

ROLLED_OVER_X = Rotation.from_rotvec([np.pi, 0, 0])
ROLLED_OVER_Y = Rotation.from_rotvec([0, np.pi, 0])


def spun(degrees):
    return Rotation.from_rotvec(np.multiply.outer(degrees, [0, 0, 1]), degrees=True)


QUARTERS = [spun(q) for q in (0, 90, 180, 270)]


def quarter_that_lays(vector, onto):
    """The quarter turn that lays one drawn direction onto another; None where none does."""
    return next((q for q in QUARTERS if np.allclose(q.apply(vector), onto, atol=1e-9)), None)


def body_on_board(listed, drawing, bottom):
    """The placed body in the board's frame seen from the top; a bottom part hangs below."""
    if bottom is None:
        return spun(listed) * drawing
    if bottom == "as-placed":
        return ROLLED_OVER_Y.inv() * spun(listed) * drawing
    rolled = ROLLED_OVER_X if bottom == "through-top-mirrored-y" else ROLLED_OVER_Y
    return spun(listed) * rolled * drawing


def pocketed():
    """Every pin place in every tape place: chain's answer beside the body's turn."""
    for (pin, drawn), (place, onto) in itertools.product(DRAWN.items(), TAPE.items()):
        told = polarity.attitude_in_pocket(polarity.PIN1_IN_TAPE[place], polarity.PIN1_AT_ZERO[pin])
        yield told, quarter_that_lays((*drawn, 0), onto)


def wanted():
    """Every board angle, zero level, side, cell and seat: chain's B beside the body's turn."""
    levels = list(itertools.product(LEVELS, repeat=2))
    turns = itertools.product(range(0, 360, 45), levels, BOTTOMS, (0, 180), (0, 90, 17.5))
    for listed, (outline, placements), bottom, cell, seat in turns:
        zero = polarity.list_to_outline(outline, placements)
        told = polarity.target_attitude(
            polarity.board_angle(listed, zero, bottom), cell, seat, found_rotation=0.4
        )
        drawing = quarter_that_lays(LEVEL_PIN[outline], LEVEL_PIN[placements])
        body = spun(cell) * body_on_board(listed, drawing, bottom)
        upright = body if bottom is None else ROLLED_OVER_Y * body
        yield told, spun(seat + 0.4) * upright


def test_pockets():
    fits = 0
    for told, body in pocketed():
        assert (told is None) == (body is None)
        if body is not None:
            fits += 1
            assert np.allclose(spun(told).as_matrix(), body.as_matrix())
    assert fits == 32


def test_the_whole_table():
    picked = [
        (polarity.attitude_at_pick(feed, told), quarter_that_lays((1, 0, 0), ahead) * body)
        for told, body in pocketed()
        if told is not None
        for feed, ahead in FEEDS.items()
    ]
    placed = list(wanted())
    taken = Rotation.concatenate([body for _, body in picked])
    assert len(picked) * len(placed) == 32 * 4 * 8 * 4 * 4 * 2 * 3
    for target, goal in placed:
        turns = [polarity.spindle_turn(target, at_pick) for at_pick, _ in picked]
        assert all(-180 < turn <= 180 for turn in turns)
        ended = spun(np.array(turns)) * taken
        assert np.allclose(ended.as_matrix(), goal.as_matrix(), atol=1e-9)


@pytest.mark.parametrize(
    ("side", "half"), list(itertools.product(("top", "bottom"), (False, True)))
)
def test_positions(side, half):
    point = np.array([17.0, 11.0, 0.0])
    middle = BOARD / 2
    in_cell = spun(180).apply(point - middle) + middle if half else point
    solid = in_cell + CELL
    if side == "bottom":
        edge = np.array([WIDTH / 2, 0, 0])
        solid = ROLLED_OVER_Y.apply(solid - edge) + edge
    lies = spun(17.5).apply(solid) + SEAT

    on = polarity.on_panel((17.0, 11.0), (63.0, 43.0), (60.0, 40.0), half)
    seen = polarity.turned_over(on, WIDTH) if side == "bottom" else on
    assert np.allclose(polarity.in_machine(seen, (150.0, 210.0), 17.5), lies[:2])


def test_the_gerber_example():
    """Gerber Layer Format Specification 6.9: R301 at -90; its pin 1 lies left at 0."""
    centroid, pin1 = (218.25, -73.00), (218.25, -72.045)
    arm = pin1[0] - centroid[0], pin1[1] - centroid[1]
    on_board = polarity.board_angle(-90, 0)
    assert turned(arm, -on_board) == pytest.approx((-0.955, 0))
    assert polarity.pin1_faces(polarity.PIN1_AT_ZERO["left"], on_board) == 90
