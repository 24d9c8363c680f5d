"""Running rules over a shop: a finding that another one covers goes, the rest get their places."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from jobcheck.findings import Finding, Level, Related, Unchecked
from jobcheck.rules.acceptances import Acceptances
from jobcheck.rules.base import Inspection, Reported, Rule
from jobcheck.rules.registry import BY_NAME
from jobcheck.schema.limits import Loosened
from jobcheck.shop.paths import Path
from jobcheck.shop.places import Place
from jobcheck.shop.shop import Shop

PlaceOf = Callable[[Path], Place]
"""Where the value at a path is."""


class Disabled(NamedTuple):
    """A rule that the shop disables: the reason, and the check that it would make."""

    rule: str
    because: str
    not_checked: str


@dataclass(frozen=True)
class Outcome:
    """The result of a lint: findings in their order, those that are accepted marked so.

    `disabled` are rules that the shop switches off, `loosened` limits that let more pass than
    their default.
    """

    findings: tuple[Finding, ...]
    not_checked: tuple[Unchecked, ...]
    disabled: tuple[Disabled, ...] = ()
    loosened: tuple[Loosened, ...] = ()

    @property
    def open(self) -> tuple[Finding, ...]:
        """Findings that nobody has accepted."""
        return tuple(finding for finding in self.findings if not finding.accepted)

    @property
    def accepted(self) -> tuple[Finding, ...]:
        """Findings that are lived with."""
        return tuple(finding for finding in self.findings if finding.accepted)

    def counted(self, level: Level) -> int:
        """Count the open findings of a level."""
        return sum(finding.level is level for finding in self.open)


def run_rules(inspection: Inspection, rules: Sequence[Rule], place_of: PlaceOf) -> Outcome:
    """Run rules over a shop; rules that the shop disables do not run, save those that bind."""
    root = inspection.shop.root
    disabled = [rule for rule in rules if rule.name in root.disabled and not rule.is_binding]
    enabled = [rule for rule in rules if rule not in disabled]
    first = [rule for rule in enabled if not rule.is_upkeep]
    upkeep = [rule for rule in enabled if rule.is_upkeep]
    not_checked: list[Unchecked] = []
    found = _reported(first, inspection, not_checked)
    seen = replace(
        inspection,
        reported=tuple(found),
        rules_run=frozenset(rule.name for rule in first),
        rules_known=BY_NAME,
    )
    reported = _causes_only(found) + _reported(upkeep, seen, not_checked)
    good = inspection.good if reported else None
    acceptances = Acceptances(root)
    placed = {_placed(entry, inspection, good, place_of, acceptances) for entry in reported}
    return Outcome(
        tuple(sorted(placed, key=lambda finding: finding.order)),
        tuple(not_checked),
        tuple(Disabled(rule.name, root.disabled[rule.name], rule.summary) for rule in disabled),
        root.limits.loosened(),
    )


def _reported(
    rules: Iterable[Rule], inspection: Inspection, not_checked: list[Unchecked]
) -> list[Reported]:
    """Run rules: return their reports, and add to a list the checks that lacked a value."""
    found: list[Reported] = []
    for rule in rules:
        for said in rule(inspection):
            if isinstance(said, Unchecked):
                not_checked.append(said._replace(rule=rule.name))
            else:
                found.append(Reported(rule, said))
    return found


def _causes_only(reported: list[Reported]) -> list[Reported]:
    """Leave out findings that follow from another one: one cause is one finding."""
    following = {named for entry in reported for named in entry.problem.suppresses}
    if not following:
        return reported
    return [entry for entry in reported if not _is_among(entry, following)]


def _is_among(entry: Reported, following: set[tuple[str, Path]]) -> bool:
    path = entry.problem.path
    return any((entry.rule.name, path[:end]) in following for end in range(len(path) + 1))


def _placed(
    entry: Reported,
    inspection: Inspection,
    good: Shop | None,
    place_of: PlaceOf,
    acceptances: Acceptances,
) -> Finding:
    problem = entry.problem
    return Finding(
        rule=entry.rule.name,
        level=entry.level,
        place=place_of(problem.path),
        path=problem.path,
        message=problem.message,
        consequence=problem.consequence,
        remedy=problem.remedy,
        observed=problem.observed,
        expected=problem.expected or _good_value(problem.path, inspection.shop, good),
        related=tuple(Related(place_of(path), path) for path in problem.related),
        # One that ran out still holds: the calendar alone never brings an error.
        accepted=not entry.rule.is_binding
        and bool(acceptances.covering(entry.rule.name, problem.path)),
        is_loss=problem.is_loss,
    )


def _good_value(path: Path, shop: Shop, good: Shop | None) -> str:
    """Return the known-good value at a path where it is another one than now."""
    if good is None:
        return ""
    recorded = good.plain_at(path)
    if recorded is None or isinstance(recorded, (dict, list)) or recorded == shop.plain_at(path):
        return ""
    return str(recorded).lower() if isinstance(recorded, bool) else str(recorded)
