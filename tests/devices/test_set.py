"""`set`: the device as described, control by control; each failure has its own words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from jobcheck.devices.system import Node
from tests.devices.conftest import Run
from tests.support.emulated_cameras import (
    BOOL,
    BUTTON,
    WRITE_ONLY,
    Camera,
    Control,
    Emulated,
    after_power_up,
    ordinary,
)


def reset() -> Camera:
    return after_power_up(ordinary())


def test_a_reset_camera_is_found_and_set_right_in_two_commands(run: Run):
    system = Emulated(reset())
    code, text = run(system, "seen", "up")
    assert code == 1
    assert "jobcheck set up" in text
    code, text = run(system, "set", "up", "--write")
    assert code == 0, text
    assert "11 controls set, all 11 read back as described" in " ".join(text.split())
    code, text = run(system, "seen", "up")
    assert code == 0


def test_automatics_go_off_first(run: Run):
    system = Emulated(reset())
    run(system, "set", "up", "--write")
    names = [name for name, _ in system.writes]
    assert set(names[:2]) == {"Auto Exposure", "White Balance, Automatic"}


def test_without_write_nothing_is_set(run: Run):
    system = Emulated(reset())
    code, text = run(system, "set", "up")
    assert (code, system.writes) == (1, [])
    assert "Nothing has been set" in text


def _ignoring(name: str) -> Callable[[Camera], None]:
    def spoil(camera: Camera) -> None:
        camera.named(name).ignores = True

    return spoil


def _failing(name: str, number: int) -> Callable[[Camera], None]:
    def spoil(camera: Camera) -> None:
        camera.named(name).write_error = number

    return spoil


def _resetting(camera: Camera) -> None:
    camera.resets_at_open = {"Sharpness": 3}


def _unplugged(camera: Camera) -> None:
    camera.unplugged_after = 2


def _held(camera: Camera) -> None:
    camera.holders = ("viewer",)


def _unseen(camera: Camera) -> None:
    camera.saw_all = False


def _denied(camera: Camera) -> None:
    camera.open_error = 13


def _grabbed(camera: Camera) -> None:
    camera.named("Gain").flags = 0x02


def _coarse(camera: Camera) -> None:
    camera.named("Gamma").step = 50


@pytest.mark.parametrize(
    ("spoil", "code", "says"),
    [
        (_ignoring("Gain"), 1, "accepted, but reads another value"),
        (_failing("Gamma", 5), 1, "refused: Input/output error"),
        (_failing("Gamma", 16), 1, "refused: it is in use"),
        (_grabbed, 1, "refused: it is grabbed"),
        (_resetting, 1, "reset when the device was opened again"),
        (_unplugged, 2, "was unplugged. 2 of 11 controls were set before"),
        (_held, 2, "is open in viewer"),
        (_denied, 2, "group `video`"),
        (_coarse, 2, "gamma 110, the device takes 72 to 500 in steps of 50"),
    ],
)
def test_each_failure_has_its_own_words(
    run: Run, spoil: Callable[[Camera], None], code: int, says: str
):
    camera = reset()
    spoil(camera)
    got, text = run(Emulated(camera), "set", "up", "--write")
    assert says in " ".join(text.split())
    assert got == code


@pytest.mark.parametrize("write", [[], ["--write"]])
def test_what_cannot_be_seen_is_named(run: Run, write: list[str]):
    camera = reset()
    _unseen(camera)
    _, text = run(Emulated(camera), "set", "up", *write)
    assert "Programs of other users may have the camera open" in " ".join(text.split())


def test_the_preview_names_the_program_that_has_the_camera_open(run: Run):
    camera = reset()
    _held(camera)
    _, text = run(Emulated(camera), "set", "up")
    assert "/dev/video0 is open in viewer. Close it first." in text


def test_a_described_button_is_never_pressed(run: Run, shop: Path):
    placer = shop / "placer.yaml"
    text = placer.read_text()
    at = text.index("    controls:", text.index("  up:"))
    at = text.index("\n", at) + 1
    placer.write_text(f"{text[:at]}      restart: 1\n{text[at:]}")
    camera = reset()
    camera.controls.append(Control(0x009A0910, "Restart", BUTTON, flags=WRITE_ONLY))
    system = Emulated(camera)
    code, said = run(system, "set", "up", "--write")
    assert code == 1
    assert "refused: it is a button" in " ".join(said.split())
    assert "Restart" not in {name for name, _ in system.writes}


def test_a_description_that_lost_settings_is_never_set(run: Run, shop: Path):
    placer = shop / "placer.yaml"
    text = placer.read_text()
    placer.write_text(text.replace("auto_exposure: 1", "auto_exposure: 3"))
    system = Emulated(reset())
    code, said = run(system, "set", "up", "--write")
    assert (code, system.writes) == (2, [])
    assert "lost auto_exposure" in said
    code, said = run(system, "set", "up", "--from", "good", "--write")
    assert code == 0, said


def test_another_device_is_never_set(run: Run):
    system = Emulated(after_power_up(ordinary(serial="0009")))
    code, text = run(system, "set", "up", "--write")
    assert (code, system.writes) == (2, []), text


def test_a_control_that_an_undescribed_automatic_overrides_is_not_as_described(run: Run):
    camera = ordinary()
    camera.controls.append(Control(0x00980912, "Gain, Automatic", BOOL, value=1))
    camera.inactive["Gain"] = ("Gain, Automatic", 0)
    code, text = run(Emulated(camera), "set", "up", "--write")
    assert code == 1
    assert "an automatic of the device overrides it" in " ".join(text.split())


class Swapped(Emulated):
    """A system in which another camera is at the path once a control was set."""

    def nodes(self) -> list[Node] | None:
        there = super().nodes() or []
        return [node._replace(serial="0099") for node in there] if self.writes else there


def test_another_device_at_the_path_when_it_is_opened_again(run: Run):
    code, text = run(Swapped(reset()), "set", "up", "--write")
    assert code == 2
    assert "Another device is at /dev/video0 now" in " ".join(text.split())


def test_an_automatic_that_nobody_described_is_named(run: Run):
    camera = ordinary()
    camera.controls.append(Control(0x009A090C, "Focus, Automatic Continuous", BOOL, value=1))
    code, text = run(Emulated(camera), "set", "up", "--write")
    assert code == 0
    said = " ".join(text.split())
    assert "focus_automatic_continuous is on and not described" in said
    assert "Until then `seen` notes no day" in said


def test_restore_proposes_set_only_where_the_camera_is_connected(run: Run, shop: Path):
    machine = shop / "placer.yaml"
    clean = machine.read_text()
    for system, proposed in (
        (Emulated(ordinary()), "jobcheck set up"),
        (Emulated(), "jobcheck diff"),
    ):
        machine.write_text(clean.replace("      gain: 4", "      gain: 5"))
        code, text = run(system, "restore", "cameras.up", "--write")
        assert code == 0
        assert proposed in text
        assert system.opens == 0
