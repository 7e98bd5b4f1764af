r"""Mean excess head under Terzaghi's prism beside a wall, as a share of the head at the wall's toe.

The prism that water lifts inside a wall is taken as deep as the wall is embedded, *D*, and *D/2* wide (or half
of the cut, where that is less). The excess head at its base is highest at the toe and falls away from
the wall; its mean is what lifts the prism. In the rectangle of :mod:`riskcut.ground.fragment` the head at any
point is an elliptic integral of its image; the mean is taken by Gauss' rule. It depends on two ratios
only and is smooth in them, so it is worked out once on a fine grid and read from there.
"""

from __future__ import annotations

from functools import cache
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipkm1, elliprf

from riskcut.ground.fragment import image
from riskcut.study.block import Number

DEEPEST: Final = 0.95
"""Highest ratio of embedment to thickness of the ground on the grid."""
DEPTHS: Final = 96
WIDTHS: Final = 121
POINTS: Final = 12


def prism_share(*, embedment: Number, thickness: Number, half_width: Number = np.inf) -> Number:
    r"""Return the mean excess head at the prism's base over the excess head at the toe.

    .. math:: \frac{h_a}{h_t} = \frac{1}{w} \int_0^{w} \frac{h(x, D)}{h_t} \, \mathrm{d}x, \qquad
              w = \min(D/2, b)

    Parameters
    ----------
    embedment : float or ndarray
        *D*, m, above 0.
    thickness : float or ndarray
        *T* of the permeable ground below the surface inside, m, above *D*.
    half_width : float or ndarray
        *b* from the wall to the middle of the cut, m.

    Returns
    -------
    float or ndarray
        0.708 in deep wide ground, less over a base close below the toe, 1 in a very narrow cut.

    Notes
    -----
    Between the points of the grid by straight lines, within 5e-4 of the integral. Where the toe comes
    nearer to the base than 5 % of the thickness the value of 5 % stands: the true one is lower.

    References
    ----------
    Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley: the prism. Its head: the fragment's own.
    """
    depth = np.minimum(np.divide(embedment, thickness), DEEPEST) / DEEPEST * (DEPTHS - 1)
    ratio = np.divide(embedment, half_width)
    width = np.divide(ratio, 1.0 + ratio) * (WIDTHS - 1)
    row = np.minimum(np.asarray(depth).astype(np.intp), DEPTHS - 2)
    column = np.minimum(np.asarray(width).astype(np.intp), WIDTHS - 2)
    over, along = depth - row, width - column
    grid = _grid()
    upper = grid[row, column] * (1.0 - along) + grid[row, column + 1] * along
    lower = grid[row + 1, column] * (1.0 - along) + grid[row + 1, column + 1] * along
    share: Number = (upper * (1.0 - over) + lower * over)[()]
    return share


@cache
def _grid() -> NDArray[np.float64]:
    """Return the share at every pair of D/T and D/(D + b), the last column of a cut without width."""
    # At the edges the ratios are not quite zero: the limits are the same to more than the table's digits.
    deep = np.maximum(np.linspace(0.0, DEEPEST, DEPTHS), 1e-5)[:, np.newaxis]
    width = np.maximum(np.linspace(0.0, 1.0, WIDTHS)[:-1], 1e-5)
    grid = np.ones((DEPTHS, WIDTHS))
    grid[:, :-1] = mean_share(embedment=1.0, thickness=1.0 / deep, half_width=1.0 / width - 1.0)
    return grid


def mean_share(*, embedment: Number, thickness: Number, half_width: Number) -> Number:
    """Return what :func:`prism_share` returns, by the integral itself: slower, and of the same parameters."""
    toe = image(depth=embedment, thickness=thickness, half_width=half_width)
    wide = np.minimum(np.multiply(0.5, embedment), half_width)
    roots, weights = np.polynomial.legendre.leggauss(POINTS)
    total: Number = 0.0
    for root, weight in zip(0.5 * (roots + 1.0), 0.5 * weights, strict=True):
        # The head falls with the square root of the distance from the toe: smooth in the root of x.
        inside = embedment + 1j * (wide * root * root)
        at, rest, _ = image(depth=inside, thickness=thickness, half_width=half_width)
        # 1 - t/t_toe by what is left to 1: in a narrow cut both images are 1 but for the last digits.
        left = cast(NDArray[np.complex128], rest)
        short = (left - cast(Number, toe.rest)) / cast(Number, toe.at)
        share = np.real(np.sqrt(at / toe.at) * elliprf(short, left, 1.0 + 0.0j))
        total = total + weight * 2.0 * root * share
    mean: Number = total / ellipkm1(cast(Number, toe.rest))
    return mean
