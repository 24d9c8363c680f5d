"""What the device controls of a camera mean: which are automatics, what those override.

Names are those that the kernel's V4L2 layer gives its standard controls, written as a listing
prints them (lower case, other characters as underscores), each with the older names that drivers
used. Meanings: Linux kernel documentation, Video for Linux API, user
control and camera control reference.
"""

from collections.abc import Iterable
from typing import NamedTuple

from jobcheck.trade.optics import exposure_us

EXPOSURE_TIMES = ("exposure_time_absolute", "exposure_absolute")
"""Controls that hold the exposure time, the present name first."""

AUTO_EXPOSURES = ("auto_exposure", "exposure_auto")
"""Controls that choose who sets the exposure, the present name first."""

DYNAMIC_FRAME_RATES = ("exposure_dynamic_framerate", "exposure_auto_priority")
"""If one is 1 and the exposure is automatic, the frame rate may fall with a longer exposure."""

EXPOSURE_MODES = {0: "automatic", 1: "manual", 2: "shutter priority", 3: "aperture priority"}
"""Meaning of the values of auto_exposure (camera control reference, v4l2_exposure_auto_type)."""

_SWITCH = {0: "off", 1: "on"}


class Automatic(NamedTuple):
    """A control that lets the device choose other controls by itself.

    `off` is its value when it chooses nothing; `overrides` are the controls that it chooses;
    `chooses` is what those are of the picture, in a word.
    """

    off: int
    chooses: str
    overrides: tuple[str, ...]


_EXPOSURE = Automatic(1, "exposure", (*EXPOSURE_TIMES, "iris_absolute"))
_WHITE_BALANCE = Automatic(
    0,
    "white balance",
    (
        *("white_balance_temperature", "red_balance", "blue_balance"),
        *("white_balance_red_component", "white_balance_blue_component"),
    ),
)
_GAIN = Automatic(0, "gain", ("gain", "analogue_gain"))
_FOCUS = Automatic(0, "focus", ("focus_absolute",))
_HUE = Automatic(0, "hue", ("hue",))

AUTOMATICS: dict[str, Automatic] = {
    "auto_exposure": _EXPOSURE,
    "exposure_auto": _EXPOSURE,
    "gain_automatic": _GAIN,
    "autogain": _GAIN,
    "white_balance_automatic": _WHITE_BALANCE,
    "white_balance_temperature_auto": _WHITE_BALANCE,
    "white_balance_component_auto": _WHITE_BALANCE,
    "focus_automatic_continuous": _FOCUS,
    "focus_auto": _FOCUS,
    "hue_automatic": _HUE,
    "hue_auto": _HUE,
    "brightness_automatic": Automatic(0, "brightness", ("brightness",)),
    "iso_sensitivity_auto": Automatic(0, "sensitivity", ("iso_sensitivity",)),
}
"""Every automatic of a camera, the present name before the older ones."""

_EXPOSURE_CHOICES = {2: ("iris_absolute",), 3: EXPOSURE_TIMES}
"""Shutter priority leaves the time manual, aperture priority the iris."""


PRESENT_NAMES = {
    "exposure_auto": "auto_exposure",
    "exposure_absolute": "exposure_time_absolute",
    "exposure_auto_priority": "exposure_dynamic_framerate",
    "autogain": "gain_automatic",
    "white_balance_temperature_auto": "white_balance_automatic",
    "focus_auto": "focus_automatic_continuous",
    "hue_auto": "hue_automatic",
}
"""What an older kernel called a control -> what a present one calls it."""


def present_name(control: str) -> str:
    """Return what a present kernel calls a control."""
    return PRESENT_NAMES.get(control, control)


def is_automatic_on(control: str, value: object) -> bool:
    """Return whether a control is an automatic that is on at this value."""
    automatic = AUTOMATICS.get(control)
    return automatic is not None and isinstance(value, (int, float)) and value != automatic.off


def overridden(control: str, value: object) -> tuple[str, ...]:
    """Return the controls whose values the device chooses when `control` has this value."""
    if not is_automatic_on(control, value):
        return ()
    everything = AUTOMATICS[control].overrides
    if control in AUTO_EXPOSURES and isinstance(value, int):
        return _EXPOSURE_CHOICES.get(value, everything)
    return everything


def exposure_ms(value: float) -> float:
    """Return the exposure time of a value of an absolute exposure control, ms."""
    return exposure_us(value) / 1000


def show_control(control: str, value: float) -> str:
    """Write a value with what it means: `1 manual`, `100 = 10 ms`, `4`."""
    if control in EXPOSURE_TIMES:
        return f"{value:g} = {exposure_ms(value):g} ms"
    is_switch = control in AUTOMATICS or control in DYNAMIC_FRAME_RATES
    meanings = EXPOSURE_MODES if control in AUTO_EXPOSURES else _SWITCH if is_switch else {}
    meaning = meanings.get(int(value)) if value == int(value) else None
    return f"{value:g} {meaning}" if meaning else f"{value:g}"


def in_setting_order(controls: Iterable[str]) -> list[str]:
    """Return names in the order in which to set them: an automatic before what it overrides."""
    names = list(controls)
    return sorted(names, key=lambda name: name not in AUTOMATICS)


CONTROLS = frozenset(AUTOMATICS) | {
    name for automatic in AUTOMATICS.values() for name in automatic.overrides
}
"""Controls of the device that are known by name."""
