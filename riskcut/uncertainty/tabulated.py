"""What marginals share whose inverse has no cheap form: an exact inverse, and a table of it for the bulk."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from functools import cached_property
from typing import Any

import numpy as np
from scipy.special import log_ndtr, ndtr, ndtri

from riskcut.uncertainty.marginal import Values, fresh, probability
from riskcut.uncertainty.score_table import ScoreTable, tabulate
from riskcut.uncertainty.support import Support

LOG_ROOT_TWO_PI = 0.5 * math.log(2.0 * math.pi)
LEAST_TAIL = -700.0
"""Logarithm of the least probability that the incomplete functions are asked for."""


class Tabulated(ABC):
    """A marginal given by the distribution of h, the number that its :class:`Support` bends x from.

    Subclasses say what the score and the density of h are and how h is had from a score; the table of
    h by the score is built when first needed, once a marginal (some 10 ms), and is right to 3e-11: a
    relative error of the distance from the end. Where no table gets there every row is computed exactly.
    """

    support: Support

    @abstractmethod
    def _score(self, h: Values) -> Values:
        """Return the normal score z of h, exact in both tails."""

    @abstractmethod
    def _log_density(self, h: Values) -> Values:
        """Return the logarithm of the density of h."""

    @abstractmethod
    def _exact(self, z: Values) -> Values:
        """Return h of the normal score z."""

    def _slope(self, z: Values, h: Values) -> Values:
        """Return dh/dz = phi(z) / density of h."""
        with np.errstate(all="ignore"):
            return np.asarray(np.exp(-0.5 * z * z - LOG_ROOT_TWO_PI - self._log_density(h)))

    def _polished(self, z: Values, h: Values, steps: int) -> Values:
        """Return h after that many steps of Newton's method for score(h) = z.

        The number is fixed, so that a row never depends on its neighbours. A step is held to 2; it goes
        that far where the score of h is beyond all numbers.
        """
        with np.errstate(all="ignore"):
            for _ in range(steps):
                score = self._score(h)
                step = (score - z) * self._slope(score, h)
                step = np.where(np.isinf(score), np.copysign(2.0, score), step)
                h = h - np.clip(step, -2.0, 2.0)
        return h

    @cached_property
    def _table(self) -> ScoreTable | None:
        return tabulate(self._exact, self._slope)

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return x = F^-1(Phi(z)), from the table within +-9."""
        z = np.asarray(z, dtype=np.float64)
        out = fresh(z, out)
        if self._table is None:
            out[...] = self._exact(z)
        else:
            self._table(z, out)
        return self.support.value(out)

    def to_normal(self, x: Values) -> Values:
        """Return Phi^-1(F(x)); -inf or inf at and beyond the ends."""
        h = self.support.line(np.asarray(x, dtype=np.float64))
        finite = np.isfinite(h)
        with np.errstate(all="ignore"):
            return np.where(finite, self._score(np.where(finite, h, 0.0)), h)

    def quantile(self, p: Values) -> Values:
        """Return F^-1(p), without the table."""
        z = np.asarray(ndtri(probability(p)))
        finite = np.isfinite(z)
        return self.support.value(np.where(finite, self._exact(np.where(finite, z, 0.0)), z))

    def cdf(self, x: Values) -> Values:
        """Return the probability that x is not exceeded."""
        return np.asarray(ndtr(self.to_normal(x)))

    def log_density(self, x: Values) -> Values:
        """Return the density of h less ln(dx/dh); -inf outside the range."""
        h = self.support.line(np.asarray(x, dtype=np.float64))
        inside = np.isfinite(h)
        h = np.where(inside, h, 0.0)
        return np.where(inside, self._log_density(h) - self.support.log_slope(h), -np.inf)


def score_of_tails(below: Any, above: Any) -> Values:
    """Return the normal score, from the smaller of the probabilities below and above."""
    return np.asarray(np.where(below < above, ndtri(below), -ndtri(above)))


def tails(z: Values) -> tuple[Values, Values]:
    """Return ln Phi(z) and ln Phi(-z)."""
    return np.asarray(log_ndtr(z)), np.asarray(log_ndtr(-z))
