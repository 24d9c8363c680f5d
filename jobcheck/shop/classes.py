"""What the models say of a path: the class of the value there, and its unit."""

from collections.abc import Iterator, Mapping
from datetime import date
from functools import cache
from importlib import import_module
from typing import Annotated, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from jobcheck.schema.feeders import Feeders
from jobcheck.schema.fields import FieldClass, mark
from jobcheck.schema.job import Job, JobDraft
from jobcheck.schema.machine import Machine
from jobcheck.schema.parts import Parts
from jobcheck.schema.shop_file import ShopFile
from jobcheck.shop.paths import Path

_LATE = {"bridge": "Bridge", "trial": "Trial", "run": "Booking"}
"""Kinds whose models are loaded where a shop has them: kind -> model, in the module of its name."""


class _Kinds(Mapping[str, type[BaseModel]]):
    """The model of each kind of document."""

    _models: Mapping[str, type[BaseModel]] = {
        "shop": ShopFile,
        "machine": Machine,
        "parts": Parts,
        "feeders": Feeders,
        "job": JobDraft,
    }

    def __getitem__(self, kind: str) -> type[BaseModel]:
        if kind not in _LATE:
            return self._models[kind]
        model: type[BaseModel] = getattr(import_module(f"jobcheck.schema.{kind}"), _LATE[kind])
        return model

    def __iter__(self) -> Iterator[str]:
        return iter((*self._models, *_LATE))

    def __len__(self) -> int:
        return len(self._models) + len(_LATE)


KINDS = _Kinds()
"""The model of each kind of document."""


def _options(annotation: object) -> Iterator[object]:
    """Yield what an annotation may be, without None, annotations and containers around it."""
    if get_origin(annotation) is Annotated:
        yield from _options(get_args(annotation)[0])
    elif get_origin(annotation) is dict:
        yield from _options(get_args(annotation)[1])
    elif get_origin(annotation) is list:
        yield from _options(get_args(annotation)[0])
    elif get_args(annotation) and not isinstance(get_args(annotation)[0], (str, int)):
        for option in get_args(annotation):
            yield from _options(option)
    elif annotation is not type(None):
        yield annotation


def _models(annotation: object) -> Iterator[type[BaseModel]]:
    for option in _options(annotation):
        if isinstance(option, type) and issubclass(option, BaseModel):
            yield option


def options_of_field(annotation: object) -> tuple[object, ...]:
    """Return what the values of a field may be, without None and the containers around them."""
    return tuple(_options(annotation))


def inside(annotation: object) -> tuple[type[BaseModel], ...]:
    """Return the models of the mappings that a field holds."""
    return tuple(_models(annotation))


def is_by_name(annotation: object) -> bool:
    """Tell whether a field holds entries by their names."""
    return _is_mapping(annotation)


@cache
def has_entries(model: type[BaseModel], key: str) -> bool:
    """Tell whether a field of a model holds entries by their names, each on its own."""
    info = model.model_fields.get(key)
    if info is None:
        return False
    return _is_mapping(info.annotation) or any(map(_extra, _models(info.annotation)))


@cache
def keys_of_days() -> frozenset[str]:
    """Return the keys whose value is a day."""
    found: set[str] = set()
    waiting: list[type[BaseModel]] = [KINDS[kind] for kind in KINDS if kind not in _LATE]
    for model in waiting:
        for name, info in model.model_fields.items():
            if date in _options(info.annotation):
                found.add(name)
            waiting += (part for part in _models(info.annotation) if part not in waiting)
        waiting += (part for part in [_extra(model)] if part and part not in waiting)
    return frozenset(found)


@cache
def places_of_keys(model: type[BaseModel]) -> Mapping[str, tuple[str, ...]]:
    """Return each key below a model -> its paths in there, with NAME for a key of identity."""
    found: dict[str, list[str]] = {}
    waiting: list[tuple[type[BaseModel], str, tuple[type[BaseModel], ...]]] = [
        (model, "", (model,))
    ]
    while waiting:
        at, prefix, above = waiting.pop(0)
        for name, info in at.model_fields.items():
            found.setdefault(name, []).append(f"{prefix}{name}")
            below = f"{prefix}{name}.NAME." if _is_mapping(info.annotation) else f"{prefix}{name}."
            parts = (part for part in _models(info.annotation) if part not in above)
            waiting += [(part, below, (*above, part)) for part in parts]
    return {name: tuple(paths) for name, paths in found.items()}


