"""Every field of the description, changed once each in the example shop."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path as FilePath
from types import UnionType
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from jobcheck.shop.classes import KINDS
from jobcheck.shop.paths import Path, look_up
from jobcheck.shop.shop import Shop
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import HeldFiles, State, folder_state
from tests.support.edited import files_of

EXAMPLE = FilePath(__file__).parents[2] / "examples" / "soil-logger"
NAMES = {
    "cameras": "up",
    "feeders": "f12",
    "outlines": "sod-123",
    "parts": "diode-fast-sod123",
    "recognitions": "diode",
    "placements": "D1",
    "bill": "D1",
    "jobs": "soil-logger",
}
"""The entries whose fields are changed; of other collections it is the first entry."""
FIXED = {
    *("describes", "edition", "file", "columns", "format", "delimiter", "encoding"),
    *("decimal", "origin_mm", "derived"),
}
"""Fields that have one value, or that say how a list is read: another value is another list."""


class Change(NamedTuple):
    """A field, and the shops before and after: a value changed, taken away or put there."""

    path: Path
    word: str
    old: Shop
    new: Shop


@cache
def example() -> Shop:
    shop = read_shop(folder_state(EXAMPLE)).shop
    assert shop is not None
    return shop


def fields() -> Iterator[tuple[Path, FieldInfo]]:
    """Yield every field that holds a value, by a path into the example."""
    for kind, model in KINDS.items():
        if kind not in ("bridge", "trial", "run"):
            prefix = {"shop": ("shop",), "job": ("jobs", NAMES["jobs"])}.get(kind, ())
            yield from _fields(model, prefix)


def _fields(model: type[BaseModel], prefix: Path) -> Iterator[tuple[Path, FieldInfo]]:
    rows = model.__annotations__.get("__pydantic_extra__")
    for inner in _models(rows):
        yield from _fields(inner, (*prefix, NAMES[prefix[-1]]))
    for name, info in model.model_fields.items():
        if name in FIXED:
            continue
        path = (*prefix, name)
        if get_origin(_bare(info.annotation)) is dict:
            held = look_up(example().plain, path)
            first = next(iter(held)) if isinstance(held, dict) and held else "auto_exposure"
            path = (*path, NAMES.get(name, first))
        held_model = next(_models(info.annotation), None)
        if held_model is None:
            yield path, info
        else:
            yield from _fields(held_model, path)


def _bare(annotation: Any) -> Any:
    """Return an annotation without None and constraints around it."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, UnionType):
        options = [option for option in get_args(annotation) if option is not type(None)]
        return _bare(options[0])
    return annotation


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        if not isinstance(inner, str):
            yield from _models(inner)


def changes_of(path: Path, info: FieldInfo) -> Iterator[Change]:
    """Yield a field changed or put there, and taken away where the example has it."""
    old = look_up(example().plain, path)
    for value in _others(old, info):
        shop = _read(path, value)
        if shop is not None:
            yield Change(path, "put there" if old is None else "changed", example(), shop)
            break
    if old is not None and (shop := _read(path, None)) is not None:
        yield Change(path, "taken away", example(), shop)


def _others(old: Any, info: FieldInfo) -> Iterator[Any]:
    """Yield values of a field's type other than one, the likeliest to be allowed first."""
    kind = _bare(info.annotation)
    if kind is dict or get_origin(kind) is dict:
        kind = _bare(get_args(kind)[1])
    if isinstance(old, bool) or kind is bool:
        yield old is not True
    elif get_origin(kind) is Literal:
        yield from (choice for choice in get_args(kind) if choice != old)
    elif kind is date:
        yield "2026-10-20"
    elif get_origin(kind) is list or isinstance(old, list):
        yield from _other_lists(old or [])
    elif isinstance(old, (int, float)):
        yield from (old + 1, old * 1.5, old * 0.9, old - 1)
    elif kind in (int, float):
        yield from (2, 0.5, 1, 90)
    else:
        yield from ("other", "bore-0-4", "up", "chip", "f01", "1-1")


def _other_lists(old: list[Any]) -> Iterator[Any]:
    if old and all(isinstance(item, (int, float)) for item in old):
        yield [item + 0.5 for item in old]
        yield [item + 1 for item in old]
    yield from (old[:-1], [*old, "other"], [2.5, 1.5], [1, 2], ["1-1"], ["x"], ["other"])


def _read(path: Path, value: Any) -> Shop | None:
    """Return the example with one value put there or taken away, None if it is not a shop."""
    plain = copy.deepcopy(example().plain)
    holder = plain
    for key in path[:-1]:
        if not isinstance(holder.get(key), dict):
            holder[key] = {}
        holder = holder[key]
    if value is None:
        holder.pop(path[-1], None)
    else:
        holder[path[-1]] = value
    reading = read_shop(State("changed", HeldFiles(files_of(plain, indent=None)), "soil-logger"))
    return None if reading.faults else reading.shop


def entries() -> Iterator[Path]:
    """Yield one entry of each collection of the example."""
    plain = example().plain
    job = ("jobs", NAMES["jobs"])
    holders: list[Path] = [(key,) for key, held in plain.items() if isinstance(held, dict)]
    holders += [(*job, key) for key in ("placements", "bill")]
    for holder in holders:
        held = look_up(plain, holder)
        assert isinstance(held, dict)
        names = [key for key, entry in held.items() if isinstance(entry, dict)]
        name = NAMES.get(holder[-1], names[0] if names else "")
        if name in names:
            yield (*holder, name)


def removal_of(path: Path) -> Change | None:
    """Return the example without an entry; None where it cannot be without it."""
    shop = _read(path, None)
    return Change(path, "removed", example(), shop) if shop else None
