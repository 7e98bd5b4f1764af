"""Marginal distributions of single numbers, each a function of one standard normal score.

Every class turns a standard normal score z into a value x = F^-1(Phi(z)) and back. The transformation
keeps its resolution in both tails (finite to z = +-37, no plateau), because importance sampling and
design points live there: probabilities near one are never formed.

All classes are frozen and take keyword arguments only. A number without spread is not a variable and
is refused with :class:`MarginalError`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from inspect import Parameter, signature
from typing import ClassVar

import numpy as np
from scipy.special import ndtr, ndtri

from riskcut.uncertainty.beta import Beta
from riskcut.uncertainty.frechet import Frechet
from riskcut.uncertainty.gamma import Gamma
from riskcut.uncertainty.gev import Gev
from riskcut.uncertainty.gumbel import Gumbel
from riskcut.uncertainty.marginal import Marginal, MarginalError, Values, check, fresh, probability
from riskcut.uncertainty.triangular import Triangular
from riskcut.uncertainty.truncated_normal import TruncatedNormal
from riskcut.uncertainty.weibull import Exponential, Weibull

__all__ = [
    "KINDS",
    "Beta",
    "Exponential",
    "Frechet",
    "Gamma",
    "Gev",
    "Gumbel",
    "Lognormal",
    "Marginal",
    "MarginalError",
    "Normal",
    "Triangular",
    "TruncatedNormal",
    "Uniform",
    "Weibull",
    "make",
]

_LOG_ROOT_TWO_PI = 0.5 * math.log(2.0 * math.pi)


@dataclass(frozen=True, kw_only=True)
class Normal:
    """Normal distribution: x = mean + sd z. Any mean, sd above zero."""

    kind: ClassVar[str] = "normal"
    mean: float
    sd: float

    def __post_init__(self) -> None:
        check(self.kind, mean=self.mean, sd=self.sd)

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return mean + sd z."""
        z = np.asarray(z, dtype=np.float64)
        out = fresh(z, out)
        np.multiply(z, self.sd, out=out)
        out += self.mean
        return out

    def to_normal(self, x: Values) -> Values:
        """Return (x - mean) / sd."""
        return (np.asarray(x, dtype=np.float64) - self.mean) / self.sd

    def quantile(self, p: Values) -> Values:
        """Return mean + sd Phi^-1(p)."""
        return np.asarray(self.mean + self.sd * ndtri(probability(p)))

    def cdf(self, x: Values) -> Values:
        """Return Phi((x - mean) / sd)."""
        return np.asarray(ndtr(self.to_normal(x)))

    def log_density(self, x: Values) -> Values:
        """Return -z^2/2 - ln(sd sqrt(2 pi))."""
        return -0.5 * self.to_normal(x) ** 2 - (math.log(self.sd) + _LOG_ROOT_TWO_PI)


@dataclass(frozen=True, kw_only=True)
class Lognormal:
    """Lognormal distribution, given by the mean and sd of the variable itself (not of its logarithm).

    x = exp(log_mean + log_sd z), log_sd^2 = ln(1 + (sd/mean)^2), log_mean = ln(mean) - log_sd^2/2.
    Mean and sd above zero.
    """

    kind: ClassVar[str] = "lognormal"
    mean: float
    sd: float
    log_mean: float = field(init=False, repr=False, compare=False)
    """Mean of ln x."""
    log_sd: float = field(init=False, repr=False, compare=False)
    """Standard deviation of ln x."""

    def __post_init__(self) -> None:
        check(self.kind, mean=self.mean, sd=self.sd)
        if self.mean <= 0.0:
            raise MarginalError(f"lognormal: mean is {self.mean:g}; a lognormal number is above zero")
        variation = self.sd / self.mean
        # ln(1 + V^2) without overflow of V^2
        variance = math.log1p(variation**2) if variation < 1e8 else 2.0 * math.log(variation)
        if not 0.0 < variance < math.inf:
            raise MarginalError(f"lognormal: sd/mean is {variation:g}; no spread is left to compute with")
        object.__setattr__(self, "log_sd", math.sqrt(variance))
        object.__setattr__(self, "log_mean", math.log(self.mean) - 0.5 * variance)

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return exp(log_mean + log_sd z)."""
        z = np.asarray(z, dtype=np.float64)
        out = fresh(z, out)
        np.multiply(z, self.log_sd, out=out)
        out += self.log_mean
        return np.asarray(np.exp(out, out=out))

    def to_normal(self, x: Values) -> Values:
        """Return (ln x - log_mean) / log_sd."""
        with np.errstate(divide="ignore"):
            logarithm = np.log(np.maximum(np.asarray(x, dtype=np.float64), 0.0))
        return np.asarray((logarithm - self.log_mean) / self.log_sd)

    def quantile(self, p: Values) -> Values:
        """Return exp(log_mean + log_sd Phi^-1(p))."""
        return self.from_normal(ndtri(probability(p)))

    def cdf(self, x: Values) -> Values:
        """Return Phi((ln x - log_mean) / log_sd)."""
        return np.asarray(ndtr(self.to_normal(x)))

    def log_density(self, x: Values) -> Values:
        """Return -z^2/2 - ln(x log_sd sqrt(2 pi))."""
        x = np.asarray(x, dtype=np.float64)
        inside = x > 0.0
        safe = np.where(inside, x, 1.0)
        density = -0.5 * self.to_normal(safe) ** 2 - np.log(safe) - (math.log(self.log_sd) + _LOG_ROOT_TWO_PI)
        return np.where(inside, density, -np.inf)


@dataclass(frozen=True, kw_only=True)
class Uniform:
    """Uniform distribution from ``low`` to ``high``, low below high.

    The value is measured from the nearer end, low + (high - low) Phi(z) below the middle and
    high - (high - low) Phi(-z) above it, so that it keeps its resolution at both.
    """

    kind: ClassVar[str] = "uniform"
    low: float
    high: float
    width: float = field(init=False, repr=False, compare=False)
    """High less low."""

    def __post_init__(self) -> None:
        check(self.kind, low=self.low, high=self.high, high_less_low=self.high - self.low)
        if self.low == self.high:
            raise MarginalError(f"uniform: low and high are {self.low:g}; a certain number is not a variable")
        if self.low > self.high:
            raise MarginalError(f"uniform: low {self.low:g} is above high {self.high:g}")
        object.__setattr__(self, "width", self.high - self.low)

    @property
    def mean(self) -> float:
        """Middle of the range."""
        return self.low + 0.5 * self.width

    @property
    def sd(self) -> float:
        """Width over the square root of 12."""
        return self.width / math.sqrt(12.0)

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return low + (high - low) Phi(z), from the nearer end."""
        z = np.asarray(z, dtype=np.float64)
        below = np.signbit(z)
        out = fresh(z, out)
        # -width for the rows that are measured down from the upper end
        signed = np.take(np.array((-self.width, self.width)), below)
        np.abs(z, out=out)
        np.negative(out, out=out)
        ndtr(out, out=out)
        out *= signed
        out += np.take(np.array((self.high, self.low)), below)
        return out

    def to_normal(self, x: Values) -> Values:
        """Return Phi^-1 of the share of the range below x, from the nearer end."""
        x = np.asarray(x, dtype=np.float64)
        share, rest = (x - self.low) / self.width, (self.high - x) / self.width
        nearer = ndtri(np.clip(np.minimum(share, rest), 0.0, 0.5))
        return np.where(share <= rest, nearer, -nearer)

    def quantile(self, p: Values) -> Values:
        """Return low + (high - low) p, from the nearer end."""
        p = probability(p)
        return np.where(p <= 0.5, self.low + self.width * p, self.high - self.width * (1.0 - p))

    def cdf(self, x: Values) -> Values:
        """Return (x - low) / (high - low), held between 0 and 1."""
        return np.clip((np.asarray(x, dtype=np.float64) - self.low) / self.width, 0.0, 1.0)

    def log_density(self, x: Values) -> Values:
        """Return -ln(high - low) within the range."""
        x = np.asarray(x, dtype=np.float64)
        return np.where((x >= self.low) & (x <= self.high), -math.log(self.width), -np.inf)


