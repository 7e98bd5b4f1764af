"""The probability that two correlated standard normals both stay below a limit, with all its digits in far tails."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import log_ndtr, ndtr

Floats = NDArray[np.float64]

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(20)
_NONE = 1e-18
"""A correlation that changes no digit."""
_REACH = 9.0
"""From the peak of the integrand: it falls at least as fast as exp(-t^2/2)."""


def bivariate(a: float, b: float, rho: float) -> float:
    """Return P(X <= a, Y <= b) of standard normals X, Y with correlation ``rho``.

    Parameters
    ----------
    a, b : float
        May be infinite.
    rho : float
        -1 to 1.

    Returns
    -------
    float
        To some 1e-13 of itself, far tails of negatively correlated numbers included, where differences of
        tabulated functions have no digit left; to the last digit that a, b and rho determine.

    Raises
    ------
    ValueError
        Where ``rho`` is not between -1 and 1, or a limit is NaN.

    Notes
    -----
    The integral over t >= -a of phi(t) Phi((b + rho t)/sqrt(1 - rho^2)), of a positive and log-concave integrand,
    by Gauss-Legendre panels that are graded about its peak and about the step of Phi.
    """
    if not -1.0 <= rho <= 1.0 or math.isnan(a) or math.isnan(b):
        raise ValueError(
            f"a correlation lies between -1 and 1 and limits are numbers, not {rho:g}, {a:g}, {b:g}"
        )
    if a == -math.inf or b == -math.inf:
        return 0.0
    if a == math.inf or b == math.inf:
        return float(ndtr(min(a, b)))
    root = math.sqrt((1.0 - rho) * (1.0 + rho))
    if root == 0.0:
        return float(ndtr(min(a, b))) if rho > 0.0 else _band(a, b)
    if abs(rho) < _NONE:
        return float(ndtr(a) * ndtr(b))
    if a > b:
        a, b = b, a
    start = -a
    peak = _peak(start, b, rho, root)
    slope = _slope(peak, b, rho, root)
    # Curvature of the logarithm of the integrand is between 1 and 1/root^2.
    ratio = _mills((b + rho * peak) / root)
    bend = 1.0 + (rho / root) ** 2 * ratio * (ratio + (b + rho * peak) / root)
    scale = min(1.0 / math.sqrt(max(bend, 1.0)), 1.0 / abs(slope) if slope else 1.0)
    low, high = max(start, peak - _REACH), peak + _REACH
    edges = np.unique(
        np.clip(np.concatenate((_graded(peak, scale), _graded(-b / rho, root / abs(rho)))), low, high)
    )
    centre, half = 0.5 * (edges[1:] + edges[:-1]), 0.5 * (edges[1:] - edges[:-1])
    t = centre[:, np.newaxis] + half[:, np.newaxis] * _POINTS
    logs = log_ndtr((b + rho * t) / root) - 0.5 * t * t
    top = float(logs.max())
    total = float((np.exp(logs - top) @ _WEIGHTS * half).sum())
    return math.exp(top) * total / math.sqrt(2.0 * math.pi)


def _band(a: float, b: float) -> float:
    """Return P(-b <= X <= a)."""
    if a + b <= 0.0:
        return 0.0
    # The difference of the smaller of two equal differences.
    if a < 0.0:
        return float(ndtr(a) - ndtr(-b))
    return float(ndtr(b) - ndtr(-a)) if b < 0.0 else float(1.0 - ndtr(-a) - ndtr(-b))


def _graded(centre: float, scale: float) -> Floats:
    """Return edges about a centre at doubling distances from a quarter of the scale to beyond any reach."""
    steps = scale * 0.5**2 * 2.0 ** np.arange(0.0, 3.0 + max(0.0, math.log2(4.0 * _REACH / scale)))
    return np.concatenate((centre - steps, [centre - _REACH, centre, centre + _REACH], centre + steps))


def _mills(x: float) -> float:
    """Return phi(x)/Phi(x)."""
    return (
        math.exp(-0.5 * x * x - float(log_ndtr(x))) / math.sqrt(2.0 * math.pi) if x > -30.0 else -x - 1.0 / x
    )


def _slope(t: float, b: float, rho: float, root: float) -> float:
    """Return the derivative of the logarithm of the integrand."""
    return -t + rho / root * _mills((b + rho * t) / root)


def _peak(start: float, b: float, rho: float, root: float) -> float:
    """Return where the integrand is greatest, ``start`` at least."""
    if _slope(start, b, rho, root) <= 0.0:
        return start
    high = max(start, 0.0) + 1.0
    while _slope(high, b, rho, root) > 0.0:
        high = 2.0 * high
    return float(brentq(_slope, start, high, args=(b, rho, root), xtol=1e-9 * max(1.0, high)))
