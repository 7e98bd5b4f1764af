"""The normal distribution cut off at one end or at both."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from scipy.special import log_ndtr, ndtri_exp

from riskcut.uncertainty.marginal import MarginalError, Values, check
from riskcut.uncertainty.support import Above, Below, Between, Support
from riskcut.uncertainty.tabulated import LOG_ROOT_TWO_PI, Tabulated, tails

_POINTS, _WEIGHTS = (half for half in np.polynomial.legendre.leggauss(16))
_POINTS, _WEIGHTS = 0.5 * (_POINTS + 1.0), 0.5 * _WEIGHTS
FARTHEST = 100.0
_REACH = 84.0
"""Twice the exponent at which a tail is left out of the moments: exp(-42) = 6e-19."""


def log_mass(start: Values, width: Values) -> Values:
    """Return ln(Phi(start + width) - Phi(start)), exact for narrow strips and in both tails."""
    start, width = np.broadcast_arrays(np.asarray(start, dtype=float), np.asarray(width, dtype=float))
    end = start + width
    mirrored = start + end < 0.0  # from the side where nothing cancels
    near, far = np.where(mirrored, -end, start), np.where(mirrored, -start, end)
    inner = log_ndtr(-near)
    with np.errstate(divide="ignore"):
        wide = inner + np.log1p(-np.exp(log_ndtr(-far) - inner))
    narrow = np.abs(start) * width + width * width < 1.0
    # phi(start) times the integral of exp(-start u - u^2/2), smooth over such a strip
    u = np.where(narrow, width, 0.0)[..., None] * _POINTS
    integral = (np.exp(-np.where(narrow, start, 0.0)[..., None] * u - 0.5 * u * u) * _WEIGHTS).sum(axis=-1)
    strip = -0.5 * start * start - LOG_ROOT_TWO_PI + np.log(width) + np.log(integral)
    return np.asarray(np.where(narrow, strip, wide))


def _moments(low: float, high: float) -> tuple[float, float]:
    """Return mean and sd of a standard normal number between ``low`` and ``high``.

    By Gauss-Legendre quadrature either side of the most likely value: the closed forms cancel where the
    strip is narrow or far out.
    """
    peak = min(max(0.0, low), high)
    reach = _REACH / (abs(peak) + math.sqrt(peak * peak + _REACH))
    offset, weight = [], []
    for side, room in ((-1.0, peak - low), (1.0, high - peak)):
        width = min(room, reach) / 8.0
        for panel in range(8):
            offset.append(side * width * (panel + _POINTS))
            weight.append(width * _WEIGHTS)
    u, w = np.concatenate(offset), np.concatenate(weight)
    w = w * np.exp(-peak * u - 0.5 * u * u)
    w /= w.sum()
    mean = float((w * u).sum())
    return peak + mean, math.sqrt(float((w * (u - mean) ** 2).sum()))


@dataclass(frozen=True, kw_only=True)
class TruncatedNormal(Tabulated):
    """Normal distribution cut off below ``low``, above ``high`` or both; the rest is scaled up.

    ``parent_mean`` and ``parent_sd`` belong to the normal distribution before the cut; ``mean`` and
    ``sd`` are those of the number itself.
    """

    kind: ClassVar[str] = "truncated_normal"
    parent_mean: float
    parent_sd: float
    low: float = -math.inf
    high: float = math.inf
    mean: float = field(init=False, repr=False, compare=False)
    sd: float = field(init=False, repr=False, compare=False)
    support: Support = field(init=False, repr=False, compare=False)
    _ends: tuple[float, float] = field(init=False, repr=False, compare=False)
    """Low and high as scores of the parent."""
    _log_kept: float = field(init=False, repr=False, compare=False)
    """ln of the share of the parent that is kept."""

    def __post_init__(self) -> None:
        check(self.kind, parent_mean=self.parent_mean, parent_sd=self.parent_sd)
        if self.parent_sd <= 0.0:
            hint = "a certain number is not a variable" if self.parent_sd == 0.0 else "a spread is above zero"
            raise MarginalError(f"{self.kind}: parent_sd is {self.parent_sd:g}; {hint}")
        if math.isnan(self.low) or math.isnan(self.high):
            raise MarginalError(f"{self.kind}: low is {self.low:g} and high is {self.high:g}; not numbers")
        if self.low == -math.inf and self.high == math.inf:
            raise MarginalError(
                f"{self.kind}: neither low nor high is stated; without, it is a normal number"
            )
        if self.low == self.high:
            raise MarginalError(
                f"{self.kind}: low and high are {self.low:g}; a certain number is not a variable"
            )
        if self.low > self.high:
            raise MarginalError(f"{self.kind}: low {self.low:g} is above high {self.high:g}")
        a = (self.low - self.parent_mean) / self.parent_sd
        b = (self.high - self.parent_mean) / self.parent_sd
        if a > FARTHEST or b < -FARTHEST:
            raise MarginalError(f"{self.kind}: low and high leave next to nothing of the parent")
        if b - a < 1e-8:
            raise MarginalError(f"{self.kind}: low and high leave no spread to compute with")
        mean, sd = _moments(a, b)
        support: Support
        if self.high == math.inf:
            support, kept = Above(self.low, self.parent_sd), float(log_ndtr(-a))
        elif self.low == -math.inf:
            support, kept = Below(self.high, self.parent_sd), float(log_ndtr(b))
        else:
            support, kept = Between(self.low, self.high), float(log_mass(np.array(a), np.array(b - a)))
        for name, value in (
            ("mean", self.parent_mean + self.parent_sd * mean),
            ("sd", self.parent_sd * sd),
            ("support", support),
            ("_ends", (a, b)),
            ("_log_kept", kept),
        ):
            object.__setattr__(self, name, value)

    def _distances(self, h: Values) -> tuple[Values, Values, Values]:
        """Return the distances from both ends and the value, all in the parent's sd."""
        a, b = self._ends
        if b == math.inf:
            up = np.exp(h)
            return up, np.full_like(up, np.inf), a + up
        if a == -math.inf:
            down = np.exp(-h)
            return np.full_like(down, np.inf), down, b - down
        up, down = (b - a) * np.exp(-np.logaddexp(0.0, -h)), (b - a) * np.exp(-np.logaddexp(0.0, h))
        return up, down, np.where(h < 0.0, a + up, b - down)

    def _score(self, h: Values) -> Values:
        a, b = self._ends
        up, down, t = self._distances(h)
        below = log_ndtr(t) if a == -math.inf else log_mass(np.array(a), up)
        above = log_ndtr(-t) if b == math.inf else log_mass(np.array(-b), down)
        return np.where(
            below < above,
            ndtri_exp(np.minimum(below - self._log_kept, 0.0)),
            -ndtri_exp(np.minimum(above - self._log_kept, 0.0)),
        )

    def _log_density(self, h: Values) -> Values:
        t = self._distances(h)[2]
        slope = self.support.log_slope(h) - math.log(self.parent_sd)
        return np.asarray(-0.5 * t * t - LOG_ROOT_TWO_PI - self._log_kept + slope)

    def _exact(self, z: Values) -> Values:
        a, b = self._ends
        below, above = tails(z)
        with np.errstate(all="ignore"):
            # Phi(t) = Phi(-z) Phi(a) + Phi(z) Phi(b), and the same from above: sums of positive terms
            lower = np.logaddexp(above + log_ndtr(a), below + log_ndtr(b))
            upper = np.logaddexp(below + log_ndtr(-b), above + log_ndtr(-a))
            t = np.where(lower < upper, ndtri_exp(np.minimum(lower, 0.0)), -ndtri_exp(np.minimum(upper, 0.0)))
            up, down = self._near(t - a, below, a), self._near(b - t, above, -b)
            if b == math.inf:
                h = np.log(up)
            elif a == -math.inf:
                h = -np.log(down)
            else:
                h = np.log(up) - np.log(down)
        return self._polished(z, h, 4)

    def _near(self, distance: Values, log_tail: Values, end: float) -> Values:
        """Return the distance from an end, by the density there where it is too small for a difference."""
        if math.isinf(end):
            return distance
        first = np.exp(log_tail + self._log_kept + 0.5 * end * end + LOG_ROOT_TWO_PI)
        return np.where(first * (1.0 + abs(end)) < 1e-2, first, distance)
