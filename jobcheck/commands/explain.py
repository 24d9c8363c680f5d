"""One rule, or one fault of reading."""

from __future__ import annotations

from jobcheck.commands.lint import unknown_rule
from jobcheck.rules.base import Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import BY_NAME


def explained(name: str) -> Rule | str:
    """Return a rule, or what a fault of reading means.

    Raises:
        CallRefused: there is no such rule; the message names near ones.
    """
    if name in BY_NAME:
        return BY_NAME[name]
    if name in FAULTS:
        return FAULTS[name]
    raise unknown_rule(name)
