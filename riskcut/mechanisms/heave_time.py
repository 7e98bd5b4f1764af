r"""Standing time against swelling: how far the clay below a formation has gone from undrained to drained.

The time factor and the mean degree of swelling of Terzaghi's one-dimensional theory,

.. math:: T_v = \frac{c_v t}{d^2}, \qquad
          U = 1 - \sum_{m=0}^{\infty} \frac{2}{M^2} e^{-M^2 T_v}, \qquad M = \frac{\pi}{2} (2 m + 1)
"""

from __future__ import annotations

from typing import Final

import numpy as np

from riskcut.study.block import Number

SWITCH: Final = 0.2
"""Time factor between the parabola and the first term of the series: each within 0.0012 of it on its side."""


def time_factor(*, consolidation: Number, years: Number, path: Number) -> Number:
    r"""Return the time factor, :math:`T_v = c_v t / d^2`.

    Parameters
    ----------
    consolidation : float or ndarray
        Coefficient of consolidation (swelling) :math:`c_v`, m2/year.
    years : float or ndarray
        *t*, years.
    path : float or ndarray
        Longest drainage path *d*, m, above zero.
    """
    return np.multiply(consolidation, years) / np.square(path)


def drainage_path(*, clay: Number, breadth: Number) -> Number:
    r"""Return the longest way of the water to a drained boundary, :math:`d = \min(T/2, B/\sqrt 2)`, m.

    Parameters
    ----------
    clay : float or ndarray
        Undrained soil below formation *T*, m; infinite where nothing drained lies below.
    breadth : float or ndarray
        :math:`B/\sqrt 2` of the ground that can fail, m.

    Notes
    -----
    Reasoned: water comes from the open formation and from the drained stratum below, so half the thickness;
    the ground that fails reaches no deeper than that breadth, so no more than it from the formation alone.
    """
    return np.minimum(0.5 * np.asarray(clay), breadth)[()]


def degree(factor: Number) -> Number:
    r"""Return the mean degree of swelling for a time factor, 0 to 1.

    .. math:: U = \sqrt{4 T_v/\pi} \quad (T_v \le 0.2), \qquad
              U = 1 - \frac{8}{\pi^2} e^{-\pi^2 T_v/4} \quad (T_v > 0.2)

    Notes
    -----
    Uniform excess pore pressure at first, drained at once at the boundary. Within 0.0012 of the series.

    References
    ----------
    Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley: the series; the two pieces: common practice, with
    the first term of the series in place of the usual logarithm.
    """
    early = np.sqrt(4.0 / np.pi * np.minimum(factor, SWITCH))
    late = 1.0 - 8.0 / np.pi**2 * np.exp(-0.25 * np.pi**2 * np.asarray(factor))
    swollen: Number = np.where(np.less_equal(factor, SWITCH), early, late)[()]
    return swollen
