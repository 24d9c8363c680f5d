"""What `jobcheck seen` says."""

from __future__ import annotations

from jobcheck.commands.seen import Seen, SeenControl, Verdict
from jobcheck.description.controls import show_control
from jobcheck.reports.wording import amount, columns, paragraph


def seen_text(seen: Seen, record: str) -> list[str]:
    """Report a device's listing control by control, then what to set and in which order."""
    shown = [control for control in seen.controls if control.verdict is not Verdict.NOT_DESCRIBED]
    if not seen.differing:
        lines = [f"Camera {seen.camera} is as described: {amount(len(shown), 'control')} compared."]
    else:
        number = amount(len(seen.differing), "control")
        lines = [f"Camera {seen.camera} is not as described: {number} of {len(shown)} differ."]
    rows = [("control", "device", "described", "record" if record else "", "")]
    rows += [_row(control, bool(record)) for control in shown]
    lines += ["", *columns(rows)] if shown else []
    others = len(seen.controls) - len(shown)
    if others:
        lines += ["", f"Not described: {amount(others, 'control')} of the device."]
    if record:
        lines += paragraph(f"The record is {record}.")
    return [*lines, *_to_set(seen)]


def _row(control: SeenControl, has_record: bool) -> tuple[str, ...]:
    verdict = control.verdict.value
    if control.is_inactive and control.differs:
        verdict += ", overridden by an automatic"
    recorded = _value(control, control.recorded) if has_record else ""
    return (
        control.name,
        _value(control, control.device),
        _value(control, control.described),
        recorded,
        verdict,
    )


def _value(control: SeenControl, value: int | None) -> str:
    return "-" if value is None else show_control(control.name, value)


def _to_set(seen: Seen) -> list[str]:
    if not seen.to_set:
        return []
    lines = ["", "To set on the device, in this order, an automatic before what it overrides:"]
    return [*lines, *columns([(name, f"{value}") for name, value in seen.to_set])]
