"""What a run needs against what feeders hold, one after the other."""

from jobcheck.facts.facts import Facts
from jobcheck.facts.supply import supplies
from jobcheck.findings import Level
from tests.support.edited import edited, edited_shop, linted, starter
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
    """Ten panels of three: 30, and at least 5 spare."""
    assert found(SECOND + "feeders.f01.remaining: 15") == []
    (note,) = linted(edited(SECOND + "feeders.f01.remaining: 14")).open
    assert (note.rule, note.level) == ("stock-short", Level.NOTE)
    assert note.observed == "10k-0603: 30 placed, 35 with spare, f01 14 + f04 20"
    assert note.consequence.endswith("Estimate with 2 % attrition, at least 5 spare.")
    (stop,) = linted(edited(SECOND + "feeders.f01.remaining: 9")).open
    assert (stop.rule, stop.level) == ("stock-short", Level.WARNING)
    assert in_words(stop.remedy) == (
        "Load or splice before the start, spare parts included: 6 of 10k-0603."
    )
    assert stop.consequence == "The run would stop in panel 10 of 10, for want of 10k-0603."


def test_attrition_of_a_part_overrides_the_limit():
    edits = "feeders.f01.remaining: 42\nparts.10k-0603.attrition_percent: {}"
    assert found(edits.format(40)) == []
    (note,) = linted(edited(edits.format(41))).open
    assert note.consequence.endswith("Estimate with 41 % attrition, at least 5 spare.")


def test_skipped_cells_need_nothing():
    panel = "jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30], skip: [%s]}"
    assert next(s.needed for s in supplies(Facts(edited_shop(panel % "")), "first-board")) == 65
    assert (
        next(s.needed for s in supplies(Facts(edited_shop(panel % '"2-1"')), "first-board")) == 35
    )


def test_several_short_parts_are_one_finding_a_job():
    edits = "feeders.f01.remaining: 3\nfeeders.f02.remaining: 3"
    assert found(edits) == [
        ("stock-short", "first-board places more of 2 parts in 10 panels than the feeders hold.")
    ]


def test_unknown_stock_is_not_checked_and_a_tray_counts_itself():
    tray = (
        "feeders.f02.tape: ~\nfeeders.f02.carrier: tray\nfeeders.f02.remaining: ~\n"
        "feeders.f02.tray: {columns: 20, rows: 2, pitch_mm: [3, 3]}\n"
    )
    outcome = linted(edited(tray + "feeders.f01.remaining: ~\nfeeders.f03.remaining: ~"))
    (unchecked,) = [said for said in outcome.not_checked if said.rule == "stock-short"]
    assert unchecked.concerns == "stock of 2 feeders"
    assert unchecked.cause == "no remaining on f01, f03"
    assert unchecked.paths[0] == ("feeders", "f01", "remaining")


def test_a_place_is_an_error_in_a_planned_run_and_else_not_checked():
    (gap,) = linted(edited("feeders.f01.pick: ~")).open
    assert (gap.rule, gap.level) == ("feeder-incomplete", Level.ERROR)
    outcome = linted(edited("feeders.f01.pick: ~\njobs.first-board.run: ~"))
    assert not outcome.open
    assert "no pick on f01" in {said.cause for said in outcome.not_checked}


def test_without_a_run_nothing_is_short():
    assert found("jobs.first-board.run: ~\nfeeders.f01.remaining: 0") == []


def test_stock_that_rose_is_one_finding():
    edits = "feeders.f01.remaining: 3401\nfeeders.f02.remaining: 2000"
    assert found(edits, compares=True) == [
        ("feeder-count-wrong", "2 feeders hold more than in the record, but nothing was loaded.")
    ]
    assert found("feeders.f01.remaining: 3400", compares=True) == []
    lot = "feeders.f01.reel.lot: L7\n"
    assert found(lot + "feeders.f01.remaining: 5000", compares=True) == []
