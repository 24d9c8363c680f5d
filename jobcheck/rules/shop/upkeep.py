"""Rules about the upkeep of findings: what is accepted, and which rules do not run."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date

from jobcheck.findings import Level, Problem, Remedy, command
from jobcheck.rules.acceptances import Acceptances
from jobcheck.rules.base import Inspection, rule
from jobcheck.rules.faults import FAULTS
from jobcheck.schema.shop_file import Acceptance
from jobcheck.shop.paths import Path
from jobcheck.wording import count, listed, near

_ACCEPTED: Path = ("shop", "accepted")
_DISABLED: Path = ("shop", "disabled")
_MOST_SHOWN = 4
"""Places that a finding shows; the count tells of the rest."""

_SPARE = "nozzles.bore-2-2: {tip_outer_mm: 3.5, bore_mm: 2.2}\n"
"""A finding that the examples accept: a nozzle that nothing names."""


def _acceptances(look: Inspection) -> Iterator[tuple[str, str, Acceptance]]:
    """Yield (rule, path as written, acceptance) of the rules there are, by rule and path."""
    for name, paths in sorted(look.shop.root.accepted.items()):
        for text, acceptance in sorted(paths.items()) if name in look.rules_known else ():
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
    Level.NOTE,
    fails="shop.accepted.entries-unused.nozzles: {because: a spare, until: 2027-03-01}",
    passes=f"{_SPARE}shop.accepted.entries-unused.nozzles: {{because: a spare, until: 2027-03-01}}",
    is_upkeep=True,
)
def acceptance_unused(look: Inspection) -> Iterator[Problem]:
    """An acceptance matches no finding; those of one rule are one note.

    It says nothing while a file is not understood, nor of a rule that did not run.

    On the machine: nothing now; but should the same fault come back one day, it would be hidden.

    To do: take the acceptance away, or correct its path.

    Source: common practice, no published source.
    """
    if look.shop.not_understood:
        return
    used = _used(look)
    idle: dict[str, list[str]] = defaultdict(list)
    for name, text, _ in _acceptances(look):
        if name in look.rules_run and (name, text) not in used:
            idle[name].append(text)
    found = Counter(entry.rule.name for entry in look.reported)
    for name, texts in idle.items():
        yield Problem(
            path=(*_ACCEPTED, name, texts[0]),
            related=tuple((*_ACCEPTED, name, text) for text in texts[1:_MOST_SHOWN]),
            message=f"{name} is accepted at {listed(texts, 3)}, where it finds nothing.",
            observed=f"{name} finds {count(found[name], 'fault')} in the whole shop",
            consequence="Should the fault come back there, nobody would be told.",
            remedy=("Take the acceptance away, or correct its path.",),
        )


@rule(
    Level.WARNING,
    fails=f"{_SPARE}shop.accepted.entries-unused.nozzles: {{because: a spare, until: 2026-11-25}}",
    passes=f"{_SPARE}shop.accepted.entries-unused.nozzles: {{because: a spare, until: 2026-11-26}}",
    is_upkeep=True,
)
def acceptance_run_out(look: Inspection) -> Iterator[Problem]:
    """The day has come on which an accepted finding is to be looked at again.

    The finding stays accepted, so that the calendar alone never stops a commit. Acceptances that
    end on one day are one finding.

    On the machine: a fault that was lived with for a while is lived with for good.

    To do: mend the fault and take the acceptance away, or look at it and set a new day.

    Source: common practice, no published source.
    """
    used = _used(look)
    ended: dict[date, list[tuple[str, str]]] = defaultdict(list)
    for name, text, acceptance in _acceptances(look):
        if acceptance.until and acceptance.until <= look.today and (name, text) in used:
            ended[acceptance.until].append((name, text))
    for day, entries in sorted(ended.items()):
        yield _ended(day, entries, look.today)


def _ended(day: date, entries: list[tuple[str, str]], today: date) -> Problem:
    paths = [(*_ACCEPTED, name, text, "until") for name, text in entries]
    rules = Counter(name for name, _ in entries)
    by_rule = [f"{name} ({amount})" for name, amount in rules.items()]
    name, text = entries[0]
    return Problem(
        path=paths[0],
        related=tuple(paths[1:_MOST_SHOWN]),
        message=f"the acceptance of {name} at {text} ran out on {day}."
        if len(entries) == 1
        else f"{len(entries)} acceptances ran out on {day}: {listed(by_rule)}.",
        observed=f"until {day}; today is {today}",
        consequence="What was to be lived with for a while is still there, and still not shown.",
        remedy=(
            "Look whether it still holds. Mended: take the acceptance away. Else set a new day.",
        ),
    )


@rule(
    Level.WARNING,
    fails="shop.disabled.feeder-slot-shared: ' '",
    passes="shop.disabled.feeder-slot-shared: no feeders but trays",
    is_upkeep=True,
)
def reason_missing(look: Inspection) -> Iterator[Problem]:
    """An accepted finding or a disabled rule has no reason.

    On the machine: nobody can tell later whether the fault was judged or only silenced.

    To do: write why it is lived with; or take it away and mend the fault.

    Source: common practice, no published source.
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
    for path, what in silenced:
        yield Problem(
            path=path,
            message=f"{what} without a reason.",
            consequence="Nobody can tell later whether this was judged or only silenced.",
            remedy=("Write why, or take it away and mend the fault.",),
        )


@rule(
    Level.WARNING,
    fails="shop.disabled.feeder-slots-shared: no feeders but trays",
    passes="shop.disabled.feeder-slot-shared: no feeders but trays",
    is_upkeep=True,
)
def rule_unknown(look: Inspection) -> Iterator[Problem]:
    """An accepted or disabled rule does not exist.

    On the machine: what it should silence is still reported, and what it once silenced may have
    another name now.

    To do: correct the name; `jobcheck rules` lists all.

    Source: the registry of rules; nothing to measure.
    """
    named = [(_DISABLED, name) for name in look.shop.root.disabled]
    named += [(_ACCEPTED, name) for name in look.shop.root.accepted]
    for block, name in sorted(named):
        if name not in look.rules_known:
            yield _unknown(look, block, name)


def _unknown(look: Inspection, block: Path, name: str) -> Problem:
    is_fault, meant = name in FAULTS, near(name, look.rules_known)
    guess: Remedy = (f"Did you mean {meant}?",) if meant else ("See the names:", command("rules"))
    return Problem(
        path=(*block, name),
        message=f"{name} is the fault of a file; it cannot be {block[-1]}."
        if is_fault
        else f"{name} is {block[-1]}, but there is no such rule.",
        observed=name,
        consequence="It silences nothing.",
        remedy=("Correct the file and remove this.",) if is_fault else guess,
    )
