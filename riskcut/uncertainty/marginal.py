"""What a marginal distribution offers, and the checks that all of them share."""

from __future__ import annotations

import math
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]


class MarginalError(ValueError):
    """A distribution that cannot be: its kind or its parameters make no sense."""


class Marginal(Protocol):
    """What every distribution of a single number offers; arrays of any shape go in and come out."""

    @property
    def kind(self) -> str:
        """Name of the family, as :func:`make` takes it."""

    @property
    def mean(self) -> float:
        """Mean of the number itself, in its own unit."""

    @property
    def sd(self) -> float:
        """Standard deviation of the number itself, in its own unit."""

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return x = F^-1(Phi(z)), written into ``out`` (which may be ``z``) where it is given."""

    def to_normal(self, x: Values) -> Values:
        """Return z = Phi^-1(F(x)); -inf or +inf at and beyond the ends of the support."""

    def quantile(self, p: Values) -> Values:
        """Return the value that is not exceeded with probability p; raises ValueError outside [0, 1]."""

    def cdf(self, x: Values) -> Values:
        """Return the probability that x is not exceeded."""

    def log_density(self, x: Values) -> Values:
        """Return the natural logarithm of the probability density; -inf outside the support."""


def fresh(z: Values, out: Values | None) -> Values:
    """Return ``out``, or a new array of the shape of ``z`` where it is None."""
    return np.empty_like(z, dtype=np.float64) if out is None else out


def probability(p: Values) -> Values:
    """Return ``p`` as an array; raises ValueError where an entry lies outside 0 to 1."""
    p = np.asarray(p, dtype=np.float64)
    if not np.all((p >= 0.0) & (p <= 1.0)):
        raise ValueError("a probability lies between 0 and 1")
    return p


def check(kind: str, **parameters: float) -> None:
    """Raise :class:`MarginalError` where a parameter is not finite, or an ``sd`` not above zero."""
    for name, value in parameters.items():
        if not math.isfinite(value):
            raise MarginalError(f"{kind}: {name} is {value}, not a finite number")
    sd = parameters.get("sd")
    if sd is not None and sd <= 0.0:
        hint = "a certain number is not a variable" if sd == 0.0 else "a spread is above zero"
        raise MarginalError(f"{kind}: sd is {sd:g}; {hint}")
    scale = parameters.get("scale")
    if scale is not None and scale <= 0.0:
        hint = "a certain number is not a variable" if scale == 0.0 else "a scale is above zero"
        raise MarginalError(f"{kind}: scale is {scale:g}; {hint}")


def check_periods(kind: str, periods: float) -> float:
    """Return ``periods``; raises :class:`MarginalError` where it is below 1 or not finite."""
    if not (math.isfinite(periods) and periods >= 1.0):
        raise MarginalError(f"{kind}: no maximum over {periods:g} periods; 1 or more will do")
    return periods
