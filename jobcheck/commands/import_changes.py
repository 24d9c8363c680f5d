"""What an import changes in a job that has a list already, harmful first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from jobcheck.trade.plane import wrap
from jobcheck.wording import number

KINDS = ("turned", "other side", "other part", "moved", "no longer fitted", "gone", "new", "fitted")
"""From the most harmful on: a part that was proven and is turned is noticed after reflow."""

_WITHIN_MM = 1e-6
_WITHIN_DEG = 0.01


class RowChange(NamedTuple):
    """One difference of one row, in words."""

    kind: str
    reference: str
    says: str = ""


def row_changes(
    block: Mapping[str, Any] | None, rows: Mapping[str, Mapping[str, Any]]
) -> list[RowChange]:
    """Return the differences between a job's plain rows and those of a list, harmful first.

    `block` is the job as it is described, valid or not; None for a new one.
    """
    if block is None:
        return []
    listed = block.get("placements") or {}
    before = {name: row for name, row in listed.items() if isinstance(row, dict) and "x" in row}
    found = [RowChange("gone", name) for name in before if name not in rows]
    for reference, row in rows.items():
        old = before.get(reference)
        if old is None:
            found.append(RowChange("new", reference))
            continue
        turn = row.get("rotation", 0)
        if abs(wrap(turn - old.get("rotation", 0))) > _WITHIN_DEG:
            says = f"{number(old.get('rotation', 0))} becomes {number(turn)}"
            found.append(RowChange("turned", reference, says))
        side = row.get("side", "top")
        if side != (was := old.get("side", "top")):
            found.append(RowChange("other side", reference, f"{was} becomes {side}"))
        if row.get("part") != old.get("part"):
            says = f"{old.get('part') or 'none'} becomes {row.get('part') or 'none'}"
            found.append(RowChange("other part", reference, says))
        if max(abs(row.get(axis, 0) - old.get(axis, 0)) for axis in "xy") > _WITHIN_MM:
            now = ", ".join(number(row.get(axis, 0)) for axis in "xy")
            says = f"{number(old['x'])}, {number(old.get('y', 0))} becomes {now}"
            found.append(RowChange("moved", reference, says))
        if row.get("fitted", True) != (was_fitted := old.get("fitted", True)):
            kind = "no longer fitted" if was_fitted else "fitted"
            found.append(RowChange(kind, reference))
    return sorted(found, key=lambda change: KINDS.index(change.kind))
