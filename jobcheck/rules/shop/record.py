"""Rules about values lost since the last known-good record."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING

from jobcheck.changes.change import Change
from jobcheck.facts.facts import Facts
from jobcheck.facts.reach import reach
from jobcheck.findings import Level, Problem, command
from jobcheck.rules.base import Inspection, Reported, rule
from jobcheck.rules.shop.links import touches
from jobcheck.schema.controls import show_control
from jobcheck.shop.paths import Path, is_within, show
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import MISSING
from jobcheck.wording import count, listed

if TYPE_CHECKING:
    from jobcheck.changes.impact import Impact

_FOLLOWING = (
    "camera-automatic-on",
    "camera-controls-at-default",
    "camera-controls-missing",
    "picture-flickers",
)
"""Rules about one camera whose findings follow from its lost settings."""


@rule(
    Level.ERROR,
    fails="""
        cameras.up.controls.auto_exposure: 3
        cameras.up.controls.exposure_time_absolute: 157
        cameras.up.controls.white_balance_automatic: 1
        cameras.up.controls.gain: ~
    """,
    passes="cameras.head.controls.gain: 9\ncameras.head.device.port: 1-1.4",
    compares=True,
    is_binding=True,
)
def camera_settings_lost(look: Inspection) -> Iterator[Problem]:
    """A camera setting of the last known-good record is missing, automatic or at its default.

    A control that was set to another value is not lost, and without a record nothing is. If the
    loss is meant, `jobcheck keep --on-purpose` records it. It cannot be accepted or disabled.

    On the machine: the camera has another picture, and recognitions that were tuned under the old
    one may see parts shifted, turned or not at all.

    To do: put the settings back with `jobcheck restore`, or retune, rehearse and keep the new
    state as known-good.

    Source: common practice, no published source; automatics: Linux kernel, Video for Linux API,
    camera and user control references.
    """
    if look.good is None or look.good is look.shop or look.shop.machine is None:
        return
    from jobcheck.changes.losses import camera_losses

    lost: dict[Path, list[Change]] = defaultdict(list)
    for change in camera_losses(look.good, look.shop):
        if look.shop.understood(change.path):
            lost[change.path[:2]].append(change)
    for camera, changes in lost.items():
        yield _lost(look.good, look.facts, camera, changes)


def _lost(good: Shop, facts: Facts, camera: Path, changes: list[Change]) -> Problem:
    name = camera[1]
    lines = [line for change in changes for line in change.leaves()]
    is_whole = changes[0].path == camera
    from jobcheck.changes.impact import impact_of

    reached = impact_of(changes, Facts(good), facts)
    says = "is gone since" if is_whole else f"lost {count(len(lines), 'setting')} since"
    return Problem(
        path=_shared(camera, changes),
        related=() if is_whole else tuple(path for path, _, new in lines if new is not MISSING),
        message=f"camera {name} {says} the last known-good record{_both(facts.shop, lines)}.",
        observed=f"no camera {name}" if is_whole else _values(lines, 2),
        expected=f"camera {name} is described" if is_whole else _values(lines, 1),
        consequence=_consequence(facts, reached),
        remedy=("Put the recorded settings back:", command("restore", f"cameras.{name}")),
        suppresses=(
            *_following(facts, camera, is_whole),
            *(("camera-control-impossible", path) for path, _, _ in lines),
        ),
        is_loss=True,
    )


def _both(shop: Shop, lines: list[tuple[Path, object, object]]) -> str:
    """Say whether the controller's file lost the same: it is compared and does not differ."""
    differing = {value.path for value in shop.controller}
    is_so = all(path in shop.in_controller - differing for path, _, _ in lines)
    return ", and so did the controller's file" if is_so else ""


def _shared(camera: Path, changes: list[Change]) -> Path:
    """Return the path of the loss: the controls if nothing else was lost, else the camera."""
    controls = (*camera, "controls")
    return controls if all(change.path[:3] == controls for change in changes) else camera


def _values(lines: list[tuple[Path, object, object]], side: int) -> str:
    return ", ".join(
        f"{'.'.join(line[0][3:] or line[0][2:])} {_value(line, side)}" for line in lines
    )


def _value(line: tuple[Path, object, object], side: int) -> str:
    value = line[side]
    is_control = line[0][2] == "controls" and isinstance(value, int)
    return show_control(line[0][-1], value) if is_control else str(value)  # type: ignore[arg-type]


