"""How far a chip may be off its lands: the overhang limits of IPC-A-610. Lengths are mm."""

from collections.abc import Mapping
from types import MappingProxyType

SIDE_OVERHANG_SHARE: Mapping[int, float] = MappingProxyType({1: 0.5, 2: 0.5, 3: 0.25})
"""Largest side overhang by class, as a share of the narrower of termination and land.

Source: IPC-A-610F 8.3.2.1, from the ballot text.
"""


def side_overhang_limit_mm(termination_mm: float, land_mm: float, ipc_class: int = 2) -> float:
    """Largest side overhang of a chip. Raises `KeyError` on a class not of 1 to 3.

    Source: IPC-A-610F 8.3.2.1, from the ballot text.
    """
    return SIDE_OVERHANG_SHARE[ipc_class] * min(termination_mm, land_mm)


def side_shift_limit_mm(termination_mm: float, land_mm: float, ipc_class: int = 2) -> float:
    """How far a chip may be shifted sideways from the middle of its land; at least 0.

    The overhang of a shifted termination is the shift plus half of the difference in width.
    Source: IPC-A-610F 8.3.2.1, from the ballot text, and arithmetic.
    """
    limit = side_overhang_limit_mm(termination_mm, land_mm, ipc_class)
    return max(0.0, limit - (termination_mm - land_mm) / 2)
