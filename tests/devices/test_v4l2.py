"""The kernel's interface: sizes and request numbers as they are in linux/videodev2.h.

The numbers of a 64-bit Linux were read off that header. Where a C compiler and the header are
installed, they are compiled as well.
"""

import shutil
import struct
import subprocess
from pathlib import Path

import pytest

from jobcheck.devices import v4l2

NUMBERS = {
    "QUERYCAP": 0x80685600,
    "G_FMT": 0xC0D05604,
    "G_PARM": 0xC0CC5615,
    "QUERYCTRL": 0xC0445624,
    "QUERYMENU": 0xC02C5625,
    "G_EXT_CTRLS": 0xC0205647,
    "S_EXT_CTRLS": 0xC0205648,
    "QUERY_EXT_CTRL": 0xC0E85667,
}
HEADER = Path("/usr/include/linux/videodev2.h")
IS_64_BIT = struct.calcsize("P") == 8


@pytest.mark.skipif(not IS_64_BIT, reason="the numbers are those of a 64-bit system")
@pytest.mark.parametrize("name", NUMBERS)
def test_request_numbers(name: str):
    assert getattr(v4l2, name.replace("QUERY_EXT_CTRL", "QUERYEXTCTRL")) == NUMBERS[name]


@pytest.mark.skipif(not HEADER.exists(), reason="no linux/videodev2.h here")
@pytest.mark.skipif(shutil.which("gcc") is None, reason="no C compiler here")
def test_the_header_says_the_same(tmp_path: Path):
    source = tmp_path / "numbers.c"
    lines = "".join(f'printf("{name} %u\\n", (unsigned)VIDIOC_{name});' for name in NUMBERS)
    source.write_text(
        f"#include <stdio.h>\n#include <linux/videodev2.h>\nint main(void){{{lines}return 0;}}\n"
    )
    program = tmp_path / "numbers"
    subprocess.run(["gcc", "-o", program, source], check=True)
    printed = subprocess.run([program], check=True, capture_output=True, text=True).stdout
    found = dict(line.split() for line in printed.splitlines())
    for name, number in found.items():
        assert getattr(v4l2, name.replace("QUERY_EXT_CTRL", "QUERYEXTCTRL")) == int(number)


@pytest.mark.parametrize(
    ("name", "listed"),
    [
        ("Exposure Time, Absolute", "exposure_time_absolute"),
        ("White Balance, Automatic", "white_balance_automatic"),
        ("Exposure (Absolute)", "exposure_absolute"),
        (" LED1 Mode ", "led1_mode"),
    ],
)
def test_names_as_a_listing_writes_them(name: str, listed: str):
    assert v4l2.variable_name(name) == listed
