"""What has gone stale after what, and copies that no longer agree."""

from datetime import date

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import TODAY, edited, linted, starter

OLD = "measured-before-event"


def found(rule: str, edits: str, today: date = TODAY, **more: object) -> list[Finding]:
    outcome = linted(edited(edits), today=today, **more)  # type: ignore[arg-type]
    return [finding for finding in outcome.findings if finding.rule == rule]


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in linted(edited(edits)).findings]


# measured before an event


def test_all_that_one_event_made_old_is_one_finding() -> None:
    edits = """
        rack.p1.measured: 2026-10-29
        rest.measured: 2026-10-01
        reversal: {x: 0.04, measured: 2026-10-12}
        feeders.f01.pick.measured: 2026-11-01
    """
    (finding,) = found(OLD, edits)
    assert finding.message == (
        "3 values were measured before event 2026-10-30-belt (2026-10-30: new belt on x), which "
        "touched x and y."
    )
    assert finding.observed == "rest, rack.p1, reversal; the oldest of 2026-10-01"
    assert show(finding.path) == "rest.measured"


def test_the_last_event_is_named() -> None:
    later = "events.2026-11-05-head: {date: 2026-11-05, touched: [x], note: straightened}\n"
    (finding,) = found(OLD, later + "rest.measured: 2026-10-01")
    assert "event 2026-11-05-head (2026-11-05: straightened), which touched x." in finding.message


def test_what_is_still_to_come_and_the_day_itself_make_nothing_old() -> None:
    edits = "rest.measured: 2026-10-30"
    assert not found(OLD, edits)
    coming = "\nevents.2026-12-24-belt: {date: 2026-12-24, touched: [x]}"
    assert not found(OLD, edits + coming)
    assert found(OLD, edits + coming, today=date(2026, 12, 24))


@pytest.mark.parametrize(
    ("touched", "value", "is_old"),
    [
        ("z", "rest", False),
        ("z", "feeders.f01.pick", True),
        ("feeder_rows.front", "feeders.f01.pick", True),
        ("feeders.f01", "feeders.f01.pick", True),
        ("feeders.f02", "feeders.f01.pick", False),
        ("rack", "rack.p1", True),
        ("rack.p2", "rack.p1", False),
        ("cameras.head", "spindles.a.offset_from_camera", True),
        ("cameras.head.light", "spindles.a.offset_from_camera", False),
        ("cameras.up", "spindles.a.offset_from_camera", False),
        ("spindles.a", "spindles.a.offset_from_camera", True),
        ("rotation", "spindles.a", True),
        ("vacuum", "nozzles.bore-0-4", True),
        ("vacuum", "vacuum", True),
        ("y", "cameras.up.position", True),
        ("nonsense..", "rest", False),
    ],
)
def test_what_depends_on_what(touched: str, value: str, is_old: bool) -> None:
    event = f'events.2026-11-20-work: {{date: 2026-11-20, touched: ["{touched}"]}}\n'
    assert bool(found(OLD, f"{event}{value}.measured: 2026-11-10")) is is_old


def test_a_height_depends_on_the_nozzle_that_it_was_measured_with() -> None:
    edits = """
        events.2026-11-20-tip: {date: 2026-11-20, touched: [nozzles.bore-0-4]}
        feeders.f01.pick.measured: 2026-11-10
        jobs.first-board.seat.measured_on: 2026-11-10
    """
    assert not found(OLD, edits)
    (finding,) = found(OLD, edits + "jobs.first-board.seat.measured_with: bore-0-4")
    assert show(finding.path) == "jobs.first-board.seat.measured_on"


def test_what_an_old_calibration_tells_is_not_told_again() -> None:
    event = "events.2026-11-20-knock: {date: 2026-11-20, touched: [cameras.up]}\n"
    edits = event + "cameras.up.position.measured: 2026-11-10"
    assert rules(edits) == ["camera-calibration-outdated"]
    newer = edits + "\ncameras.up.calibrated.date: 2026-11-21"
    assert set(rules(newer)) == {OLD, "recognition-tuning-stale"}


# the name of an event


def test_a_name_without_a_day_contradicts_nothing() -> None:
    assert rules("events.belt: {date: 2026-11-01, touched: []}") == []


# reels


def test_spelling_makes_no_other_reel() -> None:
    part = "parts.10k-0603.maker_number: AB-12 34\nfeeders.f01.reel: {maker_number: "
    assert rules(part + "ab1234}") == []
    (finding,) = found("reel-of-other-part", part + "AB-1235}")
    assert "needed by R1, R2, R3 of first-board" in finding.observed
    assert rules("feeders.f01.reel: {maker_number: AB-1235}") == []


# copies


SECOND = """
    jobs.second.describes: job
    jobs.second.edition: 1
    jobs.second.side: top
    jobs.second.board: {size_mm: [40, 30]}
    jobs.second.seat: {x: 150, y: 110, z: -20.0}
    jobs.second.placements: {zero: A}
"""


def test_a_jig_that_was_moved_in_one_job_only() -> None:
    good = edited(SECOND).shop
    apart = SECOND + "jobs.first-board.seat.x: 151\n"
    (finding,) = found("copied-value-differs", apart, good=good)
    assert finding.message == (
        "jobs.first-board.seat.x was changed to 151, but jobs.second.seat.x, which had the same "
        "value, was not."
    )
    assert not found("copied-value-differs", apart + "jobs.second.seat.x: 151", good=good)
    assert not found("copied-value-differs", apart)


def test_a_board_that_moved_far_from_the_scale_is_told_once() -> None:
    good = starter().shop
    outcome = linted(edited("jobs.first-board.seat.z: -17"), good=good)
    assert [finding.rule for finding in outcome.findings] == ["copied-value-differs"]


def test_the_focal_plane_and_its_scale_are_a_pair() -> None:
    (finding,) = found("copied-value-differs", "cameras.up.position.z: -20.3", good=starter().shop)
    assert finding.observed == "-20.3; cameras.up.mm_per_pixel.at_z -20.1"


def test_picks_without_a_day_that_an_event_touched_are_counted_as_not_checked() -> None:
    starter_shop = edited("")
    (unchecked,) = [
        entry for entry in linted(starter_shop).not_checked if entry.rule == "measured-before-event"
    ]
    assert unchecked.concerns.endswith("picks")
    assert unchecked.cause.endswith("touched by event 2026-10-30-belt")
    assert unchecked.amount == len(unchecked.paths)
    dated = "\n".join(
        f"feeders.{path[1]}.pick.measured: 2026-11-02"
        for path in unchecked.paths
        if path[0] == "feeders"
    )
    (fewer,) = [
        entry
        for entry in linted(edited(dated)).not_checked
        if entry.rule == "measured-before-event"
    ]
    assert "pick" not in fewer.concerns


def test_days_in_the_future_are_one_warning() -> None:
    ahead = "feeders.f01.reel: {loaded: 2027-11-02}\nfeeders.f02.reel: {opened: 2027-01-01}"
    (finding,) = [one for one in linted(edited(ahead)).open if one.rule == "date-implausible"]
    assert finding.level is Level.WARNING
    assert finding.message.startswith("2 days are in the future: feeders.f01.reel.loaded")
