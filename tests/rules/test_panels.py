"""Panels, seats and reach: the cause once, and silence where something is not described."""

import pytest

from jobcheck.findings import Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted

JOB = "jobs.first-board"
PANEL = f"{JOB}.panel: {{columns: 2, rows: 2, pitch_mm: [43, 33]"


def found(edits: str, good: str | None = None) -> list[tuple[str, str, Level]]:
    record = edited(good).shop if good is not None else None
    return [(f.rule, show(f.path), f.level) for f in linted(edited(edits), record).findings]


def test_skipped_cells_are_told_when_they_hold_for_several_panels() -> None:
    skipped = f'{PANEL}, skip: ["2-1", "1-2"]}}'
    path = f"{JOB}.panel.skip"
    assert found(skipped) == [("cells-skipped", path, Level.NOTE)]
    (finding,) = linted(edited(skipped)).findings
    assert finding.message == "2 cells of first-board are left out on each of 10 panels."
    assert finding.consequence == "20 boards of the run would come out bare."
    assert found(f"{skipped}\n{JOB}.run.panels: 1") == []
    assert found(skipped, good=f"{PANEL}}}") == [("cells-skipped", path, Level.NOTE)]
    assert found(skipped, good=skipped) == [("cells-skipped", path, Level.WARNING)]


def test_a_panel_of_which_all_is_left_out() -> None:
    nothing = f'{PANEL}, skip: ["1-1", "2-1", "1-2", "2-2"]}}\n{JOB}.run.panels: 1'
    assert found(nothing) == [("cells-skipped", f"{JOB}.panel.skip", Level.WARNING)]


def test_cells_too_close_are_not_told_twice() -> None:
    tight = f"{JOB}.panel: {{columns: 2, rows: 2, pitch_mm: [43, 29], size_mm: [83, 50]}}"
    assert found(tight) == [("panel-cells-do-not-fit", f"{JOB}.panel.pitch_mm", Level.ERROR)]


def test_rails_count_where_cells_are_placed_in_a_panel() -> None:
    railed = f"{PANEL}, origin_mm: [5, 0], size_mm: [%s, 63]}}"
    assert found(railed % 88) == []
    assert [entry[0] for entry in found(railed % 87)] == ["panel-cells-do-not-fit"]


@pytest.mark.parametrize(("support", "level"), [(-21.6, None), (-21.25, Level.WARNING)])
def test_the_seat_stands_on_its_support(support: float, level: Level | None) -> None:
    edits = f"{JOB}.seat.support_z: {support}"
    path = f"{JOB}.seat.z"
    expected = [("board-thickness-doubtful", path, level)] if level else []
    assert found(edits) == expected
    assert found(f"{edits}\n{JOB}.board.thickness_mm: ~") == []


def test_the_underside_counts_only_where_it_is_placed() -> None:
    below = f"{JOB}.placements.U9: {{part: timer-soic8, x: 20, y: 15, side: bottom}}\n{JOB}.bill: ~"
    low = f"{below}\n{JOB}.seat.clearance_below_mm: 1"
    assert found(low) == []
    assert found(f"{low}\n{JOB}.underside: bare") == []
    assert found(f"{below}\n{JOB}.underside: placed") == []
    assert [entry[0] for entry in found(f"{low}\n{JOB}.underside: placed")] == [
        "underside-strikes-support"
    ]


def test_a_seat_out_of_reach_is_one_finding_with_what_is_lost() -> None:
    away = f"{JOB}.seat.x: 385"
    assert found(away) == [("job-out-of-reach", f"{JOB}.seat", Level.ERROR)]
    (finding,) = linted(edited(away)).findings
    assert finding.message.startswith("8 placements (C1, C2, D1, D2 and 4 more) and 1 fiducial (")


def test_only_what_is_placed_must_be_reached() -> None:
    """The board's right edge lies at 405, nothing is placed beyond 30 mm of it."""
    edge = f"{JOB}.seat.x: 338\n{JOB}.board.size_mm: [67, 30]"
    rules = [(rule, level) for rule, _, level in found(edge)]
    assert rules == [("job-out-of-reach", Level.WARNING)]


def test_the_last_cell_of_a_panel_is_looked_at() -> None:
    near = f"{JOB}.seat.x: 300\n{JOB}.panel: {{columns: %s, rows: 1, pitch_mm: [43, 30]}}"
    assert found(near % 1) == []
    away = found(near % 2)
    assert [rule for rule, _, _ in away] == ["job-out-of-reach"]
    (finding,) = linted(edited(near % 2)).findings
    assert "in 2-1 at" in finding.observed
    skipped = (near % 2).replace("rows: 1", 'rows: 1, skip: ["2-1"]')
    assert found(f"{skipped}\n{JOB}.run.panels: 1") == []


