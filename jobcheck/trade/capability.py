"""How well placements stay on their lands: IPC-A-610 overhang limits, and Cpk. Lengths are mm."""

from collections.abc import Iterable, Mapping
from math import inf, sqrt
from types import MappingProxyType
from typing import Literal, NamedTuple

Termination = Literal["chip", "gull-wing", "leadless"]
"""How a part's terminals are made."""

SIDE_OVERHANG_SHARE: Mapping[Termination, Mapping[int, float]] = MappingProxyType(
    {
        "chip": {1: 0.5, 2: 0.5, 3: 0.25},
        "gull-wing": {1: 0.5, 2: 0.5, 3: 0.25},
        "leadless": {1: 0.5, 2: 0.25, 3: 0.25},
    }
)
"""Largest side overhang by termination and class, a share of the narrower of terminal and land.

Source: IPC-A-610F 8.3.2.1 for chips, from the ballot text; the other two from memory.
"""

CAPABLE = 1.33
"""The Cpk that is usually asked for: common practice, no published source."""


class Share(NamedTuple):
    """One cause of misplacement, mm: a `bias` always acts one way, else it is a deviation."""

    cause: str
    mm: float
    is_bias: bool = False


def capability(allowed_mm: float, shares: Iterable[Share]) -> float:
    """Cpk of a shift that must stay within +-allowed: (allowed - biases) / (3 sigma).

    Biases add in their worst case, deviations as the root of the sum of squares.
    Source: NIST/SEMATECH e-Handbook 6.1.6 (Cpk); independent errors, arithmetic.
    """
    shares = list(shares)
    bias = sum(share.mm for share in shares if share.is_bias)
    sigma = sqrt(sum(share.mm**2 for share in shares if not share.is_bias))
    if sigma == 0:
        return inf if bias <= allowed_mm else -inf
    return process_capability(allowed_mm, -allowed_mm, bias, sigma)


def process_capability(upper: float, lower: float, mean: float, sigma: float) -> float:
    """Cpk of a two-sided tolerance. Source: NIST/SEMATECH e-Handbook 6.1.6."""
    return min(upper - mean, mean - lower) / (3 * sigma)


def side_overhang_limit_mm(
    terminal_mm: float, land_mm: float, ipc_class: int = 2, termination: Termination = "chip"
) -> float:
    """Largest side overhang of a terminal. Raises `KeyError` on a class not of 1 to 3.

    Source: as `SIDE_OVERHANG_SHARE`.
    """
    return SIDE_OVERHANG_SHARE[termination][ipc_class] * min(terminal_mm, land_mm)


def side_shift_limit_mm(
    terminal_mm: float, land_mm: float, ipc_class: int = 2, termination: Termination = "chip"
) -> float:
    """How far a part may be shifted sideways from the middle of its land; at least 0.

    The overhang of a shifted terminal is the shift plus half of the difference in width.
    Source: as `SIDE_OVERHANG_SHARE`, and arithmetic.
    """
    limit = side_overhang_limit_mm(terminal_mm, land_mm, ipc_class, termination)
    return max(0.0, limit - (terminal_mm - land_mm) / 2)
