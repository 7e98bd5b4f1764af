"""A failure probability from counts, with bounds that never call an impossible row safe."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskcut.reliability.intervals import proportion, reliability_index

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Estimate:
    """A failure probability with its error; arrays of one shape, bounds with one axis more."""

    failure_probability: Floats
    bounds: Floats
    """(..., 2), lower and upper."""
    coefficient_of_variation: Floats
    """Of the estimate, sqrt((1 - p)/(n p)); +inf for a zero count."""

    @property
    def reliability_index(self) -> Floats:
        """Index of the estimate itself; +inf for a zero count, of which only the bounds say anything."""
        return reliability_index(self.failure_probability)

    @property
    def reliability_index_bounds(self) -> Floats:
        """Lower and upper bound (..., 2) of the index, from the upper and lower of the probability."""
        return reliability_index(self.bounds[..., ::-1])


def estimate(failures: ArrayLike, impossible: ArrayLike, rows: ArrayLike, level: float = 0.95) -> Estimate:
    """Return the failure probability with its bounds.

    Parameters
    ----------
    failures, impossible, rows : array_like
        Counts that broadcast; an impossible row is not among the failures.
    level : float
        Of confidence.

    Returns
    -------
    Estimate
        failures / (rows - impossible), NaN where no row is possible. The bounds read the impossible
        rows both ways, as safe in the lower one and as failed in the upper one: an impossible row is
        never called safe.

    Raises
    ------
    ValueError
        Where the counts or the level make no sense.
    """
    k, i, n = np.broadcast_arrays(
        *(np.asarray(count, dtype=np.float64) for count in (failures, impossible, rows))
    )
    if not np.all((k >= 0.0) & (i >= 0.0) & (k + i <= n)):
        raise ValueError("failures and impossible rows together lie between none and all of the rows")
    bounds = proportion(k, n, level)
    bounds[..., 1] = proportion(k + i, n, level)[..., 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        p = np.asarray(k / (n - i))
        variation = np.asarray(np.sqrt((1.0 - p) / ((n - i) * p)))
    return Estimate(failure_probability=p, bounds=bounds, coefficient_of_variation=variation)
