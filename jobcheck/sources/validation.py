"""Plain values against a model: every fault in plain words at its place, the rest still used."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import Any

from pydantic import BaseModel, ValidationError

from jobcheck.findings import Finding, fault
from jobcheck.shop.classes import has_entries, model_at, places_of_keys
from jobcheck.shop.paths import Path, show
from jobcheck.shop.places import Place
from jobcheck.sources.places import ReadFile

_MOST_SHOWN = 50
"""Faults of one file that are worded one by one; the rest is counted."""


def validate(held: ReadFile, model: type[BaseModel], name: str) -> ReadFile:
    """Validate a file's plain values.

    Entries with faults are left out of the model and named in `broken`, with what a misspelled key
    may have meant; where the fault is not inside one entry the file has no model at all.
    """
    try:
        understood = model.model_validate(held.plain)
        return replace(held, model=understood, faults=tuple(_empties(held, ())))
    except ValidationError as error:
        problems = error.errors(include_url=False, include_context=False)
    shown = problems[:_MOST_SHOWN]
    misspelled = _misspelled(shown, model)
    faults = tuple(_faults(shown, misspelled, held, model, name))
    if len(problems) > len(shown):
        faults += (_rest(problems[_MOST_SHOWN:], held, name),)
    faults += tuple(_empties(held, faults))
    entries = dict.fromkeys(_entry(problem["loc"], model) for problem in problems)
    broken = {(*held.prefix, *entry) for entry in entries}
    meant = {path[0] for path in misspelled if len(path) == 1}
    broken |= {(*held.prefix, key) for key in meant - held.plain.keys()}
    remaining = _without(held.plain, entries)
    try:
        kept = model.model_validate(remaining)
    except ValidationError:
        kept = None
    return replace(held, model=kept, faults=faults, broken=frozenset(broken))


def _rest(problems: list[Any], held: ReadFile, name: str) -> Finding:
    """Return the finding that counts the faults of a file beyond those that are shown."""
    return fault(
        held.value_place(_path(problems[0]["loc"])) or Place(name),
        "value-wrong",
        f"{name} has {len(problems):,} more faults like those shown.",
        "Correct the ones that are shown first.",
        held.prefix,
    )


def _empties(held: ReadFile, known: tuple[Finding, ...]) -> Iterator[Finding]:
    """Yield a fault for each key without a value: empty is never taken for absent."""
    places = {fault.place for fault in known}
    for node in held.table.empty if held.table else ():
        place = held.table.text.place(*held.table.span(node)) if held.table else None
        if place and place not in places:
            do = "Write the value, or remove the key if it is unknown."
            yield fault(place, "value-empty", "This key has no value.", do)


def _path(loc: tuple[Any, ...]) -> Path:
    return tuple(str(key) for key in loc if key != "[key]")


def _entry(loc: tuple[Any, ...], model: type[BaseModel]) -> Path:
    """Return the entry that a fault is in: a fault in one leaves the others readable."""
    keys = _path(loc)
    return keys[:2] if keys and has_entries(model, keys[0]) else keys[:1]


def _without(plain: Mapping[str, Any], entries: Collection[Path]) -> dict[str, Any]:
    copied = {entry[0] for entry in entries if len(entry) > 1}
    remaining = {
        key: dict(value) if key in copied and isinstance(value, dict) else value
        for key, value in plain.items()
    }
    for key, *below in filter(None, entries):
        holder = remaining.get(key) if below else remaining
        if isinstance(holder, dict):
            holder.pop(below[0] if below else key, None)
    return remaining


def _faults(
    problems: list[Any], misspelled: set[Path], held: ReadFile, model: type[BaseModel], name: str
) -> Iterator[Finding]:
    """Word each problem; problems that read alike are one fault with a count."""
    alike: dict[tuple[str, str, str], list[tuple[Path, str]]] = {}
    for problem in problems:
        path = _path(problem["loc"])
        if problem["type"] == "missing" and path in misspelled:
            continue  # it is there under an unknown name, which is a fault of its own
        rule, says, do = _worded(problem, path, model, held.kind)
        alike.setdefault((rule, says, path[-1] if path else ""), []).append((path, do))
    for (rule, says, _), found in alike.items():
        path, do = found[0]
        is_key = rule == "key-unknown"
        place = (held.key_place(path) if is_key else None) or held.value_place(path) or Place(name)
        more = f" ({len(found) - 1:,} more like it)" if len(found) > 1 else ""
        shown = show((*held.prefix, *path))
        found_fault = fault(place, rule, f"{shown} {says}{more}.", do, (*held.prefix, *path))
        if rule == "key-missing":
            whole = show((*held.prefix, *path[:-1])) or name
            found_fault = found_fault._replace(
                consequence=f"{whole} is not used without it, so it is not checked either."
            )
        yield found_fault


def _misspelled(problems: list[Any], model: type[BaseModel]) -> set[Path]:
    """Return the paths for which unknown keys were probably meant."""
    unknown = [_path(p["loc"]) for p in problems if p["type"] == "extra_forbidden"]
    unknown = [path for path in unknown if path[-1] not in _GONE]
    return {
        (*path[:-1], key)
        for path in unknown
        if (holder := model_at(model, path[:-1]))
        for key in _most_like(path[-1], list(holder.model_fields))
    }


def _worded(problem: Any, path: Path, model: type[BaseModel], kind: str) -> tuple[str, str, str]:
    """Return the rule, the predicate of the path, and the remedy."""
    what, value = problem["type"], problem["input"]
    if what == "missing":
        return "key-missing", "is missing", f"Add {path[-1]}: {_described(model, path)}"
    if what == "extra_forbidden" or (
        what == "model_type" and not isinstance(value, dict) and _is_extra(model, path)
    ):
        return "key-unknown", "is not known here", _near(model, path)
    if "[key]" in problem["loc"]:
        return "value-wrong", "has other characters than letters, digits, _ and -", "Rename it."
    message = _EXPECTED.get(what) or problem["msg"].removeprefix("Value error, ")
    message = message.removeprefix("Input ")
    if what in _NUMBERS and isinstance(value, str) and (remedy := _as_number(value)):
        return "value-wrong", f'is the text "{value}": {message}', remedy
    shown = _brief(value)
    return "value-wrong", f"is {shown}: {message}", f"Write {_described(model, path)}"


_NUMBERS = ("int_type", "float_type")


def _as_number(text: str) -> str:
    """Return how to write a text as the number it resembles, empty if it resembles none."""
    if re.fullmatch(r"[-+]?\d+(\.\d+)?", text):
        return f"Write {text} without quotes."
    if re.fullmatch(r"[-+]?\d+,\d+", text):
        return f"Write it with a point: {text.replace(',', '.')}"
    return ""


_EXPECTED = {
    "dict_type": "a mapping is expected",
    "model_type": "a mapping is expected",
    "list_type": "a list is expected",
    "string_type": "text is expected",
    "int_type": "a whole number is expected",
    "int_from_float": "a whole number is expected",
    "float_type": "a number is expected",
    "bool_type": "true or false is expected",
}
"""What a field expects, by pydantic's name of the error."""


