"""Logarithms of gamma functions near one: the moments of extreme-value distributions, without cancellation.

With a small shape the mean and variance are differences of nearly equal gamma functions. Their Taylor
series in zeta values (Abramowitz & Stegun 1964, 6.1.33) keep all digits.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaln, zeta

_NEAR = 0.2
_ORDERS = np.arange(2, 61)
_ZETA_OVER_ORDER = zeta(_ORDERS.astype(float)) / _ORDERS


def log_gamma_from_one(e: float) -> float:
    """Return ln Gamma(1 + e), e above -1, with a relative error of the order of rounding near e = 0."""
    if abs(e) > _NEAR:
        return float(gammaln(1.0 + e))
    return float(-np.euler_gamma * e + np.sum(_ZETA_OVER_ORDER * (-e) ** _ORDERS))


def log_moment_ratio(e: float) -> float:
    """Return ln [Gamma(1 + 2e) / Gamma(1 + e)^2], e above -1/2: 0 at e = 0, growing either way.

    For Y exponential with mean 1 it is ln(1 + V^2), V the coefficient of variation of Y^e.
    """
    if abs(e) > _NEAR:
        return float(gammaln(1.0 + 2.0 * e) - 2.0 * gammaln(1.0 + e))
    # (2^k - 2) zeta(k)/k (-e)^k; the terms fall like 0.4^k at worst
    return float(np.sum(_ZETA_OVER_ORDER * (2.0**_ORDERS - 2.0) * (-e) ** _ORDERS))


def exponent_of_variation(variation: float, *, most: float) -> float | None:
    """Return the e between 0 and ``most`` at which Y^e has this coefficient of variation; None where none has.

    Y is exponential with mean 1 and ``most`` positive (Weibull), or the inverse of it and ``most``
    negative, -1/2 at most (Frechet).
    """
    wanted = math.log1p(variation**2)
    first = math.copysign(min(abs(most), 1.0, 0.5 * variation), most)
    miss: Callable[[float], float] = lambda e: log_moment_ratio(e) - wanted  # noqa: E731
    while miss(first) > 0.0:
        first *= 0.5
    last = first
    while miss(last) < 0.0:
        if last == most:
            return None
        last = max(2.0 * last, most) if most < 0.0 else min(2.0 * last, most)
    if first == last:
        return first
    return float(brentq(miss, first, last, xtol=1e-300, rtol=4 * np.finfo(float).eps))
