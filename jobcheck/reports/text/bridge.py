"""Reports of gathering, finding and delivering."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from jobcheck.changes.selections import selections_of
from jobcheck.commands.deliver import DeliveredShop
from jobcheck.commands.find import Found
from jobcheck.commands.gather import Gathered
from jobcheck.commands.restore import Restored
from jobcheck.findings import Command, command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import WIDTH, amount, paragraph, proposed, titled
from jobcheck.reports.text.proposals import (
    after_restore,
    left_text,
    preview,
    proposal_data,
    source_title,
    to_write,
)
from jobcheck.reports.text.sides import columns, said
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import MISSING
from jobcheck.sources.bridge.delivering import Delivery
from jobcheck.sources.bridge.gathering import Difference
from jobcheck.wording import listed

DELIVER_CAUTION = (
    "Stop the job and close the controller first. Afterwards home the machine and make the first "
    "move slowly."
)
"""Said with every `deliver --write`, also with --quiet."""

BOTH_CAUTION = "This changed the description and the controller's file, not the camera."


def gathered_text(gathered: Gathered, call: Call, asked: Command, quiet: bool) -> list[str]:
    """Report what gathering changes in the description, and what was lost."""
    files = amount(len(gathered.bridged.mapped.sources), "file")
    lines: list[str] = []
    proposal = gathered.proposal
    if not gathered.differing:
        lines = paragraph(f"The description agrees with the controller's {files}.")
    elif not proposal.written:
        lines = paragraph(f"Preview from the controller's {files}. Nothing has been written.")
        lines += preview(proposal, call)
    else:
        written = ", ".join(call.path(proposal.root / name) for name in proposal.edited.files)
        values = amount(len(gathered.differing), "value")
        lines = paragraph(f"Written and read back: {written}, {values}.")
        lines += paragraph("Every other byte is unchanged.")
    lines += _lost(gathered) + _put_back(gathered, call)
    if gathered.idle and not quiet:
        lines += ["", *_idle(gathered)]
    return [*lines, *_gather_next(gathered, call, asked)]


def _lost(gathered: Gathered) -> list[str]:
    if not gathered.lost:
        return []
    lines = ["", f"Lost in the controller's files: {amount(len(gathered.lost), 'value')}", ""]
    for one in gathered.lost:
        lines += paragraph(
            f"{show(one.path)} was {_said(one.described)}: missing in {one.file}.",
            "    ",
            "  ",
        )
    return lines


def _put_back(gathered: Gathered, call: Call) -> list[str]:
    """Warn of recorded values that were put back and that the controller does not have yet."""
    if not gathered.put_back:
        return []
    names = listed([show(path) for path in gathered.put_back], 4)
    number = amount(len(gathered.put_back), "value")
    were = "was" if len(gathered.put_back) == 1 else "were"
    verb = "overwrote" if gathered.proposal.written else "overwrites"
    text = f"this {verb} {number} that {were} put back as recorded: {names}. To keep the record:"
    keep = command("restore", *selections_of(list(gathered.put_back)), "--deliver")
    return ["", *titled("warning", "Warning:", text), f"  {call.typed(keep)}"]


def _idle(gathered: Gathered) -> list[str]:
    names = listed([f"{show(target.path)} ({target.file})" for target in gathered.idle], 4)
    number = amount(len(gathered.idle), "address", "addresses")
    verb = "has" if len(gathered.idle) == 1 else "have"
    return titled("note", "Note:", f"{number} of the map {verb} no value: {names}.")


def _gather_next(gathered: Gathered, call: Call, asked: Command) -> list[str]:
    if not gathered.proposal.written:
        return to_write(asked, call) if gathered.differing else []
    return proposed("Next", call.typed(command("diff"))) if gathered.differing else []


def checked_text(gathered: Gathered, call: Call, asked: Command) -> list[str]:
    """Report the differences between the description and the controller's files."""
    if not gathered.differing:
        return paragraph("The description agrees with the controller's files.")
    values = amount(len(gathered.differing), "value")
    lines = [f"The description differs from the controller's files in {values}.", ""]
    places = gathered.bridged.mapped.places(
        [one.target for one in gathered.differing if one.target is not None]
    )
    for one in gathered.differing:
        place = places.get(one.path)
        where = str(place) if place else one.file
        lines += [
            f"  {show(one.path)}",
            f"    description  {_said(one.described)}",
            f"    controller   {_said(one.controller)}  {where}",
        ]
    return [*lines, *proposed("Next", call.typed(asked))]


def _said(value: Any) -> str:
    if value is MISSING:
        return "missing"
    return str(value).lower() if isinstance(value, bool) else str(value)


def gathered_data(gathered: Gathered) -> dict[str, Any]:
    """Return a gathering as JSON data."""
    return {
        "files": list(gathered.bridged.mapped.sources),
        "differing": [_difference_data(one) for one in gathered.differing],
        "idle": [show(target.path) for target in gathered.idle],
        **proposal_data(gathered.proposal),
    }


