"""One rule, or one fault of reading."""

from __future__ import annotations

from jobcheck.commands.lint import unknown_rule
from jobcheck.rules.base import Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import BY_NAME


def explained(name: str) -> Rule | str:
    """Return a rule, or the meaning of a fault of reading.

    Raises:
        CallRefused: the rule does not exist; the message names near ones.
    """
    if name in BY_NAME:
        return BY_NAME[name]
    if name in FAULTS:
        return FAULTS[name]
    raise unknown_rule(name)
