"""The triangular distribution: least, most likely and greatest value."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from riskcut.uncertainty.marginal import MarginalError, Values, check, fresh, probability


@dataclass(frozen=True, kw_only=True)
class Triangular:
    """Triangular distribution from ``low`` over ``mode`` to ``high``; the mode may lie at an end.

    The value is measured from the end on its side of the mode, low + sqrt(Phi(z) w l) or
    high - sqrt(Phi(-z) w r), with w, l and r the widths of the whole and of both sides.
    """

    kind: ClassVar[str] = "triangular"
    low: float
    mode: float
    high: float
    kinks: tuple[float, ...] = field(init=False, repr=False, compare=False)
    """Scores at which the slope of x bends."""

    def __post_init__(self) -> None:
        width = self.high - self.low
        check(self.kind, low=self.low, mode=self.mode, high=self.high, high_less_low=width)
        if self.low == self.high:
            raise MarginalError(
                f"triangular: low and high are {self.low:g}; a certain number is not a variable"
            )
        if not self.low <= self.mode <= self.high:
            raise MarginalError(
                f"triangular: mode {self.mode:g} is not between low, {self.low:g}, and high, {self.high:g}"
            )
        left, right = (self.mode - self.low) / width, (self.high - self.mode) / width
        kink = float(ndtri(left)) if left <= right else -float(ndtri(right))
        object.__setattr__(self, "kinks", (kink,))

    @property
    def mean(self) -> float:
        """Mean of the three."""
        return self.low + ((self.mode - self.low) + (self.high - self.low)) / 3.0

    @property
    def sd(self) -> float:
        """Root of (l^2 + l r + r^2)/18, l and r the widths either side of the mode."""
        left, right = self.mode - self.low, self.high - self.mode
        return math.sqrt((left * left + left * right + right * right) / 18.0)

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return low + sqrt(Phi(z) w l) below the mode, high - sqrt(Phi(-z) w r) above it."""
        z = np.asarray(z, dtype=np.float64)
        above = z >= self.kinks[0]
        near = self._near_the_mode(z)
        out = fresh(z, out)
        np.multiply(z, np.take(np.array((1.0, -1.0)), above), out=out)
        ndtr(out, out=out)
        out = self._from_tail(out, above)
        if near is not None:
            rows, values = near
            out[rows] = values
        return out

    def _near_the_mode(self, z: Values) -> tuple[NDArray[np.bool_], Values] | None:
        """Return the rows near a mode that is an end, and their values from there: w p/(1 + sqrt(1 - p))."""
        if math.isfinite(self.kinks[0]):
            return None
        rows = z < 0.0 if self.mode == self.low else z > 0.0
        distance = np.abs(z[rows])
        share = (self.high - self.low) * ndtr(-distance) / (1.0 + np.sqrt(ndtr(distance)))
        return rows, self.low + share if self.mode == self.low else self.high - share

    def _from_tail(self, tail: Values, above: NDArray[np.bool_]) -> Values:
        """Turn the probability beyond x, on its side of the mode, into x in place."""
        np.sqrt(tail, out=tail)
        width = self.high - self.low
        reach = math.sqrt(width * (self.mode - self.low)), -math.sqrt(width * (self.high - self.mode))
        tail *= np.take(np.array(reach), above)
        tail += np.take(np.array((self.low, self.high)), above)
        return tail

    def _tail(self, x: Values) -> tuple[Values, NDArray[np.bool_]]:
        """Return the probability beyond x on its side of the mode, and whether that is above."""
        x = np.asarray(x, dtype=np.float64)
        above = x >= self.mode if self.mode < self.high else x > self.mode
        width = self.high - self.low
        side = np.where(above, self.high - self.mode, self.mode - self.low)
        distance = np.where(above, self.high - x, x - self.low)
        with np.errstate(divide="ignore", invalid="ignore"):
            tail = np.clip(distance, 0.0, None) ** 2 / (width * side)
        return np.where(side > 0.0, tail, 0.0) + 0.0 * x, above

    def to_normal(self, x: Values) -> Values:
        """Return Phi^-1 of the probability beyond x on its side of the mode."""
        tail, above = self._tail(x)
        score = ndtri(tail)
        score = np.where(above, -score, score)
        if math.isinf(self.kinks[0]):
            # near a mode that is an end, the probability from there: 1 - (1 - y)^2 = y (2 - y)
            sign = 1.0 if self.mode == self.low else -1.0
            y = np.clip(
                sign * (np.asarray(x, dtype=np.float64) - self.mode) / (self.high - self.low), 0.0, 1.0
            )
            score = np.where(y < 0.25, sign * ndtri(y * (2.0 - y)), score)
        return score

    def quantile(self, p: Values) -> Values:
        """Return low + sqrt(p w l) below the mode, high - sqrt((1 - p) w r) above it."""
        p = probability(p)
        above = p * (self.high - self.low) >= self.mode - self.low
        return self._from_tail(np.where(above, 1.0 - p, p), above)

    def cdf(self, x: Values) -> Values:
        """Return (x - low)^2/(w l) below the mode, 1 - (high - x)^2/(w r) above it."""
        tail, above = self._tail(x)
        return np.where(above, 1.0 - tail, tail)

    def log_density(self, x: Values) -> Values:
        """Return ln of 2 (x - low)/(w l) or 2 (high - x)/(w r)."""
        x = np.asarray(x, dtype=np.float64)
        tail, above = self._tail(x)
        width = self.high - self.low
        side = np.where(above, self.high - self.mode, self.mode - self.low)
        with np.errstate(divide="ignore", invalid="ignore"):
            density = math.log(2.0) + 0.5 * (np.log(tail) - np.log(width * side))
        return np.where((x >= self.low) & (x <= self.high) & (side > 0.0), density, -np.inf)