def _difference_data(one: Difference) -> dict[str, Any]:
    return {
        "path": show(one.path),
        "file": one.file,
        "described": None if one.described is MISSING else one.described,
        "controller": None if one.controller is MISSING else one.controller,
        "lost": one.is_lost,
    }


# looking up

_MOST_SHOWN = 40


def found_text(found: Found) -> list[str]:
    """Report where a value is, as entries of a map."""
    if not found.matches:
        return paragraph(
            f"{found.value} is not in {found.file} ({amount(found.others, 'value')} searched). The "
            "controller may use another unit, or the other sign."
        )
    number = amount(len(found.matches), "place")
    lines = [f"{found.value} is at {number} in {found.file} ({found.kind}):"]
    for match in found.matches[:_MOST_SHOWN]:
        lines += ["", f"  line {match.place.line}, column {match.place.column}: {_cut(match.text)}"]
        lines.append(f"    {match.entry}")
    if len(found.matches) > _MOST_SHOWN:
        lines += ["", f"  and {len(found.matches) - _MOST_SHOWN} more"]
    return lines


def _cut(text: str) -> str:
    return text if len(text) <= 50 else text[:47] + "..."


def found_data(found: Found) -> dict[str, Any]:
    """Return where a value is as JSON data."""
    return {
        "file": found.file,
        "kind": found.kind,
        "value": found.value,
        "places": [
            {
                "line": match.place.line,
                "column": match.place.column,
                "at": match.address,
                "split": {"by": match.by, "take": match.take} if match.by else None,
            }
            for match in found.matches
        ],
    }


# delivering


def delivered_text(
    delivered: DeliveredShop, call: Call, asked: Command, quiet: bool = False
) -> list[str]:
    """Report what a delivery would put or put into the controller's files."""
    names = " ".join(map(show, delivered.selected))
    deliveries = delivered.delivered.deliveries
    if delivered.refused:
        return _refused(delivered, call)
    if delivered.unmapped:
        return paragraph(f"{names}: the map has no address for it, so nothing is delivered.")
    if not deliveries:
        return [
            *paragraph(f"{names}: the controller's files agree with the description."),
            *_left(delivered),
        ]
    if not delivered.written:
        lines = paragraph("Preview for the controller's files. Nothing has been written.")
        lines += [*_preview(delivered, call), ""]
        values = amount(len(deliveries), "value")
        files = amount(len(delivered.delivered.files), "file")
        lines += paragraph(f"{values} in {files}. Every other byte stays.")
        lines += _notes(delivered) + _left(delivered)
        lines += ["", *paragraph(DELIVER_CAUTION)]
        return [*lines, *to_write(asked, call)]
    written = ", ".join(_file(delivered, name, call) for name in delivered.delivered.files)
    lines = paragraph(f"Written and read back: {written}, {amount(len(deliveries), 'value')}.")
    lines += ["Every other byte is unchanged."]
    lines += _copies(delivered, call)
    lines += _notes(delivered) + _left(delivered)
    lines += ["", *paragraph(DELIVER_CAUTION)]
    return lines


def both_sides_text(
    restored: Restored, delivered: DeliveredShop, call: Call, asked: Command, quiet: bool
) -> list[str]:
    """Report a restore of both sides: recorded, described and controller now, then the edits."""
    title, names = source_title(restored), " ".join(map(show, restored.selected))
    left = left_text(restored) + _left(delivered)
    files = {restored.proposal.root / name: 0 for name in restored.proposal.edited.files}
    for line in restored.proposal.edited.lines:
        files[restored.proposal.root / line.file] += 1
    for one in delivered.delivered.deliveries:
        file = delivered.bridged.folder / one.target.file
        files[file] = files.get(file, 0) + 1
    if not files:
        return [*paragraph(f"{names}: both sides agree with {title}."), *left]
    if not delivered.written:
        lines = paragraph(f"Preview from {title}. Nothing has been written.")
        lines += _three(restored, delivered)
        lines += [*preview(restored.proposal, call), *_preview(delivered, call), ""]
        values, number = amount(sum(files.values()), "value"), amount(len(files), "file")
        lines += paragraph(f"{values} in {number} get the recorded value. Every other byte stays.")
        lines += _notes(delivered) + left + ["", *paragraph(DELIVER_CAUTION)]
        return [*lines, *to_write(asked, call)]
    written = ", ".join(
        f"{call.path(file)} {amount(values, 'value')}" for file, values in files.items()
    )
    lines = paragraph(f"Written and read back: {written}.")
    what = "What was put back is" if left else "Both sides are"
    lines += paragraph(f"{what} as in {title}. Every other byte is unchanged.")
    lines += _copies(delivered, call) + _notes(delivered) + left
    cameras = list(dict.fromkeys(p[1] for p in _changed(restored, delivered) if p[0] == "cameras"))
    if cameras:
        lines += ["", *paragraph(BOTH_CAUTION)]
    lines += ["", *paragraph(DELIVER_CAUTION)]
    return lines if quiet else [*lines, *after_restore(restored, call)]


