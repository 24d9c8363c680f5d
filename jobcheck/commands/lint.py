"""Linting: whole shops, in any state."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from jobcheck.findings import CallRefused, Level
from jobcheck.known_good.known import KnownGood
from jobcheck.rules.base import Inspection, Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import BY_NAME, RULES
from jobcheck.rules.renamed import RENAMED
from jobcheck.rules.run import Outcome, run_rules
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import State

if TYPE_CHECKING:
    from jobcheck.sources.bridge.controller import Controller


@dataclass(frozen=True, kw_only=True)
class LintedShop(Outcome):
    """One shop with what lint found in it; faults of reading are among the findings, as errors.

    `root` is the shop's folder, `rules_asked` how many rules the call asked for.
    """

    root: FilePath
    reading: Reading
    known_good: KnownGood
    rules_asked: int

    @property
    def placements(self) -> int:
        """Placements of all jobs, a board of each."""
        shop = self.reading.shop
        jobs = shop.jobs.values() if shop else ()
        return sum(len(job.placements.by_reference) for job in jobs)


def exit_code(shops: Iterable[LintedShop], strict: bool) -> int:
    """Return 2 where a file is not understood, 1 for errors (`strict`: warnings too), else 0."""
    worst = 0
    for shop in shops:
        if shop.reading.faults or shop.known_good.faults:
            worst = 2
        weighs = shop.counted(Level.ERROR) + (shop.counted(Level.WARNING) if strict else 0)
        worst = max(worst, 1 if weighs else 0)
    return worst


def chosen_rules(only: Sequence[str], skip: Sequence[str]) -> tuple[Rule, ...]:
    """Return the rules that a call asks for.

    Raises:
        CallRefused: a name is no rule, the message names near ones; or no rule is left.
    """
    for name in (*only, *skip):
        if name not in BY_NAME:
            raise unknown_rule(name)
    chosen = tuple(
        rule for rule in RULES if (not only or rule.name in only) and rule.name not in skip
    )
    if not chosen:
        raise CallRefused("No rule is left to run: --skip takes out what --only asks for.")
    return chosen


def unknown_rule(name: str) -> CallRefused:
    """Return what is said of a name that is not a rule; an old name is answered with the new."""
    if name in RENAMED:
        new = RENAMED[name]
        return CallRefused(f"Rule {name} is now {new}." if new else f"Rule {name} was dropped.")
    from difflib import get_close_matches

    near = get_close_matches(name, [*BY_NAME, *FAULTS], n=3)
    hint = f"Near: {', '.join(near)}." if near else "`jobcheck rules` lists them."
    return CallRefused(f"There is no rule {name}. {hint}")


def lint_states(
    states: Mapping[FilePath, State], rules: Sequence[Rule], today: date
) -> list[LintedShop]:
    """Lint a state of each of several shops, given by their folders."""
    return [lint_state(root, state, rules, today) for root, state in states.items()]


def lint_state(root: FilePath, state: State, rules: Sequence[Rule], today: date) -> LintedShop:
    """Lint one state of the shop whose folder is `root`."""
    reading = read_shop(state)
    known = KnownGood(reading, root)
    controller = _controller_of(reading)
    if controller:
        reading = controller.compared()
    outcome = Outcome((), ())
    if reading.shop is not None:
        inspection = Inspection(reading.shop, today, known.shop)
        outcome = run_rules(inspection, rules, reading.places.of)
    found = outcome.findings
    if controller:
        found = (*controller.placed(found), *controller.not_compared())
    faults = (*reading.faults, *known.faults)
    ranks = {file: rank for rank, file in enumerate(reading.files)}
    findings = sorted(
        (*faults, *found),
        key=lambda finding: (ranks.get(finding.place.file, len(ranks)), finding.order),
    )
    return LintedShop(
        tuple(findings),
        outcome.not_checked,
        outcome.disabled,
        outcome.loosened,
        root=root,
        reading=reading,
        known_good=known,
        rules_asked=len(rules),
    )


def _controller_of(reading: Reading) -> Controller | None:
    """Return the controller's files of a shop that has a map of them."""
    if reading.shop is None or reading.shop.bridge is None:
        return None
    from jobcheck.sources.bridge.controller import Controller

    return Controller(reading)
