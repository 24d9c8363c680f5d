"""The polarity chain against a worked table, and its reductions by symmetry."""

import pytest

from jobcheck.trade.plane import turned, wrap
from jobcheck.trade.polarity import (
    PIN1_AT_ZERO,
    PIN1_IN_TAPE,
    attitude_at_pick,
    attitude_difference,
    attitude_in_pocket,
    board_angle,
    cell_origin,
    in_machine,
    is_square,
    list_to_outline,
    on_panel,
    pin1_faces,
    spindle_turn,
    symmetry,
    target_attitude,
    turned_over,
)

BOARD = (60.0, 40.0)
SEAT, SEAT_ROTATION = (150.0, 210.0), 90.0

DIODE = ("left", "holes", 90.0, 0.0, (17.0, 11.0), (0.0, 0.0), False, 60.0)
QUAD = ("upper_left", "q2", 270.0, 45.0, (40.0, 25.0), (63.0, 0.0), True, 123.0)


@pytest.mark.parametrize(
    ("case", "bottom", "attitude", "on_board", "target", "turn", "faces", "place"),
    [
        (DIODE, None, 0, 0, 90, 90, -90, (139, 227)),
        (DIODE, "through-top-mirrored-y", 0, 180, -90, -90, 90, (139, 253)),
        (QUAD, None, 180, 45, -45, 135, 90, (135, 293)),
        (QUAD, "through-top-mirrored-y", 180, 135, 45, -135, 180, (135, 250)),
    ],
)
def test_the_worked_table(case, bottom, attitude, on_board, target, turn, faces, place):
    pin1, tape, feed, rotation, point, cell, half_turned, width = case
    in_pocket = attitude_in_pocket(PIN1_IN_TAPE[tape], PIN1_AT_ZERO[pin1])
    assert in_pocket is not None
    at_pick = attitude_at_pick(feed, in_pocket)
    b = board_angle(rotation, 0, bottom)
    goal = target_attitude(b, 180 if half_turned else 0, SEAT_ROTATION)
    on = on_panel(point, cell, BOARD, half_turned)
    seen = turned_over(on, width) if bottom else on
    assert (at_pick, b, goal, spindle_turn(goal, at_pick)) == (attitude, on_board, target, turn)
    assert pin1_faces(PIN1_AT_ZERO[pin1], goal) == faces
    assert in_machine(seen, SEAT, SEAT_ROTATION) == place


@pytest.mark.parametrize(
    ("angle", "expected"),
    [(180, 180), (-180, 180), (540, 180), (360, 0), (-90.5, -90.5), (270, -90), (1e6 * 360, 0)],
)
def test_wrap(angle, expected):
    assert wrap(angle) == expected
    assert str(wrap(-360.0)) == "0.0"


def test_quarter_turns_are_exact():
    assert [turned((3.1, 0.7), q) for q in (90, 180, 270)] == [
        (-0.7, 3.1),
        (-3.1, -0.7),
        (0.7, -3.1),
    ]


def test_a_quadrant_for_a_pin_in_mid_side_is_no_attitude():
    assert attitude_in_pocket(PIN1_IN_TAPE["q1"], PIN1_AT_ZERO["left"]) is None
    assert attitude_in_pocket(PIN1_IN_TAPE["holes"], PIN1_AT_ZERO["upper_left"]) is None


def test_levels():
    assert list_to_outline("A", "B") == 90
    assert list_to_outline("B", "A") == -90
    assert list_to_outline("A", "A") == list_to_outline("B", "B") == 0


def test_an_unknown_bottom_convention_is_refused():
    with pytest.raises(ValueError, match="sideways"):
        board_angle(0, 0, "sideways")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("terminals", "polarised", "size", "turn"),
    [
        (2, False, (1.6, 0.8), 180),
        (2, False, (5.0, 5.0), 180),
        (2, True, (1.6, 0.8), 360),
        (4, False, (5.0, 5.3), 90),
        (4, False, (5.0, 5.31), 360),
        (None, False, (5.0, 5.0), 360),
    ],
)
def test_symmetry(terminals, polarised, size, turn):
    length, width = size
    assert turn == symmetry(
        terminals=terminals, polarised=polarised, length_mm=length, width_mm=width
    )


def test_square_as_eia_481_e_says():
    assert is_square(1.0, 1.3)
    assert not is_square(1.0, 1.3001)


def test_difference_is_told_within_half_the_symmetry():
    assert attitude_difference(270, 90) == 180
    assert attitude_difference(270, 0, 180) == 90
    assert attitude_difference(100, 0, 90) == pytest.approx(10)


def test_cells():
    assert cell_origin(1, 2, (63, 43)) == (63, 86)
    assert on_panel((0, 0), (63, 0), BOARD, half_turned=True) == (123, 40)