_KINDS: Mapping[str, tuple[Callable[..., Marginal], ...]] = {
    "normal": (Normal,),
    "lognormal": (Lognormal,),
    "uniform": (Uniform,),
    "gumbel": (Gumbel,),
    "truncated_normal": (TruncatedNormal,),
    "triangular": (Triangular,),
    "beta": (Beta,),
    "gamma": (Gamma,),
    "exponential": (Exponential,),
    "weibull": (Weibull,),
    "gev": (Gev,),
    "frechet": (Frechet.of_moments, Frechet),
}
"""By kind: the ways to state it."""

KINDS: tuple[str, ...] = tuple(_KINDS)
"""Names that :func:`make` takes."""


def _taken(form: Callable[..., Marginal]) -> tuple[list[str], list[str]]:
    """Return the parameters that a form must have, and those that it may have."""
    entries = signature(form).parameters.values()
    must = [entry.name for entry in entries if entry.default is Parameter.empty]
    return must, [entry.name for entry in entries if entry.default is not Parameter.empty]


def _in_words(form: Callable[..., Marginal]) -> str:
    must, may = _taken(form)
    words = " and ".join([", ".join(must[:-1]), must[-1]] if must[1:] else must)
    return words + (f" (and may have {' and '.join(may)})" if may else "")


def make(kind: str, **parameters: float) -> Marginal:
    """Return the distribution of that kind.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`. ``normal``, ``lognormal``, ``gumbel`` and ``gamma`` take ``mean`` and ``sd``,
        so does ``weibull``, and ``frechet``, with ``low`` if it is not 0; ``exponential`` takes ``mean``
        (and ``low``), ``uniform`` ``low`` and ``high``, ``triangular`` ``low``, ``mode`` and ``high``,
        ``beta`` ``mean``, ``sd``, ``low`` and ``high``, ``truncated_normal`` ``parent_mean`` and
        ``parent_sd`` with ``low``, ``high`` or both, ``gev`` (and ``frechet``, if you like) ``location``,
        ``scale`` and ``shape``.
    **parameters : float
        As the kind wants them, in the unit of the number itself.

    Returns
    -------
    Marginal

    Raises
    ------
    MarginalError
        Where the kind is not known, a parameter is missing or unknown, or the values make no
        distribution (a zero spread among them).
    """
    try:
        forms = _KINDS[kind]
    except KeyError:
        raise MarginalError(f"no distribution is called {kind!r}; there are {', '.join(_KINDS)}") from None
    form = max(forms, key=lambda form: len(parameters.keys() & {*_taken(form)[0], *_taken(form)[1]}))
    must, may = _taken(form)
    missing = [name for name in must if name not in parameters]
    unknown = [name for name in parameters if name not in (*must, *may)]
    if missing or unknown:
        faults = [f"{name} is missing" for name in missing]
        faults += [f"{name} is not one of its parameters" for name in unknown]
        raise MarginalError(f"{kind}: {', '.join(faults)}; it takes {', or '.join(map(_in_words, forms))}")
    numbers: dict[str, float] = {}
    for name, value in parameters.items():
        try:
            numbers[name] = float(value)
        except (TypeError, ValueError):
            raise MarginalError(f"{kind}: {name} is {value!r}, not a number") from None
    return form(**numbers)
