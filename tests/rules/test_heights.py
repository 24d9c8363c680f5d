"""Heights and places against the travel and each other, at the edges of the rules."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter

ALONE = "feeders: {}\nrack: {}\ncameras.up.position.z: -29\n"
"""Nothing but the board is passed over."""
SPINDLE_B = "spindles.b: {offset_from_camera: {x: 31.2, y: 4}}\n"


def found(rule: str, edits: str, **more: object) -> list[Finding]:
    outcome = linted(edited(edits), **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


# the height for travelling


def test_a_single_tallest_part_passes_over_the_next_lower_one() -> None:
    # 1.75 carried over 1.25 on a surface at -20 leaves 1 mm at -16
    assert not found("traverse-too-low", ALONE + "traverse_z: -16")
    second = "jobs.first-board.placements.U2: {part: timer-soic8, x: 34, y: 10}\n"
    (finding,) = found("traverse-too-low", ALONE + "traverse_z: -16\n" + second)
    assert finding.level is Level.WARNING
    assert finding.message == (
        "traverse_z -16 leaves 0.5 mm when timer-soic8 is carried over a placed timer-soic8 in "
        "first-board."
    )


def test_a_panel_has_the_single_tallest_part_on_every_board() -> None:
    panel = "jobs.first-board.panel: {columns: 2, rows: 1, pitch_mm: [43, 33], skip: []}\n"
    assert found("traverse-too-low", ALONE + "traverse_z: -16\n" + panel)
    one_left = panel.replace("[]", '["2-1"]')
    assert not found("traverse-too-low", ALONE + "traverse_z: -16\n" + one_left)


def test_only_what_must_be_passed_is_struck_for_certain() -> None:
    """At -18 the part passes 0.25 mm above the bare board, but not over a placed one."""
    (finding,) = found("traverse-too-low", ALONE + "traverse_z: -18")
    assert finding.level is Level.WARNING
    assert "is 1 mm too low to carry timer-soic8 over a placed 100n-0805" in finding.message
    assert finding.consequence.startswith("If a move crosses it, timer-soic8 would strike")
    (finding,) = found("traverse-too-low", ALONE + "traverse_z: -18.3")
    assert finding.level is Level.ERROR
    assert finding.consequence.startswith("timer-soic8 would strike")


def test_a_part_must_come_out_of_its_own_tape() -> None:
    pick = "pick: {x: 20.1, y: 8.1, z: -2.2, rotation: 0}"
    edits = f"{ALONE}feeders.f01: {{part: 10k-0603, carrier: %s, {pick}}}"
    (finding,) = found("traverse-too-low", edits % "tape")
    assert finding.level is Level.ERROR
    assert "0.25 mm too low to carry 10k-0603 over its own tape in f01" in finding.message
    (finding,) = found("traverse-too-low", edits % "tray")
    assert finding.level is Level.WARNING


def test_what_differs_from_the_record_is_at_fault() -> None:
    good = starter().shop
    (finding,) = found("traverse-too-low", "outlines.soic-8.height_mm: 17.5", good=good)
    assert show(finding.path) == "outlines.soic-8.height_mm"
    (finding,) = found("traverse-too-low", "traverse_z: -18", good=good)
    assert show(finding.path) == "traverse_z"
    assert finding.expected == "-2"


def test_unknown_heights_are_left_to_the_rule_about_them() -> None:
    rules = {f.rule for f in linted(edited("outlines.soic-8.height_mm: ~")).findings}
    assert rules == {"height-unknown"}


def test_what_is_not_placed_is_not_carried() -> None:
    not_fitted = "jobs.first-board.placements.U1.fitted: false\njobs.first-board.bill.U1: ~\n"
    assert not found("traverse-too-low", ALONE + "traverse_z: -16.4\n" + not_fitted)


# obstacles


@pytest.mark.parametrize(
    ("top", "word"), [(-4.5, "leaves 0.75 mm when"), (-1, "is 2.75 mm too low")]
)
def test_an_obstacle_is_measured_against_the_tallest_carried(top: float, word: str) -> None:
    clamp = f"obstacles.clamp: {{x: [140, 150], y: [110, 130], top_z: {top}}}"
    (finding,) = found("traverse-too-low", clamp)
    assert word in finding.message
    assert finding.level is Level.WARNING


def test_several_obstacles_in_the_way_are_one_finding_at_what_they_share() -> None:
    clamp = "obstacles.{}: {{x: [140, 150], y: [110, 130], top_z: -4}}\n"
    (finding,) = found("traverse-too-low", clamp.format("one") + clamp.format("two"))
    assert show(finding.path) == "traverse_z"
    assert finding.message.endswith("over obstacle one, and over 1 more.")


def test_the_rim_of_the_reject_bin_counts_as_an_obstacle() -> None:
    """A part that failed must be carried over it."""
    (finding,) = found("traverse-too-low", "reject_bin.top_z: -3")
    assert show(finding.path) == "reject_bin.top_z"
    assert finding.level is Level.ERROR
    assert found("traverse-too-low", "reject_bin.top_z: -4")[0].level is Level.WARNING


def test_an_obstacle_out_of_reach_is_a_warning_and_not_in_the_way() -> None:
    outcome = linted(edited("obstacles.post: {x: [440, 450], y: [10, 20], top_z: 30}"))
    assert [(f.rule, f.level) for f in outcome.findings] == [("outside-travel", Level.WARNING)]


# the travel of z


def test_each_height_outside_the_travel_is_found_at_its_own_value() -> None:
    edits = "feeders.f02.pick.z: -33\njobs.first-board.seat.z: 20"
    findings = found("outside-travel", edits)
    assert {show(finding.path) for finding in findings} == {
        "feeders.f02.pick.z",
        "jobs.first-board.seat.z",
    }


def test_a_travel_that_counts_the_other_way_is_one_finding() -> None:
    outcome = linted(edited("travel.z: [0, 30]"))
    assert [f.rule for f in outcome.findings] == ["outside-travel"]
    assert outcome.findings[0].message == "10 of 10 heights are outside the travel of z."


def test_a_seat_outside_the_travel_is_not_also_told_as_too_high_to_travel_over() -> None:
    rules = {f.rule for f in linted(edited("jobs.first-board.seat.z: 20")).findings}
    assert rules == {"outside-travel"}


# the travel of x and y


def test_a_place_counts_as_reached_where_one_spindle_gets_there() -> None:
    assert found("outside-travel", "reject_bin.x: 380")
    assert not found("outside-travel", SPINDLE_B + "reject_bin.x: 380")


def test_the_home_mark_and_rest_are_positions_of_the_head() -> None:
    assert not found("outside-travel", "rest.x: 400")
    (finding,) = found("outside-travel", "home_mark.x: -0.5")
    assert show(finding.path) == "home_mark.x"


def test_the_move_into_a_rack_place_counts() -> None:
    (finding,) = found("outside-travel", "rack.p2.y: 11")
    assert finding.message == (
        "the start of the move into rack place p2 is outside the travel of y."
    )
    assert finding.observed == "y 3, spindle a 4: head at -1; travel 0 to 300"


def test_a_short_travel_is_one_finding_at_the_travel() -> None:
    findings = found("outside-travel", "travel.x: [0, 200]")
    assert [show(finding.path) for finding in findings] == ["travel.x"]
    assert "and 1 more are outside the travel of x" in findings[0].message


def test_where_even_the_picks_are_beyond_it_the_travel_is_told_once() -> None:
    rules = [f.rule for f in linted(edited("travel.x: [0, 60]")).findings]
    assert rules.count("outside-travel") == 0
    assert rules.count("feeder-outside-travel") == 1


def test_a_row_that_ends_outside_the_travel_is_found_at_its_slots() -> None:
    (finding,) = found("outside-travel", "feeder_rows.front.slots: 80")
    assert show(finding.path) == "feeder_rows.front.slots"
    assert finding.level is Level.WARNING


def test_a_spindle_must_reach_the_place_of_its_own_nozzle() -> None:
    far = SPINDLE_B + "spindles.a.offset_from_camera.x: -312"
    (finding,) = found("outside-travel", far)
    assert show(finding.path) == "spindles.a.offset_from_camera.x"
    assert finding.message == ("rack place p1, seen from spindle a, is outside the travel of x.")


@pytest.mark.parametrize("path", ["obstacles.post.top_z", "reject_bin.top_z"])
def test_a_top_below_the_travel_is_a_warning(path: str) -> None:
    post = "obstacles.post: {x: [200, 210], y: [200, 210], top_z: -20}\n"
    (finding,) = found("outside-travel", f"{post}{path}: -140")
    assert show(finding.path) == path
    assert finding.level is Level.WARNING


# heights that nobody has measured


def test_a_derived_height_is_used_and_named() -> None:
    derived = "outlines.soic-8.derived: {height_mm: nominal of the case family}\n"
    outcome = linted(edited(derived))
    assert not [finding for finding in outcome.findings if finding.rule == "height-unknown"]
    (named,) = [u for u in outcome.not_checked if u.concerns == "measured heights of 1 outline"]
    assert named.cause == "height_mm is used, but derived and not measured, on soic-8"
    own = "parts.timer-soic8.height_mm: 1.6\n"
    concerns = {u.concerns for u in linted(edited(derived + own)).not_checked}
    assert "measured heights of 1 outline" not in concerns
