"""A marginal fitted to data by maximum likelihood, with the standard errors of its parameters."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr

from riskcut.uncertainty.gamma import LEAST_VARIATION
from riskcut.uncertainty.likelihood import FAMILIES, Family
from riskcut.uncertainty.marginals import KINDS, Marginal

Array = NDArray[np.float64]

FEWEST = 5
ALIKE = 1e-9
"""Values that differ by no more than this share of the largest are alike: their digits are used up."""


class FittingError(ValueError):
    """Data that a distribution cannot be fitted to, or a distribution that is not fitted to data."""


@dataclass(frozen=True)
class Fit:
    """A distribution fitted by maximum likelihood.

    The distances tell how far the data stray from the fit; neither is a test, because the parameters were
    fitted to the same data.
    """

    marginal: Marginal
    parameters: Mapping[str, float]
    """As the literature reports them: location, scale and shape, or mean and sd."""
    standard_errors: Mapping[str, float]
    """By parameter, from the observed information (curvature of the log-likelihood at its maximum)."""
    covariance: Array = field(compare=False)
    """Of the estimated parameters, in their order."""
    log_likelihood: float
    n: int
    """Number of values."""
    kolmogorov_smirnov: float
    """Greatest difference in probability between the fitted curve and the steps of the data."""
    anderson_darling: float
    """Squared difference between both, weighted so that the tails count as much as the middle."""

    @property
    def meaning(self) -> str:
        """Return what the two distances say, in a sentence each."""
        usual = 1.36 / math.sqrt(self.n)
        return (
            f"The fitted curve and the steps of the {self.n} values differ by {self.kolmogorov_smirnov:.3f} in "
            f"probability at most (Kolmogorov-Smirnov; {usual:.3f} is exceeded once in twenty samples by a "
            "distribution that was not fitted to them, less by one that was). "
            f"With the tails weighted up the distance is {self.anderson_darling:.3f} (Anderson-Darling; 2.492 "
            "likewise)."
        )


NOT_FITTED = {
    "uniform": "the likeliest ends of a uniform number are the least and the greatest value themselves, which "
    "are always too narrow and have no standard errors; state low and high by judgement",
    "triangular": "its likeliest ends lie at or next to the extreme values; state low, mode and high by judgement",
    "beta": "its ends are not known from data; state mean and sd with the ends that the matter has",
    "truncated_normal": "its ends are not known from data; state them, and the parent's mean and sd",
    "frechet": "its lower end is not known from data; fit gev, whose positive shapes are the same family",
}
"""Kinds that are not fitted, and why."""

FITTED: tuple[str, ...] = tuple(FAMILIES)
"""Kinds that :func:`fit` takes."""


def fit(kind: str, values: ArrayLike) -> Fit:
    """Fit a distribution to independent values by maximum likelihood.

    Parameters
    ----------
    kind : str
        ``normal``, ``lognormal``, ``gumbel``, ``gev``, ``exponential``, ``gamma`` or ``weibull`` (the last
        two and ``exponential`` from 0 upwards).
    values : array_like
        Five or more, in the unit of the number.

    Returns
    -------
    Fit

    Raises
    ------
    FittingError
        Where the kind is not one of these, the values are too few, alike or not finite, not above zero for
        a kind that is, or where the likelihood has no regular maximum (a gev shape of -1/2 and less [2]_).
    MarginalError
        Where the best fit is a distribution without a standard deviation (a gev shape of 1/2 and more).

    References
    ----------
    .. [1] Coles, S. (2001). An Introduction to Statistical Modeling of Extreme Values, sections 2.6, 3.3.
    .. [2] Smith, R. L. (1985). Maximum likelihood estimation in a class of nonregular cases. Biometrika
       72(1), 67-90.
    """
    if kind not in FAMILIES:
        if kind in NOT_FITTED:
            raise FittingError(f"{kind} is not fitted: {NOT_FITTED[kind]}")
        known = f"; {', '.join(FAMILIES)} can be" if kind not in KINDS else ""
        raise FittingError(f"{kind!r} is not fitted{known}")
    family = FAMILIES[kind]
    x = _checked(kind, family, values)
    best = family.estimate(x)
    if kind == "gev" and best[2] <= -0.5:
        raise FittingError(
            f"gev: the likelihood rises to shape {best[2]:.3g} or beyond; at -0.5 and less it gives no standard "
            "errors. The data seem to press against an upper end; state the distribution by judgement"
        )

    def log_likelihood(p: Array) -> float:
        return family.log_likelihood(p, x)

    step = _steps(log_likelihood, best, float(x.std()))
    if family.rough:
        best = _refined(log_likelihood, best, step)
    information = _information(log_likelihood, best, step)
    if not _is_maximum(information):
        raise FittingError(f"{kind}: the likelihood has no maximum that these {len(x)} values tell")
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    covariance.flags.writeable = False
    marginal = family.marginal(best)
    smirnov, darling = _distances(marginal, x)
    return Fit(
        marginal=marginal,
        parameters=dict(zip(family.parameters, map(float, best), strict=True)),
        standard_errors=dict(zip(family.parameters, map(float, np.sqrt(np.diag(covariance))), strict=True)),
        covariance=covariance,
        log_likelihood=log_likelihood(best),
        n=len(x),
        kolmogorov_smirnov=smirnov,
        anderson_darling=darling,
    )


def _checked(kind: str, family: Family, values: ArrayLike) -> Array:
    x: Array = np.sort(np.asarray(values, dtype=np.float64), axis=None)
    if len(x) < FEWEST:
        raise FittingError(f"{kind}: {len(x)} values are too few to fit; {FEWEST} or more will do")
    if not np.all(np.isfinite(x)):
        raise FittingError(f"{kind}: a value is not a finite number")
    if x[-1] - x[0] <= ALIKE * max(abs(x[0]), abs(x[-1])):
        raise FittingError(f"{kind}: all values are {x[0]:g}; a certain number is not a variable")
    if family.above_zero and x[0] <= 0.0:
        raise FittingError(f"{kind}: the least value is {x[0]:g}; all are above zero in this distribution")
    if kind == "gamma" and x.std() < LEAST_VARIATION * x.mean():
        raise FittingError(
            f"gamma: the values spread by less than {LEAST_VARIATION:g} of their mean; fit normal"
        )
    return x


def _refined(log_likelihood: Callable[[Array], float], best: Array, step: Array) -> Array:
    """Return the maximum, refined by Newton's method."""
    for _ in range(3):
        gradient = np.array([_difference(log_likelihood, best, row) for row in np.diag(step)]) / step
        information = _information(log_likelihood, best, step)
        if not _is_maximum(information):
            break
        moved = best + np.linalg.solve(information, gradient)
        if log_likelihood(moved) < log_likelihood(best):
            break
        best = moved
    return best


