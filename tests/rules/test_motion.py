"""Moves, tips and spindles, at the edges of what is told of them."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.edited import edited, linted, starter


def found(rule: str, edits: str, **more: object) -> list[Finding]:
    outcome = linted(edited(edits), **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in linted(edited(edits)).findings]


# heights on the way


STRIKES = "carried-part-strikes-fixture"


def test_a_low_traverse_is_one_finding_for_racks_and_feeders() -> None:
    (finding,) = found(STRIKES, "traverse_z: -16")
    assert show(finding.path) == "traverse_z"
    assert "carried over bore-0-4 in rack place p1 and 5 more" in finding.message


def test_a_traverse_too_low_over_the_board_tells_it() -> None:
    assert rules("traverse_z: -17") == ["traverse-too-low"]


def test_what_differs_from_the_record_is_at_fault() -> None:
    good = starter().shop
    (finding,) = found(STRIKES, "outlines.soic-8.height_mm: 15", good=good)
    assert show(finding.path) == "outlines.soic-8.height_mm"


def test_the_focal_plane_of_a_camera_counts() -> None:
    edits = "cameras.up.position.z: -3\ncameras.up.mm_per_pixel.at_z: -3"
    (finding,) = found(STRIKES, edits)
    assert "lacks 0.75 mm for timer-soic8, carried over camera up" in finding.message


def test_a_nozzle_without_length_or_a_free_place_is_not_in_the_way() -> None:
    assert not found(STRIKES, "rack.p2.z: -10\nnozzles.bore-1-0.length_mm: ~")
    assert not found(STRIKES, "rack.p3: {x: 340, y: 30, z: -3}")


# turns


TURN = "turn-beyond-spindle"


def test_a_symmetric_part_may_turn_the_other_way() -> None:
    """R3 at 90 and C1 at 90 fit a half turn; D2 at 180 does not."""
    (finding,) = found(TURN, "spindles.a.rotation: [-90, 90]")
    assert finding.message == (
        "1 placement of first-board takes a turn that no spindle can make: D2."
    )
    (finding,) = found(TURN, "spindles.a.rotation: [-40, 40]")
    assert finding.message.endswith("make: C1, D2, R3.")


def test_one_spindle_that_can_is_enough() -> None:
    wide = "\nspindles.b: {offset_from_camera: {x: 31.2, y: 4}, rotation: [0, 200]}"
    assert not found(TURN, "spindles.a.rotation: [-90, 90]" + wide)


def test_the_seat_turns_all() -> None:
    edits = "spindles.a.rotation: [-90, 90]\njobs.first-board.seat.rotation: 180"
    (finding,) = found(TURN, edits)
    assert "make: D1, U1." in finding.message


def test_half_turned_cells_count() -> None:
    panel = 'jobs.first-board.panel: {columns: 1, rows: 2, pitch_mm: [43, 33], half_turned: ["1-2"]'
    (finding,) = found(TURN, f"spindles.a.rotation: [-90, 90]\n{panel}}}")
    assert finding.message.endswith("make: D1, D2, U1.")
    assert (
        "make: D2."
        in found(TURN, f'spindles.a.rotation: [-90, 90]\n{panel}, skip: ["1-2"]}}')[0].message
    )


def test_a_polarised_part_without_zero_is_left_out() -> None:
    edits = "spindles.a.rotation: [-90, 90]\njobs.first-board.placements.zero: ~"
    assert not found(TURN, edits)


# the bin


def test_the_opening_of_the_bin_counts() -> None:
    place = "reject_bin: {x: 195, y: 120, size_mm: "
    assert not found("reject-bin-over-board", place + "[9, 30]}")
    (finding,) = found("reject-bin-over-board", place + "[11, 30]}")
    assert "opening 11 × 30 mm" in finding.observed


def test_a_turned_board_lies_elsewhere() -> None:
    turned = "jobs.first-board.seat.rotation: 90\n"
    assert not found("reject-bin-over-board", turned + "reject_bin: {x: 170, y: 120}")
    (finding,) = found("reject-bin-over-board", turned + "reject_bin: {x: 130, y: 140}")
    assert finding.observed == "the board takes x 120 to 150, y 110 to 150"


# approach


def test_only_axes_that_are_approached_need_the_length() -> None:
    approach = "approach: {direction: [+x], distance_mm: 0.05}\n"
    assert not found("approach-shorter-than-reversal", approach + "reversal: {y: 0.2}")
    both = "approach: {direction: [+x, -y], distance_mm: 0.1}\nreversal: {x: 0.05, y: 0.2}"
    (finding,) = found("approach-shorter-than-reversal", both)
    assert [show(path) for _, path in finding.related] == ["reversal.y"]
    assert not found("approach-shorter-than-reversal", approach)


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
        "the pick of f03 and 2 other heights were measured with bore-0-4, but used by bore-1-0, "
        "which is 2 mm longer."
    )
    assert "press as much too deep" in finding.consequence


def test_an_unknown_length_says_nothing() -> None:
    edits = "nozzles.bore-1-0.length_mm: ~\nfeeders.f03.pick.measured_with: bore-0-4"
    assert rules(edits) == []


# tips


def test_a_bent_tip_is_told_once() -> None:
    (finding,) = linted(edited("spindles.a.tip_eccentricity_mm: 0.2")).findings
    assert finding.rule == "tip-eccentricity-exceeds-shift"
    assert (
        "moves 0.4 mm in half a turn, more than 50 % of what soic-8 and 2 more" in finding.message
    )


def test_only_what_a_camera_measures_shows_the_tip() -> None:
    edits = "nozzles.bore-0-4.tip_outer_mm: 0.76\noutlines.chip-0603.recognition: ~"
    assert not found("tip-shows-beyond-body", edits)
    assert not found(
        "tip-shows-beyond-body",
        "nozzles.bore-0-4.tip_outer_mm: 0.76\nspindles.a.tip_eccentricity_mm: ~",
    )


# spindles


def test_copied_offsets_strike_without_any_nozzle_described() -> None:
    edits = "spindles.b: {offset_from_camera: {x: -31.2, y: 4.0}}"
    (finding,) = found("spindles-too-near", edits)
    assert finding.level is Level.ERROR
    assert show(finding.path) == "spindles.b.offset_from_camera"


def test_parts_that_touch_are_a_warning() -> None:
    (finding,) = found("spindles-too-near", "spindles.b: {offset_from_camera: {x: -26, y: 4}}")
    assert finding.level is Level.WARNING
    assert "two of soic-8 need 6.26 mm" in finding.message


def test_a_second_choice_of_nozzle_forces_no_change() -> None:
    limit = "shop.limits: {nozzle_changes: 0}\n"
    (finding,) = found("nozzle-changes-many", limit)
    assert finding.level is Level.NOTE
    choice = "outlines.sod-123.nozzles: [bore-1-0, bore-0-4]\n"
    assert found("nozzle-changes-many", limit + choice)
    both = choice + "outlines.soic-8.nozzles: [bore-1-0, bore-0-4]"
    assert not found("nozzle-changes-many", limit + both)


@pytest.mark.parametrize("gone", ["spindles: {}", "rack: {}", "reject_bin: ~", "vacuum: ~"])
def test_what_is_not_described_is_not_judged(gone: str) -> None:
    mine = {STRIKES, TURN, "spindles-too-near", "nozzle-changes-many", "reject-bin-over-board"}
    assert not mine & set(rules(gone))
