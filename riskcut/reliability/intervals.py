"""A counted proportion and its interval, and the reliability index.

References
----------
.. [1] Clopper, C. J. & Pearson, E. S. (1934). The use of confidence or fiducial limits illustrated in
   the case of the binomial. Biometrika 26(4), 404-413.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainccinv, betaincinv, ndtri

Floats = NDArray[np.float64]


def proportion(failures: ArrayLike, rows: ArrayLike, level: float = 0.95) -> Floats:
    """Return the Clopper-Pearson interval of a proportion.

    Parameters
    ----------
    failures, rows : array_like
        Counts, any shapes that broadcast; 0 <= failures <= rows.
    level : float
        Of confidence, between 0 and 1.

    Returns
    -------
    ndarray, (..., 2)
        Lower and upper bound: the quantiles (1 - level)/2 of Beta(k, n - k + 1) and (1 + level)/2 of
        Beta(k + 1, n - k) [1]_. A zero count gives the one-sided bound: 0 and 1 - (1 - level)^(1/n);
        all failing gives its mirror image; no rows give 0 and 1.

    Raises
    ------
    ValueError
        Where the counts or the level make no sense.

    Notes
    -----
    Never below the level in coverage, but for a proportion near 3/n: there the one-sided bound of the
    zero count leaves between 92.5 % and 95 % (at 95 %) to an interval that is read as two-sided.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"a level of confidence lies between 0 and 1, not at {level:g}")
    k, n = np.broadcast_arrays(np.asarray(failures, dtype=np.float64), np.asarray(rows, dtype=np.float64))
    if not np.all((k >= 0.0) & (k <= n)):
        raise ValueError("failures lie between none and all of the rows")
    none, every = k == 0.0, k == n
    tail = 0.5 * (1.0 - level)
    # 1 - level to the power 1/n, and 1 less that without cancellation; the 1 stands in for no rows
    logarithm = np.log1p(-level) / np.where(n > 0.0, n, 1.0)
    bounds = np.empty((*k.shape, 2))
    two_sided = betaincinv(np.where(none, 1.0, k), n - k + 1.0, tail)
    bounds[..., 0] = np.where(none, 0.0, np.where(every, np.exp(logarithm), two_sided))
    two_sided = betainccinv(k + 1.0, np.where(every, 1.0, n - k), tail)
    bounds[..., 1] = np.where(every, 1.0, np.where(none, -np.expm1(logarithm), two_sided))
    return bounds


def reliability_index(p: ArrayLike) -> Floats:
    """Return beta = -Phi^-1(p): +inf for 0, -inf for 1.

    Accurate to rounding for the smallest p; for p near 1 it is as good as p itself.
    """
    return np.asarray(0.0 - ndtri(np.asarray(p, dtype=np.float64)))
