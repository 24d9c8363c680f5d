"""Moves against a motion integrated step by step, and heights along them."""

import pytest

from jobcheck.trade.motion import clearance_below, move_time_s


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
    assert clearance_below(-2, 5.4, -20 + 5.4) == pytest.approx(7.2)
    assert clearance_below(-10, 5.4, -14.6) < 0
