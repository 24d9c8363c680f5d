"""Entries for parts that the shop does not have: what a list and its names say of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from jobcheck.schema.parts import Pin1AtZero
from jobcheck.sources.edits.edits import Edit
from jobcheck.sources.lists.parts import Decisions, Unknown
from jobcheck.trade.cases import CHIP_CASES, chip_code, chip_heights, resistor_heights
from jobcheck.trade.packages import package_of

NEEDED = ("body_mm", "terminals", "polarised")
"""What an outline cannot do without; one that lacks any is not written."""

_UNPOLARISED_LETTERS = frozenset(("R", "C", "L", "FB", "F", "RT", "RV", "TH", "B"))
"""Letters of two-terminal parts without polarity: IEEE 315, from memory; none for C if the name
says polarised."""


def outline_stub(
    users: Sequence[Unknown], pins: Mapping[str, Pin1AtZero], zero: str | None
) -> dict[str, Any]:
    """Return an outline from the names of its parts, each value marked in `derived`.

    `pins` is pin 1 at 0 by footprint, from the pads of the list, `zero` the level of the list.
    """
    footprint = users[0].named.footprint
    package = package_of(footprint)
    said: dict[str, tuple[Any, str]] = {}
    for field in ("height_mm", "terminals"):
        listed = {getattr(user.named, field) for user in users} - {None}
        if len(listed) == 1:
            said[field] = listed.pop(), "the list"
    for field in ("body_mm", "height_mm", "terminals"):
        value = getattr(package, field)
        if value is not None:
            said.setdefault(field, (value, package.sources[field]))
    if "height_mm" not in said and (height := _chip_height(footprint, users)):
        said["height_mm"] = height
    said |= _polarity(users, said, package.polarised)
    if said.get("polarised", (False,))[0] and footprint in pins:
        said["pin1_at_zero"] = pins[footprint], "pads of the list"
        said |= {"zero": (zero, "pads of the list")} if zero else {}
    values = {field: _plain(value) for field, (value, _) in said.items()}
    return {**values, "derived": {field: source for field, (_, source) in said.items()}}


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _polarity(
    users: Sequence[Unknown], said: Mapping[str, tuple[Any, str]], by_family: bool | None
) -> dict[str, tuple[bool, str]]:
    if polar := next((user.polar for user in users if user.polar), ""):
        return {"polarised": (True, polar)}
    if by_family is not None:
        return {"polarised": (by_family, "the case family")}
    letters = {reference.rstrip("0123456789").upper() for u in users for reference in u.references}
    if said.get("terminals", (0,))[0] == 2 and letters <= _UNPOLARISED_LETTERS:
        return {"polarised": (False, "the reference letter")}
    return {}


def _chip_height(footprint: str, users: Sequence[Unknown]) -> tuple[float, str] | None:
    """Return the height of a chip resistor or the largest of a capacitor; None for other chips."""
    code = chip_code(footprint)
    letters = {reference.rstrip("0123456789").upper() for u in users for reference in u.references}
    if code is None or letters not in ({"R"}, {"C"}):
        return None
    case = CHIP_CASES[code]
    if letters == {"C"}:
        largest = chip_heights(case)
        is_known = case.capacitor_height_max_mm is not None
        return (largest.high_mm, f"largest of the case, {largest.source}") if is_known else None
    heights = resistor_heights(case)
    nominal = case.resistor_height_mm
    return (nominal[0], f"nominal of the case, {heights.source}") if heights and nominal else None


def part_edits(
    decisions: Decisions, pins: Mapping[str, Pin1AtZero], zero: str | None
) -> Iterator[Edit]:
    """Yield the entries of new outlines and parts, as far as names and list describe them.

    A part whose outline cannot be described is left to its row: it has no entry.
    """
    for outline, users in new_outlines(decisions).items():
        stub = outline_stub(users, pins, zero)
        if is_described(stub):
            yield Edit(("outlines", outline), stub)
        else:
            for user in users:
                user.is_left_out = True
    for entry in decisions.unknown:
        said = {
            "outline": entry.outline,
            "value": entry.named.value or None,
            "maker_number": entry.named.maker_number or None,
            "height_mm": None if entry.is_new_outline else entry.named.height_mm,
        }
        values = {key: value for key, value in said.items() if value is not None}
        if entry.outline and not entry.is_left_out and not entry.is_described:
            yield Edit(("parts", entry.key), values)


def new_outlines(decisions: Decisions) -> dict[str, list[Unknown]]:
    """Return the unknown parts of each outline that the shop does not have."""
    found: dict[str, list[Unknown]] = {}
    for entry in decisions.unknown:
        if entry.is_new_outline and entry.outline:
            found.setdefault(entry.outline, []).append(entry)
    return found


def is_described(stub: Mapping[str, Any]) -> bool:
    """Tell whether a stub has what an outline cannot do without."""
    return all(key in stub for key in NEEDED)
