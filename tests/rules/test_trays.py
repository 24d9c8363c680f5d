"""Where cut tapes and trays are, and what they hold."""

import pytest

from jobcheck.facts.carrying import taken_up, tray_pocket
from jobcheck.findings import Level
from jobcheck.trade.bodies import box_of
from tests.support.edited import edited, edited_shop, linted

TRAY = """
feeders.f01.tape: ~
feeders.f01.row: ~
feeders.f01.slot: ~
feeders.f01.carrier: tray
feeders.f01.tray: {columns: 4, rows: 9, pitch_mm: [10, 10]}
feeders.f01.pick: {x: 60, y: 120, z: -18.2, rotation: 0}
feeders.f01.remaining: 36
"""
CUT_TAPE = """
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
def test_a_cut_tape_is_behind_its_pick_with_its_holes_on_the_left(feed, takes):
    shop = edited_shop(CUT_TAPE.format(feed, feed - 90))
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
        "carrier-overlaps",
        "tray f01 overlaps the board of first-board, camera up.",
    )


def test_cut_tapes_laid_edge_to_edge_are_no_fault():
    other = CUT_TAPE.format(0, 90).replace("f01", "f02").replace("y: 150", "y: 158")
    stock = "feeders.f01.remaining: 20\nfeeders.f02.remaining: 25\nshop.limits.spare_parts: 0\n"
    two = CUT_TAPE.format(0, 90) + other + stock + "jobs.first-board.run.panels: 6"
    assert found(two) == []
    nearer = two.replace("y: 158", "y: 157")
    assert [rule for rule, _ in found(nearer)] == ["carrier-overlaps"]


def test_a_next_pocket_just_beyond_is_an_empty_tray():
    edits = TRAY + "feeders.f01.tray.next_pocket: 37\nfeeders.f01.remaining: 0"
    assert [rule for rule, _ in found(edits)] == ["stock-short"]


def levels(edits: str) -> dict[str, Level]:
    return {finding.rule: finding.level for finding in linted(edited(edits)).open}


def test_an_overlap_is_an_error_only_where_nothing_is_assumed():
    """A tray of described extent, the edge of a tray, and a cut tape that may be in pieces."""
    board = edited_shop(TRAY).jobs["first-board"].seat
    over = f"feeders.f01.extent: {{x: [50, {board.x + 5}], y: [{board.y + 2}, {board.y + 9}]}}"
    assert levels(TRAY + over) == {"carrier-overlaps": Level.ERROR}
    cut_tape = CUT_TAPE.format(0, 90) + "shop.limits.spare_parts: 0\nfeeders.f01.pick.x: "
    found = levels(cut_tape + f"{board.x + 5}\nfeeders.f01.pick.y: {board.y + 5}")
    assert found == {"carrier-overlaps": Level.WARNING}


def test_a_cut_tape_ends_within_the_travel():
    reel = CUT_TAPE.format(0, 90) + "feeders.f01.pick.y: 240\nfeeders.f01.remaining: "
    assert "feeder-outside-travel" not in levels(reel + "20")
    assert levels(reel + "60")["feeder-outside-travel"] == Level.WARNING


@pytest.mark.parametrize(("z", "found"), [(-18.2, []), (-7.5, ["pick-height-doubtful"])])
def test_a_tray_is_on_the_bed_of_the_boards(z, found):
    assert list(levels(TRAY + f"feeders.f01.pick.z: {z}")) == found


def test_a_feeder_that_feeds_otherwise_than_its_row_is_found():
    found = levels("feeders.f01.feed_direction: -90\nfeeders.f02.feed_direction: 90")
    assert "feed-direction-contradicts-row" in found


def test_the_height_of_a_row_is_that_of_its_picks():
    assert levels("feeder_rows.front.first.z: -19.3") == {"pick-height-doubtful": Level.WARNING}
    assert levels("feeder_rows.front.first.z: -18.9") == {}
