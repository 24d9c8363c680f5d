"""The estimate of a panel's time: what it counts, and what it assumes where nothing is said."""

import pytest

from jobcheck.facts.facts import Facts
from jobcheck.facts.pace import Pace, pace
from tests.support.edited import edited, edited_shop, linted


def of(edits: str) -> Pace:
    estimate = pace(Facts(edited_shop(edits)), "first-board")
    assert estimate is not None
    return estimate


def test_each_way_and_wait_by_hand():
    """One part without marks, changes and camera, against a sum by hand (mm, s).

    Pick 20.1, 8.1 to place 160, 118: 178.0 mm at 200 mm/s and 1500 mm/s² takes 1.0231 s, twice;
    down and up from -2 to -18.2, 16.2 mm at 60 and 1000, 0.33 s each; to -19.55, 0.3525 s each.
    """
    lone = (
        "jobs.first-board.placements: {}\n"
        "jobs.first-board.placements.R1: {part: 10k-0603, x: 10, y: 8}\n"
        "jobs.first-board.bill: ~\noutlines.chip-0603.recognition: ~\n"
        "jobs.first-board.board.fiducials: ~\njobs.first-board.run.panels: 1"
    )
    way = 2 * 1.02307
    strokes = 2 * 0.33 + 2 * 0.3525
    waits = (60 + 40 + 30) / 1000
    assert of(lone).panel_s == pytest.approx(way + strokes + waits, abs=2e-3)


def test_more_nozzles_than_spindles_are_changed_on_each_panel():
    assert of("").changes == 2
    assert of("spindles.b: {offset_from_camera: {x: 31.2, y: 4.0}, carries: bore-1-0}").changes == 0


def test_what_is_assumed_is_said():
    assert of("").assumed == ("one part a trip", "nozzle by nozzle")
    assert "0.1 s for each wait that is not described" in of("motion.vent_ms: ~").assumed
    assert "parts without a pick as slow as the slowest" in of("feeders.f01.pick: ~").assumed
    without = of("rack: ~\nnozzles.bore-2-0: {tip_outer_mm: 1, bore_mm: 0.6}")
    assert "30 s to change a nozzle by hand" in without.assumed


def test_skipped_cells_and_panels_count():
    panel = "jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 30]%s}"
    two, one = of(panel % ""), of(panel % ', skip: ["2-1"]')
    assert two.placing_s == pytest.approx(2 * one.placing_s, rel=0.1)
    assert of("jobs.first-board.run.panels: 20").run_s == pytest.approx(2 * of("").run_s)


@pytest.mark.parametrize("gone", ["motion", "feeders"])
def test_without_speeds_or_picks_there_is_no_pace(gone):
    assert pace(Facts(edited_shop(f"{gone}: ~")), "first-board") is None


def test_baking_starts_the_floor_life_anew():
    edits = "parts.timer-soic8.moisture_level: 3\nfeeders.f05.reel.opened: 2026-10-01\n"
    assert [f.rule for f in linted(edited(edits)).open] == ["run-exceeds-life"]
    assert linted(edited(edits + "feeders.f05.reel.baked: 2026-11-20")).open == ()
