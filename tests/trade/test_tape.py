"""Tape in use: nearest standards, slots, and where the pocket lies in the machine."""

import pytest

from jobcheck.trade.tape import (
    TAPES,
    advance_mm,
    cut_tape_extent,
    nearest_pitch,
    nearest_width,
    pick_error,
    slots_covered,
    turn_in_pocket,
    usual_pitch,
)


@pytest.mark.parametrize(("width", "nearest"), [(8, 8), (10, 8), (11, 12), (100, 56)])
def test_nearest_width(width, nearest):
    assert nearest_width(width) == nearest


@pytest.mark.parametrize(("width", "pitch", "nearest"), [(8, 12, 4), (16, 5, 4), (24, 18, 16)])
def test_nearest_pitch(width, pitch, nearest):
    assert nearest_pitch(TAPES[width], pitch) == nearest


@pytest.mark.parametrize(("width", "body", "pitch"), [(8, 1.0, 2), (8, 1.6, 4), (12, 1.0, None)])
def test_usual_pitch(width, body, pitch):
    assert usual_pitch(TAPES[width], body) == pitch


@pytest.mark.parametrize(
    ("width", "step", "slots"), [(8, 16, 1), (16, 16, 1), (24, 16, 2), (12, 8, 2), (2.1, 0.3, 7)]
)
def test_slots_covered(width, step, slots):
    assert slots_covered(width, step) == slots


def test_lengths():
    assert advance_mm(4, 2) == 8


@pytest.mark.parametrize(
    ("pick", "pitch", "error"),
    [
        ((103.5, 52), 4, (0, 0)),
        ((103.5, 60.3), 4, (0.3, 0)),
        ((103.5, 50), 2, (0, 0)),
        ((103.5, 50.5), 8, (-1.5, 0)),
        ((103.5, 56), 8, (0, 0)),
        ((103.7, 52), 4, (0, -0.2)),
    ],
)
def test_pick_error(pick, pitch, error):
    assert pick_error(pick, (100, 50), TAPES[8.0], pitch, 90) == pytest.approx(error, abs=1e-9)


@pytest.mark.parametrize(
    ("body", "pocket"),
    [((1.6, 0.8), (1.7, 1.1)), ((0.8, 1.6), (1.0, 1.8)), ((2.0, 1.25), (2.1, 1.9))],
)
def test_a_part_turned_as_far_as_its_pocket_lets_touches_it(body, pocket):
    """Against shapely: at that turn its corners are at the wall, a little on beyond it."""
    from shapely import box
    from shapely.affinity import rotate

    part = box(-body[0] / 2, -body[1] / 2, body[0] / 2, body[1] / 2)
    turn = turn_in_pocket(body, pocket)
    for angle, fits in ((turn - 0.1, True), (turn + 0.1, False)):
        left, lower, right, upper = rotate(part, angle).bounds
        assert (right - left <= pocket[0] and upper - lower <= pocket[1]) is fits


def test_a_part_in_a_wide_pocket_turns_freely():
    assert turn_in_pocket((1.6, 0.8), (3.0, 3.0)) == 90


def test_a_cut_tape_reaches_from_edge_to_edge_of_its_tape():
    """8 mm tape: the pocket lies 1.75 + 3.5 from the edge beside the holes (EIA-481-D)."""
    assert cut_tape_extent(8, 4, 3) == ((-10, -2.75), (2, 5.25))
