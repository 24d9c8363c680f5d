"""Fingerprints: a short name for what a tuning or a look at pin 1 depends on."""

import hashlib
import json
from collections.abc import Iterator, Mapping

from jobcheck.schema.controls import present_name
from jobcheck.schema.fields import Described, FieldClass, mark
from jobcheck.schema.job import Placement, Placements
from jobcheck.schema.machine import Camera
from jobcheck.schema.parts import Outline, Recognition
from jobcheck.shop.classes import fields_at
from jobcheck.shop.paths import Path

SCHEME = 1
"""Raised only when the same settings would give another fingerprint; that voids every tuning."""

_IDENTITY: tuple[Path, ...] = (("device",), ("device", "serial"), ("device", "usb_id"))

_STAMPS = ("tuned", "tuned_under")
_NOT_PROVEN = (FieldClass.NOTE.value, FieldClass.COUNT.value)

LOOK = "look"
"""In a trial: the fingerprint of a look at pin 1, beside those of the dependencies."""

Picture = dict[Path, object]
"""What a picture depends on: path below the camera -> plain value. See `picture`."""


def picture(camera: Camera, recognition: Recognition) -> Picture:
    """Return what the picture of a recognition depends on, without values at their default.

    These are the camera's identity (`device`: the serial number, else the USB id), its marked
    fields, and the light used (the recognition's, else the camera's). Place and scale are not in
    it: they change what is computed from the picture, not the picture.
    """
    values = dict(_marked(camera, ()))
    if camera.image:
        values.update(_marked(camera.image, ("image",)))
    if camera.device:
        values["device",] = camera.device.serial or camera.device.usb_id
    values["light", "channel"] = channel_used(camera, recognition)
    values["light", "percent"] = recognition.light_percent
    if recognition.light_percent is None and camera.light:
        values["light", "percent"] = camera.light.percent
    return {path: _plain(value) for path, value in values.items() if value is not None}


def channel_used(camera: Camera, recognition: Recognition) -> str | None:
    """Return the lighting channel of a recognition: its own, else that of its camera."""
    return recognition.light_channel or (camera.light.channel if camera.light else None)


def tuning_fingerprint(camera: Camera, recognition: Recognition) -> str:
    """Return `k-` and twelve hex digits of what the picture of a recognition depends on."""
    values = {".".join(path): value for path, value in picture(camera, recognition).items()}
    return fingerprint("k", values)


def look_fingerprint(placement: Placement, outline: Outline, listing: Placements) -> str:
    """Return `p-` and twelve hex digits of what a look at pin 1 of a placement covers."""
    return fingerprint("p", covered_by_look(placement, outline, listing))


def covered_by_look(
    placement: Placement, outline: Outline, listing: Placements
) -> dict[str, object]:
    """Return what a look at pin 1 of a placement covers.

    It covers part, rotation (a full turn is not a change), side, where pin 1 is drawn and what it
    is, both zero levels and the convention for the bottom.
    """
    return {
        "part": placement.part,
        "rotation": _plain(placement.rotation % 360.0),
        "side": placement.side,
        "pin1_at_zero": outline.pin1_at_zero,
        "pin1_means": outline.pin1_means,
        "levels": [outline.zero, listing.zero],
        "bottom": listing.bottom,
    }


def described_values(model: Described | None) -> dict[str, object]:
    """Return the settings and measurements of an entry that are not at their default.

    The names of what stamps a tuning are left out; what it names has a fingerprint of its own.
    """
    found: dict[str, object] = {}
    for name, info in type(model).model_fields.items() if model is not None else ():
        value = getattr(model, name)
        is_default = value == info.get_default(call_default_factory=True)
        if is_default or name in _STAMPS or mark(info, "x-class") in _NOT_PROVEN:
            continue
        found[name] = described_values(value) if isinstance(value, Described) else _plain(value)
    return found


def fingerprint(letter: str, covered: Mapping[str, object]) -> str:
    """Return a letter, a dash and twelve hex digits of SHA-256 over canonical JSON."""
    text = json.dumps(covered, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return f"{letter}-{hashlib.sha256(f'{SCHEME}{text}'.encode()).hexdigest()[:12]}"


def _marked(model: Described, path: Path) -> Iterator[tuple[Path, object]]:
    """Yield the marked fields of a model that are not at their default; a mapping key by key.

    A control has its present name: an older kernel's name is the same control.
    """
    for name, info in type(model).model_fields.items():
        value = getattr(model, name)
        if not mark(info, "x-fingerprint") or value == info.get_default(call_default_factory=True):
            continue
        if isinstance(value, dict):
            yield from (((*path, name, present_name(key)), item) for key, item in value.items())
        else:
            yield (*path, name), value


def _plain(value: object) -> object:
    """Return a JSON value with integral floats as integers."""
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def covers(path: Path) -> bool:
    """Return whether the fingerprint of a tuning may cover the value of a camera at a path.

    True also of a whole camera, its identity and its light, which counts where a recognition has
    none.
    """
    if path[:1] != ("cameras",) or len(path) < 2:
        return False
    return (
        len(path) == 2
        or path[2] == "light"
        or path[2:] in _IDENTITY
        or any(mark(info, "x-fingerprint") for info in fields_at(path))
    )
