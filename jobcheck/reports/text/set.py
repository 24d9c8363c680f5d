"""What `jobcheck set` says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from jobcheck.commands.seen import Agreement
from jobcheck.commands.set import Set
from jobcheck.devices.setting import SetResult, Step
from jobcheck.findings import command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import amount, columns, paragraph
from jobcheck.reports.text.seen import device_value, shown, verdicts
from jobcheck.wording import listed

SET_CAUTION = (
    "The picture changes at once: never while a job runs. jobcheck is not an interlock; the "
    "maker's manual comes first."
)


def set_text(done: Set, call: Call, words: Sequence[str]) -> list[str]:
    """Report what would be set on a device, or what came of each control."""
    where = f"camera {done.camera}, {done.report.source}, {done.report.identity}"
    if done.steps:
        after = [*_automatics_on(done), *_open_elsewhere(done)]
        return [*_steps(done, where), *after, "", *paragraph(SET_CAUTION)]
    if not done.wanted:
        lines = paragraph(f"C{where[1:]}: every control reads as described. Nothing is to be set.")
        return [*lines, *_automatics_on(done)]
    lines = paragraph(f"Preview for {where}. Nothing has been set.")
    device = done.report.controls
    rows: list[tuple[str, ...]] = [
        (
            name,
            device_value(name, device.get(name)),
            "becomes",
            shown(name, value, device.get(name)),
        )
        for name, value in done.wanted.items()
    ]
    lines += columns(rows) + _automatics_on(done) + _open_elsewhere(done)
    lines += ["", *paragraph(SET_CAUTION), "", "To set it"]
    return [*lines, f"  {call.typed(command('set', *words, '--write'))}"]


def _open_elsewhere(done: Set) -> list[str]:
    """Name the programs that have the camera open, or say that they cannot be seen."""
    if done.holders:
        text = f"{done.report.source} is open in {listed(list(done.holders))}. Close it first."
    elif done.unseen:
        text = "Programs of other users may have the camera open; jobcheck cannot see them."
        text += "" if done.steps else " Close them first."
    else:
        return []
    return ["", *paragraph(text)]


def _automatics_on(done: Set) -> list[str]:
    """Say which automatics stay on because nobody described them."""
    names = [c.name for c in done.seen.controls if c.state is Agreement.AUTOMATIC]
    if not names:
        return []
    are = "is on and not described" if len(names) == 1 else "are on and not described"
    text = f"{listed(names)} {are}: describe {'it' if len(names) == 1 else 'them'} as off. "
    text += "Until then `seen` notes no day."
    return ["", *paragraph(text)]


def _steps(done: Set, where: str) -> list[str]:
    wrong = [step for step in done.steps if not step.is_right]
    changed = sum(step.outcome is not SetResult.AS_IT_WAS for step in done.steps)
    if not wrong:
        set_now = f"{amount(changed, 'control')} set"
        return paragraph(f"C{where[1:]}: {set_now}, all {len(done.steps)} read back as described.")
    lines = paragraph(
        f"C{where[1:]}: {len(wrong)} of {len(done.steps)} controls are not as described."
    )
    rows: list[tuple[str, ...]] = [("control", "before", "wanted", "reads", "")]
    rows += [_step_row(step) for step in wrong]
    lines += ["", *verdicts(rows)]
    left = [step.name for step in done.steps if step.is_right and step.outcome is SetResult.SET]
    stays = f"Set and left so: {', '.join(left)}." if left else "Nothing else was set."
    return [*lines, "", *paragraph(stays)]


def _step_row(step: Step) -> tuple[str, ...]:
    reason = f": {step.reason}" if step.reason else ""
    return (
        step.name,
        shown(step.name, step.before),
        shown(step.name, step.wanted),
        shown(step.name, step.reads),
        f"{step.outcome.value}{reason}",
    )


def set_data(done: Set) -> dict[str, Any]:
    """Return what would be set, or came of it, as JSON data."""
    return {
        "camera": done.camera,
        "device": done.report.source,
        "as_described": done.is_right,
        "open_in": list(done.holders),
        "others_hidden": done.unseen,
        "to_set": [{"control": name, "value": value} for name, value in done.wanted.items()],
        "steps": [
            {
                "control": step.name,
                "before": step.before,
                "wanted": step.wanted,
                "reads": step.reads,
                "outcome": step.outcome.value,
                "reason": step.reason or None,
            }
            for step in done.steps
        ],
        "caution": SET_CAUTION,
    }
