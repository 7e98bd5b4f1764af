"""Mean, spread and tails of the distributions that a study may name, as far as reading a study needs them."""

from __future__ import annotations

import math

import numpy as np

EULER = 0.5772156649015329
ZETA_3 = 1.2020569031595942
LEAST_GAMMA_COV = 0.005
"""Least coefficient of variation of a gamma number; below, it cannot be told from a normal one."""
LEAST_BETA_EXPONENT = 0.01
MOST_BETA_EXPONENT = 1e10
MOST_SHAPE = 0.5
"""A gev number has a standard deviation below this shape."""
LEAST_SHAPE = -1.0
"""Below, the density of a gev number rises without bound towards its upper end."""
FARTHEST = 10.0
"""Most sd of the parent between its mean and what is kept of a truncated normal number."""


def triangular_moments(low: float, mode: float, high: float) -> tuple[float, float]:
    """Return mean and standard deviation of a triangular number."""
    left, right = mode - low, high - mode
    return low + (2.0 * left + right) / 3.0, math.sqrt((left * left + left * right + right * right) / 18.0)


def truncated_moments(mean: float, sd: float, low: float, high: float) -> tuple[float, float]:
    """Return mean and standard deviation of a normal number cut off at both ends, by quadrature.

    ``mean`` and ``sd`` are those before the cut. The closed form cancels where little is kept.
    """
    a, b = (low - mean) / sd, (high - mean) / sd
    peak = min(max(0.0, a), b)
    reach = 84.0 / (abs(peak) + math.sqrt(peak * peak + 84.0))  # the density falls by exp(-42) over it
    first, last = max(a - peak, -reach), min(b - peak, reach)
    point, weight = np.polynomial.legendre.leggauss(200)
    u = first + 0.5 * (last - first) * (point + 1.0)
    w = weight * np.exp(-peak * u - 0.5 * u * u)
    w /= w.sum()
    centre = float((w * u).sum())
    return mean + sd * (peak + centre), sd * math.sqrt(float((w * (u - centre) ** 2).sum()))


def gev_moments(location: float, scale: float, shape: float) -> tuple[float, float]:
    """Return mean and standard deviation of a generalised extreme value, by gamma functions (Coles's sign)."""
    if abs(shape) < 1e-3:
        # series of ln Gamma: the gamma functions cancel
        logarithm = (
            EULER * shape + math.pi**2 / 12 * shape**2 + ZETA_3 / 3 * shape**3 + math.pi**4 / 360 * shape**4
        )
        ratio = math.pi**2 / 6 + 2.0 * ZETA_3 * shape + 3.5 * math.pi**4 / 90 * shape**2
        mean = math.expm1(logarithm) / shape if shape else EULER
        spread = math.sqrt(ratio * (1.0 + 0.5 * ratio * shape**2))
        return location + scale * mean, scale * math.exp(logarithm) * spread
    first, second = math.gamma(1.0 - shape), math.gamma(1.0 - 2.0 * shape)
    return location + scale * (first - 1.0) / shape, scale * math.sqrt(second - first * first) / abs(shape)


def beta_spreads(mean: float, low: float, high: float) -> tuple[float, float]:
    """Return the least and the greatest standard deviation that a beta number can have about its mean."""
    share, rest = (mean - low) / (high - low), (high - mean) / (high - low)
    most = math.sqrt(share * rest) * (high - low)
    return (
        most / math.sqrt(1.0 + MOST_BETA_EXPONENT / max(share, rest)),
        most / math.sqrt(1.0 + LEAST_BETA_EXPONENT / min(share, rest)),
    )


def share_below(kind: str, reach: float) -> float:
    """Return the probability that a number falls more than ``reach`` standard deviations below its mean."""
    if kind == "gumbel":
        return math.exp(-math.exp(min(math.pi / math.sqrt(6) * reach - EULER, 700.0)))
    return 0.5 * math.erfc(reach / math.sqrt(2)) if kind == "normal" else 0.0


def gev_below(location: float, scale: float, shape: float, level: float) -> float:
    """Return the probability that a generalised extreme value falls below a level."""
    y = (level - location) / scale
    if abs(shape) > 1e-12:
        if shape * y <= -1.0:
            return 0.0 if shape > 0.0 else 1.0
        y = math.log1p(shape * y) / shape
    return math.exp(-math.exp(min(-y, 700.0)))


def share_above(kind: str, mean: float, sd: float, level: float) -> float:
    """Return the probability that a number with these moments exceeds a level above zero."""
    if kind == "gumbel":
        return 1.0 - share_below(kind, (mean - level) / sd)
    if kind == "lognormal":
        log_sd = math.sqrt(math.log1p((sd / mean) ** 2))
        return share_below("normal", (math.log(level / mean) + log_sd**2 / 2) / log_sd)
    if kind == "exponential":
        return math.exp(-level / mean)
    if kind == "gamma":
        from scipy.special import gammaincc  # only here: it takes longer to load than a study to read

        return float(gammaincc((mean / sd) ** 2, level * mean / sd**2))
    if kind == "weibull":
        e = _exponent(sd / mean, 1.0, 20.0)
        return math.exp(-math.exp(min((math.log(level / mean) + math.lgamma(1.0 + e)) / e, 700.0)))
    if kind == "frechet":
        e = _exponent(sd / mean, -1.0, math.nextafter(0.5, 0.0))
        return -math.expm1(-math.exp(min(-(math.log(level / mean) + math.lgamma(1.0 - e)) / e, 700.0)))
    return share_below("normal", (level - mean) / sd)


def _exponent(cov: float, sign: float, most: float) -> float:
    """Return the e at which the power ``sign`` e of an exponential number has this coefficient of variation."""
    wanted = math.log1p(cov**2)
    low, high = 0.0, most
    for _ in range(100):
        middle = 0.5 * (low + high)
        first, second = math.lgamma(1.0 + sign * middle), math.lgamma(1.0 + 2.0 * sign * middle)
        low, high = (low, middle) if second - 2.0 * first > wanted else (middle, high)
    return 0.5 * (low + high)
