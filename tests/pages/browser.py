"""A browser without a window that opens pages; tests that need one are skipped where none is."""

import shutil
import subprocess
from pathlib import Path as FilePath

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")


def browse(page: FilePath, profile: FilePath, *options: str) -> str:
    """Open a page and return what the browser prints."""
    command = [
        str(CHROMIUM),
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--hide-scrollbars",
        f"--user-data-dir={profile}",
        *options,
        page.as_uri(),
    ]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=120).stdout
