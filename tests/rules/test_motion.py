"""Moves, tips and spindles, at the edges of what is told of them."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter


def found(rule: str, edits: str, **more: object) -> list[Finding]:
    outcome = linted(edited(edits), **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in linted(edited(edits)).findings]


# heights on the way


TRAVERSE = "traverse-too-low"


def test_a_low_traverse_is_one_finding_for_racks_and_feeders() -> None:
    (finding,) = found(TRAVERSE, "traverse_z: -16")
    assert show(finding.path) == "traverse_z"
    assert "over bore-0-4 in rack place p1, and over 5 more" in finding.message


def test_what_differs_from_the_record_is_at_fault() -> None:
    good = starter().shop
    (finding,) = found(TRAVERSE, "outlines.soic-8.height_mm: 15", good=good)
    assert show(finding.path) == "outlines.soic-8.height_mm"


def test_the_focal_plane_of_a_camera_counts() -> None:
    edits = "cameras.up.position.z: -3\ncameras.up.mm_per_pixel.at_z: -3"
    (finding,) = found(TRAVERSE, edits)
    assert "is 0.75 mm too low to carry timer-soic8 over camera up" in finding.message


def test_a_nozzle_without_length_or_a_free_place_is_not_in_the_way() -> None:
    edits = "rack.p2.z: -10\nnozzles.bore-1-0.length_mm: ~"
    assert not found(TRAVERSE, edits)
    assert not found(TRAVERSE, "rack.p3: {x: 340, y: 30, z: -3}")
    causes = {said.cause for said in linted(edited(edits)).not_checked}
    assert "no length_mm on bore-1-0" in causes


# turns


TURN = "turn-beyond-spindle"


def test_a_turn_is_relative_and_only_the_whole_range_limits_it() -> None:
    """R3 at 90 and C1 at 90 turn by 90, D2 by 180; a spindle may start at its end."""
    assert not found(TURN, "spindles.a.rotation: [-90, 90]")
    assert not found(TURN, "spindles.a.rotation: [10, 190]")
    (finding,) = found(TURN, "spindles.a.rotation: [-85, 85]")
    assert finding.message == (
        "1 placement of first-board needs a larger turn than any spindle has: D2."
    )
    (finding,) = found(TURN, "spindles.a.rotation: [-40, 40]")
    assert finding.message.endswith("has: C1, D2, R3.")


def test_a_turn_that_another_spindle_has_is_a_warning() -> None:
    wide = "\nspindles.b: {offset_from_camera: {x: 31.2, y: 4}, rotation: [0, 180]}"
    (finding,) = found(TURN, "spindles.a.rotation: [-85, 85]" + wide)
    assert finding.level is Level.WARNING
    assert "a larger turn than spindle a has: D2." in finding.message


def test_the_best_feeder_of_a_part_counts() -> None:
    """D2 at 180 is taken at 0 from f03; a second feeder has it at 90."""
    second = """
        feeders.f04: {part: diode-sod123, carrier: tray, pick: {x: 68, y: 60, z: -18, rotation: 90}}
    """
    narrow = "spindles.a.rotation: [-85, 85]"
    assert found(TURN, narrow)
    assert not found(TURN, f"{narrow}\n{second}")


def test_tips_that_only_the_widest_nozzles_touch_with_are_a_warning() -> None:
    near = "spindles.b: {offset_from_camera: {x: %s, y: 4}}"
    (finding,) = found("spindles-too-near", near % -30)
    assert finding.level is Level.WARNING
    (finding,) = found("spindles-too-near", near % -30.3)
    assert finding.level is Level.ERROR


def test_the_seat_turns_all() -> None:
    edits = "spindles.a.rotation: [-85, 85]\njobs.first-board.seat.rotation: 180"
    (finding,) = found(TURN, edits)
    assert "has: D1, U1." in finding.message


def test_half_turned_cells_count() -> None:
    panel = 'jobs.first-board.panel: {columns: 1, rows: 2, pitch_mm: [43, 33], half_turned: ["1-2"]'
    (finding,) = found(TURN, f"spindles.a.rotation: [-85, 85]\n{panel}}}")
    assert finding.message.endswith("has: D1, D2, U1.")
    assert (
        "has: D2."
        in found(TURN, f'spindles.a.rotation: [-85, 85]\n{panel}, skip: ["1-2"]}}')[0].message
    )


def test_a_polarised_part_without_zero_is_left_out() -> None:
    edits = "spindles.a.rotation: [-85, 85]\njobs.first-board.placements.zero: ~"
    assert not found(TURN, edits)


# the bin


def test_the_opening_of_the_bin_counts() -> None:
    place = "reject_bin: {x: 195, y: 120, size_mm: "
    assert not found("fixtures-overlap", place + "[10.4, 30]}")
    (finding,) = found("fixtures-overlap", place + "[11, 30]}")
    assert finding.message == "the reject bin is in the same place as the board of first-board."
    assert "the reject bin from 189.5, 105 to 200.5, 135" in finding.observed


def test_a_turned_board_lies_elsewhere() -> None:
    turned = "jobs.first-board.seat.rotation: 90\n"
    assert not found("fixtures-overlap", turned + "reject_bin: {x: 170, y: 120}")
    (finding,) = found("fixtures-overlap", turned + "reject_bin: {x: 130, y: 140}")
    assert "the board of first-board from 120, 110 to 150, 150" in finding.observed


# approach


def test_only_axes_that_are_approached_need_the_length() -> None:
    approach = "approach: {direction: [+x], distance_mm: 0.05}\n"
    assert not found("approach-ineffective", approach + "reversal: {y: 0.2}")
    both = "approach: {direction: [+x, -y], distance_mm: 0.1}\nreversal: {x: 0.05, y: 0.2}"
    (finding,) = found("approach-ineffective", both)
    assert [show(path) for _, path in finding.related] == ["reversal.y"]
    assert not found("approach-ineffective", approach)


# lengths


def test_heights_of_one_nozzle_are_one_finding() -> None:
    edits = """
        nozzles.bore-1-0.length_mm: 14
        rack.p2.z: -27
        feeders.f03.pick.measured_with: bore-0-4
        feeders.f05.pick.measured_with: bore-0-4
        feeders.f01.pick.measured_with: bore-0-4
        jobs.first-board.seat.measured_with: bore-0-4
    """
    (finding,) = found("height-measured-with-other-nozzle", edits)
    assert finding.message == (
        "the pick of f03 and 2 other heights were measured with bore-0-4, but are used by "
        "bore-1-0, which is 2 mm longer."
    )
    assert "press too deep by as much" in finding.consequence


def test_an_unknown_length_says_nothing() -> None:
    edits = "nozzles.bore-1-0.length_mm: ~\nfeeders.f03.pick.measured_with: bore-0-4"
    assert rules(edits) == []


# tips


def test_a_bent_tip_is_told_once() -> None:
    (finding,) = linted(edited("spindles.a.tip_eccentricity_mm: 0.2")).findings
    assert finding.rule == "nozzle-tip-unsuitable"
    assert "moves 0.4 mm in half a turn, more than soic-8 allows" in finding.message


# spindles


def test_a_spindle_is_not_where_the_camera_is() -> None:
    (finding,) = found("spindles-too-near", "spindles.a.offset_from_camera: {x: -3.12, y: 4}")
    assert finding.level is Level.WARNING
    assert finding.message == "spindle a is 5.07 mm from the camera's axis."


def test_copied_offsets_strike_without_any_nozzle_described() -> None:
    edits = "spindles.b: {offset_from_camera: {x: -31.2, y: 4.0}}"
    (finding,) = found("spindles-too-near", edits)
    assert finding.level is Level.ERROR
    assert show(finding.path) == "spindles.b.offset_from_camera"


def test_parts_that_touch_are_a_warning() -> None:
    (finding,) = found("spindles-too-near", "spindles.b: {offset_from_camera: {x: -26, y: 4}}")
    assert finding.level is Level.WARNING
    assert "two of soic-8 need 6.26 mm" in finding.message


# fixtures


OVERLAP = "fixtures-overlap"


def test_a_seat_on_several_fixtures_is_one_finding_at_the_seat() -> None:
    (finding,) = found(OVERLAP, "jobs.first-board.seat.x: 295\njobs.first-board.seat.y: 10")
    assert show(finding.path) == "jobs.first-board.seat"
    assert finding.message == (
        "the board of first-board is in the same place as rack place p1 and rack place p2."
    )


@pytest.mark.parametrize(
    ("edits", "level"),
    [
        ("cameras.up.position: {x: 300, y: 16, z: -25}", Level.ERROR),
        ("reject_bin: {x: 12.4, y: 60.1}", Level.ERROR),
        ("reject_bin: {x: 210, y: 40, size_mm: [30, 30]}", Level.ERROR),
        ("feeder_rows.front.first: {x: 160, y: 120, z: -18}", Level.ERROR),
        ("home_mark.x: 160\nhome_mark.y: 120", Level.WARNING),
        ("obstacles.post: {x: [200, 220], y: [30, 50], top_z: -15}", Level.WARNING),
    ],
)
def test_two_fixtures_in_one_place(edits: str, level: Level) -> None:
    (finding,) = found(OVERLAP, edits)
    assert finding.level is level


def test_a_copied_row_is_in_the_place_of_the_other() -> None:
    row = "{slots: 8, first: {x: 20, y: 8, z: -18}, step: {x: 16, y: 0}, feed_direction: 90}"
    edits = f"feeder_rows.back: {row}\nfeeders.f05.row: back"
    (finding,) = found(OVERLAP, f"{edits}\nfeeders.f05.slot: 1")
    assert finding.message == "slot 1 of row front is in the same place as slot 1 of row back."


@pytest.mark.parametrize(
    "edits",
    [
        "obstacles.clamp: {x: [145, 155], y: [110, 120], top_z: -19}",
        "obstacles.post: {x: [200, 220], y: [30, 50], top_z: -21}",
        "feeder_rows.spare: {slots: 4, first: {x: 150, y: 120, z: -18}, step: {x: 16, y: 0}, "
        "feed_direction: 90}",
    ],
)
def test_what_may_share_a_place_is_no_finding(edits: str) -> None:
    assert not found(OVERLAP, edits)


# signs


def test_a_sign_is_compared_with_the_record() -> None:
    record = edited("squareness_deg: 0.05").shop
    (finding,) = found("sign-changed", "squareness_deg: -0.05", good=record)
    assert show(finding.path) == "squareness_deg"
    assert finding.expected == "0.05"
    assert not found("sign-changed", "squareness_deg: -0.04", good=record)
    assert not found("sign-changed", "squareness_deg: -0.05")


def test_a_direction_that_was_turned_round_is_compared_with_the_record() -> None:
    good = starter().shop
    (finding,) = found("sign-changed", "rack.p2.approach.direction: -y", good=good)
    assert (finding.observed, finding.expected) == ("-y", "+y")
    assert not found("sign-changed", "rack.p2.approach.direction: +x", good=good)


@pytest.mark.parametrize("gone", ["spindles: {}", "rack: {}", "reject_bin: ~", "vacuum: ~"])
def test_what_is_not_described_is_not_judged(gone: str) -> None:
    mine = {TRAVERSE, TURN, "spindles-too-near", OVERLAP}
    assert not mine & set(rules(gone))
