"""Rules and their input."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from inspect import cleandoc
from typing import NamedTuple

from jobcheck.facts.facts import Facts
from jobcheck.findings import Level, Problem, Unchecked
from jobcheck.schema.limits import Limits
from jobcheck.shop.paths import Path
from jobcheck.shop.shop import Shop
from jobcheck.wording import listed


class Reported(NamedTuple):
    """A problem with the rule that reports it."""

    rule: Rule
    problem: Problem

    @property
    def level(self) -> Level:
        """The problem's own level, else the rule's."""
        return self.problem.level or self.rule.level


@dataclass(frozen=True)
class Inspection:
    """The input of a rule: the shop, the day, the last known-good shop if there is one.

    The last three are for rules about findings (upkeep, values missing since the record):
    `reported` has the problems of all other rules, `rules_run` the names of those rules,
    `rules_known` every rule by its name.
    """

    shop: Shop
    today: date
    read_good: Callable[[], Shop | None] = field(default=lambda: None, repr=False)
    reported: tuple[Reported, ...] = ()
    rules_run: frozenset[str] = frozenset()
    rules_known: Mapping[str, Rule] = field(default_factory=dict, repr=False)

    @cached_property
    def good(self) -> Shop | None:
        """The last known-good shop, read when it is first asked for."""
        return self.read_good()

    @cached_property
    def facts(self) -> Facts:
        """What follows from the shop."""
        return Facts(self.shop)

    @cached_property
    def good_facts(self) -> Facts | None:
        """What follows from the last known-good shop."""
        return Facts(self.good) if self.good else None

    @property
    def limits(self) -> Limits:
        """Thresholds in force."""
        return self.shop.limits


def lacking(concerns: str, key: str, paths: Sequence[Path]) -> Unchecked:
    """Return what could not be checked because the entries at some paths have no value of a key."""
    names = listed([path[1] if len(path) > 2 else path[0] for path in paths])
    return Unchecked(concerns, f"no {key} on {names}", key, tuple(paths), len(paths))


def at_level(
    level: Level, said: Iterator[Problem] | Iterator[Problem | Unchecked]
) -> Iterator[Problem | Unchecked]:
    """Yield what a check says; a problem without a level of its own gets the given one."""
    for one in said:
        if isinstance(one, Problem) and one.level is None:
            yield one._replace(level=level)
        else:
            yield one


Check = Callable[[Inspection], Iterator[Problem | Unchecked]]
SECTIONS = ("On the machine", "To do", "Source")


class Rule(NamedTuple):
    """A rule with its documentation and its two examples.

    `fails` and `passes` are lines `path: value` that change the starter shop; `~` takes a value
    away. With `compares` the starter shop itself is the known-good record of the examples. A rule
    that is binding can be neither disabled nor accepted.
    """

    name: str
    levels: tuple[Level, ...]
    check: Check
    fails: str
    passes: str
    compares: bool = False
    is_upkeep: bool = False
    is_binding: bool = False

    def __call__(self, inspection: Inspection) -> Iterator[Problem | Unchecked]:
        """Yield the problems of a shop, and the checks that lacked a value."""
        return self.check(inspection)

    @property
    def level(self) -> Level:
        """The level of a problem that does not say its own."""
        return self.levels[0]

    @property
    def summary(self) -> str:
        """The first sentence of the documentation."""
        return self.documentation.split("\n\n")[0].replace("\n", " ")

    @property
    def documentation(self) -> str:
        """The docstring: the check, on the machine, to do, source."""
        return cleandoc(self.check.__doc__ or "")

    @property
    def paragraphs(self) -> tuple[tuple[str, str], ...]:
        """The rest of the documentation: the title of each paragraph, empty for none, and text."""
        found = []
        for part in self.documentation.split("\n\n")[1:]:
            text = " ".join(part.split())
            title = next((one for one in SECTIONS if text.startswith(f"{one}: ")), "")
            found.append((title, text.removeprefix(f"{title}: ") if title else text))
        return tuple(found)

    def section(self, title: str) -> str:
        """Return one section of the documentation as one line, empty where there is none."""
        found = re.search(rf"^{title}: (.+?)(?=\n\n|\Z)", self.documentation, re.S | re.M)
        return " ".join(found[1].split()) if found else ""


def rule(
    *levels: Level,
    fails: str,
    passes: str,
    compares: bool = False,
    is_upkeep: bool = False,
    is_binding: bool = False,
) -> Callable[[Check], Rule]:
    """Make a rule of a function; its name with dashes is the rule's.

    `levels` are all levels that its problems may have, the usual one first.
    """

    def made(check: Check) -> Rule:
        name = check.__name__.replace("_", "-")
        return Rule(
            name, levels, check, cleandoc(fails), cleandoc(passes), compares, is_upkeep, is_binding
        )

    return made
