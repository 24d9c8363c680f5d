"""Rules about days that are written in the description."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date

from jobcheck.findings import Level, Problem
from jobcheck.rules.base import Inspection, rule
from jobcheck.shop.classes import keys_of_days
from jobcheck.shop.paths import Path, natural, show
from jobcheck.shop.shop import Shop
from jobcheck.wording import listed

_MOST_SHOWN = 5
_ROWS = ("placements", "bill")


@rule(
    Level.WARNING,
    Level.NOTE,
    fails="feeders.f01.reel: {loaded: 2027-11-02}",
    passes="feeders.f01.reel: {loaded: 2026-11-25}",
)
def date_implausible(look: Inspection) -> Iterator[Problem]:
    """A day is in the future, contradicts its event's name, or is before the recorded day.

    The last is a note: a value that was put back from an older record has an earlier day, too. All
    days with one fault are one finding. The end of an acceptance may be in the future.

    On the machine: a worn or shifted thing is trusted, or a good value is called old: until its day
    an event has no effect, and nothing makes a value of the future old.

    To do: correct the day, or keep the older value with its day.

    Source: the calendar and the last known-good record; nothing to measure.
    """
    yield from _in_future(look)
    yield from _against_name(look)
    yield from _before_recorded(look)


def _in_future(look: Inspection) -> Iterator[Problem]:
    ahead = [(path, day) for path, day in _written_days(look.shop) if day > look.today]
    if not ahead:
        return
    shown = [f"{show(path)} {day}" for path, day in ahead]
    is_one = len(ahead) == 1
    yield Problem(
        path=ahead[0][0],
        related=tuple(path for path, _ in ahead[1:_MOST_SHOWN]),
        message=f"{show(ahead[0][0])} is in the future: {ahead[0][1]}."
        if is_one
        else f"{len(ahead)} days are in the future: {listed(shown, 3)}.",
        observed=f"{ahead[0][1] if is_one else listed(shown, _MOST_SHOWN)}; today is {look.today}",
        consequence="Until then no event makes the value old, and an event has no effect.",
        remedy=("Correct the day." if is_one else "Correct the days.",),
    )


def _written_days(shop: Shop) -> Iterator[tuple[Path, date]]:
    """Yield every day that is written, by its path, in the order of paths."""
    for key in sorted(shop.plain):
        if key == "jobs":
            for job, described in sorted(shop.plain["jobs"].items(), key=lambda e: natural(e[0])):
                yield from _below(described, ("jobs", job))
        elif key not in ("shop", "parts", "bridge"):
            yield from _below(shop.plain[key], (key,))


def _below(plain: object, path: Path) -> Iterator[tuple[Path, date]]:
    for key, value in plain.items() if isinstance(plain, Mapping) else ():
        at = (*path, key)
        if isinstance(value, Mapping) and key in _ROWS:
            yield from _below({"pin1_checked": value.get("pin1_checked")}, at)
        elif isinstance(value, Mapping):
            yield from _below(value, at)
        elif key in keys_of_days() and (day := _day(value)):
            yield at, day


def _day(value: object) -> date | None:
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:  # a fault of reading
        return None


_DAY_IN_NAME = re.compile(r"(\d{4}-\d{2}-\d{2})(?!\d)")


def _against_name(look: Inspection) -> Iterator[Problem]:
    events = look.shop.machine.events if look.shop.machine else {}
    for name in sorted(events, key=natural):
        named = _DAY_IN_NAME.match(name)
        if named and named[1] != events[name].date.isoformat():
            yield Problem(
                path=("events", name, "date"),
                message=f"event {name} has the date {events[name].date}.",
                observed=f"{events[name].date}; {named[1]} in its name",
                consequence="Values measured between the two days may be called fresh or old "
                "wrongly.",
                remedy=("Correct the one that is wrong.",),
            )


def _before_recorded(look: Inspection) -> Iterator[Problem]:
    if look.good is None or look.good is look.shop:
        return
    back = [
        (path, day, was)
        for path, day in _written_days(look.shop)
        if (was := _day(look.good.plain_at(path))) and day < was
    ]
    if not back:
        return
    shown = [f"{show(path)} {day}, recorded {was}" for path, day, was in back]
    path, day, was = back[0]
    yield Problem(
        path=path,
        related=tuple(path for path, _, _ in back[1:_MOST_SHOWN]),
        message=f"{show(path)} is {day}, earlier than the recorded {was}."
        if len(back) == 1
        else f"{len(back)} days are earlier than the recorded ones.",
        observed=listed(shown, 3),
        consequence="The value is an older one, or its day is a slip.",
        remedy=("Look which it is, and correct the day if it is a slip.",),
        level=Level.NOTE,
    )
