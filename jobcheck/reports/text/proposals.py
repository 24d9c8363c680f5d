"""Previews of edits, line by line, and reports of what was written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from jobcheck.commands.accept import Accepted
from jobcheck.commands.restore import Restored
from jobcheck.commands.retuned import Retuned
from jobcheck.findings import Command, command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.changes import record_title
from jobcheck.reports.text.layout import WIDTH, amount, paragraph, proposed, titled
from jobcheck.shop.paths import Path, show
from jobcheck.sources.edits.proposals import Proposal
from jobcheck.sources.edits.replacing import LineEdit
from jobcheck.wording import listed

CAMERA_CAUTION = (
    "This changed the description, not the camera. Set these controls in the controller, then "
    "look at one part over camera {camera} before you run."
)
MOTION_CAUTION = (
    "This changed the description, not the machine. Make the first move to this place slowly, "
    "with the vacuum off and your hand at the stop."
)
STAMP_CAUTION = "Stamped on your word."


def preview(proposal: Proposal, call: Call) -> list[str]:
    """Show each edit as its line: `line 28  gain: 3  becomes  gain: 4`."""
    lines: list[str] = []
    file = None
    for edit in proposal.edited.lines:
        if edit.file != file:
            file = edit.file
            lines += ["", call.path(proposal.root / file)]
        lines += _edit(edit)
    for note in proposal.edited.notes:
        lines += ["", *titled("note", "Note:", note)]
    return lines


def _edit(edit: LineEdit) -> list[str]:
    where = "  file" if edit.is_whole else f"  {'line' if edit.before else 'after'} {edit.line}"
    before = edit.before.split("\n") if edit.before else ["(missing)"]
    after = edit.after.split("\n") if edit.after else ["(nothing)"]
    head = f"{where:<13}"
    if len(before) == 1 and len(after) == 1:
        line = f"{head}{before[0]:<28}  becomes  {after[0]}"
        if len(line) <= WIDTH:
            return [line]
    inner = " " * len(head)
    shown = [f"{head}{before[0]}", *(inner + line for line in before[1:])]
    shown += [f"{inner}becomes", *(f"{inner}{line}".rstrip() for line in after)]
    return [part for line in shown for part in _wrapped(line, inner + "  ")]


def _wrapped(line: str, indent: str) -> list[str]:
    """Break a line of a file that is too wide for the screen; where it breaks it is indented."""
    return [line] if len(line) <= WIDTH else paragraph(line, indent, "")


def _files(proposal: Proposal) -> str:
    return amount(len(proposal.edited.files), "file")


def source_title(restored: Restored) -> str:
    """Name the state that a restore is from: `record 1, bridged`."""
    if restored.record:
        return record_title(restored.record).split(" (")[0]
    return f"the state {restored.source.state.label}"


def restored_text(restored: Restored, call: Call, quiet: bool) -> list[str]:
    """Report what a restore would put back or put back, and what it leaves."""
    proposal = restored.proposal
    title = source_title(restored)
    names = " ".join(map(show, restored.selected))
    words = [show(path) for path in restored.selected]
    if not proposal.edited.files:
        says = "agrees with" if not restored.left else "has nothing to put back from"
        lines = paragraph(f"{names} {says} {title}.")
        lines += left_text(restored)
        return [*lines, *_controller(restored, call)]
    if not proposal.written:
        lines = paragraph(f"Preview from {title}. Nothing has been written.")
        lines += [*preview(proposal, call), ""]
        lines += paragraph(_untouched(restored))
        lines += left_text(restored)
        source = () if restored.is_last else ("--from", restored.source.state.label)
        lines += to_write(command("restore", *words, *source), call)
        return [*lines, *_controller(restored, call)]
    written = ", ".join(call.path(proposal.root / name) for name in proposal.edited.files)
    lines = paragraph(f"Written and read back: {written}, {amount(proposal.values, 'value')}.")
    done = "What was selected is" if not restored.left else "What was put back is"
    lines += paragraph(f"{done} as in {title}. Every other byte is unchanged.")
    lines += left_text(restored)
    if not quiet:
        for caution in cautions(restored):
            lines += ["", *paragraph(caution)]
    lines += _controller(restored, call)
    if not quiet and not restored.controller_differs:
        lines += after_restore(restored, call) or proposed("Next", call.typed(command("diff")))
    return lines


def after_restore(restored: Restored, call: Call) -> list[str]:
    """Propose to set the cameras that were put back and are connected."""
    if not restored.plugged_in:
        return []
    return proposed("Next", *(call.typed(command("set", name)) for name in restored.plugged_in))


def _controller(restored: Restored, call: Call) -> list[str]:
    """Say that the controller's files are not as restored, with the command for both sides."""
    differing = len(restored.controller_differs)
    if not differing:
        return []
    source = () if restored.is_last else ("--from", restored.source.state.label)
    words = map(show, restored.selected)
    both = command("restore", *words, *source, "--deliver")
    text = f"The controller's files still differ in {amount(differing, 'value')}. For both sides:"
    return ["", *paragraph(text), f"  {call.typed(both)}"]


def to_write(asked: Command, call: Call) -> list[str]:
    """Propose a previewed command with `--write`."""
    return proposed("To write it", call.typed(asked.adding("--write")))


