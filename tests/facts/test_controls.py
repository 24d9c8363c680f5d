"""What device controls mean, as the kernel's camera control reference says it."""

import pytest

from jobcheck.schema.controls import (
    AUTOMATICS,
    exposure_ms,
    in_setting_order,
    is_automatic_on,
    overridden,
    show_control,
)


@pytest.mark.parametrize(("value", "on"), [(0, True), (1, False), (2, True), (3, True)])
def test_only_manual_exposure_is_off(value, on):
    assert is_automatic_on("auto_exposure", value) is on


def test_a_switch_is_on_at_one():
    assert is_automatic_on("white_balance_automatic", 1)
    assert not is_automatic_on("white_balance_automatic", 0)
    assert not is_automatic_on("gain", 7)


def test_priority_leaves_one_of_time_and_iris_manual():
    assert "exposure_time_absolute" not in overridden("auto_exposure", 2)
    assert "iris_absolute" not in overridden("auto_exposure", 3)
    assert set(overridden("auto_exposure", 0)) >= {"exposure_time_absolute", "iris_absolute"}
    assert overridden("auto_exposure", 1) == ()


def test_values_are_shown_with_their_meaning():
    assert show_control("auto_exposure", 3) == "3 aperture priority"
    assert show_control("exposure_time_absolute", 157) == "157 = 15.7 ms"
    assert show_control("focus_automatic_continuous", 0) == "0 off"
    assert show_control("gain", 4) == "4"
    assert show_control("auto_exposure", 9) == "9"


def test_one_second_is_ten_thousand():
    """The reference: 1 stands for 1/10000 s, 10000 for 1 s."""
    assert exposure_ms(10_000) == 1000


def test_automatics_are_set_before_what_they_override():
    names = [name for auto, entry in AUTOMATICS.items() for name in (*entry.overrides, auto)]
    ordered = in_setting_order(names)
    for auto, entry in AUTOMATICS.items():
        assert all(ordered.index(auto) < ordered.index(name) for name in entry.overrides)
