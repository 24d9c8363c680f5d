"""What `jobcheck keep`, `history` and `withdraw` say."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import Any

from jobcheck.changes.change import Change
from jobcheck.commands.keep import Kept
from jobcheck.findings import Command, Finding, command
from jobcheck.known_good.record import About
from jobcheck.known_good.store import Record, RecordRefused, gaps
from jobcheck.reports.calls import Call
from jobcheck.reports.text.findings import finding_text, removed_text
from jobcheck.reports.text.layout import amount, columns, paragraph, proposed
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import MISSING
from jobcheck.wording import listed

NO_TRIAL = "Recorded on your word; no trial is attached."


def kept_text(kept: Kept, call: Call, quiet: bool, asked: Command) -> list[str]:
    """Report a record that was made, or the reasons against it; `asked` is the call to complete."""
    if kept.record:
        return _recorded(kept, kept.record, call, quiet)
    if kept.same_as:
        text = f"Nothing recorded: settings and measurements are those of {kept.same_as}."
        return paragraph(text)
    lines = ["Nothing recorded."]
    for finding in kept.errors:
        lines += ["", *finding_text(finding, kept.linted, call)]
    if kept.losses:
        lines += ["", *_losses(kept.losses, kept.linted.known_good.title, call, asked)]
    if kept.accepted:
        lines += ["", *_unsigned(kept.accepted, call, asked)]
    if kept.starter:
        lines += ["", *_invented(kept.starter)]
    return lines


def _invented(paths: Sequence[Path]) -> list[str]:
    """List the values that nobody has measured since `jobcheck new`, and the way out."""
    are = "value is" if len(paths) == 1 else "values are"
    lines = paragraph(f"{len(paths)} {are} invented by `jobcheck new` (starter):")
    lines += [f"  {show(path)}" for path in paths]
    text = "Measure each, write what you measured, and remove its mark from the derived beside it."
    return [*lines, *paragraph(text)]


def _unsigned(accepted: Sequence[Finding], call: Call, asked: Command) -> list[str]:
    """List accepted errors that nobody has named for this record."""
    rules = list(dict.fromkeys(finding.rule for finding in accepted))
    lines = paragraph(f"A record names each accepted error. Not named: {len(accepted)}")
    lines += columns([(finding.rule, show(finding.path)) for finding in accepted])
    words = [word for rule in rules for word in ("--accepted", rule)]
    keep = call.typed(asked.adding(*words))
    return [*lines, *proposed("To record them as accepted", keep)]


def _recorded(kept: Kept, record: Record, call: Call, quiet: bool) -> list[str]:
    shop = kept.linted.reading.state.name
    files = amount(len(record.about.sums), "file")
    lines = paragraph(f"{shop}: kept as {record.entry.title}: {files}.")
    lines += [line for text in _signed(record.about) for line in paragraph(f"{text}.")]
    if kept.gone:
        names = listed([show(change.path) for change in kept.gone], 5)
        lines += paragraph(f"Without what {kept.linted.known_good.title} had: {names}.")
    if kept.warnings:
        are = "warning is open" if len(kept.warnings) == 1 else "warnings are open"
        names = listed(list(dict.fromkeys(kept.warnings)), 5)
        lines += paragraph(f"{len(kept.warnings)} {are}: {names}.")
    if quiet:
        return lines
    # The whole folder: it has the file that makes git keep the bytes as they are.
    commit = Command(("add",), "git", (kept.linted.records_folder,))
    evidence = record.about.evidence
    names = listed([text.partition(" ")[0] for text in evidence], 4)
    lines += ["", *paragraph(f"Evidence: {names}." if evidence else NO_TRIAL)]
    return [*lines, *proposed("Next", call.typed(commit))]


def _losses(losses: Sequence[Change], title: str, call: Call, asked: Command) -> list[str]:
    cameras = list(dict.fromkeys(show(loss.path[:2]) for loss in losses))
    purposes = [word for camera in cameras for word in ("--on-purpose", camera)]
    lines = paragraph(
        f"{amount(len(losses), 'camera setting')} "
        f"{'has' if len(losses) == 1 else 'have'} been lost since {title}:"
    )
    lines += columns([(show(loss.path), f"was {_value(loss.old)}") for loss in losses])
    restore = call.typed(command("restore", *cameras))
    keep = call.typed(asked.adding(*purposes))
    lines += proposed("If that was not meant, put back what was lost", restore)
    return [*lines, *proposed("If it was meant, say so", keep)]


def _value(value: object) -> str:
    return "missing" if value is MISSING else "a block" if isinstance(value, dict) else str(value)


def _signed(about: About) -> list[str]:
    """Return what a person signed for, a text for each kind."""
    signed = {
        "Lost on purpose": about.on_purpose,
        "Accepted errors": about.accepted,
        "Stamped on your word": about.stamped,
        "Not checked": about.not_checked,
    }
    return [f"{what}: {listed(names, 8)}" for what, names in signed.items() if names]


def history_text(records: Sequence[Record | RecordRefused], name: str) -> list[str]:
    """List the records, the newest first: whole or damaged, with evidence and withdrawals."""
    lines = paragraph(_history_head(records, name))
    lines += removed_text(gaps(found.entry.number for found in records))
    for found in records:
        if isinstance(found, RecordRefused):
            number = found.entry.number or "-"
            lines += ["", f"  {number}  {found.entry.slug}"]
            lines += paragraph(f"damaged: {found.why}.", "     ", "     ")
            continue
        about = found.about
        evidence = listed([text.partition(" ")[0] for text in about.evidence], 4) or "none"
        lines += ["", f"  {found.entry.number}  {about.label}"]
        kept = f"kept {about.date.isoformat()}{_by(about)}, evidence {evidence}, {about.tool}"
        lines += paragraph(kept, "     ", "     ")
        if about.note:
            lines += paragraph(about.note, "     ", "     ")
        for text in _signed(about):
            lines += paragraph(text[0].lower() + text[1:], "     ", "     ")
        if found.withdrawal:
            gone = found.withdrawal
            text = f"withdrawn {gone.date.isoformat()}: {gone.because}"
            lines += paragraph(text, "     ", "     ")
    return lines


def _by(about: About) -> str:
    """Say who kept a record, and at which commit, where git knew."""
    by = f" by {about.author}" if about.author else ""
    return f"{by} at {about.commit[:7]}" if about.commit else by


def _history_head(records: Sequence[Record | RecordRefused], name: str) -> str:
    """Count the records, and name the one that is known-good."""
    damaged = sum(isinstance(found, RecordRefused) for found in records)
    counted = f"{name}: {amount(len(records), 'record')}"
    if not records:
        return f"{counted}."
    good = next((one for one in records if isinstance(one, Record) and not one.withdrawal), None)
    whole = f", {damaged} damaged" if damaged else ", all whole" if len(records) > 1 else ", whole"
    known = f"Known-good is {good.entry.title}" if good else "None is known-good"
    return f"{counted}{whole}. {known}."


def history_data(records: Sequence[Record | RecordRefused]) -> list[dict[str, Any]]:
    """Return the records as JSON data."""
    return [_data(found) for found in records]


def _data(found: Record | RecordRefused) -> dict[str, Any]:
    if isinstance(found, RecordRefused):
        return {
            "number": found.entry.number,
            "folder": found.entry.folder,
            "damaged": found.why,
        }
    about = found.about
    gone = found.withdrawal
    return {
        "number": found.entry.number,
        "label": about.label,
        "folder": found.entry.folder,
        "date": about.date.isoformat(),
        "note": about.note,
        "author": about.author,
        "commit": about.commit,
        "tool": about.tool,
        "evidence": about.evidence,
        "on_purpose": about.on_purpose,
        "accepted": about.accepted,
        "stamped": about.stamped,
        "not_checked": about.not_checked,
        "files": about.sums,
        "withdrawn": {"date": gone.date.isoformat(), "because": gone.because} if gone else None,
    }


def withdrawn_text(record: Record, root: FilePath, call: Call) -> list[str]:
    """Report that a record was withdrawn."""
    lines = paragraph(f"{record.entry.title[0].upper()}{record.entry.title[1:]}, is withdrawn.")
    stage = Command(("add",), "git", (root / record.entry.folder,))
    return [*lines, "Nothing was deleted.", *proposed("Next", call.typed(stage))]
