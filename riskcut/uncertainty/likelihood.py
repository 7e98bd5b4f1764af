"""Log-likelihoods of the families that can be fitted, and where their maxima lie.

The parameters are those that the literature reports (location, scale, shape), not the moments that the
marginals are made from.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize
from scipy.special import digamma, gammaln, logsumexp

from riskcut.uncertainty.gamma_moments import log_gamma_from_one, log_moment_ratio
from riskcut.uncertainty.marginals import (
    Exponential,
    Gamma,
    Gev,
    Gumbel,
    Lognormal,
    Marginal,
    Normal,
    Weibull,
)

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Family:
    """One family: its parameters, its log-likelihood, the maximum of it and the marginal they make."""

    parameters: tuple[str, ...]
    log_likelihood: Callable[[Array, Array], float]
    """Of the parameters and the values; -inf where a value cannot be."""
    estimate: Callable[[Array], Array]
    """Maximum-likelihood parameters of the values."""
    marginal: Callable[[Array], Marginal]
    above_zero: bool = False
    """Whether its values are."""
    rough: bool = False
    """Whether the estimate is near the maximum only."""


def _normal(p: Array, x: Array) -> float:
    mean, sd = p
    if sd <= 0.0:
        return -math.inf
    return float(-0.5 * (((x - mean) / sd) ** 2).sum() - len(x) * math.log(sd * math.sqrt(2.0 * math.pi)))


def _lognormal(p: Array, x: Array) -> float:
    return _normal(p, np.log(x)) - float(np.log(x).sum())


def _gumbel(p: Array, x: Array) -> float:
    location, scale = p
    if scale <= 0.0:
        return -math.inf
    y = (x - location) / scale
    with np.errstate(over="ignore"):
        return float(-(y + np.exp(-y)).sum() - len(x) * math.log(scale))


def _gev(p: Array, x: Array) -> float:
    location, scale, shape = p
    if scale <= 0.0:
        return -math.inf
    y = (x - location) / scale
    if abs(shape) > 1e-9:
        inside = 1.0 + shape * y
        if inside.min() <= 0.0:
            return -math.inf
        y = np.log1p(shape * y) / shape
    with np.errstate(over="ignore"):
        return float(-((1.0 + shape) * y + np.exp(-y)).sum() - len(x) * math.log(scale))


def _exponential(p: Array, x: Array) -> float:
    return float(-len(x) * math.log(p[0]) - x.sum() / p[0]) if p[0] > 0.0 else -math.inf


def _gamma(p: Array, x: Array) -> float:
    shape, scale = p
    if min(shape, scale) <= 0.0:
        return -math.inf
    constant = float(gammaln(shape)) + shape * math.log(scale)
    return float(((shape - 1.0) * np.log(x) - x / scale).sum() - len(x) * constant)


def _weibull(p: Array, x: Array) -> float:
    scale, shape = p
    if min(shape, scale) <= 0.0:
        return -math.inf
    y = np.log(x / scale)
    with np.errstate(over="ignore"):
        return float(((shape - 1.0) * y - np.exp(shape * y)).sum() + len(x) * math.log(shape / scale))


def _moments(x: Array) -> Array:
    return np.array([x.mean(), x.std()])


def _root(miss: Callable[[float], float], start: float) -> float:
    """Return the root of a falling function of a positive number."""
    low = high = start
    while miss(low) < 0.0:
        low *= 0.5
    while miss(high) > 0.0:
        high *= 2.0
    return start if low == high else float(brentq(miss, low, high, xtol=1e-300, rtol=1e-14))


def _estimate_gumbel(x: Array) -> Array:
    # mean - scale = the mean of x weighted by exp(-x/scale)
    y = x - x.mean()

    def miss(scale: float) -> float:
        weights = np.exp(-(y - y.min()) / scale)
        return float(-scale - (y * weights).sum() / weights.sum())

    scale = _root(miss, float(x.std()) * math.sqrt(6.0) / math.pi)
    return np.array([x.mean() - scale * (logsumexp(-y / scale) - math.log(len(x))), scale])


def _estimate_gamma(x: Array) -> Array:
    # ln k - digamma(k) = ln(mean) - mean of ln x
    mean = float(x.mean())
    gap = -float(np.log(x / mean).mean())
    shape = _root(lambda k: math.log(k) - float(digamma(k)) - gap, 0.5 / gap)
    return np.array([shape, mean / shape])


def _estimate_weibull(x: Array) -> Array:
    # 1/k = mean of ln x weighted by x^k, less the plain one
    y = np.log(x / x.max())

    def miss(shape: float) -> float:
        weights = np.exp(shape * y)
        return 1.0 / shape + float(y.mean() - (y * weights).sum() / weights.sum())

    shape = _root(miss, math.pi / math.sqrt(6.0) / float(y.std()))
    return np.array([x.max() * math.exp((logsumexp(shape * y) - math.log(len(x))) / shape), shape])


def _estimate_gev(x: Array) -> Array:
    middle, spread = float(x.mean()), float(x.std())
    y = (x - middle) / spread
    location, scale = _estimate_gumbel(y)

    def loss(p: Array) -> float:
        value = -_gev(np.array([p[0], math.exp(p[1]), p[2]]), y)
        # Below -1 the likelihood has no maximum: it grows without bound as the end meets the greatest value.
        return value if value < 1e10 and -1.0 < p[2] < 5.0 else 1e10

    best = min(
        (
            minimize(
                loss,
                [location, math.log(scale), shape],
                method="Nelder-Mead",
                options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000, "maxfev": 4000},
            )
            for shape in (0.0, 0.2)
        ),
        key=lambda found: float(found.fun),
    )
    location, log_scale, shape = best.x
    return np.array([middle + spread * location, spread * math.exp(log_scale), shape])


def _lognormal_of(p: Array) -> Marginal:
    mean = math.exp(p[0] + 0.5 * p[1] ** 2)
    return Lognormal(mean=mean, sd=mean * math.sqrt(math.expm1(p[1] ** 2)))


def _weibull_of(p: Array) -> Marginal:
    mean = p[0] * math.exp(log_gamma_from_one(1.0 / p[1]))
    return Weibull(mean=mean, sd=mean * math.sqrt(math.expm1(log_moment_ratio(1.0 / p[1]))))


def _gumbel_of(p: Array) -> Marginal:
    return Gumbel(mean=p[0] + float(np.euler_gamma) * p[1], sd=p[1] * math.pi / math.sqrt(6.0))


FAMILIES: Mapping[str, Family] = {
    "normal": Family(("mean", "sd"), _normal, _moments, lambda p: Normal(mean=p[0], sd=p[1])),
    "lognormal": Family(
        ("log_mean", "log_sd"), _lognormal, lambda x: _moments(np.log(x)), _lognormal_of, above_zero=True
    ),
    "gumbel": Family(("location", "scale"), _gumbel, _estimate_gumbel, _gumbel_of),
    "gev": Family(
        ("location", "scale", "shape"),
        _gev,
        _estimate_gev,
        lambda p: Gev(location=p[0], scale=p[1], shape=p[2]),
        rough=True,
    ),
    "exponential": Family(
        ("mean",),
        _exponential,
        lambda x: np.array([x.mean()]),
        lambda p: Exponential(mean=p[0]),
        above_zero=True,
    ),
    "gamma": Family(
        ("shape", "scale"),
        _gamma,
        _estimate_gamma,
        lambda p: Gamma(mean=p[0] * p[1], sd=math.sqrt(p[0]) * p[1]),
        above_zero=True,
    ),
    "weibull": Family(("scale", "shape"), _weibull, _estimate_weibull, _weibull_of, above_zero=True),
}
"""Families that can be fitted, by the kind of the marginal."""
