"""Running rules over a shop: what is told inside another finding goes, the rest gets its place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from jobcheck.description.findings import Finding, Level
from jobcheck.description.paths import Path, is_within, parse
from jobcheck.description.shop import Shop
from jobcheck.rules.base import Inspection, Reported, Rule
from jobcheck.sources.places import Places


@dataclass(frozen=True)
class Outcome:
    """What a lint found: findings in their order, those that are accepted marked so."""

    findings: tuple[Finding, ...]

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


def run_rules(inspection: Inspection, rules: Sequence[Rule], places: Places) -> Outcome:
    """Run rules over a shop; rules that the shop disables do not run."""
    enabled = [rule for rule in rules if rule.name not in inspection.shop.root.disabled]
    first = [rule for rule in enabled if not rule.is_upkeep]
    upkeep = [rule for rule in enabled if rule.is_upkeep]
    reported = _causes_only(_reported(first, inspection))
    reported += _reported(upkeep, replace(inspection, reported=tuple(reported)))
    good = inspection.good if reported else None
    placed = {_placed(entry, inspection, good, places) for entry in reported}
    return Outcome(tuple(sorted(placed, key=lambda finding: _order(finding, places))))


def _reported(rules: Iterable[Rule], inspection: Inspection) -> list[Reported]:
    return [Reported(rule, problem) for rule in rules for problem in rule(inspection)]


def _causes_only(reported: list[Reported]) -> list[Reported]:
    """Leave out what another finding tells: one cause is one finding."""
    told = [tell for entry in reported for tell in entry.problem.tells]
    if not told:
        return reported
    return [
        entry
        for entry in reported
        if not any(
            name == entry.rule.name and is_within(entry.problem.path, path) for name, path in told
        )
    ]


def _placed(entry: Reported, inspection: Inspection, good: Shop | None, places: Places) -> Finding:
    problem = entry.problem
    return Finding(
        rule=entry.rule.name,
        level=entry.level,
        place=places.of(problem.path),
        path=problem.path,
        says=problem.says,
        so=problem.so,
        do=problem.do,
        now=problem.now,
        good=problem.good or _good_value(problem.path, inspection.shop, good),
        also=tuple((places.of(path), path) for path in problem.also),
        accepted=is_accepted(entry, inspection),
    )


def _good_value(path: Path, shop: Shop, good: Shop | None) -> str:
    """Return the known-good value at a path where it is another one than now."""
    if good is None:
        return ""
    recorded = good.plain_at(path)
    if recorded is None or isinstance(recorded, (dict, list)) or recorded == shop.plain_at(path):
        return ""
    return str(recorded).lower() if isinstance(recorded, bool) else str(recorded)


def is_accepted(entry: Reported, inspection: Inspection) -> bool:
    """Tell whether the shop accepts a problem; one that ran out still holds, upkeep says so."""
    accepted = inspection.shop.root.accepted.get(entry.rule.name, {})
    return any(is_within(entry.problem.path, _path(text)) for text in accepted)


def _path(text: str) -> Path:
    try:
        return parse(text)
    except ValueError:
        return (text,)


def _order(finding: Finding, places: Places) -> tuple[object, ...]:
    files = list(places.held)
    rank = files.index(finding.place.file) if finding.place.file in files else len(files)
    return (rank, *finding.order)
