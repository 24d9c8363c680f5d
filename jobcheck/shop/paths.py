"""Paths: the name of one value in a shop, whichever file holds it."""

import json
import re
from collections.abc import Iterable
from functools import lru_cache

Path = tuple[str, ...]

_PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PART = re.compile(r'([A-Za-z0-9_-]+)|("(?:[^"\\]|\\.)*")')


def show(path: Path) -> str:
    """Return a path as findings print it: `jobs.soil-logger.placements."J 1".x`."""
    return ".".join(
        key if _PLAIN_KEY.fullmatch(key) else json.dumps(key, ensure_ascii=False) for key in path
    )


def parse(text: str) -> Path:
    """Read a path as `show` prints it.

    Raises:
        ValueError: the text is not a path; the message has the place of the error.
    """
    keys: list[str] = []
    at = 0
    while True:
        part = _PART.match(text, at)
        if part is None:
            raise ValueError(f"{text!r} is not a path: a key is expected at character {at + 1}")
        keys.append(part[1] if part[1] is not None else json.loads(part[2]))
        at = part.end()
        if at == len(text):
            return tuple(keys)
        if text[at] != ".":
            raise ValueError(f"{text!r} is not a path: a dot is expected at character {at + 1}")
        at += 1


def is_within(path: Path, selection: Path) -> bool:
    """Return whether a path is the selection itself or below it."""
    return path[: len(selection)] == selection


def any_within(path: Path, selections: Iterable[Path]) -> bool:
    """Return whether a path is within one of several selections."""
    return any(is_within(path, selection) for selection in selections)


def paths_among(words: Iterable[str]) -> tuple[Path, ...]:
    """Return the paths among words of a command, without its options and what is to be filled in.

    Raises:
        ValueError: a word is none of them.
    """
    return tuple(parse(word) for word in words if not word.startswith("-") and not word.isupper())


def look_up(plain: object, path: Path) -> object:
    """Return the plain value at a path, or None where there is none.

    A list's items are keyed by their index written as text.
    """
    for key in path:
        if isinstance(plain, dict):
            plain = plain.get(key)
        elif isinstance(plain, list) and key.isdecimal() and int(key) < len(plain):
            plain = plain[int(key)]
        else:
            return None
    return plain


@lru_cache(maxsize=8192)  # rules sort the same names many times
def natural(name: str) -> tuple[list[tuple[int, str]], str]:
    """Return the key that sorts names as people do: R2 before R10, whatever the files' order.

    Digits are compared by their count and then as text, so that no number is too long; text comes
    after digits.
    """
    runs = re.findall(r"0*([0-9]+)|([^0-9]+)", name)
    return [(len(digits), digits) if digits else (1 << 30, text) for digits, text in runs], name
