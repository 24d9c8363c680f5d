"""What cameras see and send, at the edges of what is told of it."""

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import show
from tests.support.edited import edited, linted
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
        "soic-8 up to 5.94 × 5.34 mm at 90 degrees (as-picked assumed) with 20 of play, "
        "3.9 mm around it; field 23.3 × 13.1 mm"
    )
    (finding,) = found("part-exceeds-field", LARGE + "[30, 14]")
    assert finding.level is Level.ERROR


def test_the_attitude_at_pick_decides_which_side_of_the_picture_counts() -> None:
    """At 90 degrees a body of 13.5 along x lies along the picture's 13.1 mm."""
    assert found("part-exceeds-field", LARGE + "[13.5, 4.9]")
    lying = "\nfeeders.f05.pick.rotation: 0"
    assert not found("part-exceeds-field", LARGE + "[13.5, 4.9]" + lying)


@pytest.mark.parametrize(
    ("attitude", "level"),
    [
        ("as-picked", Level.ERROR),
        ("as-placed", Level.ERROR),
        ("as-drawn", None),
        (None, Level.WARNING),
    ],
)
def test_the_attitude_in_the_picture_decides_what_is_certain(
    attitude: str | None, level: Level | None
) -> None:
    """A body of 13.5 along x fits the 23.3 mm of the picture, not its 13.1 mm."""
    edits = LARGE + "[13.5, 4.9]"
    edits += f"\nrecognitions.soic.picture_attitude: {attitude}" if attitude else ""
    findings = found("part-exceeds-field", edits)
    assert [f.level for f in findings] == ([level] if level else [])


def test_leads_count_for_the_field() -> None:
    edits = LARGE + "[12, 4.9]\noutlines.soic-8.over_terminals_mm: "
    assert not found("part-exceeds-field", LARGE + "[12, 4.9]")
    (finding,) = found("part-exceeds-field", edits + "[14, 4.9]")
    assert show(finding.related[0].path) == "outlines.soic-8.over_terminals_mm"


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
    (finding,) = [f for f in outcome if f.rule == "picture-too-coarse"]
    assert show(finding.path) == "cameras.up.mm_per_pixel"
    assert "covers 0.83 px of camera up; it needs 3; 5 more are too small" in finding.message


def test_one_feature_alone_is_at_fault_itself() -> None:
    (finding,) = found("picture-too-coarse", "recognitions.diode.tolerance_mm: 0.05")
    assert show(finding.path) == "recognitions.diode.tolerance_mm"
    assert "covers 2.75 px" in finding.message


def test_a_fiducial_of_few_pixels_is_found() -> None:
    (finding,) = found("picture-too-coarse", "home_mark.diameter_mm: 0.2")
    assert show(finding.path) == "home_mark.diameter_mm"
    assert finding.message == "home_mark covers 9.9 px of camera head; it needs 10."


@pytest.mark.parametrize("key", ["mm_per_pixel", "resolution_px"])
@pytest.mark.parametrize(
    ("camera", "rule"), [("up", "part-exceeds-field"), ("head", "search-beyond-field")]
)
def test_a_camera_without_scale_or_resolution_leaves_its_field_unchecked(
    key: str, camera: str, rule: str
) -> None:
    outcome = linted(edited(f"cameras.{camera}.{key}: ~"))
    (entry,) = [entry for entry in outcome.not_checked if entry.rule == rule]
    assert entry.paths == (("cameras", camera, key),)
    assert entry.enabled_by == key


# the search for fiducials


def test_a_search_wider_than_the_picture_is_at_the_radius() -> None:
    (finding,) = found("search-beyond-field", "home_mark.search_radius_mm: 6.9")
    assert show(finding.path) == "home_mark.search_radius_mm"
    assert "shows it whole only within 6.77 mm" in finding.message
    assert not found("search-beyond-field", "home_mark.search_radius_mm: 6.7")


# the height of a scale


