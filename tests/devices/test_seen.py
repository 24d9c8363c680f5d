"""`seen`: which camera it is, and whether it is as described; no day is noted without proof."""

from __future__ import annotations

import re
import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from jobcheck.commands import seen as commands_seen
from jobcheck.devices.listing import read_listing
from jobcheck.known_good.known import KnownGood
from jobcheck.sources.shop_reader import read_shop, understood
from jobcheck.sources.state.state import folder_state
from jobcheck.text import NotUnderstood
from tests.devices.conftest import Run
from tests.devices.test_listing import HEAD, PRESENT
from tests.support.emulated_cameras import (
    BOOL,
    BUTTON,
    INT,
    READ_ONLY,
    VOLATILE,
    WRITE_ONLY,
    Camera,
    Control,
    Emulated,
    after_power_up,
    ordinary,
    with_older_names,
)


def head(serial: str | None = "0007", port: str = "1.1", path: str = "/dev/video2") -> Camera:
    camera = ordinary(path, serial, port)
    camera.node = camera.node._replace(usb_id="fff0:0001")
    return camera


def changed(name: str, value: int) -> Camera:
    camera = ordinary()
    camera.named(name).value = value
    return camera


def with_control(control: Control) -> Camera:
    camera = ordinary()
    camera.controls.append(control)
    return camera


def unreadable(name: str) -> Camera:
    camera = ordinary()
    camera.named(name).read_error = 5
    return camera


def almost_unreadable() -> Camera:
    camera = ordinary()
    for control in camera.controls[1:]:
        control.read_error = 5
    return camera


def read_only() -> Camera:
    camera = changed("Gain", 9)
    camera.named("Gain").flags = READ_ONLY
    return camera


def without(name: str) -> Camera:
    camera = ordinary()
    camera.controls.remove(camera.named(name))
    camera.inactive.pop(name, None)
    return camera


def other_picture() -> Camera:
    camera = ordinary()
    camera.size, camera.rate = (640, 480), (1, 30)
    return camera


def of_older_kernel() -> Camera:
    camera = ordinary()
    camera.has_extended_query = False
    return camera


STATES: list[tuple[str, Callable[[], Camera], bool, str]] = [
    ("as described", ordinary, True, "as described: 11 controls, 1280 x 720, YUYV, 10 Hz"),
    ("older names", lambda: with_older_names(ordinary()), True, "as described: 11 controls"),
    ("older kernel", of_older_kernel, True, "as described: 11 controls"),
    ("after power-up", lambda: after_power_up(ordinary()), False, "11 of 11 controls differ"),
    ("one control", lambda: changed("Gain", 5), False, "1 of 11 controls differs"),
    ("an automatic", lambda: changed("Auto Exposure", 3), False, "100, overridden"),
    ("a control is gone", lambda: without("Gain"), False, "gain"),
    ("unreadable", lambda: unreadable("Gain"), False, "gain cannot be read"),
    ("all but one unreadable", almost_unreadable, False, "contrast cannot be read"),
    ("a read-only control", read_only, False, "1 of 11 controls differs"),
    (
        "an undescribed automatic",
        lambda: with_control(Control(0x009A090C, "Focus, Automatic Continuous", BOOL, value=1)),
        False,
        "focus_automatic_continuous is on",
    ),
    (
        "an undescribed automatic that is off",
        lambda: with_control(Control(0x009A090C, "Focus, Automatic Continuous", BOOL, value=0)),
        True,
        "as described: 11 controls",
    ),
    (
        "a button",
        lambda: with_control(Control(0x009A0910, "Reset", BUTTON, flags=WRITE_ONLY)),
        True,
        "as described: 11 controls",
    ),
    (
        "a read-only value",
        lambda: with_control(Control(0x009A0911, "Heat", INT, 0, 99, flags=READ_ONLY | VOLATILE)),
        True,
        "as described: 11 controls",
    ),
    ("another picture", other_picture, False, "resolution_px differs; frame_rate_hz differs"),
    ("another port", lambda: ordinary(port="4"), True, "as described"),
    ("another serial", lambda: ordinary(serial="0009"), False, "not camera up"),
    ("no serial", lambda: ordinary(serial=None), True, "as described"),
    ("no serial, another port", lambda: ordinary(serial=None, port="4"), False, "cannot say"),
]


