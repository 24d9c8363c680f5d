"""Parts in their pockets: attitude, silence where it is unknown, one finding for one cause."""

import pytest

from jobcheck.shop.paths import show
from tests.edited import edited, linted

WIDE = "feeders.f01.tape.pocket_mm: [{}, {}]"


def rules(edits: str) -> list[str]:
    return sorted({finding.rule for finding in linted(edited(edits)).open})


@pytest.mark.parametrize(
    ("pocket", "found"),
    [
        ((0.95, 1.75), []),
        ((1.75, 0.95), ["attitude-contradicts-pocket"]),
        ((0.7, 1.4), ["part-exceeds-pocket"]),
        ((2.2, 2.4), ["part-loose-in-pocket"]),
        ((4.5, 1.75), ["pocket-contradicts-tape"]),
    ],
)
def test_a_chip_in_pockets(pocket, found):
    assert rules(WIDE.format(*pocket)) == found


def test_a_chip_may_lie_either_way_round_by_half_a_turn():
    assert rules("feeders.f01.pick.rotation: 180") == []
    assert rules("feeders.f01.pick.rotation: -90") == ["chip-lies-along-tape"]


def test_the_feed_direction_takes_part():
    """A row that feeds along x has its chips across at 90."""
    strip = (
        "feeders.f01.row: ~\nfeeders.f01.slot: ~\nfeeders.f01.carrier: cut-tape\n"
        "feeders.f01.feed_direction: 0\nfeeders.f01.pick: {x: 120, y: 90, z: -18, rotation: %s}\n"
        "feeders.f01.remaining: 35\nshop.limits.spare_parts: 0"
    )
    assert rules(strip % 90) == []
    assert rules(strip % 0) == ["chip-lies-along-tape"]


def test_a_height_that_contradicts_all_its_feeders_is_at_fault_itself():
    """Of a case whose usual height is not published; else that tells it."""
    (told,) = linted(edited("outlines.sod-123.height_mm: 2.7")).open
    assert told.rule == "height-implausible"
    (finding,) = linted(edited("outlines.sod-123.case: own\noutlines.sod-123.height_mm: 2.7")).open
    assert (finding.rule, show(finding.path)) == (
        "part-taller-than-tape",
        "outlines.sod-123.height_mm",
    )


def test_an_unknown_attitude_is_no_fault():
    edits = "feeders.f01.pick: ~\n" + WIDE.format(1.75, 0.95)
    assert "attitude-contradicts-pocket" not in rules(edits)


def test_tapes_of_the_finest_pitch_are_left_alone():
    edits = "feeders.f01.tape: {width_mm: 8, pocket_pitch_mm: 2, advance_mm: 2}"
    assert rules(edits) == []
