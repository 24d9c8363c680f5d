"""Bodies by hand, and the growth of the search for close ones."""

import time

import pytest

from jobcheck.trade.bodies import (
    Body,
    close_pairs,
    distance,
    extent,
    gap,
    margin_within,
    overlap_depth,
)


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        (Body((0, 0), 2, 1), Body((3, 0), 2, 1), 1.0),
        (Body((0, 0), 2, 1), Body((2, 0), 2, 1), 0.0),
        (Body((0, 0), 2, 1), Body((1.5, 0), 2, 1), -0.5),
        (Body((0, 0), 2, 1, 90), Body((1.5, 0), 2, 1, 90), 0.5),
        (Body((0, 0), 2, 2), Body((5, 6), 2, 2), 5.0),
        (Body((0, 0), 4, 4), Body((0, 0), 1, 1), -2.5),
    ],
)
def test_gap(a, b, expected):
    assert gap(a, b) == gap(b, a) == pytest.approx(expected)
    assert overlap_depth(a, b) == pytest.approx(max(0, -expected))


def test_a_body_at_the_edge_of_the_board():
    board = Body((30, 20), 60, 40)
    assert margin_within(Body((1, 20), 1.6, 0.8), board) == pytest.approx(0.2)
    assert margin_within(Body((1, 20), 1.6, 0.8, 90), board) == pytest.approx(0.6)
    assert margin_within(Body((60, 20), 1.6, 0.8), board) == pytest.approx(-0.8)


def test_extent_and_distance():
    assert extent(3, 1, 90) == (1, 3)
    assert distance(Body((0, 0), 2, 2), (4, 5)) == 5
    assert distance(Body((0, 0), 2, 2), (0.5, 0.5)) == 0


def test_the_search_does_not_grow_with_the_square():
    def seconds(count):
        bodies = [Body((i % 100 * 2.0, i // 100 * 2.0), 1.6, 0.8, i % 4 * 90) for i in range(count)]
        start = time.process_time()
        assert list(close_pairs(bodies, 0.2)) == []
        return time.process_time() - start

    few = min(seconds(1000) for _ in range(3))
    many = min(seconds(8000) for _ in range(2))
    assert many < 24 * few  # the square would be 64 times


def test_one_vast_body_among_many_costs_nothing_much():
    bodies = [Body((i * 2.0, 0), 1.6, 0.8) for i in range(500)]
    bodies.append(Body((500, 0), 1e12, 0.1))
    assert len(list(close_pairs(bodies))) == 500
