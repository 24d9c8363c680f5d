"""Recording a shop as known-good."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.diff import diff
from jobcheck.changes.selections import selections
from jobcheck.commands.lint import LintedShop, lint_state
from jobcheck.findings import CallRefused, Finding, Level
from jobcheck.known_good.keeping import Keeping, keep_record
from jobcheck.known_good.record import slug_of
from jobcheck.known_good.store import Record
from jobcheck.rules.registry import RULES
from jobcheck.rules.shop.record import camera_settings_lost
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import any_within, show
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import WriteRefused


class Kept(NamedTuple):
    """The outcome of a keep: the record, or why there is none.

    `errors` are the findings that stand against it, `losses` the lost camera settings that were
    not named, `same_as` the record that says the same already. `gone` is what the last record had
    and this one has not, other than what was lost on purpose.
    """

    linted: LintedShop
    record: Record | None = None
    errors: tuple[Finding, ...] = ()
    losses: tuple[Change, ...] = ()
    same_as: str = ""
    gone: tuple[Change, ...] = ()


def keep(
    root: FilePath, label: str, today: date, *, note: str | None, on_purpose: Sequence[str]
) -> Kept:
    """Record the shop in the folder `root` as known-good, on the caller's word.

    It refuses while lint has errors, while a lost camera setting is not named by `on_purpose`,
    and where settings and measurements are those of the last record.

    Raises:
        CallRefused: the label is none, `on_purpose` names nothing that was lost, or the record
            cannot be written.
    """
    _check_label(label)
    linted = lint_state(root, folder_state(root), RULES, today)
    shop = linted.reading.shop
    if shop is None or linted.reading.faults or linted.known_good.faults:
        return Kept(linted, errors=_errors(linted))
    good = linted.known_good.shop()
    changes = diff(good, shop) if good else ()
    losses = tuple(change for change in changes if change.is_camera_loss)
    named = selections(on_purpose, *filter(None, (good, shop)))
    is_recorded = good is not None and not any(map(_counts, changes))
    if not is_recorded:
        _check_purpose(named, losses)
    unnamed = tuple(loss for loss in losses if not any_within(loss.path, named))
    errors = tuple(error for error in _errors(linted) if error.rule != camera_settings_lost.name)
    if errors or unnamed:
        return Kept(linted, errors=errors, losses=unnamed)
    if is_recorded:
        return Kept(linted, same_as=linted.known_good.title)
    keeping = Keeping(label, today, note, (), tuple(map(show, named)))
    gone = tuple(change for change in changes if _is_gone(change) and change not in losses)
    try:
        return Kept(linted, keep_record(root, linted.reading, keeping), gone=gone)
    except (ValueError, WriteRefused) as error:
        raise CallRefused(str(error)) from None


def _check_label(label: str) -> None:
    try:
        slug_of(label)
    except ValueError as error:
        raise CallRefused(f"{error}.") from None


def _errors(linted: LintedShop) -> tuple[Finding, ...]:
    return tuple(finding for finding in linted.open if finding.level is Level.ERROR)


def _check_purpose(named: Sequence[tuple[str, ...]], losses: Sequence[Change]) -> None:
    for selection in named:
        if not any(any_within(loss.path, (selection,)) for loss in losses):
            raise CallRefused(f"--on-purpose {show(selection)}: no camera setting was lost there.")


def _counts(change: Change) -> bool:
    return change.field_class in (FieldClass.SETTING, FieldClass.MEASUREMENT)


def _is_gone(change: Change) -> bool:
    return change.kind in (Kind.LOST, Kind.REMOVED) and _counts(change)
