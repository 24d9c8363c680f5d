"""Oriented rectangles against shapely, over thousands of random bodies."""

import math
import random

import pytest
import shapely
from shapely import affinity
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon

from jobcheck.trade.bodies import (
    Body,
    box_of,
    close_pairs,
    corners,
    distance,
    gap,
    margin_within,
    overlap_depth,
)


def random_body(chance, field=7.0):
    return Body(
        (chance.uniform(0, field), chance.uniform(0, field)),
        chance.choice([0.0, 0.4, 1.0, 1.6, chance.uniform(0.1, 9)]),
        chance.choice([0.5, 0.8, chance.uniform(0.1, 5)]),
        chance.choice([0, 90, -90, 180, 45, 30, chance.uniform(-400, 400)]),
    )


def drawn(body):
    """The body drawn by shapely's own turning, from an upright box."""
    x, y = body.centre
    half, rise = body.length / 2, body.width / 2
    upright = Polygon([(-half, -rise), (half, -rise), (half, rise), (-half, rise)])
    turned = affinity.rotate(upright, body.angle, origin=(0, 0))
    return affinity.translate(turned, x, y)


CHANCE = random.Random(1)
PAIRS = [(random_body(CHANCE), random_body(CHANCE)) for _ in range(2000)]


def test_corners_and_boxes():
    for body, _ in PAIRS:
        assert drawn(body).bounds == pytest.approx(box_of(body), abs=1e-9)
        assert list(drawn(body).exterior.coords)[:4] == [pytest.approx(c) for c in corners(body)]


def test_clearance():
    parted = 0
    for a, b in PAIRS:
        apart = drawn(a).distance(drawn(b))
        assert max(gap(a, b), 0) == pytest.approx(apart, abs=1e-9)
        assert (gap(a, b) < -1e-9) == (overlap_depth(a, b) > 1e-9)
        parted += apart > 0
    assert 200 < parted < 1900


def test_depth_is_the_shortest_way_out_of_the_minkowski_difference():
    for a, b in PAIRS:
        differences = [(p[0] - q[0], p[1] - q[1]) for p in corners(a) for q in corners(b)]
        hull = shapely.MultiPoint(differences).convex_hull
        origin = ShapelyPoint(0, 0)
        depth = hull.exterior.distance(origin) if hull.contains(origin) else 0.0
        assert overlap_depth(a, b) == pytest.approx(depth, abs=1e-9)


def test_containment_and_distance():
    held = 0
    for inner, outer in PAIRS:
        small = Body(inner.centre, inner.length / 4, inner.width / 4, inner.angle)
        margin, shape = margin_within(small, outer), drawn(outer)
        if abs(margin) > 1e-9:
            assert shape.covers(drawn(small)) == (margin > 0)
        if margin > 0:
            held += 1
            assert shape.exterior.distance(drawn(small)) == pytest.approx(margin, abs=1e-9)
        point = inner.centre
        assert distance(outer, point) == pytest.approx(shape.distance(ShapelyPoint(point)))
    assert held > 25


@pytest.mark.parametrize(("within", "field"), [(0.0, 200.0), (0.3, 200.0), (0.1, 15.0)])
def test_close_pairs_are_those_of_an_r_tree(within, field):
    chance = random.Random(2)
    bodies = [random_body(chance, field) for _ in range(600)]
    bodies.append(Body((field / 2, field / 2), field, field / 3, 20))
    grown = [shapely.box(*box_of(body)) for body in bodies]
    tree = shapely.STRtree(grown)
    first, second = tree.query(grown, predicate="dwithin", distance=within)
    expected = {(i, j) for i, j in zip(first.tolist(), second.tolist(), strict=True) if i < j}
    found = list(close_pairs(bodies, within))
    assert len(found) == len(set(found))
    # Box corners may come near in x and in y without coming near as the crow flies.
    assert expected <= set(found)
    assert all(grown[i].distance(grown[j]) <= math.sqrt(2) * within + 1e-9 for i, j in found)
