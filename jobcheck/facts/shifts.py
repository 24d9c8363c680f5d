"""How far a part may be off its lands, by its outline."""

from __future__ import annotations

from jobcheck.schema.limits import Limits
from jobcheck.schema.parts import Outline
from jobcheck.trade.capability import Termination, side_shift_limit_mm

_CHIP_TERMINALS = 2


def termination_mm(outline: Outline) -> float | None:
    """Return the width of the narrowest terminal, mm; None if it is unknown.

    A part with two terminals of unknown width is taken as a chip: its ends are as wide as itself.
    """
    if outline.terminal_mm is not None:
        return outline.terminal_mm
    return min(outline.body_mm) if outline.terminals == _CHIP_TERMINALS else None


def termination(outline: Outline) -> Termination:
    """Return how the terminals are made; of two a chip, else bent leads.

    A part is leadless only if `over_terminals_mm` says that nothing reaches beyond the body.
    """
    if outline.terminals == _CHIP_TERMINALS:
        return "chip"
    is_leadless = outline.over_terminals_mm == outline.body_mm
    return "leadless" if is_leadless else "gull-wing"


def allowed_shift_mm(outline: Outline, limits: Limits) -> float | None:
    """Return how far a part may be shifted sideways, mm; None if its terminals are unknown.

    The land is taken as wide as the terminal. Source: `trade.capability.SIDE_OVERHANG_SHARE`.
    """
    terminal = termination_mm(outline)
    if terminal is None:
        return None
    return side_shift_limit_mm(terminal, terminal, limits.ipc_class, termination(outline))
