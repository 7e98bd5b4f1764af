"""The correlation matrix nearest to a matrix that is none.

References
----------
.. [1] Higham, N. J. (2002). Computing the nearest correlation matrix: a problem from finance. IMA Journal
   of Numerical Analysis 22(3), 329-343.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Matrix = NDArray[np.float64]

_ROUNDS = 5_000
_STILL = 1e-10


def _raised(matrix: Matrix, least: float) -> Matrix:
    """Return the nearest symmetric matrix without eigenvalues below ``least``."""
    values, vectors = np.linalg.eigh(matrix)
    raised: Matrix = (vectors * np.maximum(values, least)) @ vectors.T
    return 0.5 * (raised + raised.T)


def nearest_correlation(matrix: Matrix, *, least_eigenvalue: float = 1e-6) -> Matrix:
    """Return the correlation matrix nearest to a symmetric matrix, by the sum of squared differences.

    Parameters
    ----------
    matrix : ndarray, (m, m)
        Symmetric; stated correlations that contradict each other, say.
    least_eigenvalue : float
        The result has none below; above 0, so that it can be factored, and below 1.

    Returns
    -------
    ndarray, (m, m)
        Symmetric, ones on the diagonal. ``matrix`` itself where it is such a matrix.

    Raises
    ------
    ValueError
        Where the matrix is not square, symmetric and finite, or the least eigenvalue not between 0 and 1.

    Notes
    -----
    Alternating projections onto the matrices with no smaller eigenvalue and onto those with a unit
    diagonal, with Dykstra's correction on the first, algorithm 3.3 of [1]_. Both sets are convex, so the
    nearest matrix is unique.
    """
    matrix = np.array(matrix, dtype=np.float64)
    square = matrix.ndim == 2 and matrix.shape[0] == matrix.shape[1]
    if not (square and np.all(np.isfinite(matrix)) and np.array_equal(matrix, matrix.T)):
        raise ValueError(
            "a nearest correlation matrix is that of a square, symmetric matrix of finite numbers"
        )
    if not 0.0 < least_eigenvalue < 1.0:
        raise ValueError(f"the least eigenvalue lies between 0 and 1, not at {least_eigenvalue:g}")
    unit = matrix.copy()
    np.fill_diagonal(unit, 1.0)
    correction = np.zeros_like(matrix)
    if np.linalg.eigvalsh(unit)[0] >= least_eigenvalue:
        return unit
    for _ in range(_ROUNDS):
        shifted = unit - correction
        raised = _raised(shifted, least_eigenvalue)
        correction = raised - shifted
        before, unit = unit, raised.copy()
        np.fill_diagonal(unit, 1.0)
        if np.abs(unit - before).max() < _STILL:
            break
    # The diagonal was set last: what that took from the least eigenvalue is given back.
    least = float(np.linalg.eigvalsh(unit)[0])
    if least < least_eigenvalue:
        unit *= (1.0 - least_eigenvalue) / (1.0 - least)
        np.fill_diagonal(unit, 1.0)
    return unit