def _consequence(facts: Facts, reached: Impact) -> str:
    parts = reach(facts, reached.parts)
    if reached.recognitions:
        were = "was" if len(reached.recognitions) == 1 else "were"
        return (
            f"{count(len(reached.recognitions), 'recognition')} {were} tuned under another "
            f"picture: {parts} may be seen shifted, turned or not at all."
        )
    if reached.jobs:
        return f"Home mark and fiducials may be found off their place: {parts}."
    return "No recognition uses this camera; its pictures differ from those of the record."


def _following(facts: Facts, camera: Path, is_whole: bool) -> tuple[tuple[str, Path], ...]:
    """Return the findings that follow: of the camera, its recognitions and its names."""
    found = [(rule_name, camera) for rule_name in (*_FOLLOWING, "controller-differs")]
    for path in facts.links.of("cameras", camera[1]):
        if path[0] == "recognitions":
            found.append(("recognition-tuning-stale", path[:2]))
        if is_whole:
            found.append(("name-unknown", path))
    if is_whole:
        found += [("camera-missing", ("cameras",)), ("camera-missing", ("home_mark",))]
        found += [("name-unknown", path) for path in touches(facts.shop, camera)]
    return tuple(found)


@rule(
    Level.WARNING,
    fails="recognitions.chip-small.threshold_grey: ~\nmotion: ~",
    passes="recognitions.chip-small.threshold_grey: 90",
    compares=True,
    is_upkeep=True,
)
def recorded_value_missing(look: Inspection) -> Iterator[Problem]:
    """An entry lacks a setting or measurement of the last known-good record.

    Camera settings have a rule of their own, and a value that another finding names is left out.
    There is one finding for each collection, at its first such value.

    On the machine: the controller may use an old value or a default; a measurement must be made
    again.

    To do: look whether it was removed on purpose. If not, put it back with `jobcheck restore`; if
    so, the next `jobcheck keep` records it.

    Source: common practice, no published source.
    """
    if look.good is None or look.good is look.shop:
        return
    from jobcheck.changes.losses import losses

    named = [path for entry in look.reported for path in _about(entry)]
    lost: dict[str, list[Change]] = defaultdict(list)
    for change in losses(look.good, look.shop):
        if not change.is_camera_loss and not _is_named(change.path, named):
            lost[change.path[0]].append(change)
    for changes in lost.values():
        yield _missing(look.good, look.facts, sorted(changes, key=lambda change: change.order))


def _about(entry: Reported) -> tuple[Path, ...]:
    """Return the paths that a finding names; a camera that lost settings is one as a whole."""
    covers = (
        path for name, path in entry.problem.suppresses if name == recorded_value_missing.name
    )
    paths = (entry.problem.path, *entry.problem.related, *covers)
    is_camera_loss = entry.rule.name == camera_settings_lost.name
    return (entry.problem.path[:2],) if is_camera_loss else paths


def _is_named(path: Path, named: list[Path]) -> bool:
    return any(other and (is_within(path, other) or is_within(other, path)) for other in named)


_MOST_RESTORED = 8


def _missing(good: Shop, facts: Facts, changes: list[Change]) -> Problem:
    from jobcheck.changes.impact import endangered, impact_of

    names = [show(change.path) for change in changes]
    one = len(changes) == 1
    reached = endangered(impact_of(changes, Facts(good), facts))
    return Problem(
        path=changes[0].path,
        related=tuple(change.path for change in changes[1:4]),
        message=f"{names[0]} is missing since the last known-good record."
        if one
        else f"{len(changes)} values are missing since the last known-good record: "
        f"{listed(names, 4)}.",
        observed="missing",
        expected=listed([_recorded(change) for change in changes], 4),
        consequence=f"The controller may use an old value or a default. Endangered: {reached}."
        if reached
        else "The controller may use an old value or a default.",
        remedy=(
            "Look whether it was removed on purpose. If not, put it back:",
            command("restore", *names[:_MOST_RESTORED]),
        ),
    )


def _recorded(change: Change) -> str:
    value = change.old
    if isinstance(value, dict):
        return f"{change.path[-1]} with {count(len(value), 'value')}"
    if isinstance(value, (list, tuple)):
        return f"{change.path[-1]} [{', '.join(map(str, value))}]"
    return f"{change.path[-1]} {value}"