@cache
def text_keys(kind: str) -> frozenset[str]:
    """Return the keys whose plain scalars are text as written: `100n`, `0603`.

    A key that is text in one place and a number in another is not among them: there, text that
    looks like a number must be quoted.
    """
    text: set[str] = set()
    other: set[str] = set()
    waiting: list[type[BaseModel]] = [KINDS[kind]]
    seen: set[type[BaseModel]] = set()
    while waiting:
        model = waiting.pop()
        if model in seen:
            continue
        seen.add(model)
        waiting += filter(None, [_extra(model)])
        for name, info in model.model_fields.items():
            for option in _options(info.annotation):
                if isinstance(option, type) and issubclass(option, BaseModel):
                    waiting.append(option)
                else:
                    (text if _is_text(option) else other).add(name)
    return frozenset(text - other)


def _is_text(option: object) -> bool:
    choices = get_args(option)
    return option is str or (bool(choices) and all(isinstance(choice, str) for choice in choices))


def _is_mapping(annotation: object) -> bool:
    return get_origin(annotation) is dict or any(
        get_origin(option) is dict for option in get_args(annotation)
    )


def _document(path: Path) -> tuple[type[BaseModel] | None, Path]:
    """Return the model of the document that holds a path, and the path inside it."""
    if path[:1] == ("shop",):
        return ShopFile, path[1:]
    if path[:1] == ("bridge",):
        return KINDS["bridge"], path[1:]
    if path[:1] == ("jobs",):
        return (Job if len(path) > 1 else None), path[2:]
    for model in (Machine, Parts, Feeders):
        if path and path[0] in model.model_fields:
            return model, path
    return None, path


def fields_at(path: Path) -> Iterator[FieldInfo]:
    """Yield the fields that a path leads through, the outermost first.

    Keys of identity are stepped over; it ends early where the path leaves the description.
    """
    model, inside = _document(path)
    while model is not None and inside:
        key, inside = inside[0], inside[1:]
        info = model.model_fields.get(key)
        if info is None:
            model = _extra(model)
            continue
        yield info
        if _is_mapping(info.annotation):
            inside = inside[1:]
        model = next(_models(info.annotation), None)


def class_of(path: Path) -> FieldClass:
    """Return the class of the value at a path: its own mark, else that of what holds it."""
    found = FieldClass.SETTING
    for info in fields_at(path):
        found = FieldClass(mark(info, "x-class") or found)
    return found


def is_required(path: Path) -> bool:
    """Tell whether what holds the value at a path cannot be without it."""
    fields = tuple(fields_at(path))
    return bool(fields) and fields[-1].is_required()


def unit_of(path: Path) -> str | None:
    """Return the unit of the value at a path, as its field is marked, or None."""
    fields = tuple(fields_at(path))
    return mark(fields[-1], "x-unit") if fields else None


def is_angle(path: Path) -> bool:
    """Tell whether a path holds a plain angle: a rotation or a direction, degrees."""
    return unit_of(path) == "deg" and not path[-1].endswith("_deg")


def leaf_types(path: Path) -> frozenset[type]:
    """Return the types of plain value that a path may hold; none where it leads to no value.

    An item of a list is named by its index; a date counts as text, a choice as its own type.
    """
    model, rest = _document(path)
    annotation: object = None
    while rest:
        if model is None:
            is_item = len(rest) == 1 and rest[0].isdecimal() and _is_list(annotation)
            return _leaves(annotation) if is_item else frozenset()
        info = model.model_fields.get(rest[0])
        annotation, model, rest = (
            (info.annotation, next(_models(info.annotation), None), rest[1:])
            if info
            else (_extra(model), _extra(model), rest[1:])
        )
        if info and _is_mapping(annotation):
            if not rest:
                return frozenset()
            rest = rest[1:]
    is_block = model is not None or annotation is None or _is_list(annotation)
    return frozenset() if is_block else _leaves(annotation)


def _is_list(annotation: object) -> bool:
    if get_origin(annotation) is Annotated:
        return _is_list(get_args(annotation)[0])
    return get_origin(annotation) is list or any(
        get_origin(option) is list or _is_list(option)
        for option in get_args(annotation)
        if get_origin(annotation) not in (dict, list)
    )


def _leaves(annotation: object) -> frozenset[type]:
    found: set[type] = set()
    for option in _options(annotation):
        if isinstance(option, type):
            found.add(str if option is date else option)
        else:
            found |= {type(choice) for choice in get_args(option)}
    return frozenset(found)


def _extra(model: type[BaseModel]) -> type[BaseModel] | None:
    annotation = model.__annotations__.get("__pydantic_extra__")
    return next(_models(annotation), None) if annotation else None


def model_at(model: type[BaseModel], path: Path) -> type[BaseModel] | None:
    """Return the model of the mapping at a path inside a document, or None where there is none."""
    at: type[BaseModel] | None = model
    rest = path
    while at is not None and rest:
        key, rest = rest[0], rest[1:]
        info = at.model_fields.get(key)
        if info is None:
            at = _extra(at)
            continue
        at = next(_models(info.annotation), None)
        if _is_mapping(info.annotation):
            if not rest:
                return None
            rest = rest[1:]
    return at
