"""Machines of generated shops: everything stands left of the panel, clear of each other."""

from random import Random
from typing import Any

Document = dict[str, Any]


def make_machine(
    draw: Random, nozzles: Document, rows: Document, width: float, depth: float
) -> Document:
    """Return a machine whose travel is width by depth, mm."""
    carried = [*nozzles, None][:2]
    spindles = {
        name: {
            "offset_from_camera": {"x": x, "y": 4.0},
            "rotation": [-180, 180],
            "tip_eccentricity_mm": round(draw.uniform(0.005, 0.025), 3),
            **({"carries": nozzle} if nozzle else {}),
        }
        for name, x, nozzle in zip("ab", (-31.2, 31.2), carried, strict=True)
    }
    return {
        "describes": "machine",
        "edition": 1,
        "travel": {"x": [0, width], "y": [0, depth], "z": [-30, 0]},
        "traverse_z": -2.0,
        "mains_hz": 50,
        "motion": _MOTION,
        "approach": {"direction": ["+x", "+y"], "distance_mm": 0.5},
        "reversal": {"x": 0.04, "y": 0.03, "rotation": 0.2, "measured": "2026-10-01"},
        "home_mark": {
            **{"x": 45.0, "y": 30.0, "diameter_mm": 1.0},
            **{"camera": "head", "search_radius_mm": 2.0},
        },
        "reject_bin": {"x": 45.0, "y": 280.0},
        "cameras": _make_cameras(draw),
        "spindles": spindles,
        "nozzles": nozzles,
        "rack": {
            f"p{i + 1}": {"x": 45.0, "y": 60.0 + 20.0 * i, "z": -25.0, "nozzle": name}
            for i, name in enumerate(nozzles)
        },
        "vacuum": {"pump_kpa": -60.0},
        "feeder_rows": rows,
        "events": {"belt": {"date": "2026-09-10", "touched": ["x", "y"], "note": "new belts"}},
    }


_MOTION = {
    "xy_mm_s": 250,
    "xy_mm_s2": 2000,
    "z_mm_s": 80,
    "z_mm_s2": 1500,
    "rotation_deg_s": 720,
    "rotation_deg_s2": 7200,
    "pick_wait_ms": 40,
    "place_wait_ms": 40,
    "vent_ms": 20,
    "picture_wait_ms": 150,
}


def _make_cameras(draw: Random) -> Document:
    up = _make_camera(draw, "up", 2)
    return {
        "head": {"aim": "down", **_make_camera(draw, "ring-down", 1)},
        "up": {"aim": "up", "position": {"x": 45.0, "y": 220.0, "z": -20.1}, **up},
    }


def _make_camera(draw: Random, channel: str, number: int) -> Document:
    scale = round(draw.uniform(0.016, 0.024), 4)
    resolution = [1280, 720]
    return {
        "image": {"right": "+x", "up": "+y" if number == 1 else "-y"},
        "device": {
            "usb_id": f"fff0:000{number}",
            "serial": f"{draw.randrange(10**6):06}",
            "host": f"usb{number}",
            "port": f"{number}-1.{draw.randint(1, 4)}",
        },
        "resolution_px": resolution,
        "pixel_format": "YUYV",
        "frame_rate_hz": 10,
        "mm_per_pixel": {"x": scale, "y": scale, "at_z": -20.0 if number == 1 else -20.1},
        "calibrated": {"date": "2026-10-02", "resolution_px": resolution},
        "light": {"channel": channel, "percent": draw.randint(30, 80)},
        "controls": {name: choose(draw) for name, (choose, _) in _CONTROLS.items()},
        "reported": {
            name: dict(zip(("min", "max", "step", "default"), said, strict=True))
            for name, (_, said) in _CONTROLS.items()
        },
    }


_CONTROLS: dict[str, tuple[Any, tuple[int, int, int, int]]] = {
    "auto_exposure": (lambda draw: 1, (0, 3, 1, 3)),
    "exposure_time_absolute": (lambda draw: 100 * draw.randint(1, 3), (1, 5000, 1, 157)),
    "exposure_dynamic_framerate": (lambda draw: 0, (0, 1, 1, 1)),
    "gain": (lambda draw: draw.randint(2, 30), (0, 100, 1, 0)),
    "white_balance_automatic": (lambda draw: 0, (0, 1, 1, 1)),
    "white_balance_temperature": (lambda draw: 10 * draw.randint(400, 460), (2800, 6500, 10, 5000)),
    "power_line_frequency": (lambda draw: 1, (0, 2, 1, 2)),
}
"""Controls of a camera: how a value is drawn; least, greatest, step and default as reported."""
