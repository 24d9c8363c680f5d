"""What a run needs against what feeders hold, one after the other."""

from jobcheck.facts.facts import Facts
from jobcheck.facts.supply import supplies
from tests.edited import edited, edited_shop, linted, starter
from tests.support.remedies import in_words

SECOND = """
feeders.f04: {row: front, slot: 4, part: 10k-0603, carrier: tape, remaining: 20}
feeders.f04.tape: {width_mm: 8, pocket_pitch_mm: 4, advance_mm: 4}
feeders.f04.pick: {x: 68, y: 8.1, z: -18.1, rotation: 0}
"""


def found(edits: str, *, compares: bool = False) -> list[tuple[str, str]]:
    good = starter().shop if compares else None
    return [(f.rule, f.message) for f in linted(edited(edits), good).open]


def test_several_feeders_of_one_part_add_up():
    """Ten panels of three: 30 and at least 5 spare."""
    assert found(SECOND + "feeders.f01.remaining: 15") == []
    told = linted(edited(SECOND + "feeders.f01.remaining: 14")).open
    assert [finding.rule for finding in told] == ["stock-short"]
    assert (
        told[0].observed
        == "10k-0603 35 needed; f01 holds 14, ends in panel 4, f04 holds 20, ends in panel 10"
    )
    assert in_words(told[0].remedy) == "Load or splice before the start: 1 of 10k-0603."
    assert told[0].consequence == (
        "The run would stop in panel 10 of 10. Estimate with 2 % attrition, at least 5 spare."
    )


def test_skipped_cells_need_nothing():
    panel = "jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], skip: [%s]}"
    assert next(s.needed for s in supplies(Facts(edited_shop(panel % "")), "first-board")) == 65
    assert (
        next(s.needed for s in supplies(Facts(edited_shop(panel % '"2-1"')), "first-board")) == 35
    )


def test_several_short_parts_are_one_finding_a_job():
    edits = "feeders.f01.remaining: 3\nfeeders.f02.remaining: 3"
    assert found(edits) == [
        ("stock-short", "first-board needs more of 2 parts than the feeders hold for 10 panels.")
    ]


def test_unknown_stock_is_not_zero():
    assert [rule for rule, _ in found("feeders.f01.remaining: ~")] == ["feeder-stock-unknown"]


def test_without_a_run_nothing_is_short():
    assert found("jobs.first-board.run: ~\nfeeders.f01.remaining: 0") == []


def test_stock_that_rose_is_one_finding():
    edits = "feeders.f01.remaining: 3401\nfeeders.f02.remaining: 2000"
    assert found(edits, compares=True) == [
        ("stock-rose", "2 feeders hold more than in the record, but nothing was loaded.")
    ]
    assert found("feeders.f01.remaining: 3400", compares=True) == []
    lot = "feeders.f01.reel.lot: L7\n"
    assert found(lot + "feeders.f01.remaining: 5000", compares=True) == []