def _changed(restored: Restored, delivered: DeliveredShop) -> list[Path]:
    paths = (one.target.path for one in delivered.delivered.deliveries)
    return list(dict.fromkeys((*restored.touched, *paths)))


def _three(restored: Restored, delivered: DeliveredShop) -> list[str]:
    good, now = restored.source.shop, delivered.bridged.shop
    mapped = {target.path: target.value for target in delivered.bridged.mapped.targets}
    rows = [
        (
            path,
            said(path, good.plain_at(path) if good else None),
            said(path, now.plain_at(path)),
            said(path, mapped[path]) if path in mapped else "not in the map",
        )
        for path in _changed(restored, delivered)
    ]
    return columns(rows, ("recorded", "described", "controller now"))


def _copies(delivered: DeliveredShop, call: Call) -> list[str]:
    copies = ", ".join(call.path(delivered.bridged.root / copy) for copy in delivered.copies)
    return paragraph(f"As it was before: {copies}") if copies else []


def _refused(delivered: DeliveredShop, call: Call) -> list[str]:
    """Say which values are newer in the controller, and the two commands that decide."""
    refused = delivered.refused
    number = amount(len(refused), "selected value")
    since = f" since the gathering on {delivered.gathered}" if delivered.gathered else ""
    lines = paragraph(f"Nothing was written: {number} changed in the controller{since}.")
    rows = [
        (
            one.path,
            ("not gathered" if one.gathered is MISSING else said(one.path, one.gathered)),
            said(one.path, one.controller),
            said(one.path, one.described),
        )
        for one in refused
    ]
    lines += columns(rows, ("gathered", "controller now", "described"))
    words = selections_of([one.path for one in refused])
    lines += proposed("To take the controller's value", call.typed(command("gather", *words)))
    asked = command("deliver", *map(show, delivered.selected), "--overwrite")
    return [*lines, "To overwrite it with the described value", f"  {call.typed(asked)}"]


def _file(delivered: DeliveredShop, name: str, call: Call) -> str:
    return call.path(delivered.bridged.folder / name)


def _preview(delivered: DeliveredShop, call: Call) -> list[str]:
    lines: list[str] = []
    file = None
    for one in delivered.delivered.deliveries:
        if one.target.file != file:
            file = one.target.file
            lines += ["", _file(delivered, file, call)]
        lines += _edit(one)
    return lines


def _edit(one: Delivery) -> list[str]:
    head = f"  {f'line {one.place.line}':<11}"
    before = one.before.strip() or "(nothing)"
    line = f"{head}{show(one.target.path)}: {before}  becomes  {one.after.strip()}"
    if len(line) <= WIDTH:
        return [line]
    inner = " " * len(head)
    return [f"{head}{show(one.target.path)}", f"{inner}{before}  becomes  {one.after.strip()}"]


def _notes(delivered: DeliveredShop) -> list[str]:
    lines: list[str] = []
    for path, automatic in delivered.overridden:
        text = f"{show(automatic)} is on in the controller's file and overrides {path[-1]}."
        lines += ["", *titled("note", "Note:", text)]
    if delivered.unknown_holders:
        text = (
            "it is unknown whether another program holds the file open: this system does not show "
            "all programs."
        )
        lines += ["", *titled("note", "Note:", text)]
    return lines


def _left(delivered: DeliveredShop) -> list[str]:
    if not delivered.left:
        return []
    names = listed(list(map(show, delivered.left)), 5)
    text = (
        f"These differ and are left as they are in the controller's files: {names}. A measurement "
        "is delivered only if it is named, a count never."
    )
    return ["", *paragraph(text)]


def delivered_data(delivered: DeliveredShop) -> dict[str, Any]:
    """Return a delivery as JSON data."""
    return {
        "selected": _paths(delivered.selected),
        "written": delivered.written,
        "files": list(delivered.delivered.files),
        "values": [
            {
                "path": show(one.target.path),
                "file": one.target.file,
                "line": one.place.line,
                "before": one.before,
                "after": one.after,
            }
            for one in delivered.delivered.deliveries
        ],
        "left": _paths(delivered.left),
        "refused": [
            {
                "path": show(one.path),
                "gathered": None if one.gathered is MISSING else one.gathered,
                "controller": one.controller,
                "described": one.described,
            }
            for one in delivered.refused
        ],
        "copies": list(delivered.copies),
        "caution": DELIVER_CAUTION if delivered.delivered.deliveries else None,
    }


def _paths(paths: Sequence[Path]) -> list[str]:
    return [show(path) for path in paths]
