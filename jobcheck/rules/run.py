"""Running rules over a shop: what is told inside another finding goes, the rest gets its place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from jobcheck.findings import Finding, Level, Related, Unchecked
from jobcheck.rules.acceptances import Acceptances
from jobcheck.rules.base import Inspection, Reported, Rule
from jobcheck.rules.registry import BY_NAME
from jobcheck.shop.paths import Path
from jobcheck.shop.places import Place
from jobcheck.shop.shop import Shop

PlaceOf = Callable[[Path], Place]
"""Where the value at a path is."""


@dataclass(frozen=True)
class Outcome:
    """What a lint found: findings in their order, those that are accepted marked so."""

    findings: tuple[Finding, ...]
    not_checked: tuple[Unchecked, ...]

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
    """Run rules over a shop; rules that the shop disables do not run."""
    enabled = [rule for rule in rules if rule.name not in inspection.shop.root.disabled]
    first = [rule for rule in enabled if not rule.is_upkeep]
    upkeep = [rule for rule in enabled if rule.is_upkeep]
    not_checked: list[Unchecked] = []
    found = _reported(first, inspection, not_checked)
    seen = replace(
        inspection,
        reported=tuple(found),
        rules_run=frozenset(rule.name for rule in first),
        rules_known=tuple(BY_NAME),
    )
    reported = _causes_only(found) + _reported(upkeep, seen, not_checked)
    good = inspection.good if reported else None
    acceptances = Acceptances(inspection.shop.root)
    placed = {_placed(entry, inspection, good, place_of, acceptances) for entry in reported}
    return Outcome(tuple(sorted(placed, key=lambda finding: finding.order)), tuple(not_checked))


def _reported(
    rules: Iterable[Rule], inspection: Inspection, not_checked: list[Unchecked]
) -> list[Reported]:
    """Run rules: return what they report, and add what they could not check to a list."""
    found: list[Reported] = []
    for rule in rules:
        for said in rule(inspection):
            if isinstance(said, Unchecked):
                not_checked.append(said._replace(rule=rule.name))
            else:
                found.append(Reported(rule, said))
    return found


def _causes_only(reported: list[Reported]) -> list[Reported]:
    """Leave out what another finding tells: one cause is one finding."""
    told = {tell for entry in reported for tell in entry.problem.suppresses}
    return [entry for entry in reported if not _is_told(entry, told)] if told else reported


def _is_told(entry: Reported, told: set[tuple[str, Path]]) -> bool:
    path = entry.problem.path
    return any((entry.rule.name, path[:end]) in told for end in range(len(path) + 1))


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
        accepted=bool(acceptances.covering(entry.rule.name, problem.path)),
    )


def _good_value(path: Path, shop: Shop, good: Shop | None) -> str:
    """Return the known-good value at a path where it is another one than now."""
    if good is None:
        return ""
    recorded = good.plain_at(path)
    if recorded is None or isinstance(recorded, (dict, list)) or recorded == shop.plain_at(path):
        return ""
    return str(recorded).lower() if isinstance(recorded, bool) else str(recorded)
