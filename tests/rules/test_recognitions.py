"""Recognitions: what is grouped, and silence where something is unknown."""

import pytest

from jobcheck.findings import Finding, Level
from tests.edited import edited, linted
from tests.support.remedies import in_words


def found(edits: str) -> list[Finding]:
    return list(linted(edited(edits)).findings)


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in found(edits)]


# tuned under


def test_all_stale_recognitions_of_a_camera_are_one_finding() -> None:
    (finding,) = found("cameras.up.controls.gain: 5")
    assert finding.rule == "recognition-tuning-stale"
    assert finding.path == ("recognitions", "chip-large", "tuned_under")
    assert finding.message.endswith("chip-large, chip-small, diode, soic.")
    assert finding.consequence.startswith("4 parts, 8 of 8 placements a board of first-board")


@pytest.mark.parametrize(
    "edit",
    [
        "cameras.up.resolution_px: [640, 480]\ncameras.up.calibrated.resolution_px: [640, 480]",
        "cameras.up.pixel_format: MJPG",
        "cameras.up.image: {right: -x, up: +y}",
        "cameras.up.mm_per_pixel.x: 0.0183",
        "cameras.up.position.z: -20.2",
        'cameras.up.device.serial: "0004"',
        "cameras.up.light.percent: 56",
    ],
)
def test_each_thing_a_picture_depends_on_makes_stale(edit: str) -> None:
    assert rules(edit) == ["recognition-tuning-stale"]


def test_light_of_the_camera_counts_only_where_a_recognition_has_none() -> None:
    (finding,) = found("cameras.up.light.percent: 56")
    assert finding.observed.startswith("2 of 4 recognitions")
    assert finding.message.endswith("chip-large, chip-small.")
    assert "5 of 8 placements" in finding.consequence


@pytest.mark.parametrize(
    "edit", ["cameras.up.frame_rate_hz: 12", 'cameras.up.device.port: "1-1.4"', "traverse_z: -1"]
)
def test_what_no_picture_depends_on_does_not_make_stale(edit: str) -> None:
    assert rules(edit) == []


def test_placements_not_fitted_do_not_count() -> None:
    (finding,) = found("recognitions.diode.light_percent: 61")
    assert "2 of 8 placements" in finding.consequence
    (finding,) = [
        f
        for f in found(
            "recognitions.diode.light_percent: 61\njobs.first-board.placements.D1.fitted: false"
        )
        if f.rule == "recognition-tuning-stale"
    ]
    assert "1 of 7 placements" in finding.consequence


def test_never_stamped_is_one_note_a_camera() -> None:
    (finding,) = found("recognitions.diode.tuned_under: ~\nrecognitions.soic.tuned_under: ~")
    assert finding.level is Level.NOTE
    assert "diode, soic" in finding.message


def test_unused_recognition_is_not_asked_for_a_stamp() -> None:
    assert rules("recognitions.spare: {camera: up}") == ["entries-unused"]


# size


def test_size_off_by_more_than_the_tolerance_is_a_warning() -> None:
    (finding,) = found("recognitions.soic.expect_mm: [6.0, 4.9]")
    assert (finding.rule, finding.level) == (
        "recognition-size-contradicts-outline",
        Level.WARNING,
    )
    assert finding.related[0][1] == ("outlines", "soic-8", "body_mm")


def test_size_that_fits_only_turned_is_an_error() -> None:
    (finding,) = found("recognitions.soic.expect_mm: [4.9, 3.9]")
    assert finding.level is Level.ERROR


def test_size_without_tolerance_is_not_judged() -> None:
    assert rules("recognitions.soic.expect_mm: [9, 9]\nrecognitions.soic.tolerance_mm: ~") == []


def test_only_the_outline_that_differs_is_named() -> None:
    edits = """
        outlines.chip-0805.recognition: chip-small
        recognitions.chip-large: ~
    """
    (finding,) = found(edits)
    assert "chip-0805" in finding.message
    assert "chip-0603" not in finding.message
    assert "2 of 8 placements" in finding.consequence


# threshold


@pytest.mark.parametrize(
    ("pixel_format", "greatest"),
    [("GREY", 255), ("Y10", 1023), ("Y12", 4095), ("Y16", 65535), ("Y10 ", 1023)],
)
def test_greatest_grey_level_of_a_format(pixel_format: str, greatest: int) -> None:
    def is_outside(threshold: int) -> bool:
        return "recognition-threshold-out-of-range" in rules(
            f'cameras.up.pixel_format: "{pixel_format}"\n'
            f"recognitions.soic.threshold_grey: {threshold}"
        )

    assert not is_outside(greatest)
    assert is_outside(greatest + 1)
    assert is_outside(-1)


def test_format_that_is_not_known_is_taken_for_the_widest() -> None:
    edits = "cameras.up.pixel_format: ~\nrecognitions.soic.threshold_grey: {}"
    assert "recognition-threshold-out-of-range" not in rules(edits.format(300))
    assert "recognition-threshold-out-of-range" in rules(edits.format(65536))


def test_changed_format_puts_all_thresholds_outside_in_one_finding() -> None:
    edits = "\n".join(
        f"recognitions.{name}.threshold_grey: 700" for name in ("chip-small", "diode", "soic")
    )
    (finding,) = found(edits)
    assert "chip-small 700, diode 700, soic 700" in finding.message


# light and camera


def test_one_missing_channel_is_one_finding_and_stale_tuning_is_not_told_beside_it() -> None:
    edits = "recognitions.diode.light_channel: side\nrecognitions.soic.light_channel: side"
    (finding,) = found(edits)
    assert finding.rule == "recognition-light-missing"
    assert "diode, soic" in finding.message
    assert in_words(finding.remedy) == "Name one of: ring-head, ring-up."


def test_near_channel_is_suggested() -> None:
    (finding,) = found("recognitions.diode.light_channel: ring-pu")
    assert in_words(finding.remedy) == "Did you mean ring-up?"


def test_channels_are_not_judged_where_no_light_is_described() -> None:
    edits = """
        cameras.up.light: ~
        cameras.head.light: ~
        recognitions.diode.light_channel: side
    """
    assert "recognition-light-missing" not in rules(edits)


def test_camera_that_is_not_described_is_left_to_its_name() -> None:
    assert rules("recognitions.diode.camera: side") == ["name-unknown"]


def test_recognitions_from_above_are_one_finding() -> None:
    (finding,) = found("recognitions.diode.camera: head\nrecognitions.soic.camera: head")
    assert finding.rule == "recognition-from-above"
    assert "3 of 8 placements" in finding.consequence
