"""Rules about the device controls of cameras: what chooses by itself, what is not set, not legal.

Names and meanings of controls are those of `jobcheck.schema.controls`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import tuning_fingerprint
from jobcheck.facts.reach import joined, parts_reached, reach
from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.schema.controls import (
    AUTO_EXPOSURES,
    AUTOMATICS,
    DYNAMIC_FRAME_RATES,
    EXPOSURE_TIMES,
    is_automatic_on,
    overridden,
    show_control,
)
from jobcheck.schema.machine import Camera, ReportedControl
from jobcheck.shop.paths import Path
from jobcheck.trade.optics import exposure_fits_frame, exposure_us, frame_interval_us
from jobcheck.wording import count, listed, number


def _path(camera: str, *control: str) -> Path:
    return ("cameras", camera, "controls", *control)


def _controlled(look: Inspection) -> Iterator[tuple[str, Camera, Mapping[str, int]]]:
    """Yield cameras that have controls: name, camera, controls."""
    for name, camera in look.shop.cameras.items():
        if camera.controls:
            yield name, camera, camera.controls


def _on(controls: Mapping[str, int]) -> list[str]:
    """Return the automatics that are on, in the order of their table."""
    return [name for name in AUTOMATICS if is_automatic_on(name, controls.get(name))]


def _overridden(controls: Mapping[str, int]) -> list[str]:
    """Return the controls with a value that an automatic keeps from acting."""
    idle = [other for name in _on(controls) for other in overridden(name, controls[name])]
    return [name for name in dict.fromkeys(idle) if name in controls]


def _shown(controls: Mapping[str, int], names: list[str]) -> str:
    return ", ".join(f"{name} {show_control(name, controls[name])}" for name in names)


@rule(
    Level.WARNING,
    fails="cameras.head.controls.gain_automatic: 1",
    passes="cameras.head.controls.gain_automatic: 0",
)
def camera_automatic_on(look: Inspection) -> Iterator[Problem]:
    """A camera chooses its exposure, gain, white balance or focus by itself.

    On the machine: the picture changes with whatever lies in it, so a threshold that fits a dark
    part fails on a bright one, and what was tuned today is gone tomorrow. A value that the
    automatic chooses itself, written beside it, does nothing.

    To do: switch the automatic off, set the value by hand, then tune under that.

    Source: Linux kernel, Video for Linux API: camera control reference (V4L2_CID_EXPOSURE_AUTO,
    V4L2_CID_FOCUS_AUTO) and user control reference (V4L2_CID_AUTOGAIN,
    V4L2_CID_AUTO_WHITE_BALANCE).
    """
    for name, camera, controls in _controlled(look):
        on = _on(controls)
        if not on:
            continue
        idle = _overridden(controls)
        sinking = [control for control in DYNAMIC_FRAME_RATES if controls.get(control) == 1]
        chosen = list(dict.fromkeys(AUTOMATICS[control].chooses for control in on))
        cannot = f"; {_shown(controls, idle)} cannot act" if idle else ""
        yield Problem(
            path=_path(name, on[0]),
            related=tuple(_path(name, control) for control in [*on[1:], *idle, *sinking]),
            message=f"camera {name} chooses {joined(chosen)} by itself.",
            observed=_shown(controls, [*on, *sinking]) + cannot,
            consequence="The picture changes with what lies in it: a threshold that fits one part fails "
            "on the next.",
            remedy=(
                f"Set {joined([f'{control} {AUTOMATICS[control].off}' for control in on])}, then "
                "set the values by hand and tune under them.",
            ),
            suppresses=(
                ("camera-frame-rate-may-sink", _path(name)),
                *_only_cause(look, name, camera),
            ),
        )


def _only_cause(look: Inspection, name: str, camera: Camera) -> tuple[tuple[str, Path], ...]:
    """Tell the stale tuning of a camera where it was tuned with these automatics off."""
    off = {
        control: AUTOMATICS[control].off if control in AUTOMATICS else value
        for control, value in (camera.controls or {}).items()
    }
    before = camera.model_copy(update={"controls": off})
    seen = [
        look.shop.recognitions[found] for found in look.facts.usage.recognitions_of_camera(name)
    ]
    tuned = [entry for entry in seen if entry.tuned_under]
    if any(entry.tuned_under != tuning_fingerprint(before, entry) for entry in tuned):
        return ()
    return _stale(look.facts, name)


def _stale(facts: Facts, name: str) -> tuple[tuple[str, Path], ...]:
    """Return the findings about a tuning that follow from another picture of a camera."""
    found = facts.usage.recognitions_of_camera(name)
    return tuple(("recognition-tuning-stale", ("recognitions", entry)) for entry in found)


@rule(
    Level.WARNING,
    fails="""
        cameras.up.controls.auto_exposure: 3
        cameras.up.controls.exposure_time_absolute: 157
        cameras.up.controls.white_balance_automatic: 1
    """,
    passes="""
        cameras.head.controls.exposure_time_absolute: 157
        cameras.head.reported.exposure_time_absolute: {min: 1, max: 5000, default: 157}
        cameras.head.reported.auto_exposure: {min: 0, max: 3, default: 1}
        cameras.head.reported.white_balance_automatic: {min: 0, max: 1, default: 0}
    """,
)
def camera_controls_at_default(look: Inspection) -> Iterator[Problem]:
    """Several controls of a camera stand at the device's default at once, as after a reset.

    On the machine: the camera came back as it left its maker: automatics on, another exposure.
    Everything that was tuned under its picture may see parts shifted, turned or not at all.

    To do: look what the camera itself reports, then put its settings back.

    Source: limits.defaults_at_once (common practice, no published source). Automatics that are on
    by default and the exposure time are counted; a default that is off is what one wants.
    """
    for name, camera, controls in _controlled(look):
        fallen = _fallen(controls, camera.reported)
        if len(fallen) < look.limits.defaults_at_once:
            continue
        others = [control for control in _overridden(controls) if control not in fallen]
        idle = f"; {_shown(controls, others)} cannot act" if others else ""
        yield Problem(
            path=_path(name),
            related=tuple(_path(name, control) for control in fallen),
            message=f"camera {name} stands at the device's default in {len(fallen)} controls at "
            "once, as after a reset.",
            observed=_shown(controls, fallen) + idle,
            consequence=_tuned_under(look.facts, name),
            remedy=(f"Look what camera {name} itself reports, then put its settings back.",),
            suppresses=(
                ("camera-automatic-on", _path(name)),
                ("camera-frame-rate-may-sink", _path(name)),
                ("power-line-contradicts-mains", _path(name)),
                *_stale(look.facts, name),
            ),
        )


def _fallen(controls: Mapping[str, int], reported: Mapping[str, ReportedControl]) -> list[str]:
    """Return the automatics that are on, and the exposure times, that stand at their default."""
    telling = [*_on(controls), *(name for name in EXPOSURE_TIMES if name in controls)]
    return [
        name for name in telling if name in reported and controls[name] == reported[name].default
    ]


def _tuned_under(facts: Facts, name: str) -> str:
    found = facts.usage.recognitions_of_camera(name)
    if not found:
        return "Marks that were found under other settings may be found beside their place."
    reached = reach(facts, parts_reached(facts, found))
    return (
        f"{count(len(found), 'recognition')} look through it ({reached}): parts may be seen "
        "shifted, turned or not at all."
    )


@rule(
    Level.NOTE,
    Level.WARNING,
    fails="cameras.head.controls.exposure_dynamic_framerate: 1",
    passes="cameras.head.controls.exposure_dynamic_framerate: 0",
)
def camera_frame_rate_may_sink(look: Inspection) -> Iterator[Problem]:
    """A camera may lower its frame rate to expose longer.

    On the machine: with automatic exposure a dark part makes the pictures come later than the
    wait allows for, and the part is measured in a picture of the part before it.

    To do: switch it off; where exposure is manual it does nothing until an automatic comes back.

    Source: Linux kernel, Video for Linux API, camera control reference,
    V4L2_CID_EXPOSURE_AUTO_PRIORITY.
    """
    for name, camera, controls in _controlled(look):
        free = [control for control in DYNAMIC_FRAME_RATES if controls.get(control) == 1]
        if not free:
            continue
        is_manual = any(controls.get(control) == 1 for control in AUTO_EXPOSURES)
        rate = f" of {number(camera.frame_rate_hz)} Hz" if camera.frame_rate_hz else ""
        when = (
            "as soon as its exposure is automatic"
            if is_manual
            else "if its exposure is automatic, which is not described"
        )
        yield Problem(
            path=_path(name, free[0]),
            message=f"camera {name} may lower its frame rate{rate} {when}.",
            observed=_shown(controls, free),
            consequence="A picture could come late and show the part before.",
            remedy=(f"Set {free[0]} 0.",),
            level=None if is_manual else Level.WARNING,
        )


@rule(
    Level.WARNING,
    fails="cameras.head.controls:",
    passes="cameras.head.controls: {auto_exposure: 1, exposure_time_absolute: 100}",
)
def camera_controls_missing(look: Inspection) -> Iterator[Problem]:
    """A camera has no controls, or lacks one that the device reports and the picture depends on.

    On the machine: what is not described is not set, and not missed when it is lost: after a
    power-up the device stands at a default that nobody tuned under.

    To do: read the controls from the device and write them down.

    Source: Linux kernel, Video for Linux API, VIDIOC_QUERYCTRL: a driver sets controls to their
    defaults when it is loaded (from memory).
    """
    for name, camera in look.shop.cameras.items():
        missing = _missing(camera)
        if camera.controls and not missing:
            continue
        named = [f"{key} (default {_default(camera.reported[key])})" for key in missing]
        yield Problem(
            path=_path(name, *missing[:1]) if camera.controls else _path(name),
            related=tuple(_path(name, key) for key in missing[1:]) if camera.controls else (),
            message=f"camera {name} has no controls described."
            if not camera.controls
            else f"camera {name} reports {listed(missing)}, but its controls do not set "
            f"{'it' if len(missing) == 1 else 'them'}.",
            observed=f"missing: {listed(named)}" if named else "no controls",
            consequence="After a power-up it stands at its defaults, and nobody would know.",
            remedy=(f"Read the controls of camera {name} from the device and write them down.",),
        )


_BY_HAND = (EXPOSURE_TIMES, ("gain",), ("white_balance_temperature",), ("focus_absolute",))
"""Values that somebody sets where no automatic chooses them, each with its older name."""


def _missing(camera: Camera) -> list[str]:
    """Return reported controls that the picture depends on and that are not described."""
    controls, reported = camera.controls or {}, camera.reported
    set_here = {AUTOMATICS[name].chooses for name in controls if name in AUTOMATICS}
    chosen = {other for name in _on(controls) for other in overridden(name, controls[name])}
    automatics = [
        name
        for name, automatic in AUTOMATICS.items()
        if automatic.chooses not in set_here
        and name in reported
        and reported[name].default != automatic.off
    ]
    by_hand = [
        name
        for names in _BY_HAND
        if not any(name in controls or name in chosen for name in names)
        for name in names
        if name in reported
    ]
    return automatics + by_hand


def _default(control: ReportedControl) -> str:
    return "not known" if control.default is None else str(control.default)


@rule(
    Level.ERROR,
    fails="""
        cameras.head.controls.gain: 101
        cameras.head.reported.gain: {min: 0, max: 100, step: 1, default: 0}
    """,
    passes="""
        cameras.head.controls.gain: 100
        cameras.head.reported.gain: {min: 0, max: 100, step: 1, default: 0}
    """,
)
def camera_control_out_of_range(look: Inspection) -> Iterator[Problem]:
    """A control has a value that the device says it cannot take.

    On the machine: the device refuses the value or takes the nearest one, so the picture is not
    the one that the description says.

    To do: write a value within the reported range and on its step.

    Source: Linux kernel, Video for Linux API, VIDIOC_S_CTRL: a driver takes the closest value
    that is legal, or refuses the one given; a choice that a menu lacks is refused.
    """
    for name, camera, controls in _controlled(look):
        wrong = {
            control: why
            for control, said in sorted(camera.reported.items())
            if control in controls and (why := _refused(controls[control], said))
        }
        if not wrong:
            continue
        paths = [_path(name, control) for control in wrong]
        yield Problem(
            path=paths[0],
            related=tuple(paths[1:]),
            message=f"camera {name} cannot take {_shown(controls, list(wrong))}.",
            observed="; ".join(
                f"{control} {controls[control]}, {why}" for control, why in wrong.items()
            ),
            consequence="The device would refuse it or take another value, and the picture would not be "
            "the one described.",
            remedy=(f"Correct {listed(list(wrong))}, or read anew what the device reports.",),
        )


def _refused(value: int, said: ReportedControl) -> str:
    """Say why a device cannot take a value; empty where it can."""
    if not said.min <= value <= said.max:
        return f"reported {said.min} to {said.max}"
    if (value - said.min) % said.step:
        return f"reported steps of {said.step} from {said.min}"
    if said.menu and str(value) not in said.menu:
        return f"reported choices {', '.join(sorted(said.menu, key=int))}"
    return ""


@rule(
    Level.WARNING,
    fails="cameras.head.controls.exposure_time_absolute: 2001",
    passes="cameras.head.controls.exposure_time_absolute: 2000",
)
def camera_exposure_exceeds_frame(look: Inspection) -> Iterator[Problem]:
    """A camera exposes longer than one of its pictures may take.

    On the machine: the device cuts the exposure to the frame, or its frame rate sinks; either way
    the pictures are not those that the description says.

    To do: expose shorter with more light, or lower the frame rate.

    Source: Linux kernel, Video for Linux API, camera control reference,
    V4L2_CID_EXPOSURE_ABSOLUTE: units of 100 us, limited by the frame interval.
    """
    for name, camera, controls in _controlled(look):
        idle = _overridden(controls)
        for control in EXPOSURE_TIMES:
            if control not in controls or control in idle or not camera.frame_rate_hz:
                continue
            exposure = exposure_us(controls[control])
            if exposure_fits_frame(exposure, camera.frame_rate_hz):
                continue
            frame = frame_interval_us(camera.frame_rate_hz) / 1000
            yield Problem(
                path=_path(name, control),
                related=(("cameras", name, "frame_rate_hz"),),
                message=f"camera {name} exposes {number(exposure / 1000)} ms, but a frame at "
                f"{number(camera.frame_rate_hz)} Hz lasts {number(round(frame, 3))} ms.",
                observed=f"{_shown(controls, [control])}, {number(camera.frame_rate_hz)} Hz",
                consequence="The device would expose shorter, or send pictures later than the wait allows.",
                remedy=("Expose shorter with more light, or lower frame_rate_hz.",),
            )
