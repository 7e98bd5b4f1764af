r"""Coulomb's earth pressure: a wedge on a plane slip surface, behind a wall with friction.

Signs, in degrees: the slope :math:`\beta` is positive where the surface rises away from the wall; the batter
:math:`\theta` of the wall's face is measured from the vertical, positive where the ground overhangs the wall, that
is where the foot reaches further into the ground than the top; wall friction :math:`\delta` is positive in the
usual sense, the ground sliding down the wall in the active state and up it in the passive one.
"""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Number


def coulomb_active(
    *, friction_angle: Number, wall_friction: Number = 0.0, slope: Number = 0.0, batter: Number = 0.0
) -> Number:
    r"""Return Coulomb's coefficient of active earth pressure.

    .. math:: K_a = \frac{\cos^2(\varphi' - \theta)}{\cos^2\theta \cos(\theta + \delta)
              \left[ 1 + \sqrt{\frac{\sin(\varphi' + \delta) \sin(\varphi' - \beta)}
              {\cos(\theta + \delta) \cos(\theta - \beta)}} \right]^2}

    Parameters
    ----------
    friction_angle : float or ndarray
        Effective angle of friction, degrees.
    wall_friction, slope, batter : float or ndarray
        :math:`\delta`, :math:`\beta` and :math:`\theta`, degrees, with the signs of this module.

    Returns
    -------
    float or ndarray
        Of the whole thrust, :math:`P = K \gamma H^2/2` with *H* the vertical height; its horizontal part is
        :math:`\cos(\delta + \theta)` of it. NaN where the formula has no answer, as in a slope steeper than the
        angle of friction.

    Notes
    -----
    Range of use: no cohesion, :math:`|\delta| \le \varphi'`, :math:`\beta \le \varphi'`. It reads a little less
    than slip surfaces that bend: by 0 to 2 % in level ground, the more the rougher the wall (tests/ground).

    References
    ----------
    Coulomb (1776), Essai sur une application des règles de maximis et minimis; in this form Müller-Breslau (1906),
    Erddruck auf Stützmauern (recalled; the tests find the greatest thrust over planes).
    """
    phi, delta, beta, theta = (np.radians(angle) for angle in (friction_angle, wall_friction, slope, batter))
    root = _root(np.sin(phi + delta) * np.sin(phi - beta), np.cos(theta + delta) * np.cos(theta - beta))
    value: Number = np.cos(phi - theta) ** 2 / (
        np.cos(theta) ** 2 * np.cos(theta + delta) * (1.0 + root) ** 2
    )
    return value


def coulomb_passive(
    *, friction_angle: Number, wall_friction: Number = 0.0, slope: Number = 0.0, batter: Number = 0.0
) -> Number:
    r"""Return Coulomb's coefficient of passive earth pressure.

    .. math:: K_p = \frac{\cos^2(\varphi' + \theta)}{\cos^2\theta \cos(\delta - \theta)
              \left[ 1 - \sqrt{\frac{\sin(\varphi' + \delta) \sin(\varphi' + \beta)}
              {\cos(\delta - \theta) \cos(\theta - \beta)}} \right]^2}

    Parameters
    ----------
    friction_angle, wall_friction, slope, batter : float or ndarray
        As in :func:`coulomb_active`.

    Returns
    -------
    float or ndarray
        Of the whole thrust; its horizontal part is :math:`\cos(\delta - \theta)` of it. NaN where no plane gives
        a least thrust (the root reaches 1) or the formula has no answer.

    Notes
    -----
    **Unsafe with wall friction**: a plane is far from the true slip surface. In level ground it is above the least
    upper bound of curved surfaces, itself too high, by 2 % for :math:`\varphi' = 30^\circ` and
    :math:`\delta = \varphi'/3`, by 12 % for two thirds and by 42 % for a rough wall; at 40 degrees by 6 and 43 %, and
    it is over four times as high (tests/ground). Range of use: :math:`\delta \le \varphi'/3`; beyond it
    :func:`riskcut.ground.annex_c.passive`. Source as in :func:`coulomb_active`.
    """
    phi, delta, beta, theta = (np.radians(angle) for angle in (friction_angle, wall_friction, slope, batter))
    root = _root(np.sin(phi + delta) * np.sin(phi + beta), np.cos(delta - theta) * np.cos(theta - beta))
    short = 1.0 - root
    # A root of 1 to the last digits is one: there the least thrust is without end.
    short = np.where(short > 1e-12, short, np.nan)[()]
    value: Number = np.cos(phi + theta) ** 2 / (np.cos(theta) ** 2 * np.cos(delta - theta) * short**2)
    return value


def _root(above: Number, below: Number) -> Number:
    """Return the root of Coulomb's formulas, NaN where it has none."""
    good = np.greater_equal(above, 0.0) & np.greater(below, 0.0)
    return np.sqrt(np.where(good, above, np.nan) / np.where(good, below, np.nan))[()]
