"""The state of a shop in a few lines."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.change import Change
from jobcheck.changes.diff import diff
from jobcheck.changes.groups import Group, groups
from jobcheck.commands.lint import LintedShop, lint_state
from jobcheck.facts.facts import Facts
from jobcheck.facts.pace import Pace, pace
from jobcheck.facts.proof import Proofs
from jobcheck.known_good.store import RecordRefused
from jobcheck.rules.registry import RULES
from jobcheck.rules.shop.controller import controller_differs, is_compared
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import Path, natural
from jobcheck.shop.shop import Shop
from jobcheck.sources.bridge.ledger import Ledger
from jobcheck.sources.state.git import GitRefused, git, top_folder
from jobcheck.sources.state.state import folder_state

HOOK = "jobcheck"
HOOKS = ("pre-commit", "pre-merge-commit")
"""The hooks of git at which jobcheck runs."""


class CameraState(NamedTuple):
    """What is known of one camera: settings lost or changed since the record, when it was seen."""

    name: str
    lost: int
    changed: int
    seen: date | None
    is_seen_since: bool
    is_seen_today: bool


class ControllerState(NamedTuple):
    """What is known of the controller's files: where they differ from the description.

    `absent` says which files are not there, `is_newer` that a value there changed since it was
    gathered, `changed` how many compared values the record has differently.
    """

    differing: tuple[Path, ...]
    absent: str
    is_newer: bool
    changed: int


class Overview(NamedTuple):
    """A shop with its findings, what changed, its cameras, its records, and the hooks.

    `changes` are those since the last record, without notes. `records` is how many there are,
    `damaged` how many of them are. `hooks` says which are installed, None without a repository.
    `controller` is None if the shop has no map or disables the comparison; `uncompared` is how
    many faults of reading keep values from comparison. `paces` are of the jobs that have a run,
    `proofs` of those that have a trial.
    """

    linted: LintedShop
    shop: Shop | None
    changes: tuple[Change, ...]
    lost: tuple[Group, ...]
    cameras: tuple[CameraState, ...]
    records: int
    damaged: int
    hooks: Mapping[str, bool] | None
    controller: ControllerState | None = None
    uncompared: int = 0
    paces: tuple[tuple[str, Pace], ...] = ()
    proofs: tuple[tuple[str, Proofs], ...] = ()


def overview(root: FilePath, today: date) -> Overview:
    """Look at the shop in the folder `root` as it is now."""
    linted = lint_state(root, folder_state(root), RULES, today)
    shop = linted.reading.shop
    good = linted.known_good.shop()
    changes = tuple(
        change
        for change in (diff(good, shop) if good and shop else ())
        if change.field_class is not FieldClass.NOTE
    )
    lost = tuple(
        group
        for group in (groups(changes, Facts(good), Facts(shop)) if good and shop else ())
        if group.is_camera_loss
    )
    cameras = tuple(_camera(n, shop, changes, today) for n in shop.cameras) if shop else ()
    verified = linted.known_good.verify()
    return Overview(
        linted,
        shop,
        changes,
        lost,
        cameras,
        len(verified),
        sum(isinstance(found, RecordRefused) for found in verified),
        _hooks(root),
        _controller(root, shop, linted, changes),
        len(linted.reading.faults),
        _paces(shop),
        _proofs(shop),
    )


def _controller(
    root: FilePath, shop: Shop | None, linted: LintedShop, changes: tuple[Change, ...]
) -> ControllerState | None:
    if shop is None or shop.bridge is None or controller_differs.name in shop.root.disabled:
        return None
    gathered = Ledger(root)
    differing = [one for one in shop.controller if is_compared(one.path)]
    leaves = (path for change in changes for path, _, _ in change.leaves())
    return ControllerState(
        tuple(one.path for one in differing),
        next((one.cause for one in linted.not_checked if one.rule == controller_differs.name), ""),
        any(gathered.has_changed(one.file, one.path, one.value) for one in differing),
        sum(path in shop.in_controller and is_compared(path) for path in leaves),
    )


def _paces(shop: Shop | None) -> tuple[tuple[str, Pace], ...]:
    """Estimate the pace of every job that has a run and of whose machine enough is known."""
    jobs = sorted(shop.jobs, key=natural) if shop else ()
    facts = Facts(shop) if shop else None
    planned = ((job, pace(facts, job)) for job in jobs if facts and facts.shop.jobs[job].run)
    return tuple((job, estimate) for job, estimate in planned if estimate)


def _proofs(shop: Shop | None) -> tuple[tuple[str, Proofs], ...]:
    """Judge the trials of every job that has one."""
    tried = {trial.job for trial in shop.trials.values()} if shop else set()
    jobs = sorted(tried & shop.jobs.keys(), key=natural) if shop else []
    facts = Facts(shop) if shop else None
    return tuple((job, Proofs(facts, job)) for job in jobs if facts)


def _camera(name: str, shop: Shop, changes: tuple[Change, ...], today: date) -> CameraState:
    own = [change for change in changes if change.path[:2] == ("cameras", name)]
    lost = sum(1 for change in own if change.is_camera_loss for _ in change.leaves())
    changed = sum(1 for change in own if not change.is_camera_loss for _ in change.leaves())
    seen = shop.cameras[name].seen
    events = shop.machine.events.values() if shop.machine else ()
    touching = [event.date for event in events if f"cameras.{name}" in event.touched]
    is_since = seen is not None and seen >= max(touching, default=seen)
    return CameraState(name, lost, changed, seen, is_since, seen == today)


def _hooks(root: FilePath) -> dict[str, bool] | None:
    """Return which hooks of the repository run jobcheck: installed, and in its configuration."""
    try:
        top = top_folder(root)
        hooks = git(root, "rev-parse", "--git-path", "hooks").decode().strip()
    except GitRefused:
        return None
    config = top / ".pre-commit-config.yaml"
    try:
        is_asked = HOOK in config.read_text(encoding="utf-8", errors="replace")
    except OSError:
        is_asked = False
    return {name: is_asked and (root / hooks / name).exists() for name in HOOKS}
