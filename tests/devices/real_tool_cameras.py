"""The cameras that the real tool is tried with, by name."""

from __future__ import annotations

from tests.support.emulated_cameras import after_power_up, ordinary, with_older_names

CAMERAS = {
    "described": ordinary,
    "reset": lambda: after_power_up(ordinary()),
    "older": lambda: with_older_names(ordinary()),
}
