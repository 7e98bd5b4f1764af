"""How a study writes each kind of distribution: the keys of it, and the ranges beyond what a marginal wants."""

from __future__ import annotations

from riskcut.study.quantity import Kind
from riskcut.uncertainty.fitting import FITTED

DISTRIBUTIONS: dict[Kind, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "normal": (("mean",), ("sd", "cov")),
    "lognormal": (("mean",), ("sd", "cov")),
    "gumbel": (("mean",), ("sd", "cov")),
    "uniform": (("low", "high"), ()),
    "triangular": (("low", "mode", "high"), ()),
    "truncated_normal": (("parent_mean", "parent_sd", "low", "high"), ()),
    "beta": (("mean", "low", "high"), ("sd", "cov")),
    "gamma": (("mean",), ("sd", "cov")),
    "exponential": (("mean",), ()),
    "weibull": (("mean",), ("sd", "cov")),
    "gev": (("location", "scale", "shape"), ()),
    "frechet": (("mean",), ("sd", "cov")),
}
"""By distribution: the keys that it must have, and those of which it must have exactly one."""

EMPIRICAL = "empirical"
FITS: tuple[str, ...] = (*FITTED, EMPIRICAL)
"""Kinds that may be had from data: fitted to them, or the data as they are."""

PLAIN_KEYS = ("mean", "sd", "cov", "low", "high")
"""Keys that need no ``dist`` beside them."""

SPREAD_KEYS = (*PLAIN_KEYS, "mode", "parent_mean", "parent_sd", "location", "scale", "shape")
"""Keys that state a distribution. ``mode``: most likely value of a triangular number. ``parent_mean``,
``parent_sd``: of the normal number that is cut off at low and high. ``location``, ``scale``, ``shape``: of a
generalised extreme value (a shape above 0 has a heavy upper tail, one below 0 an upper end)."""

FIT_KEYS = ("fit", "column", "unit")
"""Keys of a distribution that is had from the ``data`` beside them."""

COMMON_KEYS = ("varies", "period", "shared", "basis", "source", "data")
"""Keys of every uncertain number."""

ALL_KEYS = (*SPREAD_KEYS, "dist", *FIT_KEYS, *COMMON_KEYS)

ABOVE_ZERO = ("lognormal", "gamma", "exponential", "weibull", "frechet")
"""Distributions of numbers that are above 0, with a mean that is."""

MOST_SHAPE = 0.5
"""A gev number has a standard deviation below this shape."""
LEAST_SHAPE = -1.0
"""Below, the density of a gev number rises without bound towards its upper end."""
FARTHEST = 10.0
"""Most sd of the parent between its mean and what is kept of a truncated normal number."""
