"""The standard Gumbel value that belongs to a standard normal score, fast and exact in both tails.

The score is g(z) = -ln(-ln Phi(z)). All extreme-value distributions are simple functions of it. Calling
``log_ndtr`` for every row costs more than twice the drawing of the normal number itself, so the bulk is
read from a table of 8,192 cubics on [-9, 9]: with the interval h = 18/8192 the error, h^4/384 times the
fourth derivative, is of the order of the rounding of g itself.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri_exp

from riskcut.uncertainty.marginal import fresh, probability
from riskcut.uncertainty.score_table import ScoreTable, nodes

INTERVALS = 8192
_FAR = 37.0


def exact(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return g(z) = -ln(-ln Phi(z)) without the table.

    Parameters
    ----------
    z : ndarray
        Standard normal scores, any shape.

    Returns
    -------
    ndarray
        Values of the standard Gumbel variable (largest-value type, location 0, scale 1), same shape.

    Notes
    -----
    In the upper tail -ln Phi(z) = Phi(-z) + Phi(-z)^2/2 + ..., and Phi(-z) itself underflows beyond 38;
    past 37 the value is therefore -ln Phi(-z), taken from ``log_ndtr``, which has no end.
    """
    far = z > _FAR
    near = np.where(far, 0.0, z)
    return np.where(far, -log_ndtr(-z), -np.log(-log_ndtr(near)))


def slope(z: NDArray[np.float64], value: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return g'(z) = phi / (Phi (-ln Phi)), from z and g(z): -ln Phi = exp(-g)."""
    return np.asarray(np.exp(-0.5 * z**2 - log_ndtr(z) + value) / np.sqrt(2.0 * np.pi))


@cache
def _table() -> ScoreTable:
    ends = nodes(INTERVALS)
    value = exact(ends)
    return ScoreTable(value, slope(ends, value), exact)


def score(z: NDArray[np.float64], out: NDArray[np.float64]) -> NDArray[np.float64]:
    """Write g(z) = -ln(-ln Phi(z)) into ``out`` and return it.

    Parameters
    ----------
    z : ndarray
        Standard normal scores, any shape; not changed unless it is ``out``.
    out : ndarray
        Where the result goes; same shape, may be ``z`` itself.

    Returns
    -------
    ndarray
        ``out``; absolute error below 5e-14 within +-9 and the rounding of the value beyond; NaN stays NaN.
    """
    return _table()(z, out)


def normal_of(g: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the z with ln Phi(z) = -exp(-g): the inverse of :func:`score`."""
    with np.errstate(over="ignore", under="ignore"):
        return np.asarray(ndtri_exp(-np.exp(-g)))


class ExtremeValue(ABC):
    """What the distributions of largest values have in common: each is a function of the standard Gumbel value.

    A family gives the two directions of that function, and its density.
    """

    @abstractmethod
    def _from_score(self, g: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the value of a standard Gumbel value, written over it."""

    @abstractmethod
    def _score(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the standard Gumbel value g of x; -inf and inf beyond an end."""

    def from_normal(
        self, z: NDArray[np.float64], out: NDArray[np.float64] | None = None
    ) -> NDArray[np.float64]:
        """Return the value at the standard Gumbel value g = -ln(-ln Phi(z))."""
        z = np.asarray(z, dtype=np.float64)
        return self._from_score(score(z, fresh(z, out)))

    def to_normal(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the z with ln Phi(z) = -exp(-g)."""
        return normal_of(self._score(x))

    def quantile(self, p: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the value at g = -ln(-ln p)."""
        with np.errstate(divide="ignore"):
            return self._from_score(np.array(-np.log(-np.log(probability(p)))))

    def cdf(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return exp(-exp(-g))."""
        with np.errstate(over="ignore", under="ignore"):
            return np.asarray(np.exp(-np.exp(-self._score(x))))
