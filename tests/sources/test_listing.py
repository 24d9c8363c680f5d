"""Listings of device controls, written by hand from the documented form of the tool's output."""

import pytest

from jobcheck.devices.listing import read_listing
from jobcheck.text import NotUnderstood

PRESENT = b"""
User Controls

                     brightness 0x00980900 (int)    : min=-64 max=64 step=1 default=0 value=3
        white_balance_automatic 0x0098090c (bool)   : default=1 value=0
           power_line_frequency 0x00980918 (menu)   : min=0 max=2 default=1 value=1 (50 Hz)
\t\t\t\t0: Disabled
\t\t\t\t1: 50 Hz
\t\t\t\t2: 60 Hz
      white_balance_temperature 0x0098091a (int)    : min=2800 max=6500 step=1 default=4600 \
value=4600 flags=inactive

Camera Controls

                  auto_exposure 0x009a0901 (menu)   : min=0 max=3 default=3 value=1 (Manual Mode)
\t\t\t\t1: Manual Mode
\t\t\t\t3: Aperture Priority Mode
         exposure_time_absolute 0x009a0902 (int)    : min=1 max=5000 step=1 default=157 \
value=100 flags=inactive, volatile
"""

OLDER = b"""                     brightness (int)    : min=0 max=255 step=1 default=128 value=128
 white_balance_temperature_auto (bool)   : default=1 value=1
           power_line_frequency (menu)   : min=0 max=2 default=2 value=2
                  exposure_auto (menu)   : min=0 max=3 default=3 value=3
              exposure_absolute (int)    : min=3 max=2047 step=1 default=250 value=250 \
flags=inactive
"""


def test_present_form() -> None:
    controls = read_listing(PRESENT, "up.txt")
    assert list(controls) == [
        "brightness",
        "white_balance_automatic",
        "power_line_frequency",
        "white_balance_temperature",
        "auto_exposure",
        "exposure_time_absolute",
    ]
    brightness = controls["brightness"]
    assert (brightness.min, brightness.max, brightness.default, brightness.value) == (-64, 64, 0, 3)
    switch = controls["white_balance_automatic"]
    assert (switch.min, switch.max, switch.value) == (0, 1, 0)
    assert controls["auto_exposure"].menu == {"1": "Manual Mode", "3": "Aperture Priority Mode"}
    assert controls["exposure_time_absolute"].flags == ("inactive", "volatile")
    assert controls["white_balance_temperature"].is_inactive


def test_older_form_without_numbers() -> None:
    controls = read_listing(OLDER, "up.txt")
    assert controls["exposure_absolute"].default == 250
    assert controls["white_balance_temperature_auto"].value == 1
    assert controls["power_line_frequency"].menu == {}


@pytest.mark.parametrize("line_end", [b"\r\n", b"\n"])
def test_line_ends_do_not_matter(line_end: bytes) -> None:
    assert len(read_listing(OLDER.replace(b"\n", line_end), "up.txt")) == 5


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "lists no control"),
        (b"cannot open device\n", "lists no control"),
        (OLDER + OLDER, "brightness is listed twice"),
        (b"\xff\xfe", "UTF-16"),
    ],
)
def test_what_is_no_listing_is_refused(data: bytes, says: str) -> None:
    with pytest.raises(NotUnderstood, match=says):
        read_listing(data, "up.txt")
