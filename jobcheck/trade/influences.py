"""Which logged quantity a series of measurements follows, and which it cannot tell apart."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import NamedTuple

import numpy as np
from scipy import stats

from jobcheck.trade.cycles import OVERSAMPLING, SURE_BELOW, periodogram
from jobcheck.trade.series import Series, fitted, independent_samples, sine

_ALIKE = 6.0
"""Twice the logarithm of a likelihood ratio below which two explanations fit alike.

Source: Kass and Raftery, Bayes Factors, 1995 ("positive" evidence ends there; from memory).
"""

_LEAST_PLACES = 8


class Quantity(Enum):
    """How a quantity can act: once a turn, with a pitch along an axis, or in proportion."""

    TURN = "once a turn"
    PITCH = "with a pitch"
    LEVEL = "in proportion"


class Influence(NamedTuple):
    """A quantity that a series follows.

    `share` is the part of the variance that it explains, `pitch` the length after which it
    repeats (mm or s), `is_best` whether nothing explains more, `is_alike` whether the log cannot
    tell it from the best.
    """

    name: str
    share: float
    pitch: float | None
    is_best: bool
    is_alike: bool


class _Model(NamedTuple):
    """What is left of the series by one quantity: fitted `parameters`, after `searched` pitches."""

    name: str
    pitch: float | None
    left: Series
    parameters: int
    searched: int = 1


def influences(
    values: Series,
    time: Series,
    period: float | None,
    quantities: Mapping[str, tuple[Quantity, Series]],
) -> tuple[Influence, ...]:
    """Return what explains a series better than chance, the best first.

    `period` is that of a cycle in time that is sure. Each model has the constant and the trend;
    correlated samples count for fewer. Source: F test of nested linear models.
    """
    base = [np.ones_like(time), time / (np.ptp(time) or 1.0)]
    models = [] if period is None else [_sine("time", values, base, time, period)]
    for name, (quantity, at) in quantities.items():
        model = _model(name, quantity, values, base, at)
        if model is not None and _is_significant(values, base, model):
            models.append(model)
    if not models:
        return ()
    none = float(np.sum((values - fitted(values, base)) ** 2))
    best = min(models, key=lambda model: float(np.sum(model.left**2)))
    least = float(np.sum(best.left**2)) or np.finfo(float).tiny
    samples = independent_samples(best.left)
    found = []
    for model in models:
        squares = float(np.sum(model.left**2))
        is_alike = samples * np.log(max(squares, least) / least) < _ALIKE
        found.append(
            Influence(model.name, 1 - squares / none, model.pitch, model is best, bool(is_alike))
        )
    return tuple(sorted(found, key=lambda influence: -influence.share))


def _model(
    name: str, quantity: Quantity, values: Series, base: list[Series], at: Series
) -> _Model | None:
    if np.ptp(at) == 0:
        return None
    if quantity is Quantity.LEVEL:
        return _Model(name, None, values - fitted(values, [*base, at - at.mean()]), 1)
    if quantity is Quantity.TURN:
        return _sine(name, values, base, at, 360.0)._replace(pitch=None)
    if len(np.unique(at)) < _LEAST_PLACES:
        return None
    order = np.argsort(at, kind="stable")
    powers = periodogram(at[order], (values - fitted(values, base))[order])
    best = float(powers.frequency[int(np.argmax(powers.power))])
    model = _sine(name, values, base, at, 1 / best)
    return model._replace(searched=max(1, len(powers.frequency) // OVERSAMPLING))


def _sine(name: str, values: Series, base: list[Series], at: Series, period: float) -> _Model:
    return _Model(name, period, values - fitted(values, [*base, *sine(at, period)]), 2)


def _is_significant(values: Series, base: list[Series], model: _Model) -> bool:
    """The F test; a searched pitch counts every pitch that was tried."""
    none, left = float(np.sum((values - fitted(values, base)) ** 2)), float(np.sum(model.left**2))
    freedom = independent_samples(model.left) - 2 - len(base)
    if freedom < 1:
        return False
    ratio = (none - left) / model.parameters / max(left / freedom, np.finfo(float).tiny)
    return bool(stats.f.sf(ratio, model.parameters, freedom) * model.searched < SURE_BELOW)
