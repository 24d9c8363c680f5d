"""Linting: the shops that paths belong to, or those that the index touches."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path as FilePath

from jobcheck.commands.calls import CallRefused
from jobcheck.commands.known import KnownGood, known_good_of
from jobcheck.description.findings import Fault, Finding, Level
from jobcheck.rules.base import Inspection, Rule
from jobcheck.rules.registry import BY_NAME, RULES
from jobcheck.rules.run import run_rules
from jobcheck.sources.faults import FAULTS
from jobcheck.sources.git_state import (
    GitRefused,
    git,
    revision_state,
    staged_paths,
    staged_state,
    top_folder,
)
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state import (
    RECORDS,
    ROOT_FILE,
    State,
    folder_state,
    shop_above,
)


@dataclass(frozen=True)
class LintedShop:
    """One shop with what lint found in it.

    `findings` are all, those that are accepted marked so; `faults` are among them, as findings of
    level error. `root` is the shop's folder.
    """

    root: FilePath
    reading: Reading
    findings: tuple[Finding, ...]
    known_good: KnownGood
    rules_run: int

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
        if shop.reading.faults:
            worst = 2
        weighs = shop.counted(Level.ERROR) + (shop.counted(Level.WARNING) if strict else 0)
        worst = max(worst, 1 if weighs else 0)
    return worst


def chosen_rules(only: Sequence[str], skip: Sequence[str]) -> tuple[Rule, ...]:
    """Return the rules that a call asks for.

    Raises:
        CallRefused: a name is no rule; the message names near ones.
    """
    for name in (*only, *skip):
        if name not in BY_NAME:
            raise unknown_rule(name)
    return tuple(
        rule for rule in RULES if (not only or rule.name in only) and rule.name not in skip
    )


def unknown_rule(name: str) -> CallRefused:
    """Word that a name is no rule."""
    from difflib import get_close_matches

    near = get_close_matches(name, [*BY_NAME, *FAULTS], n=3)
    hint = f"Near: {', '.join(near)}." if near else "`jobcheck rules` lists them."
    return CallRefused(f"There is no rule {name}. {hint}")


def lint_paths(paths: Sequence[FilePath], rules: Sequence[Rule], today: date) -> list[LintedShop]:
    """Lint the whole shops that paths belong to.

    Raises:
        CallRefused: a path does not exist or belongs to no shop.
    """
    roots: dict[FilePath, None] = {}
    for path in paths:
        if not path.exists():
            raise CallRefused(f"There is no file or folder {path}.")
        root = shop_above(path if path.is_dir() else path.parent)
        if root is None:
            raise CallRefused(f"{path} belongs to no shop: no {ROOT_FILE} at or above it.")
        roots[root] = None
    return [lint_state(root, folder_state(root), rules, today) for root in roots]


def lint_state(root: FilePath, state: State, rules: Sequence[Rule], today: date) -> LintedShop:
    """Lint one state of the shop whose folder is `root`."""
    reading = read_shop(state)
    known = known_good_of(reading, root)
    faults = tuple(as_finding(fault) for fault in reading.faults)
    found: tuple[Finding, ...] = ()
    if reading.shop is not None:
        inspection = Inspection(reading.shop, today, known.shop)
        found = run_rules(inspection, rules, reading.places).findings
    ranks = {file: rank for rank, file in enumerate(reading.files)}
    findings = sorted(
        (*faults, *found),
        key=lambda finding: (ranks.get(finding.place.file, len(ranks)), finding.order),
    )
    return LintedShop(root, reading, tuple(findings), known, len(rules))


def as_finding(fault: Fault) -> Finding:
    """Return a fault of reading as an error."""
    so = "What it says is not used, so it is not checked either."
    return Finding(fault.rule, Level.ERROR, fault.place, fault.path, fault.says, so=so, do=fault.do)


def lint_staged(start: FilePath, rules: Sequence[Rule], today: date) -> list[LintedShop]:
    """Lint the shops that the index touches, as they are staged.

    With nothing staged, the shops that git knows are linted as they are on the disk.

    Raises:
        CallRefused: `start` is in no git repository.
    """
    try:
        top = top_folder(start)
        staged = staged_paths(top)
        if not staged:
            roots = [top / folder for folder in _known_folders(top)]
            return [lint_state(root, folder_state(root), rules, today) for root in roots]
        folders = _touched(top, staged)
        return [
            lint_state(top / folder, staged_state(top, folder), rules, today) for folder in folders
        ]
    except GitRefused as error:
        raise CallRefused(f"--staged needs a git repository: {error}.") from None


def _folders(listed: bytes) -> list[str]:
    """Return the folders of all shop.yaml in a list of names, without those in records."""
    names = [name.decode(errors="surrogateescape") for name in listed.split(b"\0") if name]
    folders = [name.rpartition("/")[0] for name in names if name.rpartition("/")[2] == ROOT_FILE]
    return sorted(folder for folder in folders if RECORDS not in folder.split("/")[:-1])


def _known_folders(top: FilePath) -> list[str]:
    pattern = f":(glob)**/{ROOT_FILE}"
    return _folders(git(top, "ls-files", "-z", "--", pattern))


def _touched(top: FilePath, staged: list[str]) -> list[str]:
    """Return the shops that staged paths belong to, each by the nearest folder above the path."""
    known = set(_known_folders(top))
    deleted = _deleted_folders(top) - known
    touched: set[str] = set()
    for path in staged:
        folder = path
        while folder:
            folder = folder.rpartition("/")[0]
            if folder in known or folder in deleted:
                touched.add(folder)
                break
    return sorted(folder for folder in touched if folder in known or _is_left(top, folder))


def _deleted_folders(top: FilePath) -> set[str]:
    """Return the folders whose shop.yaml the index deletes."""
    try:
        git(top, "rev-parse", "--verify", "--quiet", "HEAD")
    except GitRefused:
        return set()
    return set(
        _folders(
            git(top, "diff", "--cached", "--name-only", "--diff-filter=D", "--no-renames", "-z")
        )
    )


def _is_left(top: FilePath, folder: str) -> bool:
    """Tell whether the index still holds a file of a shop whose shop.yaml it deletes."""
    left = staged_state(top, folder).files
    before = read_shop(revision_state(top, folder, "HEAD"))
    return any(name in left for name in before.files)