@pytest.mark.parametrize(
    ("make", "is_right", "says"), [state[1:] for state in STATES], ids=[s[0] for s in STATES]
)
def test_states_and_verdicts(
    run: Run, shop: Path, make: Callable[[], Camera], is_right: bool, says: str
):
    code, text = run(Emulated(make()), "seen", "up", "--write")
    flat = " ".join(text.split())
    assert code == (0 if is_right else 1), text
    assert says in flat or "not seen" in flat
    assert ("seen: 2026-11-25" in (shop / "placer.yaml").read_text()) == is_right


def test_the_page_of_states_is_what_is_tried():
    page = (Path(__file__).parents[1] / "README.md").read_text()
    for name, _, is_right, says in STATES:
        assert f"| {name} | {0 if is_right else 1} | {says} |" in page


def test_two_cameras_are_one_table(run: Run):
    code, text = run(Emulated(head(), ordinary()), "seen")
    assert code == 1, "head is another camera than the emulated one"
    assert "up      /dev/video0  as described" in text
    assert "head    /dev/video2  not as described" in text


def test_exchanged_plugs_are_named(run: Run, shop: Path):
    system = Emulated(head(port="1.2", path="/dev/video0"), ordinary("/dev/video2", port="1.1"))
    code, text = run(system, "seen", "--write")
    assert code == 1
    assert "Cameras head and up are exchanged" in text
    assert "Nothing was compared" in " ".join(text.split())
    assert "up      /dev/video2  exchanged with head" in text
    assert "seen:" not in (shop / "placer.yaml").read_text()


def test_the_other_camera_of_the_shop_is_named(run: Run, tmp_path: Path):
    listing = tmp_path / "up.txt"
    listing.write_bytes(HEAD.replace(b"0003", b"0007").replace(b"-1.2", b"-1.1") + PRESENT)
    code, text = run(Emulated(), "seen", "up", str(listing))
    assert code == 1
    said = " ".join(text.split())
    assert "The listing is from camera head (serial 0007, port 1.1)." in said
    assert "Camera up has serial 0003, port 2-1.2. Nothing was compared." in said


def test_twins_without_a_serial_at_unknown_ports_are_not_told_apart(run: Run, shop: Path):
    placer = shop / "placer.yaml"
    text = placer.read_text()
    for device in (
        '    device: {usb_id: "fff0:0001", serial: "0007", host: usb1, port: "1-1.1"}\n',
        '    device: {usb_id: "fff0:0002", serial: "0003", host: usb2, port: "2-1.2"}\n',
    ):
        assert device in text
        text = text.replace(device, "")
    placer.write_text(text)
    code, said = run(Emulated(ordinary(serial=None, port="7")), "seen", "head", "--write")
    assert code == 1
    assert "not seen" in said or "cannot say" in said
    assert "seen:" not in placer.read_text()


def test_a_list_of_controls_alone_does_not_prove_a_camera(run: Run, shop: Path, tmp_path: Path):
    listing = tmp_path / "up.txt"
    listing.write_bytes(PRESENT)
    code, text = run(Emulated(), "seen", "up", str(listing), "--write")
    assert code == 1
    assert "seen:" not in (shop / "placer.yaml").read_text()
    said = " ".join(text.split())
    assert "not camera up" in said or "cannot say" in said


def test_nothing_connected_and_no_video_for_linux(run: Run):
    code, text = run(Emulated(), "seen", "up")
    assert (code, "No camera is connected" in text) == (1, True)
    code, text = run(Emulated(has_video=False), "seen", "up")
    assert (code, "no Video for Linux" in text) == (2, True)


def test_a_device_that_may_not_be_opened(run: Run):
    camera = ordinary()
    camera.open_error = 13
    code, text = run(Emulated(camera), "seen", "up")
    assert code == 1
    said = " ".join(text.split())
    assert "group `video`" in said
    assert "is not connected" not in said, "it may be the one that could not be opened"


