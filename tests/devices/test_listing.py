"""Listings of one device, written by hand from the documented form of the tool's output."""

import pytest

from jobcheck.devices.listing import read_listing
from jobcheck.text import NotUnderstood

HEAD = b"""Driver Info:
\tDriver name      : uvcvideo
\tCard type        : Bench camera: Bench camera
\tBus info         : usb-0000:00:14.0-1.2
\tDriver version   : 6.1.99
\tCapabilities     : 0x84a00001
\t\tVideo Capture
Media Driver Info:
\tDriver name      : uvcvideo
\tModel            : Bench camera: Bench camera
\tSerial           : 0003
\tBus info         : usb-0000:00:14.0-1.2
Priority: 2
Video input : 0 (Camera 1: ok)
Format Video Capture:
\tWidth/Height      : 1280/720
\tPixel Format      : 'YUYV' (YUYV 4:2:2)
\tField             : None
Streaming Parameters Video Capture:
\tCapabilities     : timeperframe
\tFrames per second: 10.000 (10/1)
\tRead buffers     : 0
"""

PRESENT = b"""
User Controls

                     brightness 0x00980900 (int)    : min=-64 max=64 step=1 default=0 value=3
        white_balance_automatic 0x0098090c (bool)   : default=1 value=0
           power_line_frequency 0x00980918 (menu)   : min=0 max=2 default=1 value=1 (50 Hz)
\t\t\t\t0: Disabled
\t\t\t\t1: 50 Hz
\t\t\t\t2: Mode=60 Hz
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

ODD = b"""                     brightness 0x00980900 (int) : min=0 max=10 step=0 default=5 value=5
                           mask 0x00980930 (bitmask): max=0xff default=0x1 value=0x0f
                          ticks 0x00980931 (int64)  : min=0 max=9000000000 step=1 default=0 \
value=8000000000
                          owner 0x00980932 (str)    : min=0 max=32 step=1 value='a=b (c)'
                           rate 0x00980933 (intmenu): min=0 max=1 default=0 value=1 (25 0x19)
\t\t\t\t0: 15 (0xf)
\t\t\t\t1: 25 (0x19)
                          reset 0x00980934 (button) : value=0 flags=write-only, execute-on-write
"""


def test_the_device_is_named():
    report = read_listing(HEAD + PRESENT, "up.txt")
    assert report.identity == (None, "0003", "1.2", "Bench camera: Bench camera")
    assert report.picture == ((1280, 720), "YUYV", 10.0)


def test_present_form():
    report = read_listing(PRESENT, "up.txt")
    controls = report.controls
    assert report.identity == (None, None, None, None)
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
    assert controls["power_line_frequency"].menu["2"] == "Mode=60 Hz"
    assert controls["exposure_time_absolute"].flags == {"inactive", "volatile"}
    assert controls["white_balance_temperature"].is_inactive


def test_older_names_are_the_present_ones():
    controls = read_listing(OLDER, "up.txt").controls
    assert controls["exposure_time_absolute"].default == 250
    assert controls["white_balance_automatic"].value == 1
    assert controls["auto_exposure"].value == 3
    assert controls["power_line_frequency"].menu == {}


def test_every_kind_of_control():
    controls = read_listing(ODD, "up.txt").controls
    assert controls["brightness"].step == 1, "drivers report 0; the kernel takes it as 1"
    assert (controls["mask"].max, controls["mask"].value) == (255, 15)
    assert controls["ticks"].value == 8_000_000_000
    assert controls["owner"].value == "a=b (c)"
    assert controls["owner"].not_compared == "not a number"
    assert controls["rate"].menu == {"0": "15 (0xf)", "1": "25 (0x19)"}
    assert controls["reset"].not_compared == "write-only"


def test_a_value_that_could_not_be_read_is_not_compared():
    failed = b"error 5 getting ext_ctrl Brightness\n" + OLDER
    assert read_listing(failed, "up.txt").controls["brightness"].not_compared == (
        "not readable, error 5"
    )


@pytest.mark.parametrize("line_end", [b"\r\n", b"\n"])
def test_line_ends_do_not_matter(line_end: bytes):
    assert len(read_listing(OLDER.replace(b"\n", line_end), "up.txt").controls) == 5


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "is empty"),
        (b"hello\n", "lists no control"),
        (b"brightness: 3\ngain: 4\n", "without their controls"),
        (b"Cannot open device /dev/video0, exiting.\n", "/dev/video0 is not there"),
        (b"Failed to open /dev/video0: Permission denied\n", "permission denied"),
        (OLDER + OLDER, "brightness is listed twice"),
        (HEAD + PRESENT + HEAD, "A second device begins here"),
        (OLDER.rsplit(b"value=", 1)[0] + b"\n", "line of exposure_absolute is cut off"),
        (b"\xff\xfe", "UTF-16"),
    ],
)
def test_what_is_not_a_listing_is_refused(data: bytes, message: str):
    with pytest.raises(NotUnderstood, match=message):
        read_listing(data, "up.txt")
