"""The gamma distribution: sums of waiting times, loads that cannot be negative."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from scipy.special import gammainc, gammaincc, gammainccinv, gammaincinv, gammaln, ndtr, ndtri_exp

from riskcut.uncertainty.marginal import MarginalError, Values, check
from riskcut.uncertainty.support import Above
from riskcut.uncertainty.tabulated import LEAST_TAIL, LOG_ROOT_TWO_PI, Tabulated, score_of_tails, tails

_TINY = -40.0
LEAST_VARIATION = 5e-3
MOST_VARIATION = 30.0


def _stirling(shape: float) -> float:
    """Return ln Gamma(shape) - [(shape - 1/2) ln(shape) - shape + ln(2 pi)/2]."""
    if shape > 100.0:
        # Abramowitz & Stegun 6.1.41; the next term is below 1e-17
        return (1.0 / 12.0 - (1.0 / 360.0 - 1.0 / (1260.0 * shape**2)) / shape**2) / shape
    return float(gammaln(shape)) - ((shape - 0.5) * math.log(shape) - shape + LOG_ROOT_TWO_PI)


@dataclass(frozen=True, kw_only=True)
class Gamma(Tabulated):
    """Gamma distribution, given by its mean and sd, both above zero.

    f(x) = x^(shape - 1) exp(-x/scale) / (Gamma(shape) scale^shape), shape = (mean/sd)^2, scale = sd^2/mean.
    """

    kind: ClassVar[str] = "gamma"
    mean: float
    sd: float
    shape: float = field(init=False, repr=False, compare=False)
    scale: float = field(init=False, repr=False, compare=False)
    support: Above = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        check(self.kind, mean=self.mean, sd=self.sd)
        if self.mean <= 0.0:
            raise MarginalError(f"gamma: mean is {self.mean:g}; a gamma number is above zero")
        variation = self.sd / self.mean
        if not LEAST_VARIATION <= variation <= MOST_VARIATION:
            raise MarginalError(
                f"gamma: sd/mean is {variation:g}; from {LEAST_VARIATION:g} to {MOST_VARIATION:g} can be computed "
                "with (below, a normal number is the same)"
            )
        object.__setattr__(self, "shape", variation**-2)
        object.__setattr__(self, "scale", self.sd * variation)
        object.__setattr__(self, "support", Above(0.0, self.mean))  # h = ln(x/mean)

    def _log_density(self, h: Values) -> Values:
        # x f(x) with Stirling's formula taken out: shape ln x - x - ln Gamma(shape) would cancel
        return (
            self.shape * (h - np.expm1(h))
            + 0.5 * math.log(self.shape)
            - LOG_ROOT_TWO_PI
            - _stirling(self.shape)
        )

    def _log_power(self) -> float:
        """Return ln c of the first term of the series F = c exp(shape h)."""
        return self.shape * math.log(self.shape) - float(gammaln(self.shape + 1.0))

    def _score(self, h: Values) -> Values:
        x = self.shape * np.exp(h)
        score = score_of_tails(gammainc(self.shape, x), gammaincc(self.shape, x))
        tiny = h < _TINY - max(math.log(self.shape), 0.0)
        if not np.any(tiny):
            return score
        return np.where(tiny, ndtri_exp(np.minimum(self.shape * h + self._log_power(), 0.0)), score)

    def _exact(self, z: Values) -> Values:
        below, above = tails(z)
        with np.errstate(divide="ignore", over="ignore", under="ignore"):
            x = np.where(
                z < 0.0,
                gammaincinv(self.shape, ndtr(np.minimum(z, 0.0))),
                gammainccinv(self.shape, np.exp(np.maximum(np.minimum(above, 0.0), LEAST_TAIL))),
            )
            h = np.log(x / self.shape)
            # where x itself is below 1e-17 (or zero), from the first term of the series
            series = (below - self._log_power()) / self.shape
        return np.where(series < _TINY - max(math.log(self.shape), 0.0), series, h)
