"""Controls of cameras: one cause is one finding a camera."""

import pytest

from jobcheck.findings import Finding, Level
from tests.support.edited import edited, linted

AUTOMATIC_UP = """
    cameras.up.controls.auto_exposure: 3
    cameras.up.controls.exposure_time_absolute: 120
"""


def found(edits: str) -> list[Finding]:
    return list(linted(edited(edits)).findings)


def rules(edits: str) -> list[str]:
    return [finding.rule for finding in found(edits)]


# automatics


PRESENT = {"white_balance_temperature_auto": "white_balance_automatic"}


@pytest.mark.parametrize(
    ("control", "value"),
    [
        ("auto_exposure", 0),
        ("auto_exposure", 2),
        ("auto_exposure", 3),
        ("autogain", 1),
        ("gain_automatic", 1),
        ("white_balance_automatic", 1),
        ("white_balance_temperature_auto", 1),
        ("focus_automatic_continuous", 1),
        ("focus_auto", 1),
    ],
)
def test_each_automatic_is_found(control: str, value: int) -> None:
    taken = PRESENT.get(control)  # one control has one name: the present one goes
    away = f"cameras.head.controls.{taken}: ~\n" if taken else ""
    (finding,) = found(f"{away}cameras.head.controls.{control}: {value}")
    assert finding.rule == "camera-automatic-on"
    assert control in finding.observed


@pytest.mark.parametrize("control", ["backlight_compensation", "power_line_frequency", "gain"])
def test_what_is_no_automatic_is_left_alone(control: str) -> None:
    assert rules(f"cameras.head.controls.{control}: 1") == []


def test_all_automatics_of_a_camera_are_one_finding() -> None:
    (finding,) = found("""
        cameras.head.controls.white_balance_automatic: 1
        cameras.head.controls.auto_exposure: 3
        cameras.head.controls.focus_auto: 1
    """)
    assert finding.path[-1] == "auto_exposure"
    assert "exposure, white balance and focus" in finding.message
    assert "exposure_time_absolute 100 = 10 ms" in finding.observed
    assert finding.observed.endswith("white_balance_temperature 4600 have no effect")


def test_shutter_priority_leaves_the_exposure_time_in_force() -> None:
    (finding,) = found("cameras.head.controls.auto_exposure: 2")
    assert "no effect" not in finding.observed


def test_two_cameras_are_two_findings() -> None:
    edits = "cameras.up.controls.white_balance_automatic: 1\ncameras.head.controls.autogain: 1"
    assert rules(edits) == ["camera-automatic-on"] * 2


def test_frame_rate_is_reported_inside_the_automatic() -> None:
    (finding,) = found("""
        cameras.head.controls.auto_exposure: 3
        cameras.head.controls.exposure_dynamic_framerate: 1
    """)
    assert finding.rule == "camera-automatic-on"
    assert "exposure_dynamic_framerate 1" in finding.observed


def test_stale_tuning_that_only_the_automatic_brings_is_reported_inside_it() -> None:
    assert rules("cameras.up.controls.white_balance_automatic: 1") == ["camera-automatic-on"]


def test_stale_tuning_that_has_another_cause_too_is_reported_beside_it() -> None:
    assert set(rules(AUTOMATIC_UP)) == {"camera-automatic-on", "recognition-tuning-stale"}


# defaults


DEFAULTS = """
    cameras.up.controls.auto_exposure: 3
    cameras.up.controls.exposure_time_absolute: 157
    cameras.up.controls.white_balance_automatic: 1
"""


def test_reset_reports_automatics_and_stale_tuning_inside_it() -> None:
    (finding,) = found(DEFAULTS)
    assert finding.rule == "camera-controls-at-default"
    assert "4 recognitions" in finding.consequence
    assert "8 of 8 placements a board of first-board" in finding.consequence


def test_few_defaults_are_no_reset() -> None:
    assert "camera-controls-at-default" not in rules(
        DEFAULTS.replace("157", "158").replace("balance_automatic: 1", "balance_automatic: 1")
    )
    assert "camera-controls-at-default" in rules(
        DEFAULTS.replace("157", "158") + "\nshop.limits: {defaults_at_once: 2}"
    )


def test_defaults_that_the_device_does_not_report_are_not_guessed() -> None:
    assert "camera-controls-at-default" not in rules(DEFAULTS + "\ncameras.up.reported:")
    unknown = DEFAULTS + "\ncameras.up.reported.auto_exposure.default: ~"
    assert "camera-controls-at-default" not in rules(unknown)


# frame rate


def test_frame_rate_that_varies_weighs_more_where_exposure_is_not_described() -> None:
    (manual,) = found("""
        cameras.head.controls.exposure_dynamic_framerate: ~
        cameras.head.controls.exposure_auto_priority: 1
    """)
    assert manual.level is Level.NOTE
    (unknown,) = found("cameras.head.controls: {exposure_dynamic_framerate: 1}")
    assert unknown.level is Level.WARNING