def test_each_board_at_another_height_counts_once_for_the_camera() -> None:
    (finding,) = found("scale-at-other-height", "jobs.first-board.seat.z: -17")
    assert finding.message == (
        "the scale of camera head was measured 3 mm below the board of first-board."
    )
    assert show(finding.path) == "cameras.head.mm_per_pixel.at_z"


def test_the_focal_plane_counts_for_a_camera_that_aims_up() -> None:
    (finding,) = found("scale-at-other-height", "cameras.up.position.z: -22")
    assert finding.observed == "at_z -20.1, its focal plane -22"


# directions


def test_an_upward_camera_sees_mirrored() -> None:
    (finding,) = found("image-directions-wrong", "cameras.up.image: {right: +x, up: +y}")
    assert finding.message == (
        "camera up aims up and its picture is mirrored by right and up, but nothing mirrors it."
    )


@pytest.mark.parametrize(("flips", "is_found"), [((1, 0), False), ((0, 1), False), ((1, 1), True)])
def test_one_flip_mirrors_and_two_turn(flips: tuple[int, int], is_found: bool) -> None:
    edits = f"""
        cameras.head.image: {{right: -x, up: +y}}
        cameras.head.controls.horizontal_flip: {flips[0]}
        cameras.head.controls.vertical_flip: {flips[1]}
    """
    assert (rules(edits) == ["image-directions-wrong"]) is is_found


def test_a_picture_on_one_axis_is_not_called_mirrored_as_well() -> None:
    assert rules("cameras.head.image: {right: +x, up: -x}") == ["image-directions-wrong"]


def test_a_camera_that_aims_the_wrong_way_is_one_finding() -> None:
    assert "image-directions-wrong" not in rules("cameras.up.aim: down")


def test_a_lost_flip_is_one_finding_with_the_recorded_flip() -> None:
    flipped = "cameras.head.image: {right: -x, up: +y}\ncameras.head.controls.horizontal_flip: "
    good = edited(flipped + "1").shop
    (finding,) = linted(edited(flipped + "0"), good=good).findings
    assert finding.rule == "image-directions-wrong"
    assert show(finding.path) == "cameras.head.controls.horizontal_flip"
    assert finding.expected == "horizontal_flip 1"


def test_the_nearest_direction_is_named() -> None:
    (finding,) = found("image-directions-wrong", "cameras.head.image.turn_deg: -91")
    assert "measured turn is -91 degrees, which is -y" in finding.message


# light and motion


def test_flicker_is_looked_at_only_under_room_lamps_and_a_known_mains() -> None:
    dark = "cameras.head.controls.exposure_time_absolute: 157"
    assert rules(dark) == []
    lit = dark + "\ncameras.head.room_light: true"
    (finding,) = found("picture-flickers", lit)
    assert finding.observed == "exposure_time_absolute 157 = 15.7 ms, 1.57 periods of 10 ms"
    assert in_words(finding.remedy).startswith("Expose for 200 = 20 ms")
    assert not found("picture-flickers", lit + "\nmains_hz: ~")
    assert found("picture-flickers", "cameras.head.room_light: true\nmains_hz: 60")


def test_an_exposure_that_the_device_chooses_neither_flickers_nor_blurs() -> None:
    chosen = "cameras.head.room_light: true\ncameras.head.controls.auto_exposure: 3\n"
    chosen += "cameras.head.controls.exposure_time_absolute: 157\ncameras.head.moving_mm_s: 100"
    assert rules(chosen) == ["camera-automatic-on"]


def test_a_mains_filter_under_manual_exposure_is_no_finding() -> None:
    assert rules("cameras.head.controls.power_line_frequency: 2") == []


def test_flicker_without_a_mains_frequency_is_not_checked() -> None:
    outcome = linted(edited("cameras.head.room_light: true\nmains_hz: ~"))
    (entry,) = [entry for entry in outcome.not_checked if entry.rule == "picture-flickers"]
    assert entry.enabled_by == "mains_hz"


