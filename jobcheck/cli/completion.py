"""What a shell offers to complete: selections, cameras, records, states and rules.

Click writes the shell's script: `eval "$(_JOBCHECK_COMPLETE=bash_source jobcheck)"`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath

import click

from jobcheck.commands.calls import CallRefused, shop_root


def complete_selection(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer the keys of the next level below what is typed."""
    from jobcheck.commands.completion import selections_for

    return _offered(context, lambda root: selections_for(root, incomplete))


def complete_camera(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer cameras."""
    from jobcheck.commands.completion import cameras

    return _matching(_offered(context, cameras), incomplete)


def complete_label(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer the labels of records."""
    from jobcheck.commands.completion import labels

    return _matching(_offered(context, labels), incomplete)


def complete_state(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer states."""
    from jobcheck.commands.completion import labels

    recorded = [f"good:{label}" for label in _offered(context, labels)]
    return _matching(["now", "staged", "good", "git:HEAD", *recorded], incomplete)


def complete_rule(
    _context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer rules."""
    from jobcheck.rules.registry import BY_NAME

    return _matching(list(BY_NAME), incomplete)


def _matching(words: list[str], incomplete: str) -> list[str]:
    return [word for word in words if word.startswith(incomplete)]


def _offered(context: click.Context, of: Callable[[FilePath], list[str]]) -> list[str]:
    try:
        return of(shop_root(context.params.get("shop")))
    except CallRefused:  # no shop here: there is nothing to offer
        return []


selections_argument = click.argument(
    "selections",
    nargs=-1,
    required=True,
    metavar="SELECTION...",
    shell_complete=complete_selection,
)
"""The argument of a command that is about selections."""
