"""Fingerprints: a short name for what a tuning or a look at pin 1 depends on."""

import hashlib
import json

from pydantic import BaseModel

from jobcheck.schema.fields import FieldClass, mark
from jobcheck.schema.job import Placement, Placements
from jobcheck.schema.machine import Camera
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.shop.classes import fields_at
from jobcheck.shop.paths import Path

SCHEME = 1
"""Raised only when the same settings would give another fingerprint; that voids every tuning."""


def tuning_fingerprint(camera: Camera, recognition: Recognition) -> str:
    """Return `k-` and twelve hex digits of the settings that a recognition was tuned under.

    It covers the marked fields of the camera and the light actually used: the recognition's own
    channel and brightness, else the camera's.
    """
    light = camera.light
    used = {
        "channel": recognition.light_channel or (light and light.channel),
        "percent": recognition.light_percent
        if recognition.light_percent is not None
        else light and light.percent,
    }
    covered = _marked(camera)
    covered["light"] = {key: _plain(value) for key, value in used.items() if value is not None}
    return f"k-{_digits(covered)}"


def look_fingerprint(placement: Placement, outline: Outline, listing: Placements) -> str:
    """Return `p-` and twelve hex digits of what a look at pin 1 of a placement covers.

    It covers part, rotation (a full circle is no change), side, where pin 1 is drawn and what it
    is, both zero levels and the convention for the bottom.
    """
    covered = {
        "part": placement.part,
        "rotation": _plain(placement.rotation % 360.0),
        "side": placement.side,
        "pin1_at_zero": outline.pin1_at_zero,
        "pin1_means": outline.pin1_means,
        "levels": [outline.zero, listing.zero],
        "bottom": listing.bottom,
    }
    return f"p-{_digits(covered)}"


def _digits(covered: dict[str, object]) -> str:
    text = json.dumps(covered, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(f"{SCHEME}{text}".encode()).hexdigest()[:12]


def _marked(model: BaseModel) -> dict[str, object]:
    """Return the marked fields of a model; a field at its default is left out."""
    covered: dict[str, object] = {}
    for name, info in type(model).model_fields.items():
        value = getattr(model, name)
        if value == info.get_default(call_default_factory=True):
            continue
        if mark(info, "x-fingerprint"):
            covered[name] = _plain(value)
        elif isinstance(value, BaseModel) and (inside := _marked(value)):
            covered[name] = inside
    return covered


def _plain(value: object) -> object:
    """Return JSON values with integral floats as integers and without notes."""
    if isinstance(value, BaseModel):
        return {
            name: _plain(getattr(value, name))
            for name, info in type(value).model_fields.items()
            if mark(info, "x-class") != FieldClass.NOTE
            and getattr(value, name) != info.get_default(call_default_factory=True)
        }
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def covers(path: Path) -> bool:
    """Tell whether the fingerprints of tunings cover the value of a camera at a path.

    True also of a whole camera and of its light, which counts where a recognition has none.
    """
    if path[:1] != ("cameras",) or len(path) < 2:
        return False
    return (
        len(path) == 2
        or path[2] == "light"
        or any(mark(info, "x-fingerprint") for info in fields_at(path))
    )
