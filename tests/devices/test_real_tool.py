"""Listings of the real v4l2-ctl, and the commands that `seen` gives it, on emulated cameras."""

from __future__ import annotations

import os
import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest

from jobcheck.commands.seen import Looked, look_at_listing
from jobcheck.devices.listing import read_listing
from jobcheck.devices.live import read_device
from tests.devices.real_tool_cameras import CAMERAS
from tests.support.emulated_cameras import Emulated

REPOSITORY = Path(__file__).parents[2]
PYTHON = "/usr/bin/python3"
"""The system's own: the bindings of umockdev are a package of the system."""

DAY = date(2026, 11, 25)


def _lacking() -> str:
    for tool in ("umockdev-wrapper", "v4l2-ctl", PYTHON):
        if shutil.which(tool) is None:
            return f"{tool} is not installed"
    code = "import gi; gi.require_version('UMockdev', '1.0')"
    found = subprocess.run([PYTHON, "-c", code], capture_output=True, check=False)
    return "the Python bindings of umockdev are not installed" if found.returncode else ""


LACKING = _lacking()
pytestmark = pytest.mark.skipif(bool(LACKING), reason=LACKING or "installed")


def tool(state: str, *arguments: str) -> bytes:
    """Return what the real tool prints about an emulated camera."""
    script = REPOSITORY / "tests" / "devices" / "real_tool.py"
    found = subprocess.run(
        ["umockdev-wrapper", PYTHON, str(script), state, *arguments],
        capture_output=True,
        check=False,
        timeout=60,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )
    assert found.returncode == 0, found.stderr.decode()
    return found.stdout


def looked(shop: Path, data: bytes) -> Looked:
    return look_at_listing(shop, "up", "up.txt", data, DAY, ranges=False, write=False)


@pytest.mark.parametrize("state", CAMERAS)
def test_a_listing_reads_as_the_device_itself(state: str):
    system = Emulated(CAMERAS[state]())
    node = (system.nodes() or [])[0]
    live = read_device(system, node, DAY)
    listed = read_listing(tool(state, "--all"), "up.txt", DAY)
    assert {n: c.value for n, c in listed.controls.items()} == {
        n: c.value for n, c in live.controls.items()
    }
    for name, control in live.controls.items():
        other = listed.controls[name]
        assert (other.default, other.is_inactive) == (control.default, control.is_inactive), name
    assert listed.picture == live.picture
    assert listed.identity.port == live.identity.port


def test_a_described_camera_is_as_described(shop: Path):
    seen = looked(shop, tool("described", "--all")).cameras[0]
    assert seen.is_as_described
    assert seen.compared == 11


def test_the_commands_that_are_given_set_a_reset_camera_right(shop: Path):
    seen = looked(shop, tool("reset", "--all")).cameras[0]
    assert not seen.is_as_described
    steps = [word for step in seen.commands for word in ("+", *step.arguments[2:])]
    after = tool("reset", *steps[1:], "+", "--all")
    assert looked(shop, after).cameras[0].is_as_described
