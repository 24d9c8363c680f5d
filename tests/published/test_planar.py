"""Fits of marks against numpy.linalg.lstsq and against errors propagated by numpy."""

import numpy as np
import pytest

from jobcheck.trade.planar import (
    fit_affine,
    fit_rigid,
    fit_similarity,
    position_error,
)

CHANCE = np.random.default_rng(7)
SETS = [CHANCE.uniform(0, 120, (count, 2)) for count in (2, 3, 4, 5, 8) for _ in range(20)]


def measured_from(nominal, turn=0.02, stretch=(1.001, 0.9985), lean=0.003, noise=0.02):
    cosine, sine = np.cos(turn), np.sin(turn)
    matrix = np.array([[cosine, -sine], [sine, cosine]]) @ [[stretch[0], lean], [0, stretch[1]]]
    return nominal @ matrix.T + [150.0, 110.0] + CHANCE.normal(0, noise, nominal.shape)


def similarity_rows(points):
    """Rows of the linear system in (a, b, dx, dy): x' = a x - b y + dx, y' = b x + a y + dy."""
    rows = []
    for x, y in points:
        rows += [[x, -y, 1, 0], [y, x, 0, 1]]
    return np.array(rows)


def affine_rows(points):
    return np.hstack([points, np.ones((len(points), 1))])


def residuals(found):
    assert found.residuals_mm is not None
    return np.array(found.residuals_mm)


def as_points(array):
    return [tuple(row) for row in array.tolist()]


@pytest.mark.parametrize("nominal", SETS, ids=len)
def test_similarity(nominal):
    measured = measured_from(nominal)
    (a, b, dx, dy), *_ = np.linalg.lstsq(similarity_rows(nominal), measured.ravel(), rcond=None)
    found = fit_similarity(as_points(nominal), as_points(measured))
    told = (found.xx, found.xy, found.yx, found.yy, found.dx, found.dy)
    assert told == pytest.approx((a, -b, b, a, dx, dy), abs=1e-7)
    if len(nominal) == 2:
        assert found.residuals_mm is None
        assert found.worst_mm is None
    else:
        left = measured.ravel() - similarity_rows(nominal) @ [a, b, dx, dy]
        assert residuals(found).ravel() == pytest.approx(left, abs=1e-9)
        assert found.noise_mm == pytest.approx(np.sqrt(left @ left / (len(left) - 4)))


@pytest.mark.parametrize("nominal", [s for s in SETS if len(s) > 2], ids=len)
def test_affine(nominal):
    measured = measured_from(nominal)
    solved, *_ = np.linalg.lstsq(affine_rows(nominal), measured, rcond=None)
    found = fit_affine(as_points(nominal), as_points(measured))
    told = [[found.xx, found.yx], [found.xy, found.yy], [found.dx, found.dy]]
    assert np.allclose(told, solved, atol=1e-6)
    if len(nominal) == 3:
        assert found.residuals_mm is None
    else:
        left = measured - affine_rows(nominal) @ solved
        assert np.allclose(residuals(found), left, atol=1e-9)


@pytest.mark.parametrize("nominal", SETS, ids=len)
def test_rigid_is_the_orthogonal_procrustes_solution(nominal):
    """Reference: singular value decomposition (numpy.linalg.svd), as Kabsch and Umeyama."""
    measured = measured_from(nominal)
    p, q = nominal - nominal.mean(0), measured - measured.mean(0)
    u, _, v = np.linalg.svd(p.T @ q)
    turn = v.T @ np.diag([1, np.linalg.det(v.T @ u.T)]) @ u.T
    found = fit_rigid(as_points(nominal), as_points(measured))
    assert np.allclose([[found.xx, found.xy], [found.yx, found.yy]], turn, atol=1e-9)
    assert np.allclose(residuals(found), q - p @ turn.T, atol=1e-9)


def propagated(rows, probe, noise):
    """Root mean square error of a linear model at a probe: rows^+ noise, taken to the probe."""
    covariance = np.linalg.inv(rows.T @ rows) * noise**2
    return np.sqrt(np.trace(probe @ covariance @ probe.T))


@pytest.mark.parametrize("nominal", SETS[::5], ids=len)
def test_the_expected_error_is_the_propagated_covariance(nominal):
    marks, point, noise = as_points(nominal), (33.0, 81.0), 0.02
    rows, probe = similarity_rows(nominal), similarity_rows([point])
    similar = position_error(marks, point, noise, "similarity")
    assert similar == pytest.approx(propagated(rows, probe, noise))

    # A small turn moves (x, y) by (-y, x): the similarity without the column of its scale.
    rigid = position_error(marks, point, noise, "rigid")
    assert rigid == pytest.approx(propagated(rows[:, 1:], probe[:, 1:], noise))

    if len(nominal) > 2:
        both = np.kron(affine_rows(nominal), np.eye(2))
        probe = np.kron(affine_rows(np.array([point])), np.eye(2))
        affine = position_error(marks, point, noise, "affine")
        assert affine == pytest.approx(propagated(both, probe, noise))


def test_the_expected_error_is_met_by_simulated_boards():
    marks = np.array([[5.0, 5.0], [115.0, 75.0], [5.0, 75.0]])
    point, noise = (110.0, 10.0), 0.03
    errors = []
    for _ in range(2000):
        seen = marks + CHANCE.normal(0, noise, marks.shape)
        x, y = fit_rigid(as_points(marks), as_points(seen)).at(point)
        errors.append((x - point[0]) ** 2 + (y - point[1]) ** 2)
    expected = position_error(as_points(marks), point, noise)
    assert np.sqrt(np.mean(errors)) == pytest.approx(expected, rel=0.06)
