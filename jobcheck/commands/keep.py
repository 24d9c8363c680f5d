"""Recording a shop as known-good."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path as FilePath
from typing import NamedTuple

from jobcheck.changes.change import Change, Kind
from jobcheck.changes.diff import diff
from jobcheck.changes.selections import selections
from jobcheck.commands.lint import LintedShop, controller_of, lint_state
from jobcheck.facts.derived import starter_values
from jobcheck.findings import CallRefused, Finding, Level
from jobcheck.known_good.keeping import Keeping, keep_record
from jobcheck.known_good.record import slug_of, sum_of
from jobcheck.known_good.store import Record
from jobcheck.rules.registry import RULES
from jobcheck.rules.shop.record import camera_settings_lost, recorded_value_missing
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.paths import Path, any_within, show
from jobcheck.shop.shop import Shop
from jobcheck.shop.values import same
from jobcheck.sources.state.git import author_and_commit
from jobcheck.sources.state.state import folder_state
from jobcheck.sources.state.writing import WriteRefused
from jobcheck.wording import listed


class Kept(NamedTuple):
    """The outcome of a keep: the record, or why there is none.

    `errors` are the findings against it, `losses` the lost camera settings that were not named,
    `accepted` the accepted errors that were not named, `same_as` the record that has the same
    values already, `starter` the values that `jobcheck new` invented. `gone` are values of the last
    record that this one lacks, other than those lost on purpose.
    """

    linted: LintedShop
    record: Record | None = None
    errors: tuple[Finding, ...] = ()
    losses: tuple[Change, ...] = ()
    accepted: tuple[Finding, ...] = ()
    same_as: str = ""
    starter: tuple[Path, ...] = ()
    gone: tuple[Change, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """The rules of the open warnings, without the one about values that are `gone`."""
        warnings = (one.rule for one in self.linted.open if one.level is Level.WARNING)
        return tuple(rule for rule in warnings if rule != recorded_value_missing.name)


def keep(
    root: FilePath,
    label: str,
    today: date,
    *,
    note: str | None,
    on_purpose: Sequence[str],
    accepted: Sequence[str] = (),
    folder: FilePath | None = None,
) -> Kept:
    """Record the shop in the folder `root` as known-good, on the caller's word.

    The controller's files that the map names are recorded with it, from `folder` if given.

    It refuses while lint has errors, while a value is marked as the starter's, while a loss is not
    named by `on_purpose` or the rule of an accepted error by `accepted`, and if settings and
    measurements are those of the last record.

    Raises:
        CallRefused: the label has no letter, `on_purpose` or `accepted` names nothing, or the
            record cannot be written.
    """
    _check_label(label)
    linted = lint_state(root, folder_state(root), RULES, today, folder=folder)
    shop = linted.reading.shop
    if shop is None or linted.reading.faults or linted.known_good.faults:
        return Kept(linted, errors=_errors(linted))
    good = linted.known_good.shop()
    changes = diff(good, shop) if good else ()
    losses = tuple(change for change in changes if change.is_camera_loss)
    named = selections(on_purpose, *filter(None, (good, shop)))
    is_recorded = good is not None and not any(map(_counts, changes))
    lived_with = tuple(one for one in linted.accepted if one.level is Level.ERROR)
    if not is_recorded:
        _check_purpose(named, [loss.path for loss in losses] + _lost_paths(linted))
        _check_accepted(accepted, lived_with)
    unnamed = tuple(loss for loss in losses if not any_within(loss.path, named))
    errors = tuple(error for error in _errors(linted) if not _is_named(error, named))
    unsigned = tuple(one for one in lived_with if one.rule not in accepted)
    starter = tuple(starter_values(shop))
    if errors or unnamed or unsigned or starter:
        return Kept(linted, errors=errors, losses=unnamed, accepted=unsigned, starter=starter)
    if is_recorded:
        return Kept(linted, same_as=linted.known_good.title)
    author, commit = author_and_commit(root)
    keeping = Keeping(
        label,
        today,
        note,
        author,
        commit,
        evidence=_evidence(linted),
        on_purpose=tuple(map(show, named)),
        accepted=tuple(f"{one.rule} {show(one.path)}" for one in lived_with),
        stamped=tuple(map(show, _stamps(shop, good))),
        not_checked=tuple(_switched_off(linted)),
    )
    gone = tuple(change for change in changes if _is_gone(change) and change not in losses)
    try:
        controller = controller_of(linted.reading, folder)
        beside = controller.mapped.data if controller else {}
        return Kept(linted, keep_record(root, linted.reading, keeping, beside), gone=gone)
    except (ValueError, WriteRefused) as error:
        raise CallRefused(str(error)) from None


def _evidence(linted: LintedShop) -> tuple[str, ...]:
    """Name the trials that the last record does not name, each with its SHA-256."""
    last = linted.known_good.record
    named = last.about.evidence if last else ()
    trials = linted.reading.trials.items()
    return tuple(
        text for name, held in trials if (text := f"{name} {sum_of(held.data)}") not in named
    )


def _check_label(label: str) -> None:
    try:
        slug_of(label)
    except ValueError as error:
        raise CallRefused(f"{error}.") from None


def _errors(linted: LintedShop) -> tuple[Finding, ...]:
    return tuple(finding for finding in linted.open if finding.level is Level.ERROR)


def _is_named(error: Finding, named: Sequence[Path]) -> bool:
    """Tell whether an error is a loss that was named; camera settings are named one by one."""
    return error.rule == camera_settings_lost.name or (
        error.is_loss and any_within(error.path, named)
    )


def _lost_paths(linted: LintedShop) -> list[Path]:
    return [finding.path for finding in linted.open if finding.is_loss]


def _check_purpose(named: Sequence[Path], losses: Sequence[Path]) -> None:
    for selection in named:
        if not any(any_within(loss, (selection,)) for loss in losses):
            raise CallRefused(f"--on-purpose {show(selection)}: nothing was lost there.")


def _check_accepted(rules: Sequence[str], lived_with: Sequence[Finding]) -> None:
    for rule in rules:
        if not any(finding.rule == rule for finding in lived_with):
            raise CallRefused(f"--accepted {rule}: no error of that rule is accepted.")


def _stamps(shop: Shop, good: Shop | None) -> Iterator[Path]:
    """Yield the stamps that the last record has not: tunings, and looks at pin 1."""
    paths: list[Path] = [("recognitions", name, "tuned_under") for name in shop.recognitions]
    paths += [("outlines", name, "pin1_checked") for name in shop.outlines]
    paths += [("jobs", name, "placements", "pin1_checked") for name in shop.jobs]
    for path in sorted(paths):
        stamp = shop.plain_at(path)
        if stamp is not None and not (good and same(stamp, good.plain_at(path))):
            yield path


def _switched_off(linted: LintedShop) -> Iterator[str]:
    """Yield what stops a check or hides a finding while it is in force."""
    for disabled in linted.disabled:
        yield f"{disabled.rule} is disabled: {disabled.because}"
    for limit in linted.loosened:
        yield f"limits.{limit.limit} is {limit.value:g}, by default {limit.default:g}"
    for until, rules in linted.accepted_until.items():
        end = f"until {until.isoformat()}" if until else "without an end"
        yield f"{listed(sorted(set(rules)))} accepted {end}"


def _counts(change: Change) -> bool:
    return change.field_class in (FieldClass.SETTING, FieldClass.MEASUREMENT)


def _is_gone(change: Change) -> bool:
    return change.kind in (Kind.LOST, Kind.REMOVED) and _counts(change)
