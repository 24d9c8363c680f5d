"""The contents of a list in any format."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from jobcheck.sources.lists.cells import Cells
from jobcheck.sources.lists.table import Skipped


@dataclass(frozen=True)
class PartName:
    """A list's naming of a part that is not a name in the shop: each empty if unknown."""

    value: str = ""
    footprint: str = ""
    maker_number: str = ""
    height_mm: float | None = None
    terminals: int | None = None

    def __bool__(self) -> bool:
        """Return whether any of it is known."""
        return bool(self.value or self.footprint or self.maker_number)

    @property
    def text(self) -> str:
        """The naming in one line."""
        return ", ".join(filter(None, (self.maker_number, self.value, self.footprint)))


@dataclass(frozen=True)
class ListFormat:
    """How a list was read: its format, its columns by meaning, and the source of its unit."""

    shape: str = ""
    encoding: str = "utf-8"
    decimal: str = "."
    unit: str = ""
    unit_from: str = ""
    side_from: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    unknown: Sequence[str] = ()


@dataclass
class List:
    """A list as it was read.

    `rows` holds the plain values by reference, positions in mm on the board; `repeated` the row
    starts of a reference that is listed more than once (the first row counts); `cells` finds
    places. `named` is the naming of parts in a list without the shop's names. `fiducials` are
    not placements; `skipped` are rows that are neither.
    """

    rows: dict[str, dict[str, Any]]
    cells: Cells
    repeated: dict[str, list[int]] = field(default_factory=dict)
    named: dict[str, PartName] = field(default_factory=dict)
    fiducials: dict[str, dict[str, Any]] = field(default_factory=dict)
    skipped: Sequence[Skipped] = ()
    format: ListFormat = field(default_factory=ListFormat)
