"""The Weibull distribution of smallest values and its special case, the exponential distribution."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from scipy.special import log1p

from riskcut.uncertainty.gamma_moments import exponent_of_variation, log_gamma_from_one
from riskcut.uncertainty.gumbel_score import normal_of, score
from riskcut.uncertainty.marginal import MarginalError, Values, check, fresh, probability


class _Smallest:
    """What both share: x = low + scale (-ln Phi(-z))^(1/shape).

    With g the standard Gumbel value, -ln Phi(-z) = exp(-g(-z)): the smallest is the largest mirrored.
    """

    low: float
    scale: float
    shape: float

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return low + scale (-ln Phi(-z))^(1/shape)."""
        z = np.asarray(z, dtype=np.float64)
        out = fresh(z, out)
        np.negative(z, out=out)
        score(out, out)
        out *= -1.0 / self.shape
        with np.errstate(over="ignore", under="ignore"):
            np.exp(out, out=out)
        out *= self.scale
        out += self.low
        return out

    def _reduced(self, x: Values) -> Values:
        """Return (x - low)/scale, 0 below the lower end."""
        return np.asarray(np.maximum((np.asarray(x, dtype=np.float64) - self.low) / self.scale, 0.0))

    def _exposure(self, x: Values) -> Values:
        """Return -ln(1 - F) = ((x - low)/scale)^shape."""
        with np.errstate(over="ignore", under="ignore"):
            return np.asarray(self._reduced(x) ** self.shape)

    def to_normal(self, x: Values) -> Values:
        """Return the z with ln Phi(-z) = -((x - low)/scale)^shape."""
        with np.errstate(divide="ignore"):
            return -normal_of(-self.shape * np.log(self._reduced(x)))

    def quantile(self, p: Values) -> Values:
        """Return low + scale (-ln(1 - p))^(1/shape)."""
        with np.errstate(divide="ignore"):
            return np.asarray(self.low + self.scale * (-log1p(-probability(p))) ** (1.0 / self.shape))

    def cdf(self, x: Values) -> Values:
        """Return 1 - exp(-((x - low)/scale)^shape)."""
        return np.asarray(-np.expm1(-self._exposure(x)))

    def log_density(self, x: Values) -> Values:
        """Return ln(shape/scale) + (shape - 1) ln y - y^shape, y = (x - low)/scale."""
        x = np.asarray(x, dtype=np.float64)
        y = self._reduced(x)
        with np.errstate(divide="ignore"):
            power = (self.shape - 1.0) * np.log(y) if self.shape != 1.0 else 0.0
        density = math.log(self.shape / self.scale) + power - self._exposure(x)
        return np.where(x >= self.low, density, -np.inf)


def _above(kind: str, mean: float, low: float) -> float:
    """Return mean - low, refused where it is not above zero."""
    if mean <= low:
        raise MarginalError(f"{kind}: mean {mean:g} is not above low, {low:g}")
    return mean - low


@dataclass(frozen=True, kw_only=True)
class Weibull(_Smallest):
    """Weibull distribution of smallest values (type III), given by its mean and sd, above ``low``.

    F(x) = 1 - exp(-((x - low)/scale)^shape), mean = low + scale Gamma(1 + 1/shape),
    (sd/(mean - low))^2 = Gamma(1 + 2/shape)/Gamma(1 + 1/shape)^2 - 1. Strengths of brittle members, say.
    """

    kind: ClassVar[str] = "weibull"
    mean: float
    sd: float
    low: float = 0.0
    """The lower end."""
    scale: float = field(init=False, repr=False, compare=False)
    shape: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        check(self.kind, mean=self.mean, sd=self.sd, low=self.low)
        level = _above(self.kind, self.mean, self.low)
        exponent = exponent_of_variation(self.sd / level, most=20.0)
        if not exponent:
            raise MarginalError(f"weibull: sd {self.sd:g} about a mean {level:g} above low cannot be had")
        object.__setattr__(self, "shape", 1.0 / exponent)
        object.__setattr__(self, "scale", level / math.exp(log_gamma_from_one(exponent)))


@dataclass(frozen=True, kw_only=True)
class Exponential(_Smallest):
    """Exponential distribution above ``low``: F(x) = 1 - exp(-(x - low)/(mean - low))."""

    kind: ClassVar[str] = "exponential"
    shape: ClassVar[float] = 1.0  # type: ignore[misc]
    mean: float
    low: float = 0.0
    """The lower end."""

    def __post_init__(self) -> None:
        check(self.kind, mean=self.mean, low=self.low)
        _above(self.kind, self.mean, self.low)

    @property
    def scale(self) -> float:  # type: ignore[override]
        """Mean less low."""
        return self.mean - self.low

    @property
    def sd(self) -> float:
        """Mean less low."""
        return self.mean - self.low