@pytest.mark.parametrize(
    ("exposure", "is_found"), [(95, True), (99, True), (100, False), (101, False)]
)
def test_a_ripple_of_two_percent_is_steady(exposure: int, is_found: bool) -> None:
    edits = (
        f"cameras.head.room_light: true\ncameras.head.controls.exposure_time_absolute: {exposure}"
    )
    assert bool(found("picture-flickers", edits)) is is_found


# waiting


def test_a_wait_shorter_than_frame_and_exposure_names_the_cameras() -> None:
    (finding,) = found("picture-in-motion", "motion.picture_wait_ms: 100")
    assert finding.message.endswith("camera head and up.")
    assert finding.observed == "frame and exposure: head 210 ms, up 110 ms"
    assert not found("picture-in-motion", "motion.picture_wait_ms: 210")


def test_an_unknown_wait_is_not_checked() -> None:
    outcome = linted(edited("motion.picture_wait_ms: ~"))
    (entry,) = [entry for entry in outcome.not_checked if entry.rule == "picture-in-motion"]
    assert entry.paths == (("motion", "picture_wait_ms"),)


def test_a_size_that_was_changed_in_one_place_is_one_finding() -> None:
    wide = "shop.limits: {pocket_turn_deg: 0, field_margin_mm: 0}\n"
    assert "part-exceeds-field" not in rules(wide + "outlines.soic-8.body_mm: [14, 4.9]")


def test_blur_in_pixels() -> None:
    (finding,) = found("picture-in-motion", "cameras.head.moving_mm_s: 250")
    assert "are blurred by 124.38 px" in finding.message


# USB


TWO = "cameras.head.frame_rate_hz: 10"


def test_the_rate_that_fits_is_named() -> None:
    (finding,) = found("usb-bandwidth-exceeded", TWO)
    assert finding.message == (
        "cameras head and up reserve 6,144 bytes of each microframe of host usb1, which has 6,000."
    )
    assert in_words(finding.remedy) == (
        "Run head at 8 Hz; with up as described that is 5,120 bytes, or use another host for one."
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
    assert not found("usb-bandwidth-exceeded", f"{TWO}\n{relief}")


def test_a_stream_too_large_for_any_endpoint_is_reported_alone() -> None:
    edits = "cameras.up.frame_rate_hz: 30"
    assert rules(edits) == ["usb-bandwidth-exceeded"]
    (finding,) = found("usb-bandwidth-exceeded", edits)
    assert "sends 55.3 MB/s" in finding.message
    assert in_words(finding.remedy).startswith("Lower frame_rate_hz to 13")
    assert rules(f"{edits}\ncameras.up.device.usb_speed: super") == []


@pytest.mark.parametrize(
    ("edits", "path"),
    [
        ("cameras.head.frame_rate_hz: ~", ("cameras", "head", "frame_rate_hz")),
        ("cameras.head.device.host: ~", ("cameras", "head", "device", "host")),
    ],
)
def test_bandwidth_without_a_rate_or_a_host_is_not_checked(
    edits: str, path: tuple[str, ...]
) -> None:
    outcome = linted(edited(edits))
    (entry,) = [e for e in outcome.not_checked if e.rule == "usb-bandwidth-exceeded"]
    assert entry.paths == (path,)


def test_a_scale_that_is_too_small_for_all_parts_is_one_finding_at_the_camera() -> None:
    (finding,) = linted(edited("cameras.up.mm_per_pixel: {x: 0.00182, y: 0.00182}")).findings
    assert finding.rule == "part-exceeds-field"
    assert show(finding.path) == "cameras.up.mm_per_pixel"
    assert finding.level is Level.ERROR
    assert "none of the 4 recognitions of camera up fits its field" in finding.message


def test_a_scale_that_hardly_shows_a_fiducial_is_one_finding_at_the_camera() -> None:
    (finding,) = linted(edited("cameras.head.mm_per_pixel: {x: 0.00201, y: 0.00202}")).findings
    assert finding.rule == "search-beyond-field"
    assert show(finding.path) == "cameras.head.mm_per_pixel"
