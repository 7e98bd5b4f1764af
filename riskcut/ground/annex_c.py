r"""Earth pressure by the numerical procedure of EN 1997-1:2004, Annex C.2, and by the closed form of C.1.

The slip surface of C.2 is a plane, a logarithmic spiral and a plane: the exact solution for a load on ground
without weight, and for friction alone an approximation of the ground's own weight. Its equations are stated for
the passive state; the active state is the same with the strength (:math:`\varphi, c, \delta, a`) negative. The
signs of slope and batter are those of :mod:`riskcut.ground.coulomb`. All of it is recalled, and held in the
tests against mechanisms of limit analysis.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from riskcut.study.block import Number

ADHESION_LIMIT = 2.56
r"""Greatest :math:`K_c/\sqrt{K}` of C.1."""


class Procedure(NamedTuple):
    """Coefficients of the pressure normal to the wall, of the broadcast shape."""

    weight: Number
    r""":math:`K_\gamma`, on the weight of the ground."""
    load: Number
    """:math:`K_q`, on a vertical load over the horizontal projection of the surface."""
    cohesion: Number
    """:math:`K_c`, on the cohesion: added in the passive state, taken off in the active one; of either positive."""
    normal: Number
    """:math:`K_n`, on a load normal to the surface."""
    rotation: Number
    """*v* of the slip line, degrees; below zero the procedure is out of its range."""


def active(
    *, friction_angle: Number, wall_friction: Number = 0.0, slope: Number = 0.0, batter: Number = 0.0
) -> Procedure:
    r"""Return the coefficients of active pressure: :func:`passive` with the strength negative.

    .. math:: \sigma_a = K_\gamma \gamma z + K_q q - K_c c', \qquad K_c = (1 - K_n) \cot\varphi'

    Parameters
    ----------
    friction_angle, wall_friction, slope, batter : float or ndarray
        As in :func:`passive`.

    Returns
    -------
    Procedure
        NaN where there is no answer, as in :func:`passive`.

    Notes
    -----
    The annex sets :math:`\beta_0 = \beta` for active pressure generally. The rotation falls below zero in
    rising ground behind a smooth wall: with :math:`\delta < \beta`. :math:`K_\gamma` is above the greatest lower
    estimate of limit analysis by 0 to 5 %; behind a wall that the ground overhangs by 10 degrees it may be below it,
    by 1.5 % (tests/ground).
    """
    return _procedure(-1.0, friction_angle, wall_friction, slope, batter)


def passive(
    *, friction_angle: Number, wall_friction: Number = 0.0, slope: Number = 0.0, batter: Number = 0.0
) -> Procedure:
    r"""Return the coefficients of passive pressure by the numerical procedure of Annex C.2.

    .. math:: \cos(2 m_t + \varphi + \beta_0) = -\frac{\sin\beta_0}{\sin\varphi}, \qquad
              \cos(2 m_w + \varphi + \delta) = \frac{\sin\delta}{\sin\varphi}, \qquad
              v = m_t + \beta - m_w - \theta

    .. math:: K_n = \frac{1 + \sin\varphi \sin(2 m_w + \varphi)}{1 - \sin\varphi \sin(2 m_t + \varphi)}
              e^{2 v \tan\varphi}, \quad K_q = K_n \cos^2\beta, \quad K_c = (K_n - 1) \cot\varphi, \quad
              K_\gamma = K_n \cos\beta \cos(\beta - \theta)

    Parameters
    ----------
    friction_angle : float or ndarray
        :math:`\varphi`, degrees, 0 or more and below 90.
    wall_friction : float or ndarray
        :math:`\delta`, degrees, no more than :math:`\varphi` either way; the adhesion goes with it,
        :math:`a/c = \tan\delta / \tan\varphi`.
    slope : float or ndarray
        :math:`\beta`, degrees, no more than :math:`\varphi` either way; the load on it is vertical and
        :math:`\beta_0 = \beta`.
    batter : float or ndarray
        :math:`\theta`, degrees.

    Returns
    -------
    Procedure
        NaN where friction or slope are beyond the angle of friction.

    Notes
    -----
    Range of use: :math:`v \ge 0`; :math:`K_c` level ground (elsewhere cohesion turns :math:`\beta_0`). The
    annex calls :math:`K_\gamma` on the safe side. In level ground it is below Caquot & Kerisel's coefficients
    (recalled) by 0 for a smooth wall, by 5, 10 and 18 % for a rough one at :math:`\varphi` of 20, 30 and 40 degrees;
    below the least upper bound by 9, 18 and 31 %, by 35 % in ground that rises at half its friction (tests/ground).
    Wall friction the other way is outside the range and still on the safe side: at two thirds of :math:`\varphi` the
    passive coefficients are low by 8 to 29 % for :math:`\varphi` from 20 to 40 degrees, the active ones high by 3 %;
    there planes (:mod:`riskcut.ground.coulomb`) agree with the bound. With no friction the wall is smooth; for
    adhesion see :func:`undrained_cohesion`.

    References
    ----------
    EN 1997-1:2004, Annex C.2, the expressions of its paragraphs (5) to (10) (recalled).
    """
    return _procedure(1.0, friction_angle, wall_friction, slope, batter)


def undrained_cohesion(*, adhesion_ratio: Number) -> Number:
    r"""Return the coefficient on the undrained strength by Annex C.2, its limit of no friction.

    .. math:: K_c = 2 v + \sin 2 m_t + \sin 2 m_w = 1 + \arcsin\frac{a}{s_u} + \sqrt{1 - (a/s_u)^2}

    Parameters
    ----------
    adhesion_ratio : float or ndarray
        :math:`a/s_u` on the wall, -1 to 1.

    Returns
    -------
    float or ndarray
        Of the active and of the passive side alike: 2 on a smooth wall, :math:`1 + \pi/2` on a rough one; NaN
        beyond a ratio of 1.

    Notes
    -----
    With :math:`\cos 2 m_w = a/s_u` and, below a level surface, :math:`m_t = 45^\circ`. Range of use: level
    ground, a vertical wall, where it is exact; adhesion the other way is outside (:math:`v < 0`), and
    low by 1 % at -0.3, 9 % at -0.6, on the safe side of either state. EN 1997-1:2004, Annex C.2 (10) (recalled).
    """
    ratio = np.where(np.less_equal(np.abs(adhesion_ratio), 1.0), adhesion_ratio, np.nan)[()]
    value: Number = 1.0 + np.arcsin(ratio) + np.sqrt(1.0 - ratio * ratio)
    return value


def cohesion_coefficient(*, pressure: Number, adhesion_ratio: Number) -> Number:
    r"""Return the coefficient on the cohesion by the closed form of Annex C.1.

    .. math:: K_c = 2 \sqrt{K (1 + a/c)} \le 2.56 \sqrt{K}

    Parameters
    ----------
    pressure : float or ndarray
        *K* of the horizontal pressure, active or passive; 1 undrained.
    adhesion_ratio : float or ndarray
        :math:`a/c` or :math:`a/s_u` on the wall, -1 to 1.

    Returns
    -------
    float or ndarray
        NaN below a ratio of -1 or a *K* of 0.

    Notes
    -----
    Undrained it stands above :func:`undrained_cohesion` by as much as 4 % (at a ratio of 0.64): too
    favourable on either side of the wall. EN 1997-1:2004, Annex C.1 (recalled, the limit included).
    """
    square = np.multiply(pressure, np.add(1.0, adhesion_ratio))
    good = np.greater_equal(square, 0.0) & np.greater_equal(pressure, 0.0)
    plain = 2.0 * np.sqrt(np.where(good, square, np.nan))
    value: Number = np.minimum(plain, ADHESION_LIMIT * np.sqrt(np.where(good, pressure, np.nan)))[()]
    return value


def _procedure(
    sign: float, friction_angle: Number, wall_friction: Number, slope: Number, batter: Number
) -> Procedure:
    """Return the coefficients with the strength positive (passive) or negative (active)."""
    phi, delta = (sign * np.radians(angle) for angle in (friction_angle, wall_friction))
    beta, theta = np.radians(slope), np.radians(batter)
    sine, tangent = np.sin(phi), np.tan(phi)
    surface = 0.5 * (_arccos_of_ratio(-np.sin(beta), sine) - phi - beta)
    wall = 0.5 * (_arccos_of_ratio(np.sin(delta), sine) - phi - delta)
    rotation = surface + beta - wall - theta
    normal = (
        (1.0 + sine * np.sin(2.0 * wall + phi))
        / (1.0 - sine * np.sin(2.0 * surface + phi))
        * np.exp(2.0 * rotation * tangent)
    )
    # Where the friction is gone its quotient is 0/0, and the cohesion has a limit of its own.
    some = np.abs(tangent) > 1e-9
    limit = 2.0 * rotation + np.sin(2.0 * surface) + np.sin(2.0 * wall)
    cohesion = np.where(some, (normal - 1.0) / np.where(some, tangent, 1.0), limit)[()]
    return Procedure(
        weight=normal * np.cos(beta) * np.cos(beta - theta),
        load=normal * np.cos(beta) ** 2,
        cohesion=cohesion,
        normal=normal,
        rotation=np.degrees(rotation),
    )


def _arccos_of_ratio(above: Number, below: Number) -> Number:
    """Return the arc cosine of a quotient: NaN beyond 1; a right angle where both are nothing."""
    within = np.less_equal(np.abs(above), np.abs(below))
    ratio = np.where(within, above, np.nan) / np.where(np.equal(below, 0.0), 1.0, below)
    return np.arccos(ratio)[()]
