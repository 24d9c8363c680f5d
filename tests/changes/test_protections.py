"""Whatever a change switches off has a line of its own; what it switches on has none."""

import pytest

from tests.changes.test_impact import of


@pytest.mark.parametrize(
    ("edits", "base", "line"),
    [
        (
            "shop.disabled.entries-unused: a drawer",
            "",
            "rule entries-unused, disabled: a drawer",
        ),
        ("", "shop.disabled.entries-unused: a drawer", ""),
        (
            "shop.accepted.entries-unused.nozzles: {because: a spare, until: 2027-03-01}",
            "",
            "entries-unused at nozzles, accepted until 2027-03-01",
        ),
        (
            "shop.accepted.entries-unused.nozzles: {because: a spare}",
            "",
            "entries-unused at nozzles, accepted without an end",
        ),
        (
            "shop.limits.body_clearance_mm: 0.1",
            "",
            "body_clearance_mm from 0.2 to 0.1, which the limit lets pass",
        ),
        ("shop.limits.body_clearance_mm: 0.3", "", ""),
        ("shop.limits.mark_error_mm: 0.05", "", ""),
        ("outlines.sod-123.polarised: false", "", "polarity of sod-123, polarised is false"),
        (
            "recognitions.diode.tuned_under: ~",
            "",
            "picture that diode was tuned under, tuned_under is missing",
        ),
        (
            "rack.p1.measured: 2026-11-20",
            "rack.p1.measured: 2026-10-29",
            "rack.p1, events before 2026-11-20 no longer count",
        ),
        ("rack.p1.measured: 2026-10-29", "rack.p1.measured: 2026-11-20", ""),
    ],
)
def test_a_check_that_a_change_stops_is_named(edits: str, base: str, line: str) -> None:
    assert of(edits, base).no_longer_checked == ((line,) if line else ())


def test_an_obstacle_that_is_removed_is_no_longer_checked() -> None:
    post = "obstacles.post: {x: [1, 2], y: [1, 2], top_z: -9}"
    gone = of("obstacles.post: ~", post)
    assert gone.no_longer_checked == ("moves against obstacle post, it is removed",)
    assert gone.so == ("nothing uses post any more",)


def test_a_removed_placement_and_a_removed_job_have_their_consequence() -> None:
    assert of("jobs.first-board.placements.R1: ~").so == ("R1 is no longer placed",)
    assert of("jobs.first-board: ~").so == ("first-board is no longer built: 8 placements a board",)
