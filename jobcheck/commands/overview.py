"""The state of a shop in a few lines."""

from __future__ import annotations

from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.change import Change
from jobcheck.changes.diff import diff
from jobcheck.changes.groups import Group, groups
from jobcheck.commands.lint import LintedShop, lint_state
from jobcheck.facts.facts import Facts
from jobcheck.facts.pace import Pace, pace
from jobcheck.rules.registry import RULES
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import natural
from jobcheck.shop.shop import Shop
from jobcheck.sources.state.git import GitRefused, git, top_folder
from jobcheck.sources.state.state import folder_state

HOOK = "jobcheck"


class CameraState(NamedTuple):
    """What is known of one camera: settings lost or changed since the record, when it was seen."""

    name: str
    lost: int
    changed: int
    seen: date | None
    is_seen_since: bool


class Overview(NamedTuple):
    """A shop with its findings, what changed, its cameras, and whether the hook is installed.

    `changes` are those since the last record, without notes. `hook` is None where there is no git
    repository. `paces` are of the jobs that have a run.
    """

    linted: LintedShop
    shop: Shop | None
    changes: tuple[Change, ...]
    lost: tuple[Group, ...]
    cameras: tuple[CameraState, ...]
    hook: bool | None
    paces: tuple[tuple[str, Pace], ...] = ()


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
    cameras = tuple(_camera(name, shop, changes) for name in shop.cameras) if shop else ()
    return Overview(linted, shop, changes, lost, cameras, _has_hook(root), _paces(shop))


def _paces(shop: Shop | None) -> tuple[tuple[str, Pace], ...]:
    """Estimate the pace of every job that has a run and of whose machine enough is known."""
    jobs = sorted(shop.jobs, key=natural) if shop else ()
    planned = ((job, pace(Facts(shop), job)) for job in jobs if shop and shop.jobs[job].run)
    return tuple((job, estimate) for job, estimate in planned if estimate)


def _camera(name: str, shop: Shop, changes: tuple[Change, ...]) -> CameraState:
    own = [change for change in changes if change.path[:2] == ("cameras", name)]
    lost = sum(1 for change in own if change.is_camera_loss for _ in change.leaves())
    changed = sum(1 for change in own if not change.is_camera_loss for _ in change.leaves())
    seen = shop.cameras[name].seen
    events = shop.machine.events.values() if shop.machine else ()
    touching = [event.date for event in events if f"cameras.{name}" in event.touched]
    return CameraState(
        name, lost, changed, seen, seen is not None and seen >= max(touching, default=seen)
    )


def _has_hook(root: FilePath) -> bool | None:
    """Tell whether the repository runs jobcheck at commit: the hook is there and is asked for."""
    try:
        top = top_folder(root)
        hooks = git(root, "rev-parse", "--git-path", "hooks").decode().strip()
    except GitRefused:
        return None
    script = root / hooks / "pre-commit"
    config = top / ".pre-commit-config.yaml"
    try:
        return script.exists() and HOOK in config.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
