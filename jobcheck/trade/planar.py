"""Fits of measured fiducials to where they should be, and what their noise does elsewhere.

Points are mm, angles degrees counter-clockwise. Two fiducials give a rigid move and one
distance error; three a similarity; four or more an affine map. A residual
without a spare fiducial is None, never 0.
"""

import itertools
import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from jobcheck.trade.plane import Point, turned

Kind = Literal["rigid", "similarity", "affine"]
"""Which map was fitted: move and turn; with one scale; with two scales and shear."""

_UNKNOWNS: dict[Kind, int] = {"rigid": 3, "similarity": 4, "affine": 6}


class Fit(NamedTuple):
    """A map from nominal to measured: x' = xx x + xy y + dx, y' = yx x + yy y + dy.

    `residuals_mm` are measured minus mapped, one for each fiducial; None where the fiducials have
    nothing to spare for this kind of map.
    """

    kind: Kind
    xx: float
    xy: float
    yx: float
    yy: float
    dx: float
    dy: float
    residuals_mm: tuple[Point, ...] | None = None

    def at(self, point: Point) -> Point:
        """Where a nominal point is. Source: arithmetic."""
        x, y = point
        return self.xx * x + self.xy * y + self.dx, self.yx * x + self.yy * y + self.dy

    @property
    def rotation(self) -> float:
        """Turn of the x axis, degrees. Source: arithmetic."""
        return math.degrees(math.atan2(self.yx, self.xx))

    @property
    def scale_x(self) -> float:
        """Stretch along x. Source: arithmetic."""
        return math.hypot(self.xx, self.yx)

    @property
    def scale_y(self) -> float:
        """Stretch across x, below 0 where the map mirrors. Source: arithmetic."""
        return self._area() / self.scale_x

    @property
    def shear(self) -> float:
        """How far y leans from square to x, degrees, towards x. Source: arithmetic."""
        lean = self.xx * self.xy + self.yx * self.yy
        return math.degrees(math.atan2(lean, abs(self._area())))

    @property
    def worst_mm(self) -> float | None:
        """The largest residual; None where there is nothing to spare. Source: arithmetic."""
        if self.residuals_mm is None:
            return None
        return max(math.hypot(*residual) for residual in self.residuals_mm)

    @property
    def noise_mm(self) -> float | None:
        """Standard deviation of one fiducial in one axis, from the residuals; else None.

        Source: residual variance of a least-squares fit, NIST/SEMATECH e-Handbook 4.4.3.
        """
        if self.residuals_mm is None:
            return None
        spare = 2 * len(self.residuals_mm) - _UNKNOWNS[self.kind]
        return math.sqrt(sum(x * x + y * y for x, y in self.residuals_mm) / spare)

    def _area(self) -> float:
        return self.xx * self.yy - self.xy * self.yx


def fit(nominal: Sequence[Point], measured: Sequence[Point]) -> Fit:
    """The map that so many fiducials allow: 2 rigid, 3 similarity, 4 and more affine.

    Marks on one line allow no more than a similarity. Raises `ValueError` on fewer than two
    marks, marks all in one place or lists of different length.
    Source: least squares; that ladder is IPC-7351 3.4.4 (two fiducials at least, three for
    scale and shear), one fiducial more for each so that something is left to check.
    """
    if len(nominal) == 2:
        return fit_rigid(nominal, measured)
    if len(nominal) == 3 or line_deviation(nominal) <= 1e-9 * spread(nominal):
        return fit_similarity(nominal, measured)
    return fit_affine(nominal, measured)


def fit_rigid(nominal: Sequence[Point], measured: Sequence[Point]) -> Fit:
    """Move and turn only. Raises `ValueError` as `fit`.

    Source: least squares in the plane: S. Umeyama, IEEE PAMI 13(4), 1991, without the scale.
    """
    along, across, _ = _products(nominal, measured)
    size = math.hypot(along, across)
    if size == 0.0:
        raise ValueError("the measured fiducials give no direction")
    return _about_centres("rigid", nominal, measured, _turn_and_scale(along / size, across / size))


