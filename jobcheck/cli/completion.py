"""What a shell offers to complete: selections, cameras, records, states and rules.

Click writes the shell's script: `eval "$(_JOBCHECK_COMPLETE=bash_source jobcheck)"`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath

import click

from jobcheck.findings import CallRefused
from jobcheck.sources.state.shops import shop_root
from jobcheck.sources.state.state import folder_state


def complete_selection(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer the keys of the next level below what is typed."""
    return _offered(context, lambda root: _selections(root, incomplete))


def complete_camera(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer cameras."""
    return _matching(_offered(context, _cameras), incomplete)


def complete_label(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer the labels of records."""
    return _matching(_offered(context, _labels), incomplete)


def complete_state(
    context: click.Context, _parameter: click.Parameter, incomplete: str
) -> list[str]:
    """Offer states."""
    recorded = [f"good:{label}" for label in _offered(context, _labels)]
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


def _selections(root: FilePath, incomplete: str) -> list[str]:
    """Return the paths that begin with what is typed, one level further."""
    from jobcheck.shop.paths import look_up, parse, show
    from jobcheck.sources.shop_reader import read_shop

    shop = read_shop(folder_state(root)).shop
    typed, dot, _ = incomplete.rpartition(".")
    try:
        above = parse(typed) if dot else ()
    except ValueError:
        return []
    held = look_up(shop.plain, above) if shop else None
    if not isinstance(held, dict):
        return []
    return [path for key in held if (path := show((*above, key))).startswith(incomplete)]


def _cameras(root: FilePath) -> list[str]:
    from jobcheck.sources.shop_reader import read_shop

    shop = read_shop(folder_state(root)).shop
    return list(shop.cameras) if shop else []


def _labels(root: FilePath) -> list[str]:
    from jobcheck.known_good.store import Records

    return [entry.slug for entry in reversed(Records(folder_state(root)).entries)]


selections_argument = click.argument(
    "selections",
    nargs=-1,
    required=True,
    metavar="SELECTION...",
    shell_complete=complete_selection,
)
"""The argument of a command that is about selections."""
