"""Cameras: roles, devices, scale and calibration at their edges."""

from datetime import date

import pytest

from jobcheck.findings import Finding, Level
from jobcheck.rules.base import Inspection
from jobcheck.rules.cameras.cameras import camera_missing
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State, folder_state
from tests.support.edited import STARTER, TODAY, edited, linted
from tests.support.remedies import in_words


def found(edits: str, today: date = TODAY) -> list[Finding]:
    return list(linted(edited(edits), today=today).findings)


def rules(edits: str, today: date = TODAY) -> list[str]:
    return [finding.rule for finding in found(edits, today)]


# roles


def test_home_mark_named_to_a_camera_that_aims_up() -> None:
    (finding,) = found("home_mark.camera: up")
    assert finding.rule == "camera-missing"
    assert finding.path == ("home_mark", "camera")
    assert "camera up aims up" in finding.message
    assert in_words(finding.remedy).endswith("head.")


def test_no_camera_aims_up_is_one_finding_for_all_recognitions() -> None:
    (finding,) = [f for f in found("cameras.up.aim: down") if f.path[0] != "recognitions"]
    assert finding.rule == "camera-missing"
    assert "4 recognitions" in finding.message
    assert rules("cameras.up.aim: down").count("camera-missing") == 1


@pytest.mark.parametrize("camera", ["head", "up"])
def test_lost_camera_is_reported_by_its_broken_names_alone(camera: str) -> None:
    assert set(rules(f"cameras.{camera}: ~")) == {"name-unknown"}


def test_shop_without_marks_needs_no_camera_that_aims_down() -> None:
    edits = "cameras.head: ~\nhome_mark: ~\njobs.first-board.board.fiducials: ~"
    assert "camera-missing" not in rules(edits)


# devices


def test_one_port_of_two_hosts_is_two_devices() -> None:
    edits = 'cameras.head.device.port: "1-1.2"\ncameras.head.device.host: usb2'
    assert rules(edits) == []


SAME = 'cameras.head.device: {usb_id: "fff0:0002", serial: "0003"'


def test_shared_serial_number_at_two_ports_is_no_fault() -> None:
    assert rules(SAME + ', host: usb1, port: "1-1.4"}') == []


def test_shared_serial_number_with_one_port_swaps_after_a_power_up() -> None:
    (finding,) = found(SAME + ", host: usb1}")
    assert finding.rule == "camera-device-ambiguous"
    assert finding.path == ("cameras", "head", "device")


def test_shared_serial_number_without_ports_distinguishes_nothing() -> None:
    edits = SAME + '}\ncameras.up.device: {usb_id: "fff0:0002", serial: "0003"}'
    (finding,) = found(edits)
    assert finding.rule == "camera-device-ambiguous"
    assert finding.level is Level.WARNING


def test_two_cameras_without_device_are_not_distinguished() -> None:
    (finding,) = [
        f
        for f in found("cameras.head.device: ~\ncameras.up.device: ~")
        if f.rule.startswith("camera")
    ]
    assert finding.rule == "camera-device-ambiguous"
    assert finding.path == ("cameras", "head", "device")


def test_one_camera_without_device_is_no_finding() -> None:
    assert rules("cameras.head.device: ~") == []


def test_three_cameras_on_one_port_are_one_finding() -> None:
    extra = 'cameras.side: {aim: down, device: {port: "1-1.2", host: usb1}}'
    controls = "cameras.side.controls: {auto_exposure: 1}"
    (finding,) = found(f'{extra}\n{controls}\ncameras.head.device.port: "1-1.2"')
    assert finding.rule == "camera-device-ambiguous"
    assert "head, side and up" in finding.message
    assert len(finding.related) == 2


# scale


def test_other_resolution_reports_by_how_much() -> None:
    (finding,) = found("cameras.head.calibrated.resolution_px: [640, 360]")
    assert "1 mm may be measured as 2 mm" in finding.consequence


def test_other_resolution_reports_the_field_that_no_longer_fits() -> None:
    edits = "cameras.head.resolution_px: [640, 360]\ncameras.head.field_mm: [25.7, 14.5]"
    assert rules(edits) == ["camera-calibration-outdated"]


def test_both_lengths_of_a_field_are_one_finding() -> None:
    (finding,) = found("cameras.head.field_mm: [30, 20]")
    assert finding.rule == "camera-scale-contradicted"
    assert "14.54 mm along y by its scale, but 20 mm" in finding.message


def test_limits_of_the_shop_count() -> None:
    uneven = "cameras.head.mm_per_pixel.y: 0.0206"
    assert rules(uneven) == ["camera-scale-contradicted"]
    assert rules(f"{uneven}\nshop.limits: {{scale_difference_percent: 3}}") == []
    field = "cameras.head.field_mm: [25.728, 15.1]"
    assert rules(f"{field}\nshop.limits: {{field_difference_percent: 4}}") == []


# calibration


@pytest.mark.parametrize(("day", "is_old"), [("2026-05-29", False), ("2026-05-28", True)])
def test_age_counts_from_the_day_after_the_limit(day: str, is_old: bool) -> None:
    edits = f"cameras.up.calibrated.date: {day}\nevents: {{}}"
    assert ("camera-calibration-outdated" in rules(edits)) is is_old


@pytest.mark.parametrize(
    ("touched", "cameras"),
    [
        ("x", ["head"]),
        ("y", ["head"]),
        ("z", []),
        ("rotation", []),
        ("cameras", ["head", "up"]),
        ("cameras.up", ["up"]),
        ("cameras.up.position.z", ["up"]),
        ("cameras.up.light", []),
        ("cameras.up.controls.gain", []),
    ],
)
def test_an_event_makes_old_what_it_touched(touched: str, cameras: list[str]) -> None:
    findings = found(f"events.2026-11-20-work: {{date: 2026-11-20, touched: [{touched}]}}")
    findings = [f for f in findings if f.rule != "recognition-tuning-stale"]
    assert {f.rule for f in findings} <= {"camera-calibration-outdated"}
    assert [f.path[1] for f in findings] == cameras
    assert all("2026-11-20-work" in f.message for f in findings)


@pytest.mark.parametrize("day", ["2026-11-02", "2026-11-26"])
def test_events_of_the_same_day_and_to_come_do_not_count(day: str) -> None:
    edits = f"events.work: {{date: {day}, touched: [x]}}"
    assert "camera-calibration-outdated" not in rules(edits)


def test_event_and_age_are_one_finding() -> None:
    edits = "cameras.head.calibrated.date: 2020-01-01"
    (finding,) = found(edits)
    assert "2026-10-30-belt" in finding.message


def test_several_events_name_the_last() -> None:
    edits = """
        events.b: {date: 2026-11-10, touched: [x]}
        events.a: {date: 2026-11-12, touched: [y], note: new rail}
    """
    (finding,) = found(edits)
    assert "event a (2026-11-12: new rail) and 1 earlier event" in finding.message


def test_camera_that_is_not_understood_is_left_alone() -> None:
    files = folder_state(STARTER).files
    names = ["shop.yaml", "placer.yaml", "parts.yaml", "feeders.yaml"]
    content = {name: files[name] for name in names}
    content["placer.yaml"] = content["placer.yaml"].replace(b"aim: down", b"aim: sideways")
    shop = read_shop(State("broken", HeldFiles(content), "broken")).shop
    assert shop is not None
    assert "head" not in shop.cameras
    assert list(camera_missing(Inspection(shop, TODAY))) == []
