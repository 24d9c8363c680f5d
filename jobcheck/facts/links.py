"""Names that point somewhere, resolved once for rules, impact and the retuning of recognitions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import cache
from typing import TYPE_CHECKING, NamedTuple, get_args, get_origin

from pydantic import BaseModel

from jobcheck.schema.fields import mark
from jobcheck.shop.paths import Path

if TYPE_CHECKING:
    from jobcheck.shop.shop import Shop

Target = tuple[str, str]
"""A collection and a key in it: ("outlines", "chip-0603")."""


class Links(NamedTuple):
    """Who names what.

    `users` maps each target that is named anywhere to the paths of the names, in the order of the
    description, whether or not the target exists.
    """

    users: Mapping[Target, tuple[Path, ...]]

    def of(self, collection: str, key: str) -> tuple[Path, ...]:
        """Return the paths that name one entry."""
        return self.users.get((collection, key), ())


@cache
def _plan(
    model: type[BaseModel],
) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, bool], ...]]:
    """Say which fields name something, and which hold models (True: a mapping of them)."""
    naming, holding = [], []
    for name, info in model.model_fields.items():
        target = mark(info, "x-names")
        if target:
            naming.append((name, target))
            continue
        inner = _model_in(info.annotation)
        if inner and any(_plan(inner)):
            holding.append((name, get_origin(_without_none(info.annotation)) is dict))
    return tuple(naming), tuple(holding)


def _without_none(annotation: object) -> object:
    options = [option for option in get_args(annotation) if option is not type(None)]
    is_optional = type(None) in get_args(annotation)
    return options[0] if is_optional and len(options) == 1 else annotation


def _model_in(annotation: object) -> type[BaseModel] | None:
    annotation = _without_none(annotation)
    if get_origin(annotation) is dict:
        annotation = get_args(annotation)[1]
    return (
        annotation if isinstance(annotation, type) and issubclass(annotation, BaseModel) else None
    )


def _named(model: BaseModel, path: Path) -> Iterator[tuple[Target, Path]]:
    naming, holding = _plan(type(model))
    for name, collection in naming:
        value = getattr(model, name)
        if isinstance(value, str):
            yield (collection, value), (*path, name)
        elif value:
            for index, item in enumerate(value):
                yield (collection, item), (*path, name, str(index))
    for name, is_mapping in holding:
        value = getattr(model, name)
        if is_mapping:
            for key, entry in value.items():
                yield from _named(entry, (*path, name, key))
        elif value is not None:
            yield from _named(value, (*path, name))


def find_links(shop: Shop) -> Links:
    """Collect every name of a shop that points somewhere."""
    users: dict[Target, list[Path]] = defaultdict(list)
    if shop.machine:
        for target, path in _named(shop.machine, ()):
            users[target].append(path)
    for collection in ("outlines", "recognitions", "parts", "feeders"):
        for key, entry in getattr(shop, collection).items():
            for target, path in _named(entry, (collection, key)):
                users[target].append(path)
    for name, job in (*shop.jobs.items(), *shop.drafts.items()):
        for target, paths in _job_names(name, job):
            users[target] += paths
    return Links({target: tuple(paths) for target, paths in users.items()})


def _job_names(name: str, job: object) -> Iterator[tuple[Target, list[Path]]]:
    """Walk the long lists of a job without a plan, part by part: they are most of a shop."""
    for listed in ("placements", "bill"):
        block = getattr(job, listed)
        if block is None:
            continue
        by_part: dict[str, list[Path]] = defaultdict(list)
        for reference, entry in block.by_reference.items():
            if entry.part is not None:
                by_part[entry.part].append(("jobs", name, listed, reference, "part"))
        yield from ((("parts", part), paths) for part, paths in by_part.items())
