"""Every rule by its area, and every fault of reading."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from jobcheck.rules.base import Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import AREAS, RULES


class Area(NamedTuple):
    """The rules of one area, in the order of the registry."""

    name: str
    rules: tuple[Rule, ...]


class Catalogue(NamedTuple):
    """All rules by area, and the faults of reading with their meanings."""

    areas: tuple[Area, ...]
    faults: Mapping[str, str]

    @property
    def total(self) -> int:
        """How many rules there are."""
        return sum(len(area.rules) for area in self.areas)


def catalogue() -> Catalogue:
    """Return all rules and faults of reading."""
    return Catalogue(tuple(Area(name, rules) for name, rules in AREAS.items()), FAULTS)


def summaries() -> dict[str, str]:
    """Return what each rule checks, and what each fault of reading means, by name."""
    return {**FAULTS, **{rule.name: rule.summary for rule in RULES}}
