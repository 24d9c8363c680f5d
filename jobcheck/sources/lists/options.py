"""A job's declarations about a list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jobcheck.schema.job import is_component_layer
from jobcheck.sources.lists.columns import DECLARABLE
from jobcheck.sources.lists.dialect import DELIMITERS
from jobcheck.trade.units import MM_PER_UNIT

GERBER = "gerber-x3"


@dataclass(frozen=True)
class ListOptions:
    """The declarations about a list; None and empty are taken from the list itself."""

    columns: Mapping[str, str] = field(default_factory=dict)
    units: str | None = None
    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    side: str | None = None
    format: str | None = None
    origin_mm: tuple[float, float] = (0, 0)
    skips_unnamed: bool = False
    """Whether a row without a reference is left out and counted, not refused: by `import` only."""

    def is_gerber(self, file: str) -> bool:
        """Return whether a file is read as a component layer: as declared or by extension."""
        return is_component_layer(file, self.format)


def options_of(block: Mapping[str, Any]) -> ListOptions:
    """Take the declarations from plain values; the models report malformed ones."""
    named = block.get("columns")
    columns = named.items() if isinstance(named, dict) else ()
    origin = block.get("origin_mm")
    is_pair = isinstance(origin, list) and len(origin) == 2 and all(map(_is_number, origin))
    return ListOptions(
        columns={k: v for k, v in columns if k in DECLARABLE and isinstance(v, str)},
        units=_one_of(block.get("units"), MM_PER_UNIT),
        encoding=block["encoding"] if isinstance(block.get("encoding"), str) else None,
        delimiter=_one_of(block.get("delimiter"), (*DELIMITERS, "aligned")),
        decimal=_one_of(block.get("decimal"), (".", ",")),
        side=_one_of(block.get("side"), ("top", "bottom")),
        format=_one_of(block.get("format"), ("delimited", GERBER)),
        origin_mm=(origin[0], origin[1]) if origin and is_pair else (0, 0),
    )


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _one_of(value: object, known: Any) -> str | None:
    return value if isinstance(value, str) and value in known else None