def fit_similarity(nominal: Sequence[Point], measured: Sequence[Point]) -> Fit:
    """Move, turn and one scale. Raises `ValueError` as `fit`.

    Source: least squares in the plane: S. Umeyama, IEEE PAMI 13(4), 1991.
    """
    along, across, square = _products(nominal, measured)
    matrix = _turn_and_scale(along / square, across / square)
    return _about_centres("similarity", nominal, measured, matrix)


def fit_affine(nominal: Sequence[Point], measured: Sequence[Point]) -> Fit:
    """Move, turn, two scales and shear. Raises `ValueError` as `fit`, and on fiducials in line.

    Source: linear least squares, normal equations about the centre (NIST/SEMATECH
    e-Handbook 4.4.3).
    """
    _check(nominal, measured)
    p, q = _centred(nominal), _centred(measured)
    inverse = _inverse_moments(p)
    if inverse is None:
        raise ValueError("fiducials on one line do not fix an affine map")
    rows = [_times(inverse, (_dot(p, q, 0, axis), _dot(p, q, 1, axis))) for axis in (0, 1)]
    return _about_centres("affine", nominal, measured, (*rows[0], *rows[1]))


def distance_error(nominal: Sequence[Point], measured: Sequence[Point]) -> float:
    """Measured less nominal distance of the first two marks, mm. Source: arithmetic."""
    return math.dist(measured[0], measured[1]) - math.dist(nominal[0], nominal[1])


def is_mirrored(
    nominal: Sequence[Point], measured: Sequence[Point], noise_mm: float = 0.05
) -> bool | None:
    """Whether the measured fiducials are the mirror image of the nominal ones.

    None where both readings fit within the noise: two marks, or marks nearly on one line.
    Source: residuals of two similarity fits, the second to the mirrored nominal fiducials.
    """
    if len(nominal) < 3:
        return None
    straight = fit_similarity(nominal, measured).noise_mm
    flipped = fit_similarity([(-x, y) for x, y in nominal], measured).noise_mm
    if straight is None or flipped is None or max(straight, flipped) <= noise_mm:
        return None
    return flipped < straight


def position_error(
    marks: Sequence[Point], point: Point, noise_mm: float, kind: Kind = "rigid"
) -> float:
    """Expected (root mean square) position error at a point, mm.

    `noise_mm` is the standard deviation of one measured fiducial in one axis, independent of the
    others. Raises `ValueError` as the fit of that kind.
    Source: linear propagation of the fiducials' errors; for rigid maps the planar case of J. M.
    Fitzpatrick, J. B. West, C. R. Maurer, IEEE TMI 17(5), 1998 (from memory).
    """
    _check(marks, marks)
    centre = _centre(marks)
    arm = point[0] - centre[0], point[1] - centre[1]
    lever = _affine_lever(marks, arm) if kind == "affine" else _turning_lever(marks, arm)
    ways = 1.0 if kind == "rigid" else 2.0
    return noise_mm * math.sqrt(2.0 / len(marks) + ways * lever)


def half_turn_mismatch(marks: Sequence[Point], centre: Point) -> float:
    """How far the fiducials are from mapping onto themselves under a half turn, mm.

    The largest distance from a turned fiducial to the nearest fiducial: where it is within the
    search radius, a board seated the wrong way round is accepted.
    Source: common practice, no published source.
    """
    over = [(2 * centre[0] - x, 2 * centre[1] - y) for x, y in marks]
    return max((min(math.dist(o, mark) for mark in marks) for o in over), default=math.inf)


def spread(marks: Sequence[Point]) -> float:
    """The largest distance between two marks, mm; 0 for fewer than two. Source: arithmetic."""
    return max((math.dist(a, b) for a, b in itertools.combinations(marks, 2)), default=0.0)


