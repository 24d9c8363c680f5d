"""The keys of the description, read from the models: meaning, unit, class, default, example."""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum
from functools import cache
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel

from jobcheck.rules.base import Rule
from jobcheck.rules.registry import RULES
from jobcheck.schema.controls import CONTROLS
from jobcheck.schema.fields import mark
from jobcheck.shop.classes import KINDS, inside, is_by_name, options_of_field


class Key(NamedTuple):
    """One key: `path` has NAME where a key of identity is."""

    kind: str
    path: str
    meaning: str
    values: str
    unit: str
    field_class: str
    default: str
    example: str

    @property
    def name(self) -> str:
        """The key itself, without what it is in."""
        return self.path.rpartition(".")[2]

    @property
    def rules(self) -> list[str]:
        """The rules whose documentation names the key, or whose examples change it.

        A name without an underscore may be a plain word, so only the examples count for it.
        """
        path = f"jobs.NAME.{self.path}" if self.kind == "job" else self.path
        path = f"shop.{path}" if self.kind == "shop" else path
        words = path.split(".")
        return [
            rule.name
            for rule in RULES
            if ("_" in self.name and self.name in _words(rule))
            or any(_is_path(words, changed) for changed in _changed(rule))
        ]


def all_keys() -> Iterator[Key]:
    """Yield every key of every kind of document, in the order of the models."""
    for kind, model in KINDS.items():
        yield from _keys(kind, model, "", (model,))


def _keys(
    kind: str, model: type[BaseModel], prefix: str, above: tuple[type[BaseModel], ...]
) -> Iterator[Key]:
    for name, info in model.model_fields.items():
        path = f"{prefix}{name}"
        yield Key(
            kind,
            path,
            info.description or "",
            _values(info.annotation),
            mark(info, "x-unit") or "",
            mark(info, "x-class") or "",
            "required"
            if info.is_required()
            else _written(info.get_default(call_default_factory=True)),
            _written(info.examples[0]) if info.examples else "",
        )
        below = f"{path}.NAME." if is_by_name(info.annotation) else f"{path}."
        for part in inside(info.annotation):
            if part not in above:
                yield from _keys(kind, part, below, (*above, part))


def _values(annotation: object) -> str:
    found: dict[str, None] = {}
    for option in options_of_field(annotation):
        if choices := get_args(option):
            found |= dict.fromkeys(map(_written, choices))
        elif isinstance(option, type) and not issubclass(option, BaseModel):
            words = {"bool": "true, false", "str": "text", "float": "number", "int": "whole number"}
            found[words.get(option.__name__, option.__name__)] = None
        else:
            found["block"] = None
    return ", ".join(found)


def _written(value: Any) -> str:
    """Write a value as YAML has it, in one line."""
    if value is None or value in ({}, []) or isinstance(value, BaseModel):
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_written(held)}" for key, held in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(_written, value)) + "]"
    return str(value.value if isinstance(value, Enum) else value)


@cache
def _words(rule: Rule) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", f"{rule.documentation}\n{rule.fails}\n{rule.passes}"))


@cache
def _changed(rule: Rule) -> tuple[list[str], ...]:
    """Return the paths that the examples of a rule change."""
    lines = f"{rule.fails}\n{rule.passes}".splitlines()
    return tuple(line.partition(": ")[0].split(".") for line in lines if line)


def keys_called(asked: str) -> list[Key]:
    """Return the keys that a path or a name means: `cameras.up.aim`, `cameras.NAME.aim`, `aim`."""
    words = asked.removeprefix("jobs.NAME.").split(".")
    if words[0] == "jobs" and len(words) > 2:
        words = words[2:]
    known = tuple(all_keys())
    whole = [key for key in known if _is_path(key.path.split("."), words)]
    if whole or words[-1] not in CONTROLS:
        return whole or [key for key in known if key.name == asked]
    return [key for key in known if key.path == "cameras.NAME.controls"]


def _is_path(path: list[str], words: list[str]) -> bool:
    return len(path) == len(words) and all(
        own in (said, "NAME") for own, said in zip(path, words, strict=True)
    )


def keys_page() -> str:
    """Return the page of keys, as Markdown."""
    known = tuple(all_keys())
    lines = [
        "# Keys of the description",
        "",
        "Generated by `jobcheck schema --output schemas`. NAME is a name of your own. `jobcheck",
        "explain KEY` shows one key. Rules are those whose documentation names the key, or whose",
        "examples change it; what a lint did not check for want of a key is in its last lines.",
    ]
    for kind in KINDS:
        head = "| key | meaning | values | class | default | example | rules |"
        lines += ["", f"## {kind}", "", head]
        lines += ["| --- | --- | --- | --- | --- | --- | --- |"]
        lines += [_row(key) for key in known if key.kind == kind]
    return "\n".join(lines) + "\n"


def _row(key: Key) -> str:
    values = ", ".join(filter(None, (key.values, key.unit)))
    says = (key.meaning, values, key.field_class, key.default, key.example, ", ".join(key.rules))
    cells = (f"`{key.path}`", *says)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
