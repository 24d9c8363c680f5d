"""A line through measured points that a few wrong ones do not change."""

from collections.abc import Sequence
from itertools import combinations
from statistics import median

from jobcheck.trade.plane import Point

_ALL_PAIRS = 60
"""Points up to which every pair is taken; beyond it the work would grow with the square."""

MAD_TO_SIGMA = 1.4826
"""Standard deviation of normal noise per median absolute deviation.

Source: Rousseeuw and Croux, Alternatives to the Median Absolute Deviation, 1993.
"""


def robust_line(points: Sequence[Point]) -> tuple[float, float] | None:
    """Slope and intercept of y over x; None where fewer than two x differ.

    The slope is the median over pairs of points, the intercept the median of what is left; more
    than a quarter of the points must be wrong to draw the line away. Of many points each is
    paired with the one half the row further on.
    Source: Theil, A rank-invariant method of linear regression, 1950 (complete and incomplete
    method); Sen 1968; both from memory.
    """
    ordered = sorted(points)
    half = len(ordered) // 2
    pairs = (
        list(combinations(ordered, 2))
        if len(ordered) <= _ALL_PAIRS
        else list(zip(ordered, ordered[half:], strict=False))
    )
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairs if b[0] != a[0]]
    if not slopes:
        return None
    slope = median(slopes)
    return slope, median(y - slope * x for x, y in ordered)


def scatter(residuals: Sequence[float]) -> float:
    """Standard deviation of residuals, from their median distance from 0.

    Source: as `MAD_TO_SIGMA`.
    """
    return MAD_TO_SIGMA * median(abs(residual) for residual in residuals)
