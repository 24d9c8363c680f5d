"""What `jobcheck seen` says."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import Any

from jobcheck.commands.seen import Agreement, Looked, Seen, SeenControl
from jobcheck.devices.identify import Match
from jobcheck.devices.report import DeviceControl
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, columns, paragraph
from jobcheck.reports.text.proposals import proposal_data, written_or_shown
from jobcheck.schema.controls import show_control
from jobcheck.wording import listed


def seen_text(looked: Looked, call: Call, words: Sequence[str]) -> list[str]:
    """Report the verdict on each camera, then what differs, then what to do."""
    rows: list[tuple[str, ...]] = [("camera", "device", "verdict")]
    rows += [(seen.camera, _source(seen), _verdict(seen)) for seen in looked.cameras]
    lines = verdicts(rows)
    for seen in looked.cameras:
        lines += _one(seen, call)
    if looked.proposal.edited.files:
        lines += ["", *written_or_shown(looked.proposal, call, command("seen", *words))]
    if looked.proposal.written:
        lines += _not_noted(looked)
    return [*lines, *_next(looked, call)]


def _not_noted(looked: Looked) -> list[str]:
    """Say for which cameras no day was written, though it was asked for."""
    names = [seen.camera for seen in looked.cameras if not seen.is_as_described and seen.report]
    if not names:
        return []
    are = "is not proven to be as described" if len(names) == 1 else "are not proven to be so"
    return ["", *paragraph(f"No day was written: {listed(names)} {are}.")]


def verdicts(rows: list[tuple[str, ...]]) -> list[str]:
    """Lay out rows whose last column is wrapped under itself where it is long."""
    lines = columns(rows)
    start = 2 + sum(max(len(row[i]) for row in rows) + 2 for i in range(len(rows[0]) - 1))
    return [part for line in lines for part in paragraph(line[start:], " " * start, line[:start])]


def _source(seen: Seen) -> str:
    """Return where a report is from: a device by its path, a listing by its name."""
    if seen.report is None:
        return "-"
    return seen.report.source if seen.report.device else FilePath(seen.report.source).name


def _verdict(seen: Seen) -> str:
    if seen.report is None:
        return f"not seen. {seen.refused}"
    proof, by, other = seen.identified
    if proof is Match.EXCHANGED:
        return f"exchanged with {other}"
    if proof is Match.OTHER:
        return f"not camera {seen.camera}"
    if proof is Match.UNPROVEN:
        return f"cannot say whether this is camera {seen.camera}: {by}"
    if seen.is_as_described:
        facts = [amount(seen.compared, "control"), *_picture_facts(seen)]
        skipped = sum(c.state is Agreement.NOT_COMPARED for c in seen.controls)
        facts += [f"{skipped} not compared"] if skipped else []
        return f"as described: {', '.join(facts)}"
    if not seen.compared and not seen.differing:
        return "no control is described, so nothing was compared"
    apart = (Agreement.AUTOMATIC, Agreement.UNREADABLE)
    differing = [control for control in seen.differing if control.state not in apart]
    said = []
    if differing:
        verb = "differs" if len(differing) == 1 else "differ"
        said.append(f"{len(differing)} of {amount(seen.compared, 'control')} {verb}")
    said += [f"{c.name} is on" for c in seen.differing if c.state is Agreement.AUTOMATIC]
    said += [f"{c.name} cannot be read" for c in seen.differing if c.state is Agreement.UNREADABLE]
    said += [f"{one.name} differs" for one in seen.picture]
    return f"not as described: {'; '.join(said)}"


def _picture_facts(seen: Seen) -> list[str]:
    picture = seen.report.picture if seen.report else None
    if picture is None:
        return []
    size = " x ".join(map(str, picture.size_px)) if picture.size_px else ""
    rate = f"{picture.frame_rate_hz:g} Hz" if picture.frame_rate_hz else ""
    return [fact for fact in (size, picture.pixel_format or "", rate) if fact]


def _one(seen: Seen, call: Call) -> list[str]:
    """Report what is behind the verdict on one camera."""
    if seen.report is None:
        return []
    if seen.identified.proof is not Match.PROVEN:
        return ["", *paragraph(_identity(seen))]
    lines = [*_rows(seen), *_pictures(seen)]
    skipped = [c for c in seen.controls if c.state is Agreement.NOT_COMPARED]
    if skipped:
        named = ", ".join(f"{control.name} ({control.why})" for control in skipped)
        lines += ["", *paragraph(f"Not compared: {named}.")]
    reasons: dict[str, list[str]] = {}
    for control in seen.controls:
        if control.why and control.state in (Agreement.DIFFERS, Agreement.UNREADABLE):
            reasons.setdefault(control.why, []).append(control.name)
    for why, names in reasons.items():
        lines += paragraph(f"{', '.join(names)}: {why}.", "    ", "  ")
    if lines and seen.record:
        lines += ["", *paragraph(f"The record is {seen.record}.")]
    return [*lines, *_lost(seen, call), *_to_set(seen, call)]


def _identity(seen: Seen) -> str:
    proof, by, other = seen.identified
    device = seen.described.device if seen.described else None
    known = (
        [
            f"{name} {value}"
            for name, value in (("serial", device.serial), ("port", device.port))
            if value
        ]
        if device
        else []
    )
    described = f" Camera {seen.camera} has {', '.join(known)}." if known else ""
    what = "device" if seen.report and seen.report.device else "listing"
    if proof is Match.EXCHANGED:
        return (
            f"Cameras {seen.camera} and {other} are exchanged: the device at one's port has the "
            f"serial of the other ({by}). Look at the plugs. Nothing was compared."
        )
    if proof is Match.OTHER:
        owner = f"camera {other}" if other else "another camera"
        return f"The {what} is from {owner} ({by}).{described} Nothing was compared."
    return (
        f"The {what} does not prove which camera it is: {by}. Save a whole listing, or describe "
        f"the serial or port of camera {seen.camera}. No day is noted."
    )


def _rows(seen: Seen) -> list[str]:
    adopted = () if seen.described and seen.described.controls else seen.controls
    rows_of = seen.differing or adopted
    if not rows_of:
        return []
    record = bool(seen.record)
    rows: list[tuple[str, ...]] = [
        (f"cameras.{seen.camera}.controls", "device", "described", *(["record"] if record else []))
    ]
    rows += [_row(control, record) for control in rows_of]
    return ["", *columns(rows)]


def _row(control: SeenControl, has_record: bool) -> tuple[str, ...]:
    device = device_value(control.name, control.device)
    if control.state is Agreement.OVERRIDDEN:
        raw = control.device.value if control.device else None
        device = f"{raw if raw is not None else '-'}, overridden"
    cells = (control.name, device, shown(control.name, control.described, control.device))
    return (*cells, shown(control.name, control.recorded, control.device)) if has_record else cells


def device_value(name: str, control: DeviceControl | None) -> str:
    """Show what a device reports of a control, or why it reports nothing."""
    if control is None:
        return "missing"
    value = control.value
    return (
        shown(name, value, control) if isinstance(value, int) else (value or control.error or "-")
    )


def shown(name: str, value: int | None, control: DeviceControl | None = None) -> str:
    """Show a value of a control with its unit, or what the device's menu calls it."""
    if value is None:
        return "-"
    known = show_control(name, value)
    choice = control.menu.get(str(value)) if control else None
    return f"{known} {choice}" if choice and known == str(value) else known


