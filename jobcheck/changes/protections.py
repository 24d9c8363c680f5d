"""Checks that a change stops: a flag, a date, a limit, a rule that is switched off."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from typing import Any

from jobcheck.changes.change import Change
from jobcheck.changes.moves import is_entry
from jobcheck.schema.limits import Limits, is_looser
from jobcheck.shop.paths import Path, show
from jobcheck.shop.values import is_absent, leaves
from jobcheck.wording import listed

_CARRIED = (("tape", "pin1"), ("stick", "pin1"), ("tray", "attitude"))
_DAYS = ("measured", "measured_on", "tuned", "orientation_seen", "pin1_checked")


_ACCEPTED = "accepted"
"""Why a finding is no longer reported where its acceptance is new; its end may follow."""

Stopped = tuple[str, str]
"""A check that a change stops, and why: (`polarity of led-0603`, `polarised is false`)."""


def no_longer_checked(changes: Iterable[Change]) -> tuple[str, ...]:
    """Return the checks that changes stop: `polarity of led-0603, polarised is false`."""
    by_reason: dict[str, dict[str, None]] = {}
    for change in changes:
        for check, because in _stopped(change):
            by_reason.setdefault(because, {})[check] = None
    ending = {check for why, checks in by_reason.items() if why != _ACCEPTED for check in checks}
    endless = by_reason.pop(_ACCEPTED, {}).keys() - ending
    if endless:
        by_reason["accepted without an end"] = dict.fromkeys(sorted(endless))
    return tuple(f"{listed(list(checks), 4)}, {why}" for why, checks in by_reason.items())


def _stopped(change: Change) -> Iterator[Stopped]:
    if change.other is not None:
        return
    if is_entry(change.path, change.old) and is_absent(change.new):
        if change.path[0] == "obstacles":
            yield f"moves against obstacle {change.path[1]}", "it is removed"
        return
    if is_entry(change.path, change.new) and is_absent(change.old):
        return  # nothing of it was checked before
    for path, before, after in leaves(change.path, change.old, change.new):
        for look in _LOOKS:
            if stopped := look(path, before, after):
                yield stopped


def _rule(path: Path, before: Any, after: Any) -> Stopped | None:
    if path[:2] != ("shop", "disabled") or len(path) != 3 or is_absent(after):
        return None
    return (f"rule {path[2]}", f"disabled: {after}") if is_absent(before) else None


def _finding(path: Path, before: Any, after: Any) -> Stopped | None:
    if path[:2] != ("shop", "accepted") or is_absent(after):
        return None
    if path[4:] == ("until",):
        return f"{path[2]} at {path[3]}", f"accepted until {after}"
    is_new = path[4:] == ("because",) and is_absent(before)
    return (f"{path[2]} at {path[3]}", _ACCEPTED) if is_new else None


def _limit(path: Path, before: Any, after: Any) -> Stopped | None:
    if path[:2] != ("shop", "limits") or len(path) != 3 or path[2] not in Limits.model_fields:
        return None
    default = Limits.model_fields[path[2]].default
    was, now = (default if is_absent(value) else value for value in (before, after))
    numbers = [value for value in (was, now) if type(value) in (int, float)]
    if len(numbers) < 2 or not is_looser(path[2], now, was):
        return None
    return f"{path[2]} from {was:g} to {now:g}", "which the limit lets pass"


def _controller(path: Path, before: Any, after: Any) -> Stopped | None:
    is_gone = path == ("shop", "bridge") and is_absent(after)
    return ("the controller's files", "the shop names no map") if is_gone else None


def _polarity(path: Path, before: Any, after: Any) -> Stopped | None:
    if path[0] != "outlines" or len(path) != 3:
        return None
    if path[2] == "polarised" and before is True and after is False:
        return f"polarity of {path[1]}", "polarised is false"
    if path[2] == "same_turned_deg" and not is_absent(after):
        return f"turns of {path[1]} by {after}", f"same_turned_deg is {after}"
    if path[2] in ("pad1_at_zero", "pin1_at_zero") and is_absent(after):
        return f"drawing of {path[1]} against its footprint", f"{path[2]} is missing"
    return None


def _feed(path: Path, before: Any, after: Any) -> Stopped | None:
    is_stopped = path[0] == "feeders" and path[2:] in _CARRIED and is_absent(after)
    return (
        (f"direction of pin 1 in {path[1]}", f"{'.'.join(path[2:])} is missing")
        if is_stopped
        else None
    )


def _tuning(path: Path, before: Any, after: Any) -> Stopped | None:
    is_stamp = path[0] == "recognitions" and path[2:] == ("tuned_under",)
    return (
        (f"picture that {path[1]} was tuned under", "tuned_under is missing")
        if is_stamp and is_absent(after)
        else None
    )


def _age(path: Path, before: Any, after: Any) -> Stopped | None:
    """A day that is later than before: events in between no longer make the value old."""
    days = [_day(before), _day(after)]
    if path[-1] not in _DAYS or days[1] is None or (days[0] is not None and days[0] >= days[1]):
        return None
    return show(path[:-1]), f"events before {days[1]} no longer count"


def _day(value: Any) -> date | None:
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None


_LOOKS: tuple[Callable[[Path, Any, Any], Stopped | None], ...] = (
    *(_rule, _finding, _limit, _controller, _polarity, _feed, _tuning, _age),
)
