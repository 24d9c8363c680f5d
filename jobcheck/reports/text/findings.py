"""Findings as people read them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from jobcheck.commands.lint import LintedShop
from jobcheck.findings import Finding, Level, Remedy, Unchecked, command
from jobcheck.reports.calls import Call
from jobcheck.reports.text.layout import (
    WIDTH,
    amount,
    labelled,
    paragraph,
    proposed,
    titled,
    visible,
)
from jobcheck.shop.paths import Path, show
from jobcheck.shop.places import Place
from jobcheck.wording import count, listed, number

_LEVEL_WORD = {Level.ERROR: "Error", Level.WARNING: "Warning", Level.NOTE: "Note"}


def lint_text(
    shops: Sequence[LintedShop],
    call: Call,
    *,
    staged: bool = False,
    quiet: bool = False,
    unchecked: bool = False,
) -> list[str]:
    """Report linted shops: each with its extent, its findings by file, and what is not checked.

    `staged` is for the hook, which keeps to one line at the end; `unchecked` lists each value that
    would enable a check.
    """
    lines: list[str] = []
    for shop in shops:
        here = call.about(shop.root)
        lines += [""] if lines else []
        head = [] if quiet and not staged else _head(shop, here)
        found = [*head, *_found(shop, here)]
        if not quiet:
            found += _tail(shop, here, staged=staged, unchecked=unchecked)
            found += [] if staged else _next(shop, here)
        lines += found[1:] if found[:1] == [""] else found
    return lines


def _found(shop: LintedShop, call: Call) -> Iterator[str]:
    file = None
    for finding in shop.open:
        if finding.place.file != file:
            file = finding.place.file
            yield from ("", call.path(shop.root / file))
        yield from ("", *finding_text(finding, shop, call))


def _head(shop: LintedShop, call: Call) -> list[str]:
    files, placed = amount(len(shop.reading.files), "file"), amount(shop.placements, "placement")
    is_staged = shop.reading.state.label == "staged"
    extent = f", as staged: {files}" if is_staged else f": whole shop checked, {files}"
    lines = paragraph(f"{shop.reading.state.name}{extent}, {placed}.")
    if shop.rules_asked < shop.rules_known:
        lines.append(f"Only {shop.rules_asked} of {shop.rules_known} rules ran.")
    if shop.known_good.title and shop.open:
        lines += paragraph(f"Known-good values are from {shop.known_good.title}.")
    elif not shop.known_good.title:
        none = "every known-good record is withdrawn"
        none = none if shop.known_good.is_withdrawn else "there is no known-good record yet"
        text = f"{none}, so nothing can be called lost. When the machine works as described:"
        keep = call.typed(command("keep", "--label", "TEXT"))
        lines += [*titled("note", "Note:", text), f"  {keep}"]
    return lines


def finding_text(finding: Finding, shop: LintedShop, call: Call) -> list[str]:
    """Report one finding: the fault, its place, the values, the consequence and the remedy."""
    word = f"{_LEVEL_WORD[finding.level]}:"
    lines = titled(finding.level.value, word, finding.message)
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
            lines += labelled(label, call.typed(step), is_whole=True)
    return lines


def place_name(shop: LintedShop, place: Place, call: Call) -> str:
    """Return `file:line:column` with the file as it is found from the user's folder."""
    return f"{call.path(shop.root / place.file)}:{place.line}:{place.column}"


def _at(place: str, path: Path, rule: str, label: str) -> list[str]:
    rest = "  ".join(filter(None, [show(path), rule]))
    if 10 + len(place) + len(rest) <= WIDTH or not rest:
        return labelled(label, f"{place}  {rest}".rstrip(), is_whole=True)
    return [*labelled(label, place, is_whole=True), *paragraph(rest, " " * 8)]


# the end of a lint


def _tail(shop: LintedShop, call: Call, *, staged: bool, unchecked: bool) -> list[str]:
    line = ", ".join(amount(shop.counted(level), level.value) for level in Level) + "."
    line = line[0].upper() + line[1:] if shop.findings else "No findings."
    if staged and shop.not_checked:
        line += f" Not checked: {unchecked_count(shop)}."
    lines = ["", *paragraph(line)] if shop.findings or staged else [line]
    lines += _switched_off(shop)
    for one in shop.not_checked if staged else ():
        if one.enabled_by == "--controller":
            lines += paragraph(f"Not checked: {one.concerns}: {one.cause}.", "  ", "")
    if shop.not_checked and not staged:
        lines += ["", "Not checked:", *_not_checked(shop, call, is_each=unchecked)]
    return lines


def _switched_off(shop: LintedShop) -> list[str]:
    """Name what the shop accepts, disables and lets pass."""
    lines: list[str] = []
    for until, rules in shop.accepted_until.items():
        verb = "is" if len(rules) == 1 else "are"
        end = f"until {until.isoformat()}" if until else "without an end"
        names = listed(sorted(set(rules)))
        lines += paragraph(f"{count(len(rules), 'finding')} {verb} accepted {end}: {names}.")
    for rule in shop.disabled:
        lines += paragraph(
            f"Disabled: {rule.rule}. Not checked by it: {rule.not_checked}", "  ", ""
        )
    for limit in shop.loosened:
        lines += paragraph(
            f"Wider limit: limits.{limit.limit} is {number(limit.value)}, its default is "
            f"{number(limit.default)}."
        )
    return lines + removed_text(shop.known_good.removed)


def removed_text(gaps: Sequence[tuple[int, int]]) -> list[str]:
    """Name the records that were there once, in one line; nothing where none is missing."""
    names = [
        f"record {first}" if first == last else f"records {first} to {last}" for first, last in gaps
    ]
    return paragraph(f"Removed, so not compared: {listed(names)}.") if names else []


def unchecked_count(shop: LintedShop) -> str:
    """Count what was not checked: `4 causes, 31 values`."""
    causes = len({one.cause for one in shop.not_checked})
    values = sum(one.amount for one in shop.not_checked)
    return f"{count(causes, 'cause')}, {count(values, 'value')}"


def _not_checked(shop: LintedShop, call: Call, *, is_each: bool) -> list[str]:
    """List what was not checked by its cause; with `is_each` every value that would enable it."""
    by_cause: dict[str, list[Unchecked]] = {}
    for one in shop.not_checked:
        by_cause.setdefault(one.cause, []).append(one)
    lines: list[str] = []
    for cause, found in by_cause.items():
        concerns = "; ".join(dict.fromkeys(one.concerns for one in found))
        lines += paragraph(f"{concerns}: {cause}", "    ", "  ")
        if is_each:
            rules = ", ".join(dict.fromkeys(one.rule for one in found))
            lines += paragraph(f"write {found[0].enabled_by}  [{rules}]", "      ", "    ")
            for path in dict.fromkeys(path for one in found for path in one.paths):
                place = place_name(shop, shop.reading.places.of(path), call)
                lines += paragraph(f"{place}  {show(path)}", "        ", "      ")
    return lines


def _next(shop: LintedShop, call: Call) -> list[str]:
    return proposed("Next", call.typed(shop.put_back[0])) if shop.put_back else []


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