def line_deviation(marks: Sequence[Point]) -> float:
    """Largest distance of a fiducial from the line that fits them best, mm.

    0 for fewer than three. Source: orthogonal regression, principal axis of the moments.
    """
    if len(marks) < 3:
        return 0.0
    p = _centred(marks)
    xx, yy, xy = _dot(p, p, 0, 0), _dot(p, p, 1, 1), _dot(p, p, 0, 1)
    axis = math.degrees(math.atan2(2 * xy, xx - yy)) / 2
    return max(abs(turned(mark, -axis)[1]) for mark in p)


def _check(nominal: Sequence[Point], measured: Sequence[Point]) -> None:
    if len(nominal) != len(measured):
        raise ValueError(f"{len(nominal)} nominal fiducials, {len(measured)} measured")
    if len(nominal) < 2 or spread(nominal) == 0.0:
        raise ValueError("a fit needs two fiducials in different places")


def _centre(points: Sequence[Point]) -> Point:
    return (
        math.fsum(x for x, _ in points) / len(points),
        math.fsum(y for _, y in points) / len(points),
    )


def _centred(points: Sequence[Point]) -> list[Point]:
    centre = _centre(points)
    return [(x - centre[0], y - centre[1]) for x, y in points]


def _dot(p: Sequence[Point], q: Sequence[Point], p_axis: int, q_axis: int) -> float:
    return math.fsum(a[p_axis] * b[q_axis] for a, b in zip(p, q, strict=True))


def _square(p: Sequence[Point]) -> float:
    return _dot(p, p, 0, 0) + _dot(p, p, 1, 1)


def _products(nominal: Sequence[Point], measured: Sequence[Point]) -> tuple[float, float, float]:
    """Sums of dot and cross products about the centres, and of the nominal squares."""
    _check(nominal, measured)
    p, q = _centred(nominal), _centred(measured)
    along = _dot(p, q, 0, 0) + _dot(p, q, 1, 1)
    across = _dot(p, q, 0, 1) - _dot(p, q, 1, 0)
    return along, across, _square(p)


Matrix = tuple[float, float, float, float]
"""Two rows of two, one after the other."""


def _turn_and_scale(cosine: float, sine: float) -> Matrix:
    return cosine, -sine, sine, cosine


def _times(matrix: Matrix, vector: Point) -> Point:
    a, b, c, d = matrix
    return a * vector[0] + b * vector[1], c * vector[0] + d * vector[1]


def _inverse_moments(p: Sequence[Point]) -> Matrix | None:
    """Inverse of the fiducials' second moments about their centre; None for fiducials in line."""
    xx, yy, xy = _dot(p, p, 0, 0), _dot(p, p, 1, 1), _dot(p, p, 0, 1)
    area = xx * yy - xy * xy
    if area <= 1e-18 * (xx + yy) * (xx + yy):
        return None
    return yy / area, -xy / area, -xy / area, xx / area


def _turning_lever(marks: Sequence[Point], arm: Point) -> float:
    return (arm[0] * arm[0] + arm[1] * arm[1]) / _square(_centred(marks))


def _affine_lever(marks: Sequence[Point], arm: Point) -> float:
    inverse = _inverse_moments(_centred(marks))
    if inverse is None:
        raise ValueError("fiducials on one line do not fix an affine map")
    weighted = _times(inverse, arm)
    return arm[0] * weighted[0] + arm[1] * weighted[1]


def _about_centres(
    kind: Kind, nominal: Sequence[Point], measured: Sequence[Point], matrix: Matrix
) -> Fit:
    """The fit that takes one centre to the other, with the residuals it has to spare."""
    turned_centre = _times(matrix, _centre(nominal))
    middle = _centre(measured)
    found = Fit(kind, *matrix, middle[0] - turned_centre[0], middle[1] - turned_centre[1])
    if 2 * len(nominal) <= _UNKNOWNS[kind]:
        return found
    mapped = [found.at(point) for point in nominal]
    residuals = tuple(
        (seen[0] - on[0], seen[1] - on[1]) for seen, on in zip(measured, mapped, strict=True)
    )
    return Fit(kind, *matrix, found.dx, found.dy, residuals)
