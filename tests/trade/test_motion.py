"""Moves against a motion integrated step by step, and heights along them."""

from itertools import product

import pytest

from jobcheck.trade.motion import (
    camera_z,
    clearance_below,
    move_time_s,
    place_z,
    turn_in_range,
)


def integrated(distance, speed, acceleration, step=1e-5):
    """Time to go half way from rest by small steps, doubled: the move is symmetric."""
    position = velocity = time = 0.0
    while position < distance / 2:
        velocity = min(speed, velocity + acceleration * step)
        position += velocity * step
        time += step
    return 2 * time


@pytest.mark.parametrize("distance", [0.5, 31.25, 31.2, 31.3, 300.0])
def test_moves(distance):
    told = move_time_s(distance, 250, 2000)
    assert told == pytest.approx(integrated(distance, 250, 2000), rel=2e-3)
    assert move_time_s(-distance, 250, 2000) == told


def test_no_distance_takes_no_time():
    assert move_time_s(0, 250, 2000) == 0


@pytest.mark.parametrize(("speed", "acceleration"), [(0, 1), (1, 0), (-1, 1)])
def test_a_machine_that_cannot_move_is_refused(speed, acceleration):
    with pytest.raises(ValueError, match="above 0"):
        move_time_s(1, speed, acceleration)


def test_heights():
    assert place_z(-20, 0.45, 0.1) == pytest.approx(-19.65)
    assert camera_z(-20.1, 0.45) == pytest.approx(-19.65)
    assert clearance_below(-2, 5.4, -20 + 5.4) == pytest.approx(7.2)
    assert clearance_below(-10, 5.4, -14.6) < 0


@pytest.mark.parametrize(
    ("turn", "period", "limits", "made"),
    [
        (180, 360, (-180, 180), -180),
        (180, 360, (-90, 90), None),
        (180, 180, (-90, 90), 0),
        (135, 90, (-45, 45), -45),
        (-90, 360, (0, 360), 270),
        (90, 360, (90, 91), 90),
        (91, 360, (80, 90), None),
    ],
)
def test_turns_in_range(turn, period, limits, made):
    found = turn_in_range(turn, period, limits)
    if made in (-180, 180, -45):  # as near on the other side
        assert found is not None
        assert abs(found) == abs(made)
    else:
        assert found == made


def test_every_turn_in_range_against_trying_all():
    for turn, period in product(range(-180, 181, 15), (90, 180, 360)):
        for limits in ((-180, 180), (-90, 90), (0, 270), (-400, 30)):
            tried = [turn + period * k for k in range(-9, 10)]
            fits = [t for t in tried if limits[0] <= t <= limits[1]]
            found = turn_in_range(turn, period, limits)
            assert (found is None) is (not fits)
            assert found is None or (found in fits and abs(found) == min(map(abs, fits)))
