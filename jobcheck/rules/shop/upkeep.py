"""Rules about the upkeep of findings: accepted ones, and rules that do not run."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, timedelta

from jobcheck.findings import Level, Problem, Remedy, command
from jobcheck.rules.acceptances import LONGEST_DAYS, Acceptances
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.renamed import RENAMED
from jobcheck.schema.shop_file import Acceptance
from jobcheck.shop.paths import Path
from jobcheck.wording import count, listed, near

_ACCEPTED: Path = ("shop", "accepted")
_DISABLED: Path = ("shop", "disabled")
_MOST_SHOWN = 4
"""Places that a finding shows; the count covers the rest."""

_SPARE = "nozzles.bore-2-2: {tip_outer_mm: 3.5, bore_mm: 2.2}\n"
"""A finding that the examples accept: a nozzle that nothing names."""


def _acceptances(look: Inspection) -> Iterator[tuple[str, str, Acceptance]]:
    """Yield (rule, path as written, acceptance) of rules that can be accepted, in their order."""
    for name, paths in sorted(look.shop.root.accepted.items()):
        known = look.rules_known.get(name)
        for text, acceptance in sorted(paths.items()) if known and not known.is_binding else ():
            yield name, text, acceptance


def _used(look: Inspection) -> set[tuple[str, str]]:
    """Return rule and path of the acceptances that cover something reported."""
    acceptances = Acceptances(look.shop.root)
    return {
        (entry.rule.name, text)
        for entry in look.reported
        for text in acceptances.covering(entry.rule.name, entry.problem.path)
    }


@rule(
    Level.WARNING,
    Level.NOTE,
    fails=f"{_SPARE}shop.accepted.entries-unused.nozzles: {{because: a spare, until: 2026-11-25}}",
    passes=f"{_SPARE}shop.accepted.entries-unused.nozzles: {{because: a spare, until: 2027-11-26}}",
    is_upkeep=True,
)
def acceptance_outdated(look: Inspection) -> Iterator[Problem]:
    """An acceptance has expired, has no end within a year, or matches no finding.

    An expired one still holds: the calendar alone never stops a commit. One that matches nothing is
    a note; it is not reported while a file is not understood, or for a rule that did not run.

    On the machine: a fault that was accepted for a while stays for good, when nobody remembers why;
    one that comes back is hidden.

    To do: correct the fault and remove the acceptance, or judge it again and set an end within a
    year; `jobcheck accept` writes one.

    Source: common practice, no published source.
    """
    used, latest = _used(look), look.today + timedelta(days=LONGEST_DAYS)
    idle: dict[str, list[str]] = defaultdict(list)
    ended: dict[date, list[tuple[str, str]]] = defaultdict(list)
    endless: list[tuple[str, str, date | None]] = []
    for name, text, acceptance in _acceptances(look):
        until = acceptance.until
        if (name, text) not in used:
            if name in look.rules_run and not look.shop.not_understood:
                idle[name].append(text)
        elif until is None or until > latest:
            endless.append((name, text, until))
        elif until <= look.today:
            ended[until].append((name, text))
    for day, entries in sorted(ended.items()):
        yield _ended(day, entries, look.today)
    if endless:
        yield _endless(endless, latest)
    found = Counter(entry.rule.name for entry in look.reported)
    for name, texts in idle.items():
        yield _idle(name, texts, found[name])


def _idle(name: str, texts: list[str], found: int) -> Problem:
    return Problem(
        path=(*_ACCEPTED, name, texts[0]),
        related=tuple((*_ACCEPTED, name, text) for text in texts[1:_MOST_SHOWN]),
        message=f"{name} is accepted at {listed(texts, 3)}, but finds nothing there.",
        observed=f"{name} finds {count(found, 'fault')} in the whole shop",
        consequence="If the fault comes back there, it will be hidden.",
        remedy=("Remove the acceptance, or correct its path.",),
        level=Level.NOTE,
    )


def _ended(day: date, entries: list[tuple[str, str]], today: date) -> Problem:
    paths = [(*_ACCEPTED, name, text, "until") for name, text in entries]
    rules = Counter(name for name, _ in entries)
    by_rule = [f"{name} ({amount})" for name, amount in rules.items()]
    name, text = entries[0]
    is_one = len(entries) == 1
    return Problem(
        path=paths[0],
        related=tuple(paths[1:_MOST_SHOWN]),
        message=f"the acceptance of {name} at {text} expired on {day}."
        if is_one
        else f"{len(entries)} acceptances expired on {day}: {listed(by_rule)}.",
        observed=f"until {day}; today is {today}",
        consequence="The finding is still there and still hidden."
        if is_one
        else "The findings are still there and still hidden.",
        remedy=(
            "Correct the fault and remove the acceptance, or judge it again and set a new end.",
        ),
    )


def _endless(endless: list[tuple[str, str, date | None]], latest: date) -> Problem:
    name, text, until = endless[0]
    more = f" and {len(endless) - 1} more" if endless[1:] else ""
    return Problem(
        path=(*_ACCEPTED, name, text, "until"),
        related=tuple((*_ACCEPTED, *entry[:2], "until") for entry in endless[1:_MOST_SHOWN]),
        message=f"the acceptance of {name} at {text}{more} has no end within a year.",
        observed=f"until {until}" if until else "until missing",
        expected=f"{latest} at the latest",
        consequence="The finding stays hidden when nobody remembers why.",
        remedy=(f"Set until to {latest} or earlier.",),
    )


@rule(
    Level.WARNING,
    fails="shop.disabled.feeder-slot-wrong: ' '",
    passes="shop.disabled.feeder-slot-wrong: no feeders but trays",
    is_upkeep=True,
)
def silencing_faulty(look: Inspection) -> Iterator[Problem]:
    """An accepted or disabled rule has no reason, does not exist, or cannot be silenced.

    A rule that was renamed is answered with its new name. Faults of a file and lost camera
    settings cannot be silenced.

    On the machine: nothing where the entry has no effect. Without a reason nobody knows later
    whether the fault was judged or only hidden.

    To do: write the reason, correct the name, or remove the entry; `jobcheck rules` lists all
    names.

    Source: the registry of rules; the reason is common practice, no published source.
    """
    silenced = [
        ((*_DISABLED, name), f"rule {name} is disabled")
        for name, because in sorted(look.shop.root.disabled.items())
        if name in look.rules_known and not because.strip()
    ]
    silenced += [
        ((*_ACCEPTED, name, text, "because"), f"{name} is accepted at {text}")
        for name, text, acceptance in _acceptances(look)
        if not (acceptance.because or "").strip()
    ]
    for path, silence in silenced:
        yield Problem(
            path=path,
            message=f"{silence} without a reason.",
            consequence="Later nobody knows whether this was judged or only hidden.",
            remedy=("Write the reason, or remove the entry and correct the fault.",),
        )
    named = [(_DISABLED, name) for name in look.shop.root.disabled]
    named += [(_ACCEPTED, name) for name in look.shop.root.accepted]
    for block, name in sorted(named):
        known = look.rules_known.get(name)
        if known is None or known.is_binding:
            yield _without_effect(look, block, name)


def _without_effect(look: Inspection, block: Path, name: str) -> Problem:
    message, remedy = _why_without(look, block, name)
    return Problem(
        path=(*block, name),
        message=message,
        observed=name,
        consequence="This entry has no effect.",
        remedy=remedy,
    )


def _why_without(look: Inspection, block: Path, name: str) -> tuple[str, Remedy]:
    """Return why an entry has no effect, and what to do."""
    if name in look.rules_known:
        return f"{name} cannot be {block[-1]}.", ("Correct the finding, and remove this entry.",)
    if name in FAULTS:
        return (
            f"{name} is a fault of a file; it cannot be {block[-1]}.",
            ("Correct the file, and remove this entry.",),
        )
    if name in RENAMED:
        new = RENAMED[name]
        if not new:
            return f"rule {name} was dropped.", ("Remove this entry.",)
        return f"rule {name} is now {new}.", (f"Write {new} instead.",)
    meant = near(name, look.rules_known)
    guess: Remedy = (f"Did you mean {meant}?",) if meant else ("See the names:", command("rules"))
    return f"{name} is {block[-1]}, but that rule does not exist.", guess
