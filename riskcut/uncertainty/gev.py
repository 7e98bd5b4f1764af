"""The generalised extreme-value distribution: maxima whose tail may end, fall off or be heavy."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from riskcut.uncertainty.gamma_moments import log_gamma_from_one, log_moment_ratio
from riskcut.uncertainty.gumbel_score import ExtremeValue
from riskcut.uncertainty.marginal import (
    MarginalError,
    Values,
    check,
    check_periods,
)


@dataclass(frozen=True, kw_only=True)
class Gev(ExtremeValue):
    """Generalised extreme-value distribution of largest values, with the sign of its shape as Coles has it.

    F(x) = exp(-[1 + shape (x - location)/scale]^(-1/shape)); shape 0 is the Gumbel distribution, a
    positive shape has a heavy upper tail and an end below, a negative one ends above. Shapes of 1/2 and
    more have no standard deviation and are refused.

    References
    ----------
    .. [1] Coles, S. (2001). An Introduction to Statistical Modeling of Extreme Values, section 3.1.3.
       Springer.
    """

    kind: ClassVar[str] = "gev"
    location: float
    scale: float
    shape: float
    mean: float = field(init=False, repr=False, compare=False)
    """location + scale (Gamma(1 - shape) - 1)/shape."""
    sd: float = field(init=False, repr=False, compare=False)
    """scale Gamma(1 - shape) sqrt(Gamma(1 - 2 shape)/Gamma(1 - shape)^2 - 1) / abs(shape)."""

    def __post_init__(self) -> None:
        check(self.kind, location=self.location, scale=self.scale, shape=self.shape)
        if self.shape >= 0.5:
            raise MarginalError(
                f"gev: shape is {self.shape:g}; a tail so heavy has no standard deviation, shapes below 0.5 have"
            )
        if self.shape < -20.0:
            raise MarginalError(f"gev: shape is {self.shape:g}; shapes of -20 or more can be computed with")
        if abs(self.shape) < 1e-150:
            mean, sd = float(np.euler_gamma), math.pi / math.sqrt(6.0)
        else:
            logarithm = log_gamma_from_one(-self.shape)
            mean = math.expm1(logarithm) / self.shape
            spread = math.sqrt(math.expm1(log_moment_ratio(-self.shape)))
            sd = math.exp(logarithm) * spread / abs(self.shape)
        object.__setattr__(self, "mean", self.location + self.scale * mean)
        object.__setattr__(self, "sd", self.scale * sd)

    @property
    def end(self) -> float:
        """End of the support, location - scale/shape: above for a negative shape, below for a positive one."""
        return self.location - self.scale / self.shape if self.shape else math.nan

    def of_maximum(self, periods: float) -> Gev:
        """Return the distribution of the largest of ``periods`` independent values of this one.

        F(x)^n is of the same family and shape; the scale grows by n^shape and the location by
        scale (n^shape - 1)/shape (exact).

        Raises
        ------
        MarginalError
            Where ``periods`` is below 1 or not finite.
        """
        rise = math.log(check_periods(self.kind, periods))
        return Gev(
            location=self.location + self.scale * float(self._stretched(np.array(rise))),
            scale=self.scale * math.exp(self.shape * rise),
            shape=self.shape,
        )

    def _stretched(self, g: Values) -> Values:
        """Return (exp(shape g) - 1)/shape in place, g where the shape is 0."""
        if abs(self.shape) < 1e-150:
            return g
        g *= self.shape
        with np.errstate(over="ignore"):
            np.expm1(g, out=g)
        g /= self.shape
        return g

    def _from_score(self, g: Values) -> Values:
        g = self._stretched(g)
        g *= self.scale
        g += self.location
        return g

    def _score(self, x: Values) -> Values:
        """Return the standard Gumbel value g of x; -inf and inf beyond an end."""
        y = (np.asarray(x, dtype=np.float64) - self.location) / self.scale
        if abs(self.shape) < 1e-150:
            return y
        with np.errstate(divide="ignore"):
            return np.asarray(np.log1p(np.maximum(self.shape * y, -1.0)) / self.shape)

    def log_density(self, x: Values) -> Values:
        """Return -(1 + shape) g - exp(-g) - ln(scale), g = ln(1 + shape (x - location)/scale)/shape."""
        g = self._score(x)
        inside = np.isfinite(g)
        g = np.where(inside, g, 0.0)
        with np.errstate(over="ignore", under="ignore"):
            density = -(1.0 + self.shape) * g - np.exp(-g) - math.log(self.scale)
        return np.where(inside, density, -np.inf)
