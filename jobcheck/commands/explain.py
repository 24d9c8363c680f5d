"""One rule, or one fault of reading."""

from __future__ import annotations

from jobcheck.commands.keys import Key, all_keys, keys_called
from jobcheck.commands.lint import unknown_rule
from jobcheck.findings import CallRefused
from jobcheck.rules.base import Rule
from jobcheck.rules.faults import FAULTS
from jobcheck.rules.registry import BY_NAME
from jobcheck.rules.renamed import RENAMED
from jobcheck.wording import listed, near


def explained(name: str) -> Rule | str | list[Key]:
    """Return a rule, the meaning of a fault of reading, or the keys of that name.

    Raises:
        CallRefused: neither a rule nor a key has the name; the message names near ones.
    """
    if name in BY_NAME:
        return BY_NAME[name]
    if name in FAULTS:
        return FAULTS[name]
    if keys := keys_called(name):
        return keys
    close = near(name.rpartition(".")[2], {key.name for key in all_keys()})
    if close and name not in RENAMED and not near(name, BY_NAME):
        paths = listed([key.path for key in keys_called(close)], 3)
        raise CallRefused(f"{name} is neither a rule nor a key. Near: {paths}.")
    raise unknown_rule(name)
