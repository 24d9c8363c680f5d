"""Where strips and trays lie, and what they hold."""

import pytest

from jobcheck.facts.carrying import taken_up, tray_pocket
from jobcheck.trade.bodies import box_of
from tests.edited import edited, edited_shop, linted

TRAY = """
feeders.f01.tape: ~
feeders.f01.row: ~
feeders.f01.slot: ~
feeders.f01.carrier: tray
feeders.f01.tray: {columns: 4, rows: 9, pitch_mm: [10, 10]}
feeders.f01.pick: {x: 60, y: 120, z: -18.2, rotation: 0}
feeders.f01.remaining: 36
"""
STRIP = """
feeders.f01.row: ~
feeders.f01.slot: ~
feeders.f01.carrier: cut-tape
feeders.f01.feed_direction: {}
feeders.f01.pick: {{x: 100, y: 150, z: -18, rotation: {}}}
feeders.f01.remaining: 40
"""


def found(edits: str) -> list[tuple[str, str]]:
    return [(finding.rule, finding.message) for finding in linted(edited(edits)).open]


@pytest.mark.parametrize(
    ("feed", "takes"),
    [
        (0, (-58, 147.25, 102, 155.25)),
        (90, (94.75, -8, 102.75, 152)),
        (180, (98, 144.75, 258, 152.75)),
        (270, (97.25, 148, 105.25, 308)),
    ],
)
def test_a_strip_lies_behind_its_pick_with_its_holes_on_the_left(feed, takes):
    shop = edited_shop(STRIP.format(feed, feed - 90))
    body = taken_up(shop, "f01")
    assert body is not None
    assert box_of(body) == pytest.approx(takes)


def test_pockets_count_along_x_first():
    feeder = edited_shop(TRAY).feeders["f01"]
    assert [tray_pocket(feeder, n) for n in (1, 4, 5, 36)] == [
        (60, 120),
        (90, 120),
        (60, 130),
        (90, 200),
    ]


def test_a_tray_over_several_things_is_one_finding():
    edits = TRAY + "feeders.f01.extent: {x: [50, 230], y: [20, 205]}"
    (told,) = found(edits)
    assert told == (
        "carrier-lies-over",
        "tray f01 lies over the board of first-board, camera up.",
    )


def test_strips_laid_edge_to_edge_are_no_fault():
    other = STRIP.format(0, 90).replace("f01", "f02").replace("y: 150", "y: 158")
    stock = "feeders.f01.remaining: 20\nfeeders.f02.remaining: 25\nshop.limits.spare_parts: 0\n"
    two = STRIP.format(0, 90) + other + stock + "jobs.first-board.run.panels: 6"
    assert found(two) == []
    nearer = two.replace("y: 158", "y: 157")
    assert [rule for rule, _ in found(nearer)] == ["carrier-lies-over"]


def test_a_next_pocket_just_beyond_is_an_empty_tray():
    edits = TRAY + "feeders.f01.tray.next_pocket: 37\nfeeders.f01.remaining: 0"
    assert [rule for rule, _ in found(edits)] == ["stock-short"]
