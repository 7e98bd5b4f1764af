"""Failure of any of several parts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def independent_union(p: ArrayLike, axis: int = -1) -> NDArray[np.float64]:
    """Return the probability that any of several independent events happens: 1 - prod(1 - p).

    Parameters
    ----------
    p : array_like
        Probabilities along ``axis``, 0 to 1; of none, the union is 0.
    axis : int
        The axis that is taken together.

    Returns
    -------
    ndarray
        Without that axis. Through ln(1 - p), so that small probabilities keep all their digits.

    Raises
    ------
    ValueError
        Where a p lies outside 0 to 1.
    """
    events = np.asarray(p, dtype=np.float64)
    if not np.all((events >= 0.0) & (events <= 1.0)):
        raise ValueError("a probability lies between 0 and 1")
    with np.errstate(divide="ignore"):
        return np.asarray(0.0 - np.expm1(np.log1p(-events).sum(axis=axis)))


def independent_union_bounds(bounds: ArrayLike) -> NDArray[np.float64]:
    """Return the bounds of the union from the bounds of the independent events.

    Parameters
    ----------
    bounds : array_like, (..., events, 2)
        Lower and upper bound of each event's probability.

    Returns
    -------
    ndarray, (..., 2)
        The union of the lower and of the upper bounds. The union grows with every p, so this holds
        wherever each event's bounds hold; it is wider than need be, the more so the more events there
        are of which none was seen to fail.
    """
    return independent_union(bounds, axis=-2)
