"""The point nearest to the origin that several linearised margins call failed.

Where a surface has a kink (the greater of two margins), no gradient points to the nearest point; but the
linearisations met on either side, taken together, show where it is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from riskcut.reliability.limit_surface import Cut

Floats = NDArray[np.float64]

_KEPT = 12


def nearest_of(cuts: Sequence[Cut], here: Cut) -> tuple[Floats, float] | None:
    """Return the point nearest to the origin at which no linearised margin is above zero.

    Parameters
    ----------
    cuts : sequence of Cut
        The latest dozen count. One that lies above the margin at ``here`` is lowered to it, since the greater of
        two margins nowhere lies below either: it is bent, and its place not to be trusted.
    here : Cut
        Where the margin is known.

    Returns
    -------
    tuple of ndarray (m,) and float, or None
        The point and the sum of the multipliers of the margins; None where there is no such point.

    References
    ----------
    .. [1] Lawson, C. L. & Hanson, R. J. (1974). Solving least squares problems. Prentice-Hall. Chapter 23, least
       distance programming. Cutting planes: Kelley, J. E. (1960). J. SIAM 8(4), 703-712. Recalled.
    """
    used = [cut for cut in cuts[-_KEPT:] if cut.norm > 0.0]
    if not used:
        return None
    norms = np.array([cut.norm for cut in used])
    gradients = np.array([cut.gradient for cut in used]) / norms[:, None]
    heights = np.array([min(float(cut.at(here.u)), here.margin) for cut in used]) / norms
    # -n.v >= h - n.u for every cut, n its unit normal
    matrix = np.vstack((-gradients.T, heights - gradients @ here.u))
    wanted = np.zeros(len(matrix))
    wanted[-1] = 1.0
    try:
        weights, residual = nnls(matrix, wanted)
    except RuntimeError:
        return None
    left = matrix @ weights - wanted
    if residual < 1e-10 or abs(left[-1]) < 1e-12:
        return None
    multipliers = weights / -left[-1]
    return -left[:-1] / left[-1], float((multipliers / norms).sum())
