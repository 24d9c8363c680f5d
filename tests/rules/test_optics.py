"""What cameras see and send, at the edges of what is told of it."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.edited import edited, linted
from tests.support.remedies import in_words


def found(rule: str, edits: str) -> list[Finding]:
    return [f for f in linted(edited(edits)).findings if f.rule == rule]


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in linted(edited(edits)).findings]


# the field


LARGE = (
    "shop.limits: {pocket_turn_deg: 0, field_margin_mm: 0}\nrecognitions.soic.expect_mm: ~\n"
    "outlines.soic-8.body_mm: "
)


def test_a_part_that_fits_only_straight_is_a_warning_and_one_that_never_fits_an_error() -> None:
    (finding,) = found("part-exceeds-field", "shop.limits: {field_margin_mm: 3.9}")
    assert finding.level is Level.WARNING
    assert show(finding.path) == "recognitions.soic.views"
    assert finding.observed == (
        "soic-8 up to 5.94 × 5.34 mm at 90 degrees with 20 of play, 3.9 mm around it; "
        "field 23.3 × 13.1 mm"
    )
    (finding,) = found("part-exceeds-field", LARGE + "[14, 4.9]")
    assert finding.level is Level.ERROR


def test_the_attitude_at_pick_decides_which_side_of_the_picture_counts() -> None:
    """At 90 degrees a body of 13.5 along x lies along the picture's 13.1 mm."""
    assert found("part-exceeds-field", LARGE + "[13.5, 4.9]")
    lying = "\nfeeders.f05.pick.rotation: 0"
    assert not found("part-exceeds-field", LARGE + "[13.5, 4.9]" + lying)


def test_a_turned_mount_turns_the_field() -> None:
    turned = "\ncameras.up.image: {right: +y, up: +x}"
    assert not found("part-exceeds-field", LARGE + "[13.5, 4.9]" + turned)


def test_enough_views_are_no_finding() -> None:
    assert not found("part-exceeds-field", LARGE + "[13.5, 4.9]\nrecognitions.soic.views: 2")


def test_without_resolution_or_feeder_the_field_is_not_judged() -> None:
    assert not found("part-exceeds-field", LARGE + "[40, 40]\ncameras.up.resolution_px: ~")
    assert not found("part-exceeds-field", LARGE + "[40, 40]\nfeeders.f05: ~")


# pixels


def test_a_coarse_scale_is_one_finding_for_all_that_it_makes_too_small() -> None:
    outcome = linted(edited("cameras.up.mm_per_pixel: {x: 0.3, y: 0.3, at_z: -20.1}")).findings
    (finding,) = [f for f in outcome if f.rule == "feature-below-pixels"]
    assert show(finding.path) == "cameras.up.mm_per_pixel"
    assert "and 5 more cover fewer than 3 px" in finding.message
    told = [f for f in outcome if f.rule == "pixel-coarse-for-shift"]
    assert told == []


def test_one_feature_alone_is_at_fault_itself() -> None:
    (finding,) = found("feature-below-pixels", "recognitions.diode.tolerance_mm: 0.05")
    assert show(finding.path) == "recognitions.diode.tolerance_mm"
    assert "covers 2.75 px" in finding.message


def test_the_class_decides_what_a_pixel_may_be() -> None:
    edit = "outlines.soic-8.terminal_mm: 0.2"
    assert not found("pixel-coarse-for-shift", edit)
    (finding,) = found("pixel-coarse-for-shift", f"{edit}\nshop.limits: {{ipc_class: 3}}")
    assert "terminal 0.2 mm allows 0.05 mm in class 3" in finding.observed


def test_unknown_terminals_are_not_judged() -> None:
    edit = "cameras.up.mm_per_pixel: {x: 0.11, y: 0.11, at_z: -20.1}"
    findings = found("pixel-coarse-for-shift", f"{edit}\noutlines.soic-8.terminal_mm: ~")
    assert all("soic-8" not in finding.message for finding in findings)


# the height of a scale


def test_each_board_at_another_height_counts_once_for_the_camera() -> None:
    (finding,) = found("scale-at-other-height", "jobs.first-board.seat.z: -17")
    assert finding.message == (
        "the scale of camera head was measured 3 mm below the board of first-board."
    )
    assert show(finding.path) == "cameras.head.mm_per_pixel.at_z"


def test_the_focal_plane_counts_for_a_camera_that_looks_up() -> None:
    (finding,) = found("scale-at-other-height", "cameras.up.position.z: -22")
    assert finding.observed == "at_z -20.1, its focal plane -22"


# directions