def test_the_day_of_a_listing_can_be_given(run: Run, shop: Path, tmp_path: Path):
    listing = tmp_path / "up.txt"
    example = Path(__file__).parents[1] / "golden" / "listings" / "set.txt"
    listing.write_bytes(example.read_bytes())
    code, text = run(Emulated(), "seen", "up", str(listing), "--on", "2026-11-01", "--write")
    assert code == 0, text
    assert "seen: 2026-11-01" in (shop / "placer.yaml").read_text()


def test_write_says_that_no_day_was_written(run: Run):
    code, text = run(Emulated(after_power_up(ordinary())), "seen", "up", "--write")
    assert code == 1
    assert "No day was written: up is not proven to be as described" in " ".join(text.split())


def test_a_control_that_cannot_be_compared_is_counted(run: Run):
    camera = ordinary()
    camera.named("Gain").flags = VOLATILE
    code, text = run(Emulated(camera), "seen", "up")
    said = " ".join(text.split())
    assert code == 0
    assert "10 controls" in said
    assert "1 not compared" in said
    assert "Not compared: gain" in said


LISTING = Path(__file__).parents[1] / "golden" / "listings" / "set.txt"


def test_a_listing_cut_at_any_byte_is_never_wrongly_as_described(shop: Path):
    """Only behind the last described control nothing is missing."""
    data = LISTING.read_bytes()
    last = data.rindex(b"exposure_dynamic_framerate")
    reading = read_shop(folder_state(shop))
    described, known = understood(reading), KnownGood(reading, shop)
    verdicts = Counter[str]()
    for end in range(len(data)):
        try:
            report = read_listing(data[:end], "cut.txt")
        except NotUnderstood:
            verdicts["refused"] += 1
            continue
        seen = commands_seen._compared(report, "up", described, known)
        verdicts["as described" if seen.is_as_described else "not"] += 1
        if seen.is_as_described:
            assert end >= last, data[max(0, end - 60) : end]
    assert len(verdicts) == 3


OLDER = {
    "white_balance_automatic": "white_balance_temperature_auto",
    "auto_exposure": "exposure_auto",
    "exposure_time_absolute": "exposure_absolute",
    "exposure_dynamic_framerate": "exposure_auto_priority",
}


@pytest.mark.parametrize("make", [ordinary, lambda: with_older_names(ordinary())])
def test_a_description_with_older_names_is_of_the_same_controls(
    run: Run, shop: Path, make: Callable[[], Camera]
):
    placer = shop / "placer.yaml"
    text = placer.read_text()
    for name, older in OLDER.items():
        text = text.replace(name, older)
    placer.write_text(text)
    code, said = run(Emulated(make()), "seen", "up", "--ranges")
    assert code == 0, said
    assert "as described: 11 controls" in said
    _, said = run(Emulated(), "lint")
    assert "No findings." in said, "the tuning is of the same picture"


def test_one_control_is_not_described_under_two_names(run: Run, shop: Path):
    placer = shop / "placer.yaml"
    text = placer.read_text()
    placer.write_text(text.replace("auto_exposure: 1", "auto_exposure: 1\n      exposure_auto: 3"))
    code, said = run(Emulated(ordinary()), "lint")
    assert code == 2
    assert "exposure_auto is the older name of auto_exposure" in " ".join(said.split())


def test_a_camera_without_controls_is_shown_with_units_before_they_are_adopted(
    run: Run, shop: Path
):
    shutil.rmtree(shop / "known-good")
    placer = shop / "placer.yaml"
    text, count = re.subn(
        r"(  up:\n(?:    .*\n)*?)    controls:\n(?:      .*\n)+", r"\1", placer.read_text()
    )
    assert count == 1
    placer.write_text(text)
    code, said = run(Emulated(ordinary()), "seen", "up")
    assert code == 1
    assert "exposure_time_absolute      100 = 10 ms" in said
    assert "power_line_frequency        1 50 Hz" in said
    assert max(len(line) for line in said.splitlines() if "shop" not in line) <= 80
