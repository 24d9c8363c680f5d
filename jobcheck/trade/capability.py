"""How far off a chip may lie: the overhang limits of IPC-A-610. Lengths are mm."""

from collections.abc import Mapping
from types import MappingProxyType

SIDE_OVERHANG_SHARE: Mapping[int, float] = MappingProxyType({1: 0.5, 2: 0.5, 3: 0.25})
"""Largest side overhang by class, as a share of the narrower of termination and land.

Source: IPC-A-610F 8.3.2.1, from the ballot text.
"""

END_OVERHANG_MM = 0.0
"""Any end overhang is a defect. Source: IPC-A-610F 8.3.2.2, from the ballot text."""


def side_overhang_limit_mm(termination_mm: float, land_mm: float, ipc_class: int = 2) -> float:
    """Largest side overhang of a chip. Raises `KeyError` on a class not of 1 to 3.

    Source: IPC-A-610F 8.3.2.1, from the ballot text.
    """
    return SIDE_OVERHANG_SHARE[ipc_class] * min(termination_mm, land_mm)


def side_shift_limit_mm(termination_mm: float, land_mm: float, ipc_class: int = 2) -> float:
    """How far a chip may be shifted sideways from the middle of its land; at least 0.

    The overhang of a shifted termination is the shift and half of what it is wider by.
    Source: IPC-A-610F 8.3.2.1, from the ballot text, and arithmetic.
    """
    limit = side_overhang_limit_mm(termination_mm, land_mm, ipc_class)
    return max(0.0, limit - (termination_mm - land_mm) / 2)


def end_shift_limit_mm(length_mm: float, over_lands_mm: float) -> float:
    """How far a chip may be shifted lengthwise before an end hangs over; at least 0.

    `over_lands_mm` is from outer edge to outer edge of both lands.
    Source: IPC-A-610F 8.3.2.2, from the ballot text, and arithmetic.
    """
    return max(0.0, (over_lands_mm - length_mm) / 2 - END_OVERHANG_MM)