def test_an_upward_camera_sees_mirrored() -> None:
    (finding,) = found("image-mirrored", "cameras.up.image: {right: +x, up: +y}")
    assert finding.message == (
        "the picture of camera up, which aims up, is mirrored by its directions, but nothing "
        "mirrors it."
    )


@pytest.mark.parametrize(("flips", "is_found"), [((1, 0), False), ((0, 1), False), ((1, 1), True)])
def test_one_flip_mirrors_and_two_turn(flips: tuple[int, int], is_found: bool) -> None:
    edits = f"""
        cameras.head.image: {{right: -x, up: +y}}
        cameras.head.controls.horizontal_flip: {flips[0]}
        cameras.head.controls.vertical_flip: {flips[1]}
    """
    assert (rules(edits) == ["image-mirrored"]) is is_found


def test_a_picture_on_one_axis_is_not_called_mirrored_as_well() -> None:
    assert rules("cameras.head.image: {right: +x, up: -x}") == ["image-directions-on-one-axis"]


def test_a_camera_that_aims_the_wrong_way_is_told_once() -> None:
    assert "image-mirrored" not in rules("cameras.up.aim: down")


def test_the_nearest_direction_is_named() -> None:
    (finding,) = found("image-turn-contradicted", "cameras.head.image.turn_deg: -91")
    assert "measured at -91 degrees, which is -y" in finding.message


# light and motion


def test_flicker_is_looked_at_only_under_room_lamps_and_a_known_mains() -> None:
    dark = "cameras.head.controls.exposure_time_absolute: 157"
    assert rules(dark) == []
    lit = dark + "\ncameras.head.room_light: true"
    (finding,) = found("exposure-beside-flicker", lit)
    assert finding.observed == "exposure_time_absolute 157 = 15.7 ms: 1.57 flickers"
    assert in_words(finding.remedy).startswith("Expose 200 = 20 ms")
    assert not found("exposure-beside-flicker", lit + "\nmains_hz: ~")
    assert found("exposure-beside-flicker", "cameras.head.room_light: true\nmains_hz: 60")


def test_an_exposure_that_the_device_chooses_neither_flickers_nor_blurs() -> None:
    chosen = "cameras.head.room_light: true\ncameras.head.controls.auto_exposure: 3\n"
    chosen += "cameras.head.controls.exposure_time_absolute: 157\ncameras.head.moving_mm_s: 100"
    assert rules(chosen) == ["camera-automatic-on"]


def test_a_mains_that_no_camera_filters_is_one_finding_at_the_mains() -> None:
    both = "cameras.head.controls.power_line_frequency: 1\n"
    both += "cameras.up.controls.power_line_frequency: 1\nmains_hz: 60"
    (finding,) = found("power-line-contradicts-mains", both)
    assert show(finding.path) == "mains_hz"
    assert "cameras head and up filter lamps at 50 Hz, but the mains has 60 Hz" in finding.message


def test_a_size_that_was_changed_in_one_place_is_told_once() -> None:
    wide = "shop.limits: {pocket_turn_deg: 0, field_margin_mm: 0}\n"
    assert "part-exceeds-field" not in rules(wide + "outlines.soic-8.body_mm: [14, 4.9]")


def test_blur_in_pixels() -> None:
    (finding,) = found("moving-picture-blurred", "cameras.head.moving_mm_s: 250")
    assert "smears by 124.38 px" in finding.message


# USB


TWO = "cameras.head.frame_rate_hz: 10"


def test_the_rate_that_fits_is_named() -> None:
    (finding,) = found("cameras-exceed-host", TWO)
    assert finding.message == (
        "cameras head and up reserve 6,144 bytes of each microframe of host usb1, which gives "
        "away 6,000."
    )
    assert in_words(finding.remedy) == (
        "Run head at 8 Hz: with up as described that fits, 5,120 bytes, or plug one into another "
        "host."
    )


@pytest.mark.parametrize(
    "relief",
    [
        "cameras.head.device.host: usb2",
        "cameras.head.device.host: ~",
        "cameras.head.device.usb_speed: super",
        "cameras.head.pixel_format: MJPG",
        "cameras.head.pixel_format: ~",
    ],
)
def test_what_is_elsewhere_or_unknown_takes_nothing(relief: str) -> None:
    assert not found("cameras-exceed-host", f"{TWO}\n{relief}")


def test_a_stream_too_large_for_any_endpoint_is_told_alone() -> None:
    edits = "cameras.up.frame_rate_hz: 30"
    assert rules(edits) == ["stream-exceeds-usb"]
    (finding,) = found("stream-exceeds-usb", edits)
    assert "sends 55.3 MB/s" in finding.message
    assert in_words(finding.remedy).startswith("Lower frame_rate_hz to 13")
    assert rules(f"{edits}\ncameras.up.device.usb_speed: super") == []
