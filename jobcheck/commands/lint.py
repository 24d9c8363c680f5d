"""Linting: whole shops, in any state."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from jobcheck.findings import CallRefused, Command, Finding, Level, Remedy, command
from jobcheck.known_good.known import KnownGood
from jobcheck.rules.acceptances import Acceptances
from jobcheck.rules.base import Inspection, Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import BY_NAME, RULES
from jobcheck.rules.renamed import RENAMED
from jobcheck.rules.run import Outcome, run_rules
from jobcheck.rules.shop.controller import controller_differs
from jobcheck.rules.shop.record import camera_settings_lost
from jobcheck.shop.paths import any_within, paths_among, show
from jobcheck.shop.places import Place
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.staged import Touched
from jobcheck.sources.state.state import RECORDS, State

if TYPE_CHECKING:
    from jobcheck.sources.bridge.controller import Controller


@dataclass(frozen=True, kw_only=True)
class LintedShop(Outcome):
    """One shop with what lint found in it; faults of reading are among the findings, as errors.

    `root` is the shop's folder; the call asked for `rules_asked` of the `rules_known` rules.
    `accepted_until` are the rules of accepted findings by the day when the acceptance ends, None
    for no end.
    """

    root: FilePath
    reading: Reading
    known_good: KnownGood
    rules_asked: int
    rules_known: int = len(RULES)
    accepted_until: Mapping[date | None, tuple[str, ...]] = field(default_factory=dict)

    @property
    def losses(self) -> tuple[Finding, ...]:
        """The open findings of lost camera settings."""
        return tuple(one for one in self.open if _is_loss(one))

    @property
    def put_back(self) -> tuple[Command, ...]:
        """The commands that put lost camera settings back."""
        return tuple(_restores(loss)[0] for loss in self.losses if _restores(loss))

    @property
    def records_folder(self) -> FilePath:
        """The folder of the known-good records."""
        return self.root / RECORDS

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
        CallRefused: a name is not a rule (the message names near ones), or no rule is left.
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
    """Return the complaint about a name that is not a rule; an old name gets the new one."""
    if name in RENAMED:
        new = RENAMED[name]
        return CallRefused(f"Rule {name} is now {new}." if new else f"Rule {name} was dropped.")
    from difflib import get_close_matches

    near = get_close_matches(name, [*BY_NAME, *FAULTS], n=3)
    if near:
        return CallRefused(f"Rule {name} does not exist. Near: {', '.join(near)}.")
    return CallRefused(f"Rule {name} does not exist. To list the rules:", command("rules"))


def lint_states(
    shops: Mapping[FilePath, Touched],
    rules: Sequence[Rule],
    today: date,
    folder: FilePath | None = None,
) -> list[LintedShop]:
    """Lint each of several shops, given by their folders; `folder` as for `lint_state`."""
    return [
        lint_state(
            root,
            touched.state,
            rules,
            today,
            has_records=touched.has_records,
            removed=touched.removed,
            folder=folder,
        )
        for root, touched in shops.items()
    ]


def lint_state(
    root: FilePath,
    state: State,
    rules: Sequence[Rule],
    today: date,
    *,
    has_records: bool = False,
    removed: Sequence[str] = (),
    folder: FilePath | None = None,
) -> LintedShop:
    """Lint one state of the shop whose folder is `root`.

    With `has_records` every known-good record is verified; `removed` are the folders of records
    that a commit removes. `folder` holds the controller's files, where it is not the shop itself.
    """
    reading = read_shop(state)
    known = KnownGood(reading, root)
    if has_records:
        known.verify()
    controller = controller_of(reading, folder)
    if controller:
        reading = controller.compared()
    outcome = Outcome((), ())
    if reading.shop is not None:
        inspection = Inspection(reading.shop, today, known.shop)
        outcome = run_rules(inspection, rules, reading.places.of)
    found, not_checked = outcome.findings, outcome.not_checked
    if controller:
        found = controller.placed(found)
    if controller and any(rule.name == controller_differs.name for rule in rules):
        not_checked = (*not_checked, *controller.not_compared())
    faults = (*reading.faults, *known.faults, *(_removed(root, folder) for folder in removed))
    ranks = {file: rank for rank, file in enumerate(reading.files)}
    findings = sorted(
        (*faults, *found),
        key=lambda finding: (ranks.get(finding.place.file, len(ranks)), finding.order),
    )
    if state.label == "staged":
        findings = _Commit(root, reading, known, controller).reworded(findings)
    accepted = tuple(finding for finding in findings if finding.accepted)
    return LintedShop(
        tuple(findings),
        not_checked,
        outcome.disabled,
        outcome.loosened,
        root=root,
        reading=reading,
        known_good=known,
        rules_asked=len(rules),
        accepted_until=_accepted_until(reading.shop, accepted) if reading.shop else {},
    )


def _accepted_until(shop: Shop, accepted: Iterable[Finding]) -> dict[date | None, tuple[str, ...]]:
    """Return the rules of accepted findings by the last day of the acceptance, soonest first."""
    acceptances = Acceptances(shop.root)
    ends: dict[date | None, tuple[str, ...]] = {}
    for one in accepted:
        covering = acceptances.covering(one.rule, one.path)
        end = shop.root.accepted[one.rule][covering[-1]].until
        ends[end] = (*ends.get(end, ()), one.rule)
    return dict(sorted(ends.items(), key=lambda entry: entry[0] or date.max))


def _restores(finding: Finding) -> list[Command]:
    steps = (step for step in finding.remedy if isinstance(step, Command))
    return [step for step in steps if step.arguments[:1] == ("restore",) and not step.program]


def _removed(root: FilePath, folder: str) -> Finding:
    """Return what is said of a record that a commit removes."""
    number = folder.rpartition("/")[2].partition("-")[0]
    return Finding(
        rule="record-removed",
        level=Level.ERROR,
        place=Place(folder),
        path=(),
        message=f"this commit removes the known-good record {folder}.",
        consequence="Its values could no longer be compared or put back.",
        remedy=(
            "Put it back:",
            Command(("restore", "--staged", "--worktree", "--"), "git", (root / folder,)),
            "If it is not good after all, mark it, which deletes nothing:",
            command("withdraw", number, "--because", "TEXT"),
        ),
    )


@dataclass(frozen=True)
class _Commit:
    """Words the remedies of a commit: what is put back is written and staged, or is recorded."""

    root: FilePath
    reading: Reading
    known: KnownGood
    controller: Controller | None

    def reworded(self, findings: list[Finding]) -> list[Finding]:
        """Return findings whose every restore is written, and staged by the command after it."""
        lost = [one for one in findings if _is_loss(one) and not one.accepted]
        meant = self._meant(lost)
        return [
            one._replace(remedy=(*self._not_meant(one), *meant) if one in lost else self._done(one))
            for one in findings
        ]

    def _meant(self, lost: Iterable[Finding]) -> Remedy:
        cameras = dict.fromkeys(show(one.path[:2]) for one in lost)
        purposes = [word for camera in cameras for word in ("--on-purpose", camera)]
        return (
            "Meant: retune and rehearse, record it, and commit again:",
            command("keep", "--label", "TEXT", *purposes),
            Command(("add",), "git", (self.root / RECORDS,)),
        )

    def _not_meant(self, finding: Finding) -> Remedy:
        steps = _restores(finding)
        is_delivered = any("--deliver" in step.arguments for step in steps)
        says = "close the controller, put both sides back" if is_delivered else "put them back"
        done = (each for step in steps for each in self._written(step))
        return (f"Not meant: {says}, and commit again:", *done)

    def _done(self, finding: Finding) -> Remedy:
        steps = _restores(finding)
        return tuple(
            each
            for step in finding.remedy
            for each in (self._written(step) if step in steps else (step,))
        )

    def _written(self, step: str | Command) -> Remedy:
        """Return a restore that writes, and the command that stages what it writes."""
        if isinstance(step, str):
            return (step,)
        files = tuple(self.root / file for file in dict.fromkeys(self._files(step)))
        return (step.adding("--write"), Command(("add",), "git", files))

    def _files(self, step: Command) -> Iterator[str]:
        """Yield the files that a restore writes: where a value is, or was recorded."""
        selected = paths_among(step.arguments[1:])
        good = self.known.reading
        for path in selected:
            here = self.reading.places.files_within(path)
            is_whole_kind = len(path) == 1
            there = good.places.files_within(path) if good and (is_whole_kind or not here) else ()
            yield from (*here, *there)
        if self.controller and not self.controller.folder and "--deliver" in step.arguments:
            targets = self.controller.mapped.targets
            yield from (target.file for target in targets if any_within(target.path, selected))


def _is_loss(finding: Finding) -> bool:
    return finding.rule == camera_settings_lost.name


def controller_of(reading: Reading, folder: FilePath | None = None) -> Controller | None:
    """Return the controller's files of a shop that has a map of them; `folder` holds them."""
    if reading.shop is None or reading.shop.bridge is None:
        return None
    from jobcheck.sources.bridge.controller import Controller

    return Controller(reading, folder)
