"""How many parts a run needs, and the panel on which a reel runs out."""

import math


def need(placed: int, attrition_percent: float, spare: int) -> int:
    """Parts to have ready: N + max(ceil(N × attrition), spare); 0 where nothing is placed.

    Source: common practice, no published source.
    """
    if placed == 0:
        return 0
    # A hair below, so that 1.1 % of 3000 is 33 in binary arithmetic too.
    lost = math.ceil(placed * attrition_percent / 100 - 1e-9)
    return placed + max(lost, spare)


def panel_short(
    remaining: int, per_panel: int, panels: int, attrition_percent: float, spare: int
) -> int | None:
    """The first panel, from 1, that a stock does not cover; None where it covers the run.

    Source: as `need`.
    """
    low, high = 1, panels + 1
    while low < high:
        middle = (low + high) // 2
        if need(per_panel * middle, attrition_percent, spare) > remaining:
            high = middle
        else:
            low = middle + 1
    return low if low <= panels else None