def _is_maximum(information: Array) -> bool:
    """Whether a log-likelihood falls in every direction, by its information, which may not even be finite."""
    return bool(np.all(np.isfinite(information)) and np.linalg.eigvalsh(information)[0] > 0.0)


def _difference(function: Callable[[Array], float], at: Array, step: Array) -> float:
    """Return the central difference of fourth order, over one step."""
    near = function(at + step) - function(at - step)
    far = function(at + 2.0 * step) - function(at - 2.0 * step)
    return (8.0 * near - far) / 12.0


def _steps(log_likelihood: Callable[[Array], float], best: Array, spread: float) -> Array:
    """Return the step of each parameter that lowers the log-likelihood by some 0.001: 0.04 standard errors."""
    top = log_likelihood(best)
    step = np.empty(len(best))
    for k in range(len(best)):
        unit = np.eye(len(best))[k]
        size = 1e-4 * max(abs(best[k]), spread) / len(best)
        for _ in range(60):
            drop = top - 0.5 * (log_likelihood(best + size * unit) + log_likelihood(best - size * unit))
            if 0.0005 < drop < 0.002:
                break
            size *= math.sqrt(0.001 / drop) if 1e-8 < drop < 1e2 else (10.0 if drop <= 1e-8 else 0.1)
        step[k] = size
    return step


def _information(log_likelihood: Callable[[Array], float], at: Array, step: Array) -> Array:
    """Return minus the matrix of second derivatives, by central differences and Richardson's extrapolation."""
    size = len(at)

    def second(factor: float) -> Array:
        moves = np.diag(factor * step)
        result = np.empty((size, size))
        top = log_likelihood(at)
        for i in range(size):
            result[i, i] = log_likelihood(at + moves[i]) - 2.0 * top + log_likelihood(at - moves[i])
            for j in range(i):
                same = log_likelihood(at + moves[i] + moves[j]) + log_likelihood(at - moves[i] - moves[j])
                other = log_likelihood(at + moves[i] - moves[j]) + log_likelihood(at - moves[i] + moves[j])
                result[i, j] = result[j, i] = 0.25 * (same - other)
        return result / factor**2

    with np.errstate(invalid="ignore"):  # next to an end of the distribution a step leaves the data behind
        return -(4.0 * second(1.0) - second(2.0)) / 3.0 / np.outer(step, step)


def _distances(marginal: Marginal, x: Array) -> tuple[float, float]:
    """Return the Kolmogorov-Smirnov and Anderson-Darling distances of sorted values."""
    n = len(x)
    share, rank = marginal.cdf(x), np.arange(1, n + 1)
    smirnov = max(float((rank / n - share).max()), float((share - (rank - 1) / n).max()))
    z = marginal.to_normal(x)
    logarithms = log_ndtr(z) + log_ndtr(-z[::-1])
    return smirnov, float(-n - ((2 * rank - 1) * logarithms).sum() / n)
