"""Selections on the command line: paths into the description, as findings print them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from jobcheck.findings import CallRefused
from jobcheck.schema.fields import FieldClass
from jobcheck.shop.classes import class_of
from jobcheck.shop.paths import Path, parse, show
from jobcheck.shop.shop import Shop

_DEEPEST = 4
"""How deep a name is looked for: as deep as a placement or a camera's control."""


def selections(texts: Iterable[str], *shops: Shop) -> tuple[Path, ...]:
    """Return the paths that texts name; each must be in one of the shops.

    Raises:
        CallRefused: a text is not a path, or names nothing; the message names near ones.
    """
    return tuple(_selection(text, shops) for text in texts)


def _selection(text: str, shops: tuple[Shop, ...]) -> Path:
    try:
        path = parse(text)
    except ValueError as error:
        raise CallRefused(f"{error}.") from None
    if not any(shop.plain_at(path) is not None for shop in shops):
        raise CallRefused(f"Nothing is called {text}.{_near(path, shops)}")
    if any(isinstance(shop.plain_at(path[:-1]), list) for shop in shops):
        raise CallRefused(f"{text} is an item of a list: name the list, {show(path[:-1])}.")
    return path


def _near(path: Path, shops: tuple[Shop, ...]) -> str:
    """Name the keys where the path goes astray, and the path below another entry."""
    from difflib import get_close_matches

    for length in range(len(path)):
        known = [key for shop in shops for key in _keys(shop, path[:length])]
        if path[length] not in known:
            near = get_close_matches(path[length], dict.fromkeys(known), n=3, cutoff=0.5)
            names = [show((*path[:length], key, *path[length + 1 :])) for key in near]
            names = [*_ending_in(path, shops), *names][:3]
            return f" Near: {', '.join(names)}." if names else ""
    return ""


def _ending_in(path: Path, shops: tuple[Shop, ...]) -> list[str]:
    """Name what ends in a path: `cameras.up` for `up`."""
    found: dict[str, None] = {}
    levels: list[tuple[Path, object]] = [((), shop.plain) for shop in shops]
    for _ in range(_DEEPEST):
        levels = [
            ((*above, key), value)
            for above, held in levels
            if isinstance(held, dict)
            for key, value in held.items()
        ]
        found |= dict.fromkeys(show(here) for here, _ in levels if here[-len(path) :] == path)
    return list(found)


def _keys(shop: Shop, path: Path) -> list[str]:
    found = shop.plain_at(path) if path else shop.plain
    return list(found) if isinstance(found, dict) else []


def selections_of(paths: Sequence[Path]) -> list[str]:
    """Return the shortest selections that deliver all paths: each measurement is named."""
    found: dict[str, None] = {}
    settings = [path for path in paths if class_of(path) is not FieldClass.MEASUREMENT]
    if settings:
        found[show(_shared(settings))] = None
    for path in paths:
        if class_of(path) is FieldClass.MEASUREMENT:
            above = path[:-1]
            is_block = len(above) > 2 and class_of(above) is FieldClass.MEASUREMENT
            found[show(above if is_block or path[-1].isdecimal() else path)] = None
    return list(found)


def _shared(paths: list[Path]) -> Path:
    """Return the selection that covers all paths; an item of a list is named by its list."""
    common = paths[0]
    for path in paths:
        while path[: len(common)] != common:
            common = common[:-1]
    while common and common[-1].isdecimal() and len(common) > 2:
        common = common[:-1]
    return common or paths[0][:1]
