"""The standard Gumbel value that belongs to a standard normal score, fast and exact in both tails.

The score is g(z) = -ln(-ln Phi(z)). Calling ``log_ndtr`` for every row costs more than twice the drawing
of the normal number itself, so the bulk is read from a table: a cubic on each of 8,192 intervals of
[-9, 9] through the exact values and slopes at its ends. With the interval h = 18/8192 the cubic's error,
h^4/384 times the fourth derivative, is of the order of the rounding of g itself. Rows beyond +-9
(1e-19 of them) are computed exactly, row by row: what a row gives never depends on its neighbours.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

REACH = 9.0
INTERVALS = 8192
_PER_UNIT = INTERVALS / (2.0 * REACH)
_FAR = 37.0


def exact(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return g(z) = -ln(-ln Phi(z)) without the table.

    Parameters
    ----------
    z : ndarray
        Standard normal scores, any shape.

    Returns
    -------
    ndarray
        Values of the standard Gumbel variable (largest-value type, location 0, scale 1), same shape.

    Notes
    -----
    In the upper tail -ln Phi(z) = Phi(-z) + Phi(-z)^2/2 + ..., and Phi(-z) itself underflows beyond 38;
    past 37 the value is therefore -ln Phi(-z), taken from ``log_ndtr``, which has no end.
    """
    far = z > _FAR
    near = np.where(far, 0.0, z)
    return np.where(far, -log_ndtr(-z), -np.log(-log_ndtr(near)))


@cache
def _coefficients() -> tuple[NDArray[np.float64], ...]:
    """Coefficients of the cubics, lowest power first, each over the intervals."""
    nodes: NDArray[np.float64] = (np.arange(INTERVALS + 1, dtype=np.float64) - INTERVALS / 2) / _PER_UNIT
    value = exact(nodes)
    # g' = phi / (Phi (-ln Phi)), and -ln Phi = exp(-g)
    slope = np.exp(-0.5 * nodes**2 - log_ndtr(nodes) + value) / np.sqrt(2.0 * np.pi) / _PER_UNIT
    rise = np.diff(value)
    left, right = slope[:-1], slope[1:]
    table = (value[:-1].copy(), left.copy(), 3.0 * rise - 2.0 * left - right, left + right - 2.0 * rise)
    for column in table:
        column.flags.writeable = False
    return table


def score(z: NDArray[np.float64], out: NDArray[np.float64]) -> NDArray[np.float64]:
    """Write g(z) = -ln(-ln Phi(z)) into ``out`` and return it.

    Parameters
    ----------
    z : ndarray
        Standard normal scores, any shape; not changed unless it is ``out``.
    out : ndarray
        Where the result goes; same shape, may be ``z`` itself.

    Returns
    -------
    ndarray
        ``out``; absolute error below 5e-14 within +-9 and the rounding of the value beyond; NaN stays NaN.
    """
    if z.size == 0:
        return out
    outside: NDArray[np.bool_] | None = None
    kept: NDArray[np.float64] | None = None
    if not (z.min() >= -REACH and z.max() < REACH):  # also true where a row is NaN
        outside = ~((z >= -REACH) & (z < REACH))
        kept = z[outside]
        z = np.where(outside, 0.0, z)
    place = np.multiply(z, _PER_UNIT)
    place = np.asarray(np.add(place, INTERVALS / 2))
    interval = place.astype(np.intp)
    # A score just below +9 may round up to the end of the table.
    np.minimum(interval, INTERVALS - 1, out=interval)
    place = np.asarray(np.subtract(place, interval))
    c0, c1, c2, c3 = _coefficients()
    term = np.empty(place.shape)
    c3.take(interval, out=out, mode="clip")
    for coefficient in (c2, c1, c0):
        out *= place
        coefficient.take(interval, out=term, mode="clip")
        out += term
    if outside is not None and kept is not None:
        out[outside] = exact(kept)
    return out
