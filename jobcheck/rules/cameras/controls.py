"""Rules about the device controls of cameras: automatics, defaults, missing and illegal values.

Names and meanings of controls are those of `jobcheck.schema.controls`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from jobcheck.facts.facts import Facts
from jobcheck.facts.fingerprint import tuning_fingerprint
from jobcheck.facts.reach import joined, parts_reached, reach
from jobcheck.findings import Level, Problem, Unchecked, command
from jobcheck.rules.base import Inspection, at_level, rule
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
    Level.NOTE,
    fails="cameras.head.controls.gain_automatic: 1",
    passes="cameras.head.controls.gain_automatic: 0",
)
def camera_automatic_on(look: Inspection) -> Iterator[Problem]:
    """A camera chooses its exposure, gain, white balance, focus or frame rate by itself.

    A variable frame rate is a note where exposure is manual: it acts only if that is lost.

    On the machine: the picture changes with the part in it, so a threshold that fits a dark part
    may fail on a bright one. A value that an automatic governs has no effect. With a variable
    frame rate a picture may come late and show the previous part.

    To do: switch the automatic off, set the value by hand, then tune again.

    Source: Linux kernel, Video for Linux API: camera control reference (V4L2_CID_EXPOSURE_AUTO,
    V4L2_CID_EXPOSURE_AUTO_PRIORITY, V4L2_CID_FOCUS_AUTO) and user control reference
    (V4L2_CID_AUTOGAIN, V4L2_CID_AUTO_WHITE_BALANCE).
    """
    for name, camera, controls in _controlled(look):
        on = _on(controls)
        variable = [control for control in DYNAMIC_FRAME_RATES if controls.get(control) == 1]
        if on:
            yield _automatic(look, name, camera, on, variable)
        elif variable:
            yield _variable(name, camera, controls, variable[0])


def _automatic(
    look: Inspection, name: str, camera: Camera, on: list[str], variable: list[str]
) -> Problem:
    controls = camera.controls or {}
    idle = _overridden(controls)
    no_effect = f"; {_shown(controls, idle)} {_has(idle)} no effect" if idle else ""
    chosen = [AUTOMATICS[control].chooses for control in on] + (["frame rate"] if variable else [])
    return Problem(
        path=_path(name, on[0]),
        related=tuple(_path(name, control) for control in [*on[1:], *idle, *variable]),
        message=f"camera {name} chooses {joined(list(dict.fromkeys(chosen)))} by itself.",
        observed=_shown(controls, [*on, *variable]) + no_effect,
        consequence="The picture changes with the part in it: a threshold that fits one part may "
        "fail on the next.",
        remedy=(
            f"Set {joined([f'{control} {AUTOMATICS[control].off}' for control in on])}, then set "
            "the values by hand and tune again.",
        ),
        suppresses=_only_cause(look, name, camera),
    )


def _has(names: list[str]) -> str:
    return "has" if len(names) == 1 else "have"


def _variable(name: str, camera: Camera, controls: Mapping[str, int], control: str) -> Problem:
    is_manual = any(controls.get(key) == 1 for key in AUTO_EXPOSURES)
    rate = f", {number(camera.frame_rate_hz)} Hz," if camera.frame_rate_hz else ""
    return Problem(
        path=_path(name, control),
        message=f"camera {name} may lower its frame rate{rate} when its exposure is automatic.",
        observed=_shown(controls, [control])
        + ("; exposure is manual" if is_manual else "; auto_exposure is unknown"),
        consequence="If the exposure becomes automatic, a picture may come late and show the "
        "previous part."
        if is_manual
        else "If the exposure is automatic, a picture may come late and show the previous part.",
        remedy=(f"Set {control} 0.",),
        level=Level.NOTE if is_manual else None,
    )


def _only_cause(look: Inspection, name: str, camera: Camera) -> tuple[tuple[str, Path], ...]:
    """Return the stale tunings of a camera if these automatics are their only cause."""
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
    """Several controls of a camera have the device's default at once, as after a reset.

    Automatics that are on by default and exposure times count. A default that is off is wanted.

    On the machine: the camera has another exposure and chooses values by itself. Recognitions may
    find parts shifted, turned or not at all.

    To do: compare with what the camera itself reports, then put its settings back.

    Source: limits.defaults_at_once (common practice, no published source).
    """
    for name, camera, controls in _controlled(look):
        fallen = _fallen(controls, camera.reported)
        if len(fallen) < look.limits.defaults_at_once:
            continue
        others = [control for control in _overridden(controls) if control not in fallen]
        idle = f"; {_shown(controls, others)} {_has(others)} no effect" if others else ""
        yield Problem(
            path=_path(name),
            related=tuple(_path(name, control) for control in fallen),
            message=f"{len(fallen)} controls of camera {name} have the device's default at once, "
            "as after a reset.",
            observed=_shown(controls, fallen) + idle,
            consequence=_tuned_under(look.facts, name),
            remedy=(f"Compare with what camera {name} reports, then put its settings back.",),
            suppresses=(
                ("camera-automatic-on", _path(name)),
                *_stale(look.facts, name),
            ),
        )


def _fallen(controls: Mapping[str, int], reported: Mapping[str, ReportedControl]) -> list[str]:
    """Return the automatics that are on, and the exposure times, that have their default."""
    counted = [*_on(controls), *(name for name in EXPOSURE_TIMES if name in controls)]
    return [
        name for name in counted if name in reported and controls[name] == reported[name].default
    ]


def _tuned_under(facts: Facts, name: str) -> str:
    found = facts.usage.recognitions_of_camera(name)
    if not found:
        return "Fiducials may be found beside their place, or not at all."
    reached = reach(facts, parts_reached(facts, found))
    return (
        f"{count(len(found), 'recognition')} may find parts shifted, turned or not at all: "
        f"{reached}."
    )


@rule(
    Level.WARNING,
    fails="cameras.head.controls:",
    passes="cameras.head.controls: {auto_exposure: 1, exposure_time_absolute: 100}",
)
def camera_controls_missing(look: Inspection) -> Iterator[Problem]:
    """A camera has no controls, or lacks one that the device reports and the picture depends on.

    On the machine: a control that is not described is not set, and its loss is not found. After a
    power-up it has the device's default.

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
            consequence="If the camera resets at power-up, jobcheck cannot find it.",
            remedy=(
                f"Read the controls of camera {name} and write them down:",
                command("seen", name),
            ),
        )


