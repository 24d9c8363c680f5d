"""Times of a panel: moves against simulated motion, ways against each point's own."""

import math
from random import Random

import pytest

from jobcheck.trade.pace import Axis, Cloud, cloud, root_mean_square_distance


@pytest.mark.parametrize("distance", [0.0, 0.5, 10.0, 30.9, 31.3, 400.0])
def test_a_move_takes_what_a_simulated_one_takes(distance):
    """Accelerate as long as there is room to stop, step by step, with 250 mm/s and 2000 mm/s²."""
    at, speed, step, took = 0.0, 0.0, 1e-5, 0.0
    while at < distance - 1e-6:
        stops = speed * speed / 2 / 2000
        speed = min(speed + 2000 * step, 250) if distance - at > stops else speed - 2000 * step
        at, took = at + max(speed, 1e-2) * step, took + step
    assert Axis(250, 2000).time_s(distance) == pytest.approx(took, abs=2e-3)


@pytest.mark.parametrize("seed", range(10))
def test_root_mean_square_distance_is_that_of_the_points_and_no_less_than_the_mean(seed):
    draw = Random(seed)
    points = [(draw.uniform(0, 60), draw.uniform(0, 40)) for _ in range(30)]
    at = (draw.uniform(-300, 300), draw.uniform(-300, 300))
    distances = [math.dist(at, point) for point in points]
    found = root_mean_square_distance(at, cloud(points))
    assert found == pytest.approx(math.sqrt(sum(d * d for d in distances) / len(distances)))
    assert found >= sum(distances) / len(distances)


@pytest.mark.parametrize("seed", range(10))
def test_the_time_errs_to_the_long_side(seed):
    draw, axis = Random(seed), Axis(250, 2000)
    points = [(draw.uniform(0, 60), draw.uniform(0, 40)) for _ in range(30)]
    at = (draw.uniform(-100, 100), draw.uniform(-100, 100))
    each = sum(axis.time_s(math.dist(at, point)) for point in points) / len(points)
    assert axis.time_s(root_mean_square_distance(at, cloud(points))) >= each


def test_without_points_there_is_no_cloud():
    assert cloud([]) == Cloud(0, (0.0, 0.0), 0.0)
