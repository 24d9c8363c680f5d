"""Findings as people read them."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from jobcheck.commands.lint import LintedShop
from jobcheck.findings import Finding, Level, Remedy
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import WIDTH, amount, labelled, paragraph, visible
from jobcheck.rules.registry import RULES
from jobcheck.rules.shop.record import camera_settings_lost
from jobcheck.shop.paths import Path, show
from jobcheck.shop.places import Place
from jobcheck.sources.state.state import RECORDS

_LEVEL_WORD = {Level.ERROR: "Error", Level.WARNING: "Warning", Level.NOTE: "Note"}


def lint_text(shops: Sequence[LintedShop], call: Call, *, staged: bool, quiet: bool) -> list[str]:
    """Report linted shops: each with what was checked, its findings by file, and a count."""
    lines: list[str] = []
    for shop in shops:
        if lines:
            lines.append("")
        lines += _shop(shop, call, staged=staged, quiet=quiet)
    return lines


def _shop(shop: LintedShop, call: Call, *, staged: bool, quiet: bool) -> list[str]:
    here = call.about(shop.root)
    lines = [] if quiet and not staged else _head(shop, here, staged)
    file = None
    for finding in shop.open:
        if finding.place.file != file:
            file = finding.place.file
            lines += [
                "",
                place_name(shop, finding.place, here).rpartition(":")[0].rpartition(":")[0],
            ]
        lines += ["", *finding_text(finding, shop, here)]
    if quiet:
        return lines[1:] if lines[:1] == [""] else lines
    lines += ["", *_tail(shop)] if shop.findings else ["No findings."]
    lines += _next(shop, here, staged=staged)
    return lines


def _head(shop: LintedShop, call: Call, staged: bool) -> list[str]:
    checked = (
        "as staged" if staged and shop.reading.state.label == "staged" else "whole shop checked"
    )
    files = amount(len(shop.reading.files), "file")
    what = f"{checked}: {files}" if checked == "as staged" else f"{checked}, {files}"
    lead = ", " if checked == "as staged" else ": "
    head = f"{shop.reading.state.name}{lead}{what}, {amount(shop.placements, 'placement')}."
    lines = paragraph(head)
    if shop.rules_asked < len(RULES):
        lines.append(f"Only {shop.rules_asked} of {len(RULES)} rules ran.")
    if shop.known_good.title and shop.open:
        lines += paragraph(f"Known-good values are those of {shop.known_good.title}.")
    elif not shop.known_good.title:
        none = "every known-good record is withdrawn"
        none = none if shop.known_good.is_withdrawn else "no known-good record yet"
        text = f"Note: {none}, so nothing can be called lost. When the machine works as described: "
        lines += paragraph(f"{text}{call.command('keep --label TEXT')}")
    return lines


def finding_text(finding: Finding, shop: LintedShop, call: Call) -> list[str]:
    """Report one finding: what is wrong, where, now, known-good, consequence and remedy."""
    lines = paragraph(f"{_LEVEL_WORD[finding.level]}: {finding.message}", "  ", "")
    lines += _at(place_name(shop, finding.place, call), finding.path, f"[{finding.rule}]", "at")
    for place, path in finding.related:
        lines += _at(place_name(shop, place, call), path, "", "")
    values = {"now": finding.observed, "good": finding.expected, "so": finding.consequence}
    for label, text in values.items():
        lines += labelled(label, text) if text else []
    return [*lines, *remedy_lines(finding.remedy, call)]


def remedy_lines(remedy: Remedy, call: Call) -> list[str]:
    """Write a remedy: sentences wrapped, each command whole and alone on its line."""
    lines: list[str] = []
    for step in remedy:
        label = "" if lines else "do"
        if isinstance(step, str):
            lines += labelled(label, step)
        else:
            lines.append(f"  {label:<6}{call.typed(step)}")
    return lines


def place_name(shop: LintedShop, place: Place, call: Call) -> str:
    """Return `file:line:column` with the file as it is found from the user's folder."""
    return f"{call.path(shop.root / place.file)}:{place.line}:{place.column}"


def _at(place: str, path: Path, rule: str, label: str) -> list[str]:
    head = f"  {label:<6}{place}"
    rest = "  ".join(filter(None, [show(path), rule]))
    if len(head) + 2 + len(rest) <= WIDTH or not rest:
        return [f"{head}  {rest}".rstrip()]
    return [head, *paragraph(rest, " " * 8)]


def _tail(shop: LintedShop) -> list[str]:
    counts = [amount(shop.counted(level), level.value) for level in Level]
    line = ", ".join(counts) + "."
    lines = [line[0].upper() + line[1:]]
    accepted = sorted({finding.rule for finding in shop.accepted})
    if accepted:
        verb = "is" if len(shop.accepted) == 1 else "are"
        text = f"{amount(len(shop.accepted), 'finding')} {verb} accepted: {', '.join(accepted)}."
        lines += paragraph(text)
    return lines


def _next(shop: LintedShop, call: Call, *, staged: bool) -> list[str]:
    lost = [finding for finding in shop.open if finding.rule == camera_settings_lost.name]
    cameras = list(dict.fromkeys(show(finding.path[:2]) for finding in lost))
    if not lost:
        return []
    if not staged:
        return [f"Next: {call.command(f'restore {cameras[0]}')}"]
    files = dict.fromkeys(
        shlex.quote(call.path(shop.root / finding.place.file)) for finding in lost
    )
    purposes = " ".join(f"--on-purpose {camera}" for camera in cameras)
    restore = call.command(f"restore {' '.join(cameras)}")
    keep = call.command("keep")
    return [
        f"Not meant:  {restore} --write",
        f"            git add {' '.join(files)}, and commit again",
        "Meant:      retune and rehearse, then",
        f"            {keep} --label TEXT {purposes}",
        f"            git add {shlex.quote(call.path(shop.root / RECORDS))}, and commit again",
    ]


def lines_text(shops: Sequence[LintedShop], call: Call) -> list[str]:
    """Report findings in the GNU error form: `path:line:column: level: message [rule]`."""
    return [
        visible(
            f"{place_name(shop, finding.place, call)}: {finding.level.value}: "
            f"{finding.message} [{finding.rule}]"
        )
        for shop in shops
        for finding in shop.open
    ]
