"""A function of the standard normal score, read from a table: cubics through exact values and slopes.

An incomplete gamma or beta function inverted row by row costs thirty times the drawing of the normal
number itself. The bulk is therefore read from cubics on equal intervals of [-9, 9] that have the exact
value and slope at both ends (Hermite). Rows beyond +-9 (1e-19 of them) are computed exactly, row by row:
what a row gives never depends on its neighbours.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]
Function = Callable[[Values], Values]

REACH = 9.0
FEWEST = 512
MOST = 16384


class ScoreTable:
    """Cubics on equal intervals of [-9, 9].

    Parameters
    ----------
    value, slope : ndarray, (intervals + 1,)
        Exact value of the function, and its slope by the score, at the ends of the intervals.
    exact : callable
        The function itself, for rows beyond +-9.
    """

    def __init__(self, value: Values, slope: Values, exact: Function) -> None:
        self.intervals = len(value) - 1
        self._per_unit = self.intervals / (2.0 * REACH)
        self._exact = exact
        slope = slope / self._per_unit
        rise = np.diff(value)
        left, right = slope[:-1], slope[1:]
        # lowest power first, each over the intervals
        self._coefficients = (
            value[:-1].copy(),
            left.copy(),
            3.0 * rise - 2.0 * left - right,
            left + right - 2.0 * rise,
        )
        for column in self._coefficients:
            column.flags.writeable = False

    def __call__(self, z: Values, out: Values) -> Values:
        """Write the function of ``z`` into ``out`` and return it.

        Parameters
        ----------
        z : ndarray
            Standard normal scores, any shape; not changed unless it is ``out``.
        out : ndarray
            Where the result goes; same shape, may be ``z`` itself.

        Returns
        -------
        ndarray
            ``out``; NaN stays NaN.
        """
        if z.size == 0:
            return out
        outside: NDArray[np.bool_] | None = None
        kept: Values | None = None
        if not (z.min() >= -REACH and z.max() < REACH):  # also true where a row is NaN
            outside = ~((z >= -REACH) & (z < REACH))
            kept = z[outside]
            z = np.where(outside, 0.0, z)
        place = np.multiply(z, self._per_unit)
        place = np.asarray(np.add(place, self.intervals / 2))
        interval = place.astype(np.intp)
        # A score just below +9 may round up to the end of the table.
        np.minimum(interval, self.intervals - 1, out=interval)
        place = np.asarray(np.subtract(place, interval))
        c0, c1, c2, c3 = self._coefficients
        term = np.empty(place.shape)
        c3.take(interval, out=out, mode="clip")
        for coefficient in (c2, c1, c0):
            out *= place
            coefficient.take(interval, out=term, mode="clip")
            out += term
        if outside is not None and kept is not None:
            out[outside] = self._exact(kept)
        return out


def nodes(intervals: int) -> Values:
    """Return the ends of that many equal intervals of [-9, 9]."""
    ends: Values = (np.arange(intervals + 1, dtype=np.float64) - intervals / 2) / (intervals / (2.0 * REACH))
    return ends


def tabulate(
    exact: Function, slope: Callable[[Values, Values], Values], tolerance: float = 3e-11
) -> ScoreTable | None:
    """Return a table that is right to ``tolerance`` in the middle of every interval, where a cubic errs most.

    Parameters
    ----------
    exact : callable
        The function of the score.
    slope : callable
        Its slope, from the scores and the exact values there.
    tolerance : float
        Largest absolute error.

    Returns
    -------
    ScoreTable or None
        None where 16,384 intervals do not reach the tolerance.
    """
    ends = nodes(FEWEST)
    value = exact(ends)
    while True:
        table = ScoreTable(value, slope(ends, value), exact)
        ends = nodes(2 * table.intervals)
        middle = exact(ends[1::2])
        error = np.abs(table(ends[1::2].copy(), np.empty(len(middle))) - middle)
        if np.all(error <= tolerance):
            return table
        if table.intervals >= MOST or not np.all(np.isfinite(error)):
            return None
        finer = np.empty(len(ends))
        finer[::2], finer[1::2] = value, middle
        value = finer
