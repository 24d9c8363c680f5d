"""Accepting today's findings until a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.commands.lint import LintedShop, chosen_rules, lint_state
from jobcheck.findings import CallRefused, Finding
from jobcheck.rules.acceptances import LONGEST_DAYS
from jobcheck.rules.registry import BY_NAME, RULES
from jobcheck.shop.paths import show
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.edits.proposals import Proposal, propose
from jobcheck.sources.state.state import folder_state


class Accepted(NamedTuple):
    """The findings that are accepted, and the edits that write it."""

    linted: LintedShop
    findings: tuple[Finding, ...]
    proposal: Proposal


def accept(
    root: FilePath,
    rules: Sequence[str],
    today: date,
    *,
    everything: bool,
    until: date,
    because: str,
    write: bool,
) -> Accepted:
    """Accept today's open findings of some rules (or of all) in shop.yaml.

    Raises:
        CallRefused: no rule is named, a rule does not exist or cannot be accepted, the end is
            past or more than a year ahead, no reason is given, or the file cannot be written.
    """
    if everything == bool(rules):
        raise CallRefused("Name the rules whose findings are accepted, or --all.")
    if until < today:
        raise CallRefused(f"--until {until.isoformat()} is in the past.")
    latest = today + timedelta(days=LONGEST_DAYS)
    if until > latest:
        raise CallRefused(f"--until can be {latest.isoformat()} at the latest, a year ahead.")
    if not because.strip():
        raise CallRefused("Say why these findings are accepted: --because TEXT.")
    for rule in chosen_rules(rules, ()) if rules else ():
        if rule.is_binding:
            raise CallRefused(f"{rule.name} cannot be accepted: correct it, or keep it on purpose.")
    linted = lint_state(root, folder_state(root), RULES, today)
    wanted = tuple(
        finding
        for finding in linted.open
        if finding.path
        and finding.rule in BY_NAME
        and not BY_NAME[finding.rule].is_binding
        and (everything or finding.rule in rules)
    )
    until_text = until.isoformat()
    edits = [
        Edit(
            ("shop", "accepted", finding.rule, show(finding.path)),
            {"because": because, "until": until_text},
        )
        for finding in wanted
    ]
    return Accepted(linted, wanted, propose(root, linted.reading, edits, write=write))