def _brief(value: object) -> str:
    if value is None:
        return "empty"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list) and len(value) > 4:
        return f"a list of {len(value)}"
    text = "true" if value is True else "false" if value is False else str(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _is_extra(model: type[BaseModel], path: Path) -> bool:
    holder = model_at(model, path[:-1])
    return holder is not None and path[-1] not in holder.model_fields


_GONE = {
    "check_bridge": "Leave it out: the controller's files are compared by default. If they must "
    "not be, write disabled: {controller-differs: REASON}."
}
"""Keys of earlier editions, and what to write instead."""


def _near(model: type[BaseModel], path: Path) -> str:
    if path[-1] in _GONE:
        return _GONE[path[-1]]
    holder = model_at(model, path[:-1])
    known = list(holder.model_fields) if holder else []
    for level in filter(None, (holder, model)):
        if elsewhere := places_of_keys(level).get(path[-1]):
            return f"It belongs in another place: {' or '.join(elsewhere[:3])}."
    near = _most_like(path[-1], known)
    if near:
        return f"Did you mean {near[0]}?"
    return f"Known here: {', '.join(sorted(known))}."


def _most_like(key: str, known: list[str]) -> list[str]:
    """Return the known key that one resembles most, in a list; an empty one for none."""
    from difflib import get_close_matches

    return get_close_matches(key, known, n=1)


def _described(model: type[BaseModel], path: Path) -> str:
    """Return the description of the field at a path, its first letter small."""
    for length in range(len(path), 0, -1):
        holder = model_at(model, path[: length - 1])
        info = holder.model_fields.get(path[length - 1]) if holder else None
        if info and info.description:
            return info.description[0].lower() + info.description[1:]
    return "what the schema says."
