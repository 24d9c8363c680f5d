"""Files that hold a tree of values: addresses are JSONPath (RFC 9535)."""

from __future__ import annotations

import json
import math
import re
from abc import abstractmethod
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time
from typing import Any

from jsonpath_rfc9535 import JSONPathEnvironment
from jsonpath_rfc9535.exceptions import JSONPathError

from jobcheck.sources.bridge.source import Hit, MapWrong, Native, Slot, Source

Location = tuple[str | int, ...]

_STEPS = re.compile(r"\$(?:\.[A-Za-z_][A-Za-z0-9_]*|\[\d{1,9}\])*")
_STEP = re.compile(r"\.([A-Za-z_][A-Za-z0-9_]*)|\[(\d+)\]")
_SHORT = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


class TreeSource(Source):
    """A file whose plain values are a tree of mappings and lists."""

    plain: Any
    """Return the file's plain values."""

    def __init__(self, data: bytes, file: str, encoding: str | None = None) -> None:
        """Read the file.

        Raises:
            NotUnderstood: it is not of its kind.
        """
        super().__init__(data, file, encoding or "utf-8")
        self.plain = self._read(data)
        self._environment = JSONPathEnvironment()
        self._compiled: dict[str, tuple[Any, Location | None]] = {}

    @abstractmethod
    def _read(self, data: bytes) -> Any:
        """Return the plain values of the file."""

    @abstractmethod
    def _slots_at(self, locations: Sequence[Location]) -> dict[Location, Slot | None]:
        """Return the slots of the values at locations."""

    def find(self, address: str, inside: Hit | None = None) -> Iterator[Hit]:
        """Yield the values at a JSONPath; inside an element `$` is the element."""
        base: Location = inside.key if inside else ()
        start = inside.node if inside else self.plain
        try:
            query, steps = self._query(address)
            if steps is not None:
                yield from _stepped(start, base, steps)
                return
            nodes = query.finditer(start)
            for node in nodes:
                yield hit_of((*base, *node.location), node.value)
        except (JSONPathError, RecursionError) as error:
            raise MapWrong(f"it is not a JSONPath: {error}") from None

    def _query(self, address: str) -> tuple[Any, Location | None]:
        """Return a compiled address, and its steps if it is made of names alone."""
        if address not in self._compiled:
            self._compiled[address] = self._environment.compile(address), _steps(address)
        return self._compiled[address]

    def slots(self, hits: Sequence[Hit]) -> list[Slot | None]:
        """Return the spans of values."""
        found = self._slots_at([hit.key for hit in hits])
        return [found.get(hit.key) for hit in hits]

    def everything(self) -> Iterator[tuple[str, Hit]]:
        """Yield every single value with its unique address.

        Items of a list are addressed by a name if each has one, else by their position.
        """
        waiting: list[tuple[Location, str, Any]] = [((), "$", self.plain)]
        while waiting:
            location, address, value = waiting.pop()
            if isinstance(value, dict):
                waiting += [
                    ((*location, key), address + step_of(key), value[key])
                    for key in reversed(value)
                ]
            elif isinstance(value, list):
                by_member = _member_steps(value)
                waiting += [
                    ((*location, i), address + (by_member or step_of)(i), value[i])
                    for i in reversed(range(len(value)))
                ]
            else:
                yield address, hit_of(location, value)


def _steps(address: str) -> Location | None:
    if not _STEPS.fullmatch(address):
        return None
    return tuple(
        found[1] if found[1] is not None else int(found[2]) for found in _STEP.finditer(address)
    )


def _stepped(value: Any, base: Location, steps: Location) -> Iterator[Hit]:
    """Yield the value at the steps, if it exists: the quick way for nearly all addresses."""
    for step in steps:
        inside: Any = value if isinstance(value, dict if isinstance(step, str) else list) else ()
        if step not in (inside if isinstance(step, str) else range(len(inside))):
            return
        value = inside[step]
    yield hit_of((*base, *steps), value)


def hit_of(location: Location, value: Any) -> Hit:
    """Return a value of a tree as a hit."""
    name = str(location[-1]) if location else "$"
    native, text = _said(value)
    return Hit(location, name, text, native, value)


def _said(value: Any) -> tuple[Native, str]:
    if isinstance(value, bool):
        return Native.SWITCH, "true" if value else "false"
    if isinstance(value, float):
        return Native.NUMBER, repr(value) if math.isfinite(value) else "an infinite number"
    if isinstance(value, int):
        return Native.NUMBER, str(value)
    if value is None:
        return Native.NOTHING, ""
    if isinstance(value, str):
        return (Native.TEXT if value.strip() else Native.NOTHING), value
    if isinstance(value, (date, datetime, time)):
        return Native.TEXT, value.isoformat()
    return Native.BLOCK, ""


def step_of(step: str | int) -> str:
    """Return one step of an address: `.lanes`, `[3]`, other names quoted."""
    if isinstance(step, int):
        return f"[{step}]"
    return f".{step}" if _SHORT.fullmatch(step) else f"[{_quoted(step)}]"


def _quoted(text: str) -> str:
    shown = json.dumps(text, ensure_ascii=False)[1:-1].replace('\\"', '"').replace("'", "\\'")
    return f"'{shown}'"


def _member_steps(items: list[Any]) -> Callable[[int], str] | None:
    """Return the step for each item by a member whose text is different in every item."""
    if len(items) < 2 or not all(isinstance(item, dict) for item in items):
        return None
    for name in items[0]:
        values = [item.get(name) for item in items]
        if all(isinstance(value, str) for value in values) and len({*values}) == len(items):
            member = step_of(name)
            return lambda number: f"[?@{member} == {_quoted(items[number][name])}]"
    return None


Trie = dict[str | int, Any]


def trie_of(locations: Sequence[Location]) -> Trie:
    """Return locations as a tree of steps; the node at the end of one has it under -1."""
    tree: Trie = {}
    for location in locations:
        node = tree
        for step in location:
            node = node.setdefault(step, {})
        node[ENDS] = location
    return tree


ENDS = -1
