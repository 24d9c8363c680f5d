"""Lost camera settings: what is lost, what is only changed, and what is told inside."""

import pytest

from jobcheck.findings import Finding
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted, starter
from tests.support.remedies import in_words

UP = "cameras.up.controls"


def found(edits: str, base: str = "") -> tuple[Finding, ...]:
    good = (edited(base) if base else starter()).shop
    return linted(edited(edits, edited(base) if base else None), good).open


def test_one_camera_is_one_finding_with_what_follows_told_inside():
    (finding,) = found(
        f"{UP}.auto_exposure: 3\n{UP}.exposure_time_absolute: 157\n"
        f"{UP}.white_balance_automatic: 1\n{UP}.gain: ~"
    )
    assert finding.rule == "camera-settings-lost"
    assert finding.path == ("cameras", "up", "controls")
    assert finding.message == "camera up lost 4 settings since the last known-good record."
    assert finding.observed == (
        "gain missing, auto_exposure 3 aperture priority, exposure_time_absolute 157 = 15.7 ms, "
        "white_balance_automatic 1 on"
    )
    assert finding.expected == (
        "gain 4, auto_exposure 1 manual, exposure_time_absolute 100 = 10 ms, "
        "white_balance_automatic 0 off"
    )
    assert finding.consequence == (
        "4 recognitions were tuned under another picture: 4 parts, 8 of 8 placements a board of "
        "first-board may be seen shifted, turned or not at all."
    )
    assert in_words(finding.remedy) == "Put the recorded settings back: jobcheck restore cameras.up"
    assert [path[-1] for _, path in finding.related] == [
        "auto_exposure",
        "exposure_time_absolute",
        "white_balance_automatic",
    ]


@pytest.mark.parametrize(
    "edits",
    [
        f"{UP}.gain: ~",
        f"{UP}.gain: 0",
        f"{UP}.auto_exposure: 3",
        f"{UP}: ~",
        "cameras.up: ~",
        "cameras.up.light: ~",
        "cameras.up.pixel_format: ~",
        "cameras.head.controls.white_balance_automatic: 1",
    ],
)
def test_lost(edits):
    assert [finding.rule for finding in found(edits)] == ["camera-settings-lost"]


@pytest.mark.parametrize(
    "edits",
    [
        "cameras.head.controls.gain: 9",
        "cameras.head.controls.sharpness: 2",
        "cameras.up.frame_rate_hz: 9",
        "feeders.f01.remaining: 3300",
    ],
)
def test_not_lost(edits):
    assert found(edits) == ()


def test_another_value_makes_tunings_stale_and_is_no_loss():
    assert {finding.rule for finding in found(f"{UP}.gain: 5")} == {"recognition-tuning-stale"}


def test_two_cameras_are_two_findings():
    both = found(f"{UP}.gain: ~\ncameras.head.controls.gain: ~")
    assert [finding.path[1] for finding in both] == ["head", "up"]


def test_without_a_record_nothing_is_lost():
    names = {finding.rule for finding in linted(edited(f"{UP}.gain: ~")).open}
    assert names == {"camera-controls-missing", "recognition-tuning-stale"}


def test_a_default_that_the_record_had_too_is_no_loss():
    assert found(f"{UP}.white_balance_temperature: 4600") == ()


def test_a_lost_setting_that_was_accepted_by_a_new_record_is_no_loss():
    rules = {finding.rule for finding in found("feeders.f01.remaining: 9", base=f"{UP}.gain: ~")}
    assert "camera-settings-lost" not in rules


def test_a_camera_under_another_name_with_its_serial_is_not_lost():
    reading = edited(f"{UP}.gain: 4")
    assert reading.shop is not None
    plain = reading.shop.plain
    plain["cameras"]["below"] = plain["cameras"].pop("up")
    for entry in plain["recognitions"].values():
        entry["camera"] = "below"
    assert linted(edited("traverse_z: -2", reading), starter().shop).open == ()


@pytest.mark.parametrize(
    ("edits", "path"),
    [
        ("cameras.head.device.port: ~", "cameras.head.device.port"),
        ("recognitions.diode.threshold_grey: ~", "recognitions.diode.threshold_grey"),
        ("recognitions.diode.tolerance_mm: ~", "recognitions.diode.tolerance_mm"),
        ("outlines.soic-8.recognition: ~", "outlines.soic-8.recognition"),
        ("cameras.head.mm_per_pixel: ~", "cameras.head.mm_per_pixel"),
        ("cameras.up.calibrated: ~", "cameras.up.calibrated"),
        ("vacuum: ~", "vacuum"),
        ("motion: ~", "motion"),
        ("reject_bin: ~", "reject_bin"),
        ("home_mark: ~", "home_mark"),
    ],
)
def test_what_the_record_had_is_missed(edits, path):
    told = [finding for finding in found(edits) if finding.rule == "recorded-value-missing"]
    assert [show(finding.path) for finding in told] == [path]
    assert told[0].expected
    assert in_words(told[0].remedy).endswith(path)


def test_many_values_of_one_collection_are_one_finding():
    names = ("chip-large", "chip-small", "diode", "soic")
    (finding,) = found("\n".join(f"recognitions.{name}.threshold_grey: ~" for name in names))
    assert finding.message.startswith("4 values are missing")


@pytest.mark.parametrize(
    "edits",
    [
        "feeders.f03.tape.pockets_per_advance: ~",  # what it is taken for anyway
        "feeders.f03.reel: ~",  # a note
    ],
)
def test_what_says_no_less_is_not_missed(edits):
    assert all(finding.rule != "recorded-value-missing" for finding in found(edits))


def test_a_missing_value_that_another_finding_tells_is_told_once():
    rules = [finding.rule for finding in found("outlines.soic-8.height_mm: ~")]
    assert rules == ["height-unknown"]


def test_jobs_that_are_all_gone_are_missed():
    (finding,) = linted(edited("jobs.first-board: ~"), starter().shop).open
    assert (finding.rule, finding.level.value) == ("file-no-longer-named", "error")


def test_a_camera_that_is_gone_tells_of_the_events_that_touched_it():
    base = "events.e1: {date: 2026-09-01, touched: [cameras.up, cameras.up.scale]}"
    (finding,) = found("cameras.up: ~", base)
    assert finding.path == ("cameras", "up")
