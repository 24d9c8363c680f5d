"""What is checked, and why."""

from __future__ import annotations

from typing import NamedTuple

from jobcheck.rules.base import Rule
from jobcheck.rules.registry import RULES


class Area(NamedTuple):
    """The rules of one area, in the order of the registry."""

    name: str
    rules: tuple[Rule, ...]


def areas() -> tuple[Area, ...]:
    """Return all rules by area: the module that each stands in."""
    grouped: dict[str, list[Rule]] = {}
    for rule in RULES:
        grouped.setdefault(rule.check.__module__.rpartition(".")[2].replace("_", "-"), []).append(
            rule
        )
    return tuple(Area(name, tuple(rules)) for name, rules in grouped.items())