_BY_HAND = (EXPOSURE_TIMES, ("gain",), ("white_balance_temperature",), ("focus_absolute",))
"""Controls that are set by hand if no automatic governs them, each with its older name."""


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
    return "unknown" if control.default is None else str(control.default)


@rule(
    Level.ERROR,
    Level.WARNING,
    fails="""
        cameras.head.controls.gain: 101
        cameras.head.reported.gain: {min: 0, max: 100, step: 1, default: 0}
    """,
    passes="""
        cameras.head.controls.gain: 100
        cameras.head.reported.gain: {min: 0, max: 100, step: 1, default: 0}
    """,
)
def camera_control_impossible(look: Inspection) -> Iterator[Problem | Unchecked]:
    """A control has a value that the device does not accept or cannot keep.

    An error if the value is outside the reported range, steps or choices, or if the reported range
    contradicts itself. A warning if the exposure is longer than one frame at the frame rate.

    On the machine: the device refuses the value, takes the nearest one, or lowers the frame rate.

    To do: write a value within the reported range and frame; read `reported` again if it
    contradicts itself.

    Source: Linux kernel, Video for Linux API, VIDIOC_S_CTRL: a driver takes the closest legal
    value or refuses the given one; a choice that a menu lacks is refused.
    V4L2_CID_EXPOSURE_ABSOLUTE: units of 100 us, limited by the frame interval.
    """
    yield from _camera_control_out_of_range(look)
    yield from at_level(Level.WARNING, _camera_exposure_exceeds_frame(look))


def _camera_control_out_of_range(look: Inspection) -> Iterator[Problem]:
    for name, camera in look.shop.cameras.items():
        odd = [control for control, said in sorted(camera.reported.items()) if _is_odd(said)]
        if odd:
            yield _contradictory(name, camera, odd)
        controls = camera.controls or {}
        wrong = {
            control: why
            for control, said in sorted(camera.reported.items())
            if control in controls
            and control not in odd
            and (why := _refused(controls[control], said))
        }
        if not wrong:
            continue
        paths = [_path(name, control) for control in wrong]
        paths += [("cameras", name, "reported", control) for control in wrong]
        yield Problem(
            path=paths[0],
            related=tuple(paths[1:]),
            message=f"camera {name} does not accept {_shown(controls, list(wrong))}.",
            observed="; ".join(
                f"{control} {controls[control]}, {why}" for control, why in wrong.items()
            ),
            consequence="The device refuses it or takes another value.",
            remedy=(f"Correct {listed(list(wrong))}, or read again what the device reports.",),
        )


def _is_odd(said: ReportedControl) -> bool:
    """Return whether a reported range is empty, or its default is outside it."""
    low, high = said.min, said.max
    return low > high or (said.default is not None and not low <= said.default <= high)


def _contradictory(name: str, camera: Camera, controls: list[str]) -> Problem:
    ranges = [
        f"{control} {said.min} to {said.max}, default {_default(said)}"
        for control in controls
        for said in [camera.reported[control]]
    ]
    paths: list[Path] = [("cameras", name, "reported", control) for control in controls]
    return Problem(
        path=paths[0],
        related=tuple(paths[1:]),
        message=f"the reported range of {listed(controls)} of camera {name} contradicts itself.",
        observed="; ".join(ranges),
        consequence="The controls cannot be compared with what the device accepts.",
        remedy=("Read again what the device reports:", command("seen", name)),
    )


def _refused(value: int, said: ReportedControl) -> str:
    """Return why a device does not accept a value; empty if it does."""
    if not said.min <= value <= said.max:
        return f"reported {said.min} to {said.max}"
    if (value - said.min) % said.step:
        return f"reported steps of {said.step} from {said.min}"
    if said.menu and str(value) not in said.menu:
        return f"reported choices {', '.join(sorted(said.menu, key=int))}"
    return ""


def _camera_exposure_exceeds_frame(look: Inspection) -> Iterator[Problem]:
    for name, camera, controls in _controlled(look):
        idle = _overridden(controls)
        for control in EXPOSURE_TIMES:
            if control not in controls or control in idle or not camera.frame_rate_hz:
                continue
            exposure, said = exposure_us(controls[control]), camera.reported.get(control)
            is_refused = bool(said and _refused(controls[control], said))
            if is_refused or exposure_fits_frame(exposure, camera.frame_rate_hz):
                continue
            frame = frame_interval_us(camera.frame_rate_hz) / 1000
            yield Problem(
                path=_path(name, control),
                related=(("cameras", name, "frame_rate_hz"),),
                message=f"camera {name} exposes for {number(exposure / 1000)} ms, but a frame at "
                f"{number(camera.frame_rate_hz)} Hz lasts {number(round(frame, 3))} ms.",
                observed=f"{_shown(controls, [control])}, {number(camera.frame_rate_hz)} Hz",
                consequence="The device exposes shorter, or sends pictures later than described.",
                remedy=("Expose shorter with more light, or lower frame_rate_hz.",),
                suppresses=(("picture-in-motion", ("motion",)),),
            )
