"""Reading the catalogue of true shops, and what lint says of one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from jobcheck.facts.fingerprint import tuning_fingerprint
from jobcheck.findings import Finding, Level
from jobcheck.shop.paths import look_up, parse, show
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import folder_state
from tests.support.edited import edited, linted, starter

_EXAMPLE = FilePath(__file__).parents[2] / "examples" / "soil-logger"
_CATALOGUE = FilePath(__file__).with_name("catalogue.txt")
_PER_MM = {"mm to inch": 1 / 25.4, "mm to mil": 1000 / 25.4}


class Variant(NamedTuple):
    """One true shop: its name, what is special about it, and its edits."""

    name: str
    about: str
    base: str
    edits: tuple[str, ...]
    retuned: bool

    def __str__(self) -> str:
        return self.name


def variants() -> tuple[Variant, ...]:
    """Return every shop of the catalogue, in its order."""
    found = []
    for block in re.split(r"^(?=\[)", _CATALOGUE.read_text(), flags=re.MULTILINE)[1:]:
        head, *rest = [line for line in block.splitlines() if line and not line.startswith("#")]
        name, about = head[1:].split("] ", 1)
        edits = tuple(line for line in rest if line[:2] != "! " and not line.startswith("base: "))
        base = "starter" if "base: starter" in rest else "example"
        found.append(Variant(name, about, base, edits, "! retuned" in rest))
    return tuple(found)


def findings_of(variant: Variant) -> tuple[Finding, ...]:
    """Return the errors and warnings that lint reports."""
    base = starter() if variant.base == "starter" else _example()
    assert base.shop is not None
    edits = [line for edit in variant.edits for line in _spread(edit, base.shop.plain)]
    reading = edited("\n".join(edits), base)
    if variant.retuned:
        reading = edited("\n".join(_stamps(reading)), reading)
    return tuple(f for f in linted(reading).findings if f.level is not Level.NOTE)


@cache
def _example() -> Reading:
    return read_shop(folder_state(_EXAMPLE))


def _spread(edit: str, plain: Any) -> Iterator[str]:
    """Yield an edit for each entry that its `*` means, where it has something to change."""
    text, _, value = edit.partition(": ")
    before, star, after = text.partition(".*")
    if star:
        entries = look_up(plain, parse(before))
        assert isinstance(entries, dict), edit
        for key, entry in entries.items():
            if isinstance(entry, dict) and (value != "null" or _has(entry, after)):
                yield from _spread(f"{before}.{show((key,))}{after}: {value}", plain)
    elif value in _PER_MM:
        yield f"{text}: {float(str(look_up(plain, parse(text)))) * _PER_MM[value]:.6f}"
    else:
        yield edit


def _has(entry: dict[str, Any], after: str) -> bool:
    path = parse(after.removeprefix("."))
    return look_up(entry, path) is not None


def _stamps(reading: Reading) -> Iterator[str]:
    assert reading.shop is not None
    shop = reading.shop
    for name, recognition in shop.recognitions.items():
        stamp = tuning_fingerprint(shop.cameras[recognition.camera], recognition)
        yield f"recognitions.{name}.tuned_under: {stamp}"