def _untouched(restored: Restored) -> str:
    values = amount(restored.proposal.values, "value")
    others = len(restored.elsewhere)
    stay = f"; {amount(others, 'change')} elsewhere {'stays' if others == 1 else 'stay'} too."
    return (
        f"{values} in {_files(restored.proposal)}. Every other byte stays{stay if others else '.'}"
    )


def cautions(restored: Restored) -> list[str]:
    """Return what must be said beside a restore."""
    cameras = sorted(
        {path[1] for path in restored.put_back if path[:1] == ("cameras",) and path[1:]}
    )
    found = [CAMERA_CAUTION.format(camera=listed(cameras))] if cameras else []
    return [*found, MOTION_CAUTION] if restored.is_motion else found


def left_text(restored: Restored) -> list[str]:
    """Say which selected values stay as they are, and why; and why the source is withdrawn."""
    lines: list[str] = []
    title = source_title(restored)
    if restored.record and (gone := restored.record.withdrawal):
        text = f"{title[0].upper()}{title[1:]} was withdrawn on {gone.date}: {gone.because}"
        lines += ["", *paragraph(text)]
    for reason in restored.stays:
        lines += ["", *paragraph(f"{reason}.")]
    if restored.left:
        names = listed([show(edit.path) for edit in restored.left], 5)
        text = (
            f"{title[0].upper()}{title[1:]} has other values of {names}; they are left as they "
            "are. Measurements and new entries go back only if they are named, counts never."
        )
        lines += ["", *paragraph(text)]
    if restored.elsewhere and (restored.proposal.written or not restored.proposal.edited.files):
        lines += ["", f"Left as they are: {amount(len(restored.elsewhere), 'change')} elsewhere."]
    return lines


def restored_data(restored: Restored) -> dict[str, Any]:
    """Return a restore as JSON data."""
    return {
        "from": restored.source.state.label,
        "selected": [show(path) for path in restored.selected],
        **proposal_data(restored.proposal),
        "put_back": [show(path) for path in restored.put_back],
        "left": [show(edit.path) for edit in restored.left],
        "elsewhere": len(restored.elsewhere),
        "stays": list(restored.stays),
        "caution": " ".join(cautions(restored)) or None,
    }


def proposal_data(proposal: Proposal) -> dict[str, Any]:
    """Return edits as JSON data."""
    return {
        "written": proposal.written,
        "files": list(proposal.edited.files),
        "lines": [
            {
                "file": line.file,
                "line": line.line,
                "path": show(line.path),
                "before": line.before or None,
                "after": line.after or None,
            }
            for line in proposal.edited.lines
        ],
        "notes": list(proposal.edited.notes),
    }


def written_or_shown(
    proposal: Proposal, call: Call, asked: Command, caution: str = "", quiet: bool = False
) -> list[str]:
    """Report a proposal of a command that only adds or stamps."""
    if not proposal.written:
        lines = ["Preview. Nothing has been written.", *preview(proposal, call)]
        return [*lines, *to_write(asked, call)]
    written = ", ".join(call.path(proposal.root / name) for name in proposal.edited.files)
    lines = paragraph(f"Written and read back: {written}, {amount(proposal.values, 'value')}.")
    return [*lines, *(["", caution] if caution and not quiet else [])]


def retuned_text(retuned: Retuned, call: Call, words: Sequence[str], quiet: bool) -> list[str]:
    """Report which recognitions are stamped."""
    if not retuned.stamped:
        if not retuned.names:
            return ["No recognition uses it."]
        number = amount(len(retuned.names), "recognition")
        return paragraph(f"{number} already stamped with the present settings.")
    asked = command("retuned", *words)
    lines = written_or_shown(retuned.proposal, call, asked, STAMP_CAUTION, quiet)
    return [*_stamped_over(retuned, call), *lines]


def _stamped_over(retuned: Retuned, call: Call) -> list[str]:
    """Say which settings the cameras have lost: a stamp would take the rest for the tuning."""
    if not retuned.lost:
        return []
    number = amount(len(retuned.lost), "camera setting")
    verb = "is" if len(retuned.lost) == 1 else "are"
    names = listed([show(path) for path in retuned.lost], 4)
    cameras = dict.fromkeys(show(path[:2]) for path in retuned.lost)
    return [
        *paragraph(f"{number} {verb} lost since {retuned.record}: {names}."),
        "If that is not meant, put them back:",
        f"  {call.typed(command('restore', *cameras))}",
        "If it is meant, the stamp is of the settings as they are now.",
        "",
    ]


def accepted_text(accepted: Accepted, call: Call, asked: Command, quiet: bool) -> list[str]:
    """Report which findings are accepted."""
    if not accepted.findings:
        return ["No finding to accept."]
    names: dict[str, list[Path]] = {}
    for finding in accepted.findings:
        names.setdefault(finding.rule, []).append(finding.path)
    lines = []
    for rule, paths in names.items():
        lines += paragraph(f"{rule}: {', '.join(map(show, paths))}", "  ", "")
    return [*lines, "", *written_or_shown(accepted.proposal, call, asked, "", quiet)]
