"""What an import changes in a job that has a list already, harmful first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from jobcheck.schema.job import Job
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


def row_changes(job: Job | None, rows: Mapping[str, Mapping[str, Any]]) -> list[RowChange]:
    """Return the differences between a job's rows and those of a list, harmful first."""
    if job is None:
        return []
    before = job.placements.by_reference
    found = [RowChange("gone", name) for name in before if name not in rows]
    for reference, row in rows.items():
        old = before.get(reference)
        if old is None:
            found.append(RowChange("new", reference))
            continue
        turn = row.get("rotation", 0)
        if abs(wrap(turn - old.rotation)) > _WITHIN_DEG:
            says = f"{number(old.rotation)} becomes {number(turn)}"
            found.append(RowChange("turned", reference, says))
        side = row.get("side", "top")
        if side != old.side:
            found.append(RowChange("other side", reference, f"{old.side} becomes {side}"))
        if row.get("part") != old.part:
            says = f"{old.part or 'none'} becomes {row.get('part') or 'none'}"
            found.append(RowChange("other part", reference, says))
        if max(abs(row.get(axis, 0) - getattr(old, axis)) for axis in "xy") > _WITHIN_MM:
            now = ", ".join(number(row.get(axis, 0)) for axis in "xy")
            says = f"{number(old.x)}, {number(old.y)} becomes {now}"
            found.append(RowChange("moved", reference, says))
        if row.get("fitted", True) != old.fitted:
            kind = "no longer fitted" if old.fitted else "fitted"
            found.append(RowChange(kind, reference))
    return sorted(found, key=lambda change: KINDS.index(change.kind))
