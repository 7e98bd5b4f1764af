"""The range of a bounded variable, and the line that it is bent onto.

A value x between its ends is written as a function of a number h without ends: the logarithm of the
distance to the one end, or the difference of the logarithms where there are two. The value is then
measured from the nearer end and keeps its resolution there, and h is a smooth function of the score.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from riskcut.uncertainty.marginal import Values


class Support(Protocol):
    """A range of values and its map onto the whole line."""

    def value(self, h: Values) -> Values:
        """Turn ``h`` into x, in place, and return it."""

    def line(self, x: Values) -> Values:
        """Return h; -inf and inf at and beyond the ends."""

    def log_slope(self, h: Values) -> Values:
        """Return ln(dx/dh)."""


@dataclass(frozen=True)
class Above:
    """From ``low`` upwards: x = low + unit exp(h)."""

    low: float
    unit: float

    def value(self, h: Values) -> Values:
        """Turn ``h`` into x, in place, and return it."""
        with np.errstate(over="ignore", under="ignore"):
            np.exp(h, out=h)
        h *= self.unit
        h += self.low
        return h

    def line(self, x: Values) -> Values:
        """Return ln((x - low)/unit)."""
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(np.maximum((x - self.low) / self.unit, 0.0)))

    def log_slope(self, h: Values) -> Values:
        """Return ln(unit) + h."""
        return h + math.log(self.unit)


@dataclass(frozen=True)
class Below:
    """From ``high`` downwards: x = high - unit exp(-h)."""

    high: float
    unit: float

    def value(self, h: Values) -> Values:
        """Turn ``h`` into x, in place, and return it."""
        np.negative(h, out=h)
        with np.errstate(over="ignore", under="ignore"):
            np.exp(h, out=h)
        h *= -self.unit
        h += self.high
        return h

    def line(self, x: Values) -> Values:
        """Return -ln((high - x)/unit)."""
        with np.errstate(divide="ignore"):
            return -np.log(np.maximum((self.high - x) / self.unit, 0.0))

    def log_slope(self, h: Values) -> Values:
        """Return ln(unit) - h."""
        return math.log(self.unit) - h


@dataclass(frozen=True)
class Between:
    """Between two ends: x = low + (high - low)/(1 + exp(-h)), from the nearer end."""

    low: float
    high: float

    def value(self, h: Values) -> Values:
        """Turn ``h`` into x, in place, and return it."""
        below = np.signbit(h)
        np.abs(h, out=h)
        np.negative(h, out=h)
        with np.errstate(under="ignore"):
            np.exp(h, out=h)
        h /= h + 1.0
        # down from the upper end, or up from the lower
        width = self.high - self.low
        h *= np.take(np.array((-width, width)), below)
        h += np.take(np.array((self.high, self.low)), below)
        return h

    def line(self, x: Values) -> Values:
        """Return ln((x - low)/(high - x))."""
        with np.errstate(divide="ignore"):
            below = np.log(np.clip(x - self.low, 0.0, self.high - self.low))
            return np.asarray(below - np.log(np.clip(self.high - x, 0.0, self.high - self.low)))

    def log_slope(self, h: Values) -> Values:
        """Return ln(high - low) less the softplus of h and of -h."""
        return np.asarray(math.log(self.high - self.low) - np.logaddexp(0.0, h) - np.logaddexp(0.0, -h))
