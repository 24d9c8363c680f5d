"""YAML 1.2, read by the same reader as the description, addressed by JSONPath."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from jobcheck.findings import fault
from jobcheck.sources.bridge.source import ANY, MALFORMED, Slot
from jobcheck.sources.bridge.tree_source import Location, TreeSource
from jobcheck.sources.yaml.places import NodeTable
from jobcheck.sources.yaml.reader import read_yaml
from jobcheck.sources.yaml.scalars import resolve
from jobcheck.sources.yaml.spelling import spell_scalar
from jobcheck.text import NotUnderstood

_SINGLE = re.compile(r"''|.", re.S)
_DOUBLE = re.compile(r"\\x..|\\u....|\\U........|\\.|.", re.S)


class YamlSource(TreeSource):
    """One YAML file."""

    def _read(self, data: bytes) -> Any:
        try:
            document = read_yaml(data, self.file)
        except NotUnderstood as error:
            raise NotUnderstood(
                fault(
                    error.fault.place,
                    MALFORMED,
                    error.fault.message,
                    "Let the controller write it again.",
                )
            ) from None
        self.table: NodeTable = document.table
        return document.plain

    def _slots_at(self, locations: Sequence[Location]) -> dict[Location, Slot | None]:
        return {location: self._slot(location) for location in locations}

    def _slot(self, location: Location) -> Slot | None:
        """Return the slot of a scalar; None if it is shared or folded."""
        spot = self.table.find(tuple(map(str, location)))
        if spot is None or spot.shared or spot.value in self.table.targets:
            return None
        start, end = self.table.span(spot.value)
        raw = self.text.text[start:end]
        quote = raw[:1]
        if quote in ("'", '"') and len(raw) > 1 and not re.search(r"[\r\n]", raw):
            token = _SINGLE if quote == "'" else _DOUBLE
            return Slot(start + 1, end - 1, token, _quoted(quote))
        if quote in ("|", ">", "{", "[") or re.search(r"[\r\n]", raw.rstrip()):
            return None
        lead = "" if raw or self.text.text[start - 1 : start].isspace() else " "
        return Slot(start, start + len(raw.rstrip()), ANY, _plain, (lead, ""))

    def starts(self, hits: Sequence[Any]) -> list[int]:
        """Return the start of each value or of its container."""
        found = []
        for hit in hits:
            spot = self.table.find(tuple(map(str, hit.key)))
            found.append(self.table.span(spot.value)[0] if spot else 0)
        return found


def _quoted(quote: str) -> Callable[[str], str]:
    return lambda content: spell_scalar(content, quote)[1:-1]


def _plain(content: str) -> str:
    """Write unquoted content as it is, or quoted if it would be another value.

    Raises:
        ValueError: it would be another value.
    """
    value = resolve(content) if content else ""
    return content if not isinstance(value, str) else spell_scalar(content)
