"""Rules about the tuning of recognitions: whether their picture is still the one tuned on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from jobcheck.facts.fingerprint import channel_used, picture, tuning_fingerprint
from jobcheck.facts.reach import joined, parts_reached, reach
from jobcheck.findings import Command, Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.controls import show_control
from jobcheck.schema.machine import Camera, Event
from jobcheck.schema.parts import Recognition
from jobcheck.shop.paths import Path, is_within, natural, parse, show
from jobcheck.shop.shop import Shop
from jobcheck.wording import count, listed

_MOST_SHOWN = 4

_CHANGES_PICTURE = ("aim", "controls", "device", "image", "light", "pixel_format", "resolution_px")
"""Fields of a camera; an event that touched one of them, or the camera, may change its picture."""


@rule(
    Level.WARNING,
    Level.NOTE,
    fails="cameras.up.controls.gain: 5",
    passes="""
        recognitions.chip-small.light_percent: 60
        recognitions.chip-small.tuned_under: k-d244d1e68555
    """,
)
def recognition_tuning_stale(look: Inspection) -> Iterator[Problem | Unchecked]:
    """The picture of a recognition is not the one that it was tuned on, or may not be.

    The picture has changed if the fingerprint of its camera settings and its light is not the one
    in `tuned_under`. It may have changed if an event after `tuned` touched the camera or its light.
    A recognition without a stamp is a note: a changed picture would not be found.

    On the machine: the recognition may find parts shifted, turned or not at all.

    To do: put the settings back, or tune again; then stamp with `jobcheck retuned`.

    Source: the description's own stamps and dates; common practice, no published source.
    """
    changed: dict[str, list[str]] = defaultdict(list)
    before: dict[tuple[str, str], list[str]] = defaultdict(list)
    undated: dict[str, list[str]] = defaultdict(list)
    bare: dict[str, list[str]] = defaultdict(list)
    for name, recognition, camera in _used(look):
        event = _last_event(look, recognition, camera)
        if recognition.tuned_under is None:
            bare[recognition.camera].append(name)
        elif recognition.tuned_under != tuning_fingerprint(camera, recognition):
            changed[recognition.camera].append(name)
        elif event and recognition.tuned is None:
            undated[event].append(name)
        elif event:
            before[recognition.camera, event].append(name)
    yield from (_changed(look, camera, names) for camera, names in changed.items())
    yield from (_before(look, camera, event, names) for (camera, event), names in before.items())
    yield from (_bare(look, camera, names) for camera, names in bare.items())
    for event, names in undated.items():
        yield Unchecked(
            f"tuning of {count(len(names), 'recognition')} against event {event}",
            f"no tuned on {listed(names)}",
            "tuned",
            _at(names, "tuned"),
            len(names),
        )


def _used(look: Inspection) -> Iterator[tuple[str, Recognition, Camera]]:
    """Yield the recognitions that an outline uses, with their camera, by name."""
    channels = {camera.light.channel for camera in look.shop.cameras.values() if camera.light}
    for name, recognition in sorted(look.shop.recognitions.items()):
        camera = look.shop.cameras.get(recognition.camera)
        if (
            camera is None
            or camera.aim != "up"
            or not look.facts.usage.outlines_of_recognition(name)
        ):
            continue
        if (
            recognition.light_channel is None
            or not channels
            or recognition.light_channel in channels
        ):
            yield name, recognition, camera


def _at(names: list[str], key: str) -> tuple[Path, ...]:
    return tuple(("recognitions", name, key) for name in names)


def _last_event(look: Inspection, recognition: Recognition, camera: Camera) -> str | None:
    """Return the last event, after `tuned` if that is known, that touched the picture."""
    touched = [
        (event.date, key)
        for key, event in (look.shop.machine.events.items() if look.shop.machine else ())
        if event.date <= look.today
        and (recognition.tuned is None or event.date > recognition.tuned)
        and any(is_picture_touched(look.shop, path, recognition, camera) for path in _paths(event))
    ]
    return max(touched)[1] if touched else None


def _paths(event: Event) -> Iterator[Path]:
    for text in event.touched:
        try:
            yield parse(text)
        except ValueError:
            continue


def is_picture_touched(shop: Shop, path: Path, recognition: Recognition, camera: Camera) -> bool:
    """Return whether a path that an event touched belongs to the picture of a recognition."""
    own: Path = ("cameras", recognition.camera)
    if is_within(own, path) or any(is_within(path, (*own, key)) for key in _CHANGES_PICTURE):
        return True
    other = shop.cameras.get(path[1]) if path[0] == "cameras" and path[2:3] == ("light",) else None
    channel = channel_used(camera, recognition)
    return other is not None and other.light is not None and other.light.channel == channel


def _changed(look: Inspection, camera: str, names: list[str]) -> Problem:
    """Return what is reported of recognitions whose picture has changed since their stamp."""
    differences = _differences(look, names)
    was = "was" if len(names) == 1 else "were"
    first = look.shop.recognitions[names[0]]
    now = tuning_fingerprint(look.shop.cameras[camera], first)
    stamps = f"{names[0]} tuned under {first.tuned_under}, now {now}"
    values = [f"{_label(path)} {new}" for path, (_, new) in differences.items()]
    # without a record of the stamped picture any of its settings may have changed
    suspects = tuple(differences) or tuple(
        ("cameras", camera, key) for key in ("controls", "device", "image", "light")
    )
    return Problem(
        path=_at(names, "tuned_under")[0],
        related=(*suspects[:_MOST_SHOWN], *_at(names[1:], "tuned_under")),
        message=f"{count(len(names), 'recognition')} {was} tuned under other settings of camera "
        f"{camera}: {listed(names)}.",
        observed=listed(values) or stamps,
        expected=listed([f"{_label(path)} {old}" for path, (old, _) in differences.items()]),
        consequence=f"{reach(look.facts, parts_reached(look.facts, names))} may be seen shifted, "
        "turned or not at all.",
        remedy=(
            "If the change is not meant, put the recorded settings back:",
            command("restore", *(show(path) for path in suspects[:_MOST_SHOWN])),
            "If it is meant, tune again, then stamp:",
            _stamp(camera, names),
        )
        if differences
        else (
            f"No record shows what changed. Compare the settings of camera {camera} and its light "
            "with those that you tuned under, and put them back. If they are meant, tune again, "
            "then stamp:",
            _stamp(camera, names),
        ),
    )


def _label(path: Path) -> str:
    return ".".join(path[2:]) if path[:1] == ("recognitions",) else path[-1]


def _differences(look: Inspection, names: list[str]) -> dict[Path, tuple[str, str]]:
    """Return path -> (recorded, present) of what changed in the picture since the stamp.

    Empty if the record has no recognition with the stamp: it cannot say what was stamped.
    """
    good, found = look.good, {}
    for name in names if good else ():
        now = look.shop.recognitions[name]
        then = good.recognitions.get(name) if good else None
        camera = good.cameras.get(then.camera) if good and then else None
        if then is None or camera is None or tuning_fingerprint(camera, then) != now.tuned_under:
            continue
        old, new = picture(camera, then), picture(look.shop.cameras[now.camera], now)
        for path in sorted(old.keys() | new.keys(), key=lambda p: tuple(map(natural, p))):
            if old.get(path) != new.get(path):
                at = _place(path, name, now)
                found[at] = (_shown(old, path), _shown(new, path))
    return found


def _place(path: Path, name: str, recognition: Recognition) -> Path:
    """Return where a value of a picture is written; a recognition may have its own light."""
    own = f"light_{path[1]}" if path[0] == "light" else ""
    if own and getattr(recognition, own) is not None:
        return ("recognitions", name, own)
    return ("cameras", recognition.camera, *path)


def _shown(values: Mapping[Path, object], path: Path) -> str:
    value = values.get(path)
    if value is None:
        return "missing"
    if path[0] == "controls" and isinstance(value, int):
        return show_control(path[-1], value)
    return " × ".join(map(str, value)) if isinstance(value, list) else str(value)


def _before(look: Inspection, camera: str, key: str, names: list[str]) -> Problem:
    """Return what is reported of recognitions that were tuned before an event."""
    assert look.shop.machine
    event = look.shop.machine.events[key]
    said = f": {event.note}" if event.note else ""
    days = sorted({str(look.shop.recognitions[name].tuned) for name in names})
    was = "was" if len(names) == 1 else "were"
    reached = reach(look.facts, parts_reached(look.facts, names))
    return Problem(
        path=_at(names, "tuned")[0],
        related=(("events", key, "touched"), *_at(names[1:], "tuned")),
        message=f"{count(len(names), 'recognition')} {was} tuned before event {key} "
        f"({event.date}{said}), which touched {joined(event.touched)}: {listed(names)}.",
        observed=f"tuned {listed(days)}",
        consequence=f"The picture may have changed. {reached} may be seen shifted, turned or "
        "not at all.",
        remedy=(
            "Look in the picture whether these recognitions still find a few parts of known size. "
            "If not, tune again. Then stamp:",
            _stamp(camera, names),
        ),
    )


def _bare(look: Inspection, camera: str, names: list[str]) -> Problem:
    """Return what is reported of recognitions without a stamp."""
    one = len(names) == 1
    return Problem(
        path=_at(names, "tuned_under")[0],
        related=_at(names[1:], "tuned_under"),
        message=f"{count(len(names), 'recognition')} of camera {camera} {'has' if one else 'have'} "
        f"no stamp of {'its' if one else 'their'} tuning: {listed(names)}.",
        observed="tuned_under missing",
        consequence=f"If camera {camera} lost its settings, jobcheck could not name these "
        "recognitions.",
        remedy=(
            f"Look whether {'it still finds its' if one else 'they still find their'} parts, then "
            "stamp:",
            _stamp(camera, names),
        ),
        level=Level.NOTE,
    )


def _stamp(camera: str, names: list[str]) -> Command:
    """Return the command that stamps recognitions: a few by name, many by their camera."""
    if len(names) > 3:
        return command("retuned", f"cameras.{camera}", "--write")
    return command("retuned", *(f"recognitions.{name}" for name in names), "--write")
