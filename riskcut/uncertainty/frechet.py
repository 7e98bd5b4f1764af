"""The Frechet distribution: maxima with a heavy upper tail above a fixed lower end."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from riskcut.uncertainty.gamma_moments import (
    exponent_of_variation,
    log_gamma_from_one,
    log_moment_ratio,
)
from riskcut.uncertainty.gumbel_score import ExtremeValue
from riskcut.uncertainty.marginal import (
    MarginalError,
    Values,
    check,
    check_periods,
)


@dataclass(frozen=True, kw_only=True)
class Frechet(ExtremeValue):
    """Frechet distribution of largest values (type II).

    F(x) = exp(-((x - location)/scale)^(-shape)) above ``location``. It is the generalised extreme-value
    distribution with shape 1/``shape``. Shapes of 2 and less have no standard deviation and are refused.
    """

    kind: ClassVar[str] = "frechet"
    location: float
    """The lower end."""
    scale: float
    shape: float
    mean: float = field(init=False, repr=False, compare=False)
    """location + scale Gamma(1 - 1/shape)."""
    sd: float = field(init=False, repr=False, compare=False)
    """scale sqrt(Gamma(1 - 2/shape) - Gamma(1 - 1/shape)^2)."""

    def __post_init__(self) -> None:
        check(self.kind, location=self.location, scale=self.scale, shape=self.shape)
        if self.shape <= 2.0:
            raise MarginalError(
                f"frechet: shape is {self.shape:g}; a tail so heavy has no standard deviation, "
                "shapes above 2 have"
            )
        level = self.scale * math.exp(log_gamma_from_one(-1.0 / self.shape))
        sd = level * math.sqrt(math.expm1(log_moment_ratio(-1.0 / self.shape)))
        if sd == 0.0:
            raise MarginalError(f"frechet: shape is {self.shape:g}; no spread is left to compute with")
        object.__setattr__(self, "mean", self.location + level)
        object.__setattr__(self, "sd", sd)

    @classmethod
    def of_moments(cls, *, mean: float, sd: float, low: float = 0.0) -> Frechet:
        """Return the distribution above ``low`` with that mean and sd.

        Raises
        ------
        MarginalError
            Where the mean is not above ``low`` or the sd not above zero.
        """
        check(cls.kind, mean=mean, sd=sd, low=low)
        if mean <= low:
            raise MarginalError(f"frechet: mean {mean:g} is not above low, {low:g}")
        exponent = exponent_of_variation(sd / (mean - low), most=math.nextafter(-0.5, 0.0))
        if not exponent:
            raise MarginalError(f"frechet: sd {sd:g} about a mean {mean - low:g} above low cannot be had")
        scale = (mean - low) / math.exp(log_gamma_from_one(exponent))
        return cls(location=low, scale=scale, shape=-1.0 / exponent)

    def of_maximum(self, periods: float) -> Frechet:
        """Return the distribution of the largest of ``periods`` independent values: scale n^(1/shape) (exact).

        Raises
        ------
        MarginalError
            Where ``periods`` is below 1 or not finite.
        """
        growth = check_periods(self.kind, periods) ** (1.0 / self.shape)
        return Frechet(location=self.location, scale=self.scale * growth, shape=self.shape)

    def _from_score(self, g: Values) -> Values:
        g /= self.shape
        with np.errstate(over="ignore", under="ignore"):
            np.exp(g, out=g)
        g *= self.scale
        g += self.location
        return g

    def _score(self, x: Values) -> Values:
        """Return the standard Gumbel value g of x; -inf at and below the lower end."""
        reduced = np.maximum((np.asarray(x, dtype=np.float64) - self.location) / self.scale, 0.0)
        with np.errstate(divide="ignore"):
            return np.asarray(self.shape * np.log(reduced))

    def log_density(self, x: Values) -> Values:
        """Return ln(shape/scale) - (1 + 1/shape) g - exp(-g), g = shape ln((x - location)/scale)."""
        g = self._score(x)
        inside = np.isfinite(g)
        g = np.where(inside, g, 0.0)
        with np.errstate(over="ignore", under="ignore"):
            density = math.log(self.shape / self.scale) - (1.0 + 1.0 / self.shape) * g - np.exp(-g)
        return np.where(inside, density, -np.inf)