def test_a_half_turned_board_reaches_out_the_other_way() -> None:
    turned = f"{JOB}.seat.x: 340\n{JOB}.seat.y: 110"
    panel = f'{JOB}.panel: {{columns: 1, rows: 2, pitch_mm: [43, 33], half_turned: ["1-2"]}}'
    assert found(turned) == []
    assert [rule for rule, _, _ in found(f"{turned}\n{panel}")] == ["job-out-of-reach"]


SECOND = """
spindles.b: {offset_from_camera: {x: 31.2, y: 4.0}, rotation: [-180, 180]}
spindles.a.carries: bore-1-0
spindles.b.carries: bore-0-4
rack: {}
"""


def test_a_nozzle_is_fetched_by_every_spindle_or_stays_on_its_own() -> None:
    """U1 takes bore-1-0. Spindle b reaches 62.4 mm further to the right than a."""
    far = f"{JOB}.seat.x: 346"
    assert "job-out-of-reach" in [rule for rule, _, _ in found(far)]
    fetched = "spindles.b: {offset_from_camera: {x: 31.2, y: 4.0}, rotation: [-180, 180]}"
    assert found(f"{far}\n{fetched}") == []
    assert [(r, p) for r, p, _ in found(f"{far}\n{SECOND}")] == [
        ("job-out-of-reach", f"{JOB}.placements.U1")
    ]


def test_without_a_downward_camera_marks_are_not_looked_for() -> None:
    high = f"{JOB}.seat.y: 272\n{JOB}.board.fiducials.m2: {{x: 36, y: 28.9, diameter_mm: 1.0}}"
    assert "job-out-of-reach" in [rule for rule, _, _ in found(high)]
    blind = f"{high}\ncameras.head: ~\nhome_mark: ~"
    assert "job-out-of-reach" not in [rule for rule, _, _ in found(blind)]


def unchecked(edits: str, rule: str) -> list[tuple[str, str]]:
    return [(u.concerns, u.cause) for u in linted(edited(edits)).not_checked if u.rule == rule]


def test_a_missing_thickness_or_clearance_is_counted_as_not_checked() -> None:
    bare = f"{JOB}.seat.support_z: -21.6\n{JOB}.board.thickness_mm: ~"
    assert unchecked(bare, "board-thickness-doubtful") == [
        ("seat height of first-board", "no thickness_mm on first-board")
    ]
    placed = f"{JOB}.underside: placed"
    assert unchecked(placed, "underside-strikes-support") == [
        ("underside of first-board against its support", "no seat.clearance_below_mm")
    ]


def test_heights_that_are_missing_are_not_checked_against_nozzles() -> None:
    edits = f"{JOB}.order: as-listed\noutlines.soic-8.height_mm: ~"
    assert unchecked(edits, "nozzle-strikes-neighbour") == [
        ("nozzles against 1 neighbour of first-board", "no height_mm on soic-8")
    ]


def test_room_for_one_more_cell_is_a_warning() -> None:
    panel = f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 30], size_mm: [%s, 30]}}"
    assert found(panel % 125) == []
    (spare,) = found(panel % 126)
    assert spare[0::2] == ("panel-cells-do-not-fit", Level.WARNING)


@pytest.mark.parametrize(("x", "level"), [(24, Level.WARNING), (67, Level.WARNING), (60, None)])
def test_a_part_over_a_fiducial_of_the_panel(x: float, level: Level | None) -> None:
    """U1 is at 24, 20 in the first cell, and at 67, 20 of the panel in the second."""
    panel = (
        f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 30], fiducials: "
        f"{{p1: {{x: {x}, y: 20, diameter_mm: 1.0}}, p2: {{x: 41.5, y: 28, diameter_mm: 1.0}}}}}}"
    )
    ours = [entry for entry in found(panel) if entry[0] == "body-over-hole-or-fiducial"]
    assert [entry[2] for entry in ours] == ([level] if level else [])


def test_a_fiducial_of_the_panel_is_taken_as_placed_on_the_bottom() -> None:
    """U1 at x 24 through the top is 16 from the left edge as placed, whatever cell it is in."""
    panel = (
        f"{JOB}.panel: {{columns: 2, rows: 1, pitch_mm: [43, 30], half_turned: ['2-1'], fiducials: "
        "{p1: {x: %s, y: %s, diameter_mm: 1.0}, p2: {x: 41.5, y: 28, diameter_mm: 1.0}}}\n"
        f"{JOB}.side: bottom\n{JOB}.placements.U1.side: bottom"
    )
    for x, y in ((59, 20), (24, 10)):
        ours = [
            entry for entry in found(panel % (x, y)) if entry[0] == "body-over-hole-or-fiducial"
        ]
        assert [entry[1] for entry in ours] == [f"{JOB}.placements.U1"]
