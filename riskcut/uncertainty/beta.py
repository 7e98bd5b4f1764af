"""The beta distribution: a number between two ends with a mean and sd of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from scipy.special import betainc, betaincc, betaincinv, betaln, ndtr, ndtri_exp

from riskcut.uncertainty.marginal import MarginalError, Values, check
from riskcut.uncertainty.score_table import REACH
from riskcut.uncertainty.support import Between
from riskcut.uncertainty.tabulated import Tabulated, score_of_tails, tails

_TINY = 40.0
LEAST_EXPONENT = 0.01
MOST_EXPONENT = 1e10


def spreads(mean: float, low: float, high: float) -> tuple[float, float]:
    """Return the least and the greatest sd that a beta number with this mean between its ends is computed with."""
    share, rest = (mean - low) / (high - low), (high - mean) / (high - low)
    most = math.sqrt(share * rest) * (high - low)
    return (
        most / math.sqrt(1.0 + MOST_EXPONENT / max(share, rest)),
        most / math.sqrt(1.0 + LEAST_EXPONENT / min(share, rest)),
    )


@dataclass(frozen=True, kw_only=True)
class Beta(Tabulated):
    """Beta distribution between ``low`` and ``high``, given by its mean and sd.

    With y = (x - low)/(high - low): f(y) = y^(a - 1) (1 - y)^(b - 1) / B(a, b),
    a = m t, b = (1 - m) t, t = m (1 - m)/v - 1, m and v the mean and variance of y. Where a or b is
    below 1 the density rises without bound towards that end.
    """

    kind: ClassVar[str] = "beta"
    mean: float
    sd: float
    low: float
    high: float
    a: float = field(init=False, repr=False, compare=False)
    """Exponent at the lower end."""
    b: float = field(init=False, repr=False, compare=False)
    """Exponent at the upper end."""
    support: Between = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        width = self.high - self.low
        check(self.kind, mean=self.mean, sd=self.sd, low=self.low, high=self.high, high_less_low=width)
        if not self.low < self.mean < self.high:
            raise MarginalError(
                f"beta: mean {self.mean:g} is not between low, {self.low:g}, and high, {self.high:g}"
            )
        share, rest = (self.mean - self.low) / width, (self.high - self.mean) / width
        most = math.sqrt(share * rest) * width
        total = (most / self.sd - 1.0) * (most / self.sd + 1.0)
        a, b = share * total, rest * total
        if min(a, b) <= 0.0:
            raise MarginalError(
                f"beta: sd is {self.sd:g}; between {self.low:g} and {self.high:g} with mean {self.mean:g} "
                f"it stays below {most:.4g}, at which all values lie at the ends"
            )
        if min(a, b) < LEAST_EXPONENT:
            raise MarginalError(
                f"beta: mean {self.mean:g} and sd {self.sd:g} put next to all values at "
                f"{'low' if a < b else 'high'}, {self.low if a < b else self.high:g}; a smaller sd can be computed with"
            )
        if max(a, b) > MOST_EXPONENT:
            raise MarginalError(f"beta: sd is {self.sd:g}; no spread is left to compute with")
        object.__setattr__(self, "a", a)
        object.__setattr__(self, "b", b)
        object.__setattr__(self, "support", Between(self.low, self.high))

    def _log_density(self, h: Values) -> Values:
        # y (1 - y) f(y), ln y = -softplus(-h), ln(1 - y) = -softplus(h)
        log_beta = float(betaln(self.a, self.b))
        return np.asarray(-self.a * np.logaddexp(0.0, -h) - self.b * np.logaddexp(0.0, h) - log_beta)

    def _score(self, h: Values) -> Values:
        smaller = np.exp(-np.abs(h))
        smaller /= 1.0 + smaller  # y or 1 - y
        low_side = h < 0.0
        # the incomplete function is asked from the nearer end
        first, last = np.where(low_side, self.a, self.b), np.where(low_side, self.b, self.a)
        nearer, farther = betainc(first, last, smaller), betaincc(first, last, smaller)
        score = score_of_tails(nearer, farther)
        tiny = np.abs(h) > _TINY
        if np.any(tiny):
            log_tail = -first * np.abs(h) - np.log(first) - float(betaln(self.a, self.b))
            score = np.where(tiny, ndtri_exp(np.minimum(log_tail, 0.0)), score)
        return np.where(low_side, score, -score)

    def _exact(self, z: Values) -> Values:
        below, above = tails(z)
        log_beta = float(betaln(self.a, self.b))
        with np.errstate(divide="ignore", under="ignore"):
            share = betaincinv(self.a, self.b, ndtr(np.minimum(z, 0.0)))
            rest = betaincinv(self.b, self.a, ndtr(-np.maximum(z, 0.0)))
            h = np.where(z < 0.0, np.log(share) - np.log1p(-share), np.log1p(-rest) - np.log(rest))
            # first terms of the series at both ends
            low = (below + math.log(self.a) + log_beta) / self.a
            high = -(above + math.log(self.b) + log_beta) / self.b
        h = self._polished(z, np.clip(h, -_TINY, _TINY), 3)
        far = np.abs(z) > REACH
        if np.any(far):  # the library's inverse fails for single values out there
            h[far] = self._polished(z[far], h[far], 8)
        h = np.where(low < -_TINY, low, h)
        return np.where(high > _TINY, high, h)
