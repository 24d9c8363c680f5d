"""What `jobcheck seen` says."""

from __future__ import annotations

from typing import Any

from jobcheck.commands.seen import Seen, SeenControl, Verdict
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, columns, paragraph
from jobcheck.reports.text.proposals import proposal_data, written_or_shown
from jobcheck.schema.controls import show_control


def seen_text(seen: Seen, call: Call, words: str) -> list[str]:
    """Report a device's listing control by control, then what to set and in which order."""
    shown = [control for control in seen.controls if control.verdict is not Verdict.NOT_DESCRIBED]
    if not seen.differing:
        lines = [f"Camera {seen.camera} is as described: {amount(len(shown), 'control')} compared."]
    else:
        number = f"{len(seen.differing)} of {amount(len(shown), 'control')}"
        verb = "differs" if len(seen.differing) == 1 else "differ"
        lines = [f"Camera {seen.camera} is not as described: {number} {verb}."]
    has_record = bool(seen.record)
    rows: list[tuple[str, ...]] = [
        ("control", "device", "described", "record" if has_record else "", "")
    ]
    rows += [_row(control, has_record) for control in shown]
    lines += ["", *columns(rows)] if shown else []
    others = len(seen.controls) - len(shown)
    lines += ["", f"Not described: {amount(others, 'control')} of the device."] if others else []
    lines += paragraph(f"The record is {seen.record}.") if has_record else []
    return [*lines, *_lost(seen, call), *_to_set(seen), *_to_write(seen, call, words)]


def _lost(seen: Seen, call: Call) -> list[str]:
    """Say what the description lost, before anything is set on the device by it."""
    if not seen.lost:
        return []
    settings = amount(len(seen.lost), "setting")
    text = (
        f"The description lost {settings} since that record: {', '.join(seen.lost)}. Put "
        f"{'it' if len(seen.lost) == 1 else 'them'} back and look again, before you set anything "
        "on the device:"
    )
    return ["", *paragraph(text), f"  {call.command(f'restore cameras.{seen.camera}')}"]


def _to_write(seen: Seen, call: Call, words: str) -> list[str]:
    if not seen.proposal.edited.files:
        return []
    return ["", *written_or_shown(seen.proposal, call, f"seen {words}")]


def seen_data(seen: Seen) -> dict[str, Any]:
    """Return a comparison as JSON data."""
    return {
        "camera": seen.camera,
        "listing": seen.listing,
        "record": seen.record or None,
        "controls": [
            {
                "control": control.name,
                "device": control.device,
                "described": control.described,
                "recorded": control.recorded,
                "verdict": control.verdict.value,
                "inactive": control.is_inactive,
            }
            for control in seen.controls
        ],
        "lost": list(seen.lost),
        "to_set": [{"control": name, "value": value} for name, value in seen.to_set],
        **proposal_data(seen.proposal),
    }


def _row(control: SeenControl, has_record: bool) -> tuple[str, ...]:
    is_overridden = control.is_inactive and control.differs
    return (
        control.name,
        _value(control.device),
        _value(control.described),
        _value(control.recorded) if has_record else "",
        "overridden" if is_overridden else control.verdict.value,
    )


def _value(value: int | None) -> str:
    return "-" if value is None else f"{value}"


def _to_set(seen: Seen) -> list[str]:
    if not seen.to_set:
        return []
    lines = ["", "To set on the device, in this order, an automatic before what it overrides:"]
    return [*lines, *columns([(name, show_control(name, value)) for name, value in seen.to_set])]