def test_exposure_that_the_device_chooses_is_not_compared_with_the_frame() -> None:
    edits = "cameras.head.controls.exposure_time_absolute: 2001"
    assert rules(edits) == ["camera-control-impossible"]
    automatic = f"{edits}\ncameras.head.controls.auto_exposure: 3"
    assert rules(automatic) == ["camera-automatic-on"]


@pytest.mark.parametrize(("rate", "is_found"), [(30, True), (100, False), (101, True)])
def test_exposure_of_a_whole_frame_is_allowed(rate: int, is_found: bool) -> None:
    exposure = 334 if rate == 30 else 100
    edits = f"""
        cameras.head.frame_rate_hz: {rate}
        cameras.head.controls.exposure_time_absolute: {exposure}
    """
    assert ("camera-control-impossible" in rules(edits)) is is_found


# missing


def test_camera_without_controls_is_one_finding() -> None:
    (finding,) = found("cameras.head.controls: ~")
    assert finding.rule == "camera-controls-missing"
    assert finding.path == ("cameras", "head", "controls")


def test_reported_controls_that_are_not_set_are_one_finding() -> None:
    (finding,) = [
        f
        for f in found("cameras.up.controls.gain: ~\ncameras.up.controls.auto_exposure: ~")
        if f.rule != "recognition-tuning-stale"
    ]
    assert finding.rule == "camera-controls-missing"
    assert finding.observed == "missing: auto_exposure (default 3), gain (default 0)"


def test_value_that_an_automatic_chooses_is_not_missed() -> None:
    edits = """
        cameras.up.controls.white_balance_automatic: 1
        cameras.up.controls.white_balance_temperature: ~
    """
    assert "camera-controls-missing" not in rules(edits)


def test_older_name_of_an_automatic_is_as_good() -> None:
    edits = "cameras.up.controls.auto_exposure: ~\ncameras.up.controls.exposure_auto: 1"
    assert "camera-controls-missing" not in rules(edits)


def test_older_name_of_an_exposure_time_is_as_good() -> None:
    edits = """
        cameras.head.reported.exposure_time_absolute: {min: 1, max: 5000}
        cameras.head.controls.exposure_time_absolute: ~
    """
    assert rules(edits) == ["camera-controls-missing"]
    assert rules(f"{edits}\ncameras.head.controls.exposure_absolute: 100") == []


def test_automatic_that_is_off_by_default_is_not_missed() -> None:
    reported = "cameras.head.reported.focus_auto: {min: 0, max: 1, default: 0}"
    assert rules(reported) == []


# range


REPORTED = "cameras.head.reported.gain: {min: 2, max: 20, step: 3, default: 5}"


@pytest.mark.parametrize(("gain", "why"), [(1, "2 to 20"), (21, "2 to 20"), (9, "steps of 3")])
def test_value_that_the_device_refuses(gain: int, why: str) -> None:
    (finding,) = found(f"{REPORTED}\ncameras.head.controls.gain: {gain}")
    assert finding.rule == "camera-control-impossible"
    assert why in finding.observed


@pytest.mark.parametrize("gain", [2, 8, 20])
def test_value_on_its_step_is_taken(gain: int) -> None:
    assert rules(f"{REPORTED}\ncameras.head.controls.gain: {gain}") == []


def test_choice_that_the_menu_does_not_have() -> None:
    menu = '{min: 0, max: 3, default: 3, menu: {"1": Manual Mode, "3": Aperture Priority Mode}}'
    (finding,) = [
        f
        for f in found(
            f"cameras.head.reported.auto_exposure: {menu}\ncameras.head.controls.auto_exposure: 2"
        )
        if f.rule == "camera-control-impossible"
    ]
    assert finding.observed == "auto_exposure 2, reported choices 1, 3"


def test_several_values_out_of_range_are_one_finding() -> None:
    (finding,) = found(f"""
        {REPORTED}
        cameras.head.reported.exposure_time_absolute: {{min: 1, max: 50}}
    """)
    assert finding.message == ("camera head does not accept exposure_time_absolute 100 = 10 ms.")
    (both,) = found(f"""
        {REPORTED}
        cameras.head.controls.gain: 30
        cameras.head.reported.exposure_time_absolute: {{min: 1, max: 50}}
    """)
    assert [related.path[2] for related in both.related] == ["controls", "reported", "reported"]


@pytest.mark.parametrize("said", ["min: 9, max: 5", "min: 1, max: 50, default: 157"])
def test_a_reported_range_that_contradicts_itself_is_not_compared(said: str) -> None:
    (finding,) = found(f"cameras.head.reported.gain: {{{said}}}\ncameras.head.controls.gain: 200")
    assert finding.rule == "camera-control-impossible"
    assert finding.path == ("cameras", "head", "reported", "gain")
