"""A copy of the example shop, and the command line with emulated cameras behind it."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import jobcheck.devices.system
from jobcheck.cli.main import main
from tests.support.emulated_cameras import Emulated

EXAMPLE = Path(__file__).parents[2] / "examples" / "soil-logger"
Run = Callable[..., tuple[int, str]]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return Path(shutil.copytree(EXAMPLE, tmp_path / "shop"))


@pytest.fixture
def run(shop: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run one command line on the shop with a system; return its exit code and what it says."""

    def call(system: Emulated, *argv: str) -> tuple[int, str]:
        monkeypatch.setattr(jobcheck.devices.system, "Linux", lambda: system)
        out = io.StringIO()
        words = [*argv, "--shop", str(shop), "--as-of", "2026-11-25"]
        return main(words, out, out), out.getvalue()

    return call
