"""Recognitions: what is grouped, and silence where something is unknown."""

import pytest

from jobcheck.findings import Finding, Level, command
from tests.support.edited import edited, linted
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
    assert finding.message.endswith("camera up: chip-large, chip-small, diode, soic.")
    assert "tuned under k-" in finding.observed
    assert not finding.expected
    assert finding.consequence.startswith("4 parts, 8 of 8 placements a board of first-board")


@pytest.mark.parametrize(
    "edit",
    [
        "cameras.up.resolution_px: [640, 480]\ncameras.up.calibrated.resolution_px: [640, 480]",
        "cameras.up.pixel_format: MJPG",
        "cameras.up.image: {right: -x, up: +y}",
        "cameras.up.controls.gain: 5",
        'cameras.up.device.serial: "0004"',
        "cameras.up.light.percent: 56",
    ],
)
def test_each_thing_a_picture_depends_on_makes_stale(edit: str) -> None:
    assert rules(edit) == ["recognition-tuning-stale"]


def test_light_of_the_camera_counts_only_where_a_recognition_has_none() -> None:
    (finding,) = found("cameras.up.light.percent: 56")
    assert finding.message.endswith("chip-large, chip-small.")
    assert "5 of 8 placements" in finding.consequence


@pytest.mark.parametrize(
    "edit",
    [
        "cameras.up.frame_rate_hz: 12",
        "cameras.up.mm_per_pixel.x: 0.0183",
        "cameras.up.position.z: -20.2",
        "cameras.up.image.turn_deg: 0.1",
        "cameras.up.image.mirrored: false",
        'cameras.up.device.usb_id: "fff0:0009"',
        'cameras.up.device.port: "1-1.4"',
        "traverse_z: -1",
    ],
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


def with_record(edits: str) -> Finding:
    (finding,) = [
        f
        for f in linted(edited(edits), good=edited("").shop).findings
        if f.rule == "recognition-tuning-stale"
    ]
    return finding


def test_stale_tuning_gives_old_and_new_value_from_the_record() -> None:
    finding = with_record("cameras.up.controls.gain: 5\ncameras.up.pixel_format: GREY")
    assert finding.observed == "gain 5, pixel_format GREY"
    assert finding.expected == "gain 4, pixel_format YUYV"
    assert finding.remedy[1] == command(
        "restore", "cameras.up.controls.gain", "cameras.up.pixel_format"
    )
    assert finding.remedy[-1] == command("retuned", "cameras.up", "--write")


def test_a_light_is_put_back_where_it_is_written() -> None:
    finding = with_record("recognitions.diode.light_percent: 61")
    assert (finding.observed, finding.expected) == ("light_percent 61", "light_percent 60")
    finding = with_record("cameras.up.light.percent: 56")
    assert finding.remedy[1] == command("restore", "cameras.up.light.percent")


def test_a_stale_tuning_never_offers_only_the_stamp() -> None:
    for finding in (with_record("cameras.up.controls.gain: 5"), *found(_EVENT)):
        assert isinstance(finding.remedy[0], str)
        assert "tune again" in " ".join(map(str, finding.remedy))


def test_a_record_of_another_tuning_does_not_say_what_changed() -> None:
    edits = "cameras.up.controls.gain: 5\nrecognitions.diode.tuned_under: k-000000000000\n"
    edits += "recognitions.soic.tuned_under: k-000000000000"
    stale = with_record(edits)
    assert stale.expected == "gain 4"
    only = with_record("recognitions.diode.tuned_under: k-000000000000")
    assert "No record shows what changed" in str(only.remedy[0])


_EVENT = "events.2026-11-10-lamp: {date: 2026-11-10, touched: [cameras.up.light], note: new LEDs}"


@pytest.mark.parametrize(
    ("touched", "is_found"),
    [
        ("cameras.up", False),  # its calibration is older too: one finding
        ("cameras.up.light", True),
        ("cameras.up.controls.gain", True),
        ("cameras.up.position", False),
        ("cameras.head.light", False),
        ("x", False),
    ],
)
def test_an_event_that_touches_the_picture_makes_a_tuning_stale(
    touched: str, is_found: bool
) -> None:
    edits = f"events.work: {{date: 2026-11-10, touched: [{touched}]}}"
    assert ("recognition-tuning-stale" in rules(edits)) is is_found


def test_an_event_before_the_stamp_or_on_its_day_does_not_count() -> None:
    assert rules("events.lamp: {date: 2026-11-02, touched: [cameras.up.light]}") == []


def test_a_stamp_without_a_day_is_not_checked_against_events() -> None:
    outcome = linted(edited(_EVENT + "\nrecognitions.diode.tuned: ~"))
    (entry,) = [e for e in outcome.not_checked if e.rule == "recognition-tuning-stale"]
    assert entry.paths == (("recognitions", "diode", "tuned"),)


def test_unused_recognition_is_not_asked_for_a_stamp() -> None:
    assert rules("recognitions.spare: {camera: up}") == ["entries-unused"]


# size


def test_a_size_below_the_body_is_a_warning() -> None:
    (finding,) = found("recognitions.soic.expect_mm: [3.0, 4.9]")
    assert (finding.rule, finding.level) == (
        "recognition-size-contradicts-outline",
        Level.WARNING,
    )
    assert finding.related[0][1] == ("outlines", "soic-8", "body_mm")


def test_a_size_that_may_be_that_of_leads_is_not_checked() -> None:
    outcome = linted(edited("recognitions.soic.expect_mm: [6.0, 4.9]"))
    assert outcome.findings == ()
    (entry,) = [e for e in outcome.not_checked if e.rule == "recognition-size-contradicts-outline"]
    assert entry.paths == (("outlines", "soic-8", "over_terminals_mm"),)


def test_the_size_over_terminals_is_the_one_in_the_picture() -> None:
    leads = "outlines.soic-8.over_terminals_mm: [6.0, 4.9]\nrecognitions.soic.expect_mm: "
    assert rules(leads + "[6.0, 4.9]") == []
    (finding,) = found(leads + "[3.9, 4.9]")
    assert finding.related[0][1] == ("outlines", "soic-8", "over_terminals_mm")


@pytest.mark.parametrize("is_known", [True, False])
def test_size_that_fits_only_turned_is_an_error_where_it_is_known(is_known: bool) -> None:
    edits = "recognitions.chip-small.expect_mm: [0.8, 1.6]"
    if is_known:
        edits += "\noutlines.chip-0603.over_terminals_mm: [1.6, 0.8]"
    (finding,) = found(edits)
    assert finding.level is (Level.ERROR if is_known else Level.WARNING)


def test_a_recognition_without_a_size_is_not_checked() -> None:
    outcome = linted(edited("recognitions.soic.expect_mm: ~"))
    (entry,) = [e for e in outcome.not_checked if e.rule == "recognition-size-contradicts-outline"]
    assert entry.paths == (("recognitions", "soic", "expect_mm"),)


def test_a_tolerance_that_accepts_another_outline_in_use() -> None:
    (finding,) = found("recognitions.chip-large.tolerance_mm: 0.5")
    assert finding.rule == "recognition-too-tolerant"
    assert "also accepts chip-0603" in finding.message
    assert in_words(finding.remedy).startswith("Set tolerance_mm below 0.45")


def test_a_tolerance_that_accepts_the_part_turned() -> None:
    (finding,) = found("recognitions.soic.tolerance_mm: 1.1")
    assert "also accepts soic-8 a quarter turn off" in finding.message


def test_outlines_of_one_size_are_not_compared() -> None:
    edits = "outlines.chip-0805.body_mm: [1.7, 0.9]\nrecognitions.chip-large.expect_mm: [1.7, 0.9]"
    assert "recognition-too-tolerant" not in rules(edits)


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
        return "light-or-threshold-at-limit" in rules(
            f'cameras.up.pixel_format: "{pixel_format}"\n'
            f"recognitions.soic.threshold_grey: {threshold}"
        )

    assert not is_outside(greatest - 1)
    assert is_outside(greatest)  # the last level is a warning
    assert is_outside(greatest + 1)
    assert is_outside(-1)


def test_format_that_is_not_known_is_taken_for_the_widest() -> None:
    edits = "cameras.up.pixel_format: ~\nrecognitions.soic.threshold_grey: {}"
    assert "light-or-threshold-at-limit" not in rules(edits.format(300))
    assert "light-or-threshold-at-limit" in rules(edits.format(65536))


def test_changed_format_puts_all_thresholds_outside_in_one_finding() -> None:
    edits = "\n".join(
        f"recognitions.{name}.threshold_grey: 700" for name in ("chip-small", "diode", "soic")
    )
    (finding,) = found(edits)
    assert "700 of chip-small, 700 of diode, 700 of soic" in finding.message


@pytest.mark.parametrize(
    ("threshold", "level"),
    [(-1, Level.ERROR), (0, Level.WARNING), (255, Level.WARNING), (256, Level.ERROR)],
)
def test_the_first_and_last_level_are_warnings(threshold: int, level: Level) -> None:
    (finding,) = found(f"recognitions.diode.threshold_grey: {threshold}")
    assert finding.level is level


def test_a_missing_threshold_is_not_checked_where_others_have_one() -> None:
    outcome = linted(edited("recognitions.diode.threshold_grey: ~"))
    (entry,) = [e for e in outcome.not_checked if e.rule == "light-or-threshold-at-limit"]
    assert entry.paths == (("recognitions", "diode", "threshold_grey"),)
    every = "\n".join(
        f"recognitions.{n}.threshold_grey: ~" for n in ("chip-small", "chip-large", "diode", "soic")
    )
    entries = linted(edited(every)).not_checked
    assert not [e for e in entries if e.rule == "light-or-threshold-at-limit"]


@pytest.mark.parametrize(("percent", "level"), [(0, Level.WARNING), (100, Level.NOTE)])
def test_a_light_at_its_limit(percent: int, level: Level) -> None:
    (finding,) = [
        f
        for f in found(f"recognitions.diode.light_percent: {percent}")
        if f.rule == "light-or-threshold-at-limit"
    ]
    assert finding.level is level
    assert finding.path == ("recognitions", "diode", "light_percent")


# light and camera


def test_one_missing_channel_is_one_finding_and_stale_tuning_is_not_reported_beside_it() -> None:
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
    assert finding.rule == "camera-missing"
    assert "3 of 8 placements" in finding.consequence
