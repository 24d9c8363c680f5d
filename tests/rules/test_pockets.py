"""Parts in their pockets: attitude, silence where it is unknown, one finding for one cause."""

import pytest

from jobcheck.facts.carrying import most_turn_deg
from jobcheck.findings import Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, edited_shop, linted

WIDE = "feeders.f01.tape.pocket_mm: [{}, {}]"


def rules(edits: str) -> list[str]:
    return sorted({finding.rule for finding in linted(edited(edits)).open})


@pytest.mark.parametrize(
    ("pocket", "found"),
    [
        ((0.95, 1.75), []),
        ((1.75, 0.95), ["attitude-contradicts-tape"]),
        ((0.7, 1.4), ["part-misfits-carrier"]),
        ((2.2, 2.4), ["part-misfits-carrier"]),
        ((4.5, 1.75), ["tape-sizes-contradict"]),
    ],
)
def test_a_chip_in_pockets(pocket, found):
    assert rules(WIDE.format(*pocket)) == found


def test_a_chip_may_lie_either_way_round_by_half_a_turn():
    assert rules("feeders.f01.pick.rotation: 180") == []
    assert rules("feeders.f01.pick.rotation: -90") == ["attitude-contradicts-tape"]


def test_the_feed_direction_takes_part():
    """A row that feeds along x has its chips across at 90."""
    cut_tape = (
        "feeders.f01.row: ~\nfeeders.f01.slot: ~\nfeeders.f01.carrier: cut-tape\n"
        "feeders.f01.feed_direction: 0\nfeeders.f01.pick: {x: 120, y: 90, z: -18, rotation: %s}\n"
        "feeders.f01.remaining: 35\nshop.limits.spare_parts: 0"
    )
    assert rules(cut_tape % 90) == []
    assert rules(cut_tape % 0) == ["attitude-contradicts-tape"]


def test_a_height_that_contradicts_all_its_feeders_is_at_fault_itself():
    """Of a case whose usual height is not published; else that tells it."""
    (told,) = linted(edited("outlines.sod-123.height_mm: 2.7")).open
    assert told.rule == "height-or-mass-implausible"
    (finding,) = linted(edited("outlines.sod-123.case: own\noutlines.sod-123.height_mm: 2.7")).open
    assert (finding.rule, show(finding.path)) == (
        "height-contradicts-pocket",
        "outlines.sod-123.height_mm",
    )


def test_an_unknown_attitude_is_no_fault():
    edits = "feeders.f01.pick: ~\n" + WIDE.format(1.75, 0.95)
    assert "attitude-contradicts-tape" not in rules(edits)


def test_a_case_of_0603_is_seldom_2_mm_apart():
    edits = "feeders.f01.tape: {width_mm: 8, pocket_pitch_mm: 2, advance_mm: 2}"
    (finding,) = linted(edited(edits)).open
    assert (finding.rule, finding.level) == ("tape-sizes-contradict", Level.WARNING)
    assert finding.message == (
        "feeder f01 has 10k-0603 2 mm apart; cases of 0603 and larger are usually 4 mm apart."
    )


def test_only_the_size_over_terminals_makes_an_error():
    edits = WIDE.format(0.6, 1.4)
    (finding,) = linted(edited(edits)).open
    assert (finding.rule, finding.level) == ("part-misfits-carrier", Level.WARNING)
    known = "\noutlines.chip-0603.over_terminals_mm: [1.6, 0.8]"
    (finding,) = linted(edited(edits + known)).open
    assert (finding.rule, finding.level) == ("part-misfits-carrier", Level.ERROR)


def test_leads_count_in_the_pocket():
    edits = "feeders.f03.tape.pocket_mm: [1.9, 3.0]\nshop.limits.pocket_slack_mm: 0"
    assert rules(edits) == []
    leads = "\noutlines.sod-123.over_terminals_mm: [3.7, 1.6]"
    assert "part-misfits-carrier" in rules(edits + leads)


@pytest.mark.parametrize(
    ("depth", "level"), [(1.65, None), (1.64, Level.ERROR), (3.4, None), (3.6, Level.WARNING)]
)
def test_height_against_measured_depth(depth, level):
    """The part is 1.75 mm tall; 0.1 mm of measuring is not a fault."""
    outcome = linted(edited(f"feeders.f05.tape.pocket_depth_mm: {depth}"))
    found = [f.level for f in outcome.open if f.rule == "height-contradicts-pocket"]
    assert found == [level][: level is not None]


def test_sizes_of_pockets_that_are_not_described_are_not_checked():
    outcome = linted(edited("feeders.f01.tape.pocket_mm: [0.95, 1.75]"))
    causes = {said.rule: said.cause for said in outcome.not_checked}
    assert causes["part-misfits-carrier"] == "no pocket_mm on f02, f03, f05"


def test_a_carrier_is_described_for_a_planned_run_and_else_not_checked():
    assert rules("feeders.f01.tape: ~") == ["feeder-incomplete"]
    outcome = linted(edited("feeders.f01.tape: ~\njobs.first-board.run: ~"))
    assert not outcome.open
    assert "no tape on f01" in {said.cause for said in outcome.not_checked}


def test_a_part_turns_no_further_than_pocket_tape_and_limit_allow():
    """12 mm tape allows 20 degrees, 24 mm tape 10; a tight pocket less."""
    turns = {
        "feeders.f05.tape.width_mm: 12": 20,
        "feeders.f05.tape.width_mm: 24": 10,
        "feeders.f05.tape.width_mm: 32": 20,
        "shop.limits.pocket_turn_deg: 5": 5,
    }
    for edits, turn in turns.items():
        assert most_turn_deg(edited_shop(edits), ["f05"]) == turn
    tight = edited_shop(WIDE.format(0.85, 1.65))
    assert 0 < most_turn_deg(tight, ["f01"]) < 5
    assert most_turn_deg(tight, ["f01", "f02"]) == 20
