"""A sample taken as its own distribution, for the bulk only: it knows nothing beyond its ends."""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from riskcut.uncertainty.marginal import MarginalError, Values, fresh, probability

FEWEST = 20


class Empirical:
    """Distribution of a sample: the cumulative polygon through its sorted values.

    F rises by 1/(n - 1) from each value to the next, from 0 at the least to 1 at the greatest (definition
    7 of Hyndman & Fan 1996). It has no tails, so a failure probability below ``least_probability`` is
    not to be read from it.

    Parameters
    ----------
    values : array_like
        20 or more, finite, not all alike.

    Raises
    ------
    MarginalError
        Where they are fewer, not finite or all alike.

    References
    ----------
    .. [1] Hyndman, R. J. & Fan, Y. (1996). Sample quantiles in statistical packages. The American
       Statistician 50(4), 361-365.
    """

    kind: ClassVar[str] = "empirical"

    def __init__(self, values: ArrayLike) -> None:
        data: NDArray[np.float64] = np.sort(np.asarray(values, dtype=np.float64), axis=None)
        if len(data) < FEWEST:
            raise MarginalError(f"empirical: {len(data)} values are too few; {FEWEST} or more will do")
        if not np.all(np.isfinite(data)):
            raise MarginalError("empirical: a value is not a finite number")
        if data[0] == data[-1]:
            raise MarginalError(f"empirical: all values are {data[0]:g}; a certain number is not a variable")
        data.flags.writeable = False
        self._values = data
        self._share: NDArray[np.float64] = np.arange(len(data)) / (len(data) - 1)
        middle, gap = 0.5 * (data[1:] + data[:-1]), np.diff(data)
        self.mean = float(middle.mean())
        """Mean of the polygon (within the sample's own by its ends' weight)."""
        self.sd = math.sqrt(float(((middle - self.mean) ** 2 + gap**2 / 12.0).mean()))
        self.size = len(data)
        """Number of values."""
        self.least_probability = 10.0 / len(data)
        """Least probability of failure that may be read from it: ten of its values lie beyond."""

    def __repr__(self) -> str:
        return f"Empirical({len(self._values)} values, {self._values[0]:g} to {self._values[-1]:g})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Empirical) and np.array_equal(self._values, other._values)

    def __hash__(self) -> int:
        return hash(self._values.tobytes())

    def from_normal(self, z: Values, out: Values | None = None) -> Values:
        """Return the polygon's value at Phi(z)."""
        z = np.asarray(z, dtype=np.float64)
        out = fresh(z, out)
        out[...] = np.interp(ndtr(z), self._share, self._values)
        return out

    def to_normal(self, x: Values) -> Values:
        """Return Phi^-1 of the polygon at x."""
        return np.asarray(ndtri(self.cdf(x)))

    def quantile(self, p: Values) -> Values:
        """Return the polygon's value at p."""
        return np.asarray(np.interp(probability(p), self._share, self._values))

    def cdf(self, x: Values) -> Values:
        """Return the polygon at x; where values are alike, the share of all up to them."""
        x = np.asarray(x, dtype=np.float64)
        last = np.clip(np.searchsorted(self._values, x, side="right"), 1, len(self._values) - 1)
        low, high = self._values[last - 1], self._values[last]
        with np.errstate(divide="ignore", invalid="ignore"):
            within = np.where(high > low, np.clip((x - low) / (high - low), 0.0, 1.0), x >= high)
        share = (last - 1 + within) / (len(self._values) - 1)
        return np.where(np.isnan(x), np.nan, share)

    def log_density(self, x: Values) -> Values:
        """Return ln of the slope of the polygon at x; inf where many values are alike, -inf outside."""
        x = np.asarray(x, dtype=np.float64)
        last = np.clip(np.searchsorted(self._values, x, side="right"), 1, len(self._values) - 1)
        inside = (x >= self._values[0]) & (x <= self._values[-1])
        with np.errstate(divide="ignore"):
            density = -np.log((self._values[last] - self._values[last - 1]) * (len(self._values) - 1))
        return np.where(inside, density, -np.inf)