def _pictures(seen: Seen) -> list[str]:
    if not seen.picture:
        return []
    rows: list[tuple[str, ...]] = [(f"cameras.{seen.camera}", "device", "described")]
    return ["", *columns([*rows, *((one.name, one.device, one.described) for one in seen.picture)])]


def _lost(seen: Seen, call: Call) -> list[str]:
    """Return the settings that the description lost, before the device is set by it."""
    if not seen.lost:
        return []
    settings = amount(len(seen.lost), "setting")
    text = (
        f"The description of camera {seen.camera} lost {settings} since that record: "
        f"{', '.join(seen.lost)}. Put back what was lost before you set the device:"
    )
    restore = call.typed(command("restore", f"cameras.{seen.camera}"))
    return ["", *paragraph(text), f"  {restore}"]


def _to_set(seen: Seen, call: Call) -> list[str]:
    """Give the commands that set the device; a connected one is set by `jobcheck set`."""
    if not seen.commands or seen.lost or (seen.report and seen.report.device):
        return []
    lines = ["", "Set these on the device in this order, automatics first:"]
    return [*lines, *(f"  {call.typed(step)}" for step in seen.commands)]


def _next(looked: Looked, call: Call) -> list[str]:
    """Propose `set` for the first connected camera that is not as described."""
    for seen in looked.cameras:
        is_connected = seen.report is not None and seen.report.device is not None
        if is_connected and seen.to_set and not seen.lost:
            return ["", "Next", f"  {call.typed(command('set', seen.camera))}"]
    return []


def seen_data(looked: Looked) -> dict[str, Any]:
    """Return comparisons as JSON data."""
    return {
        "cameras": [_seen_data(seen) for seen in looked.cameras],
        **proposal_data(looked.proposal),
    }


def _seen_data(seen: Seen) -> dict[str, Any]:
    return {
        "camera": seen.camera,
        "source": seen.report.source if seen.report else None,
        "identity": seen.identified.proof.value,
        "evidence": seen.identified.by or None,
        "other": seen.identified.other,
        "as_described": seen.is_as_described,
        "refused": seen.refused or None,
        "record": seen.record or None,
        "controls": [
            {
                "control": control.name,
                "device": control.device.value if control.device else None,
                "described": control.described,
                "recorded": control.recorded,
                "state": control.state.value,
            }
            for control in seen.controls
        ],
        "picture": [one._asdict() for one in seen.picture],
        "lost": list(seen.lost),
        "to_set": [{"control": name, "value": value} for name, value in seen.to_set.items()],
    }
