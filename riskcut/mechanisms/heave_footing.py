"""The base of a cut as an upturned strip footing on drained ground: factors and resistance, as pure functions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from riskcut.ground import profile
from riskcut.study.block import Number, Stratum


class Factors(NamedTuple):
    """Bearing capacity factors of a strip."""

    cohesion: Number
    """:math:`N_c`."""
    overburden: Number
    """:math:`N_q`."""
    weight: Number
    r""":math:`N_\gamma`."""


def bearing_factors(*, tangent: Number) -> Factors:
    r"""Return the bearing capacity factors of a rough strip footing in drained ground.

    .. math::

        N_q = e^{\pi \tan\varphi'} \tan^2\left(45^\circ + \tfrac{\varphi'}{2}\right), \qquad
        N_c = (N_q - 1) \cot\varphi', \qquad N_\gamma = 2 (N_q - 1) \tan\varphi'

    Parameters
    ----------
    tangent : float or ndarray
        :math:`\tan\varphi'`, zero or more.

    Returns
    -------
    Factors
        Without friction :math:`N_c` is its limit :math:`\pi + 2`.

    References
    ----------
    EN 1997-1:2004, Annex D.4 (Prandtl 1921 and Reissner 1924 for the first two).
    """
    slope = np.asarray(tangent, dtype=float)
    root = np.sqrt(1.0 + np.square(slope))
    overburden = np.exp(np.pi * slope) * np.square(root + slope)
    smooth = np.less(slope, 1e-6)
    cohesion = np.where(smooth, np.pi + 2.0, (overburden - 1.0) / np.where(smooth, 1.0, slope))
    return Factors(cohesion[()], overburden[()], (2.0 * (overburden - 1.0) * slope)[()])


def footing_resistance(
    *,
    factors: Factors,
    cohesion: Number,
    overburden: Number,
    unit_weight: Number,
    breadth: Number,
    model_factor: Number = 1.0,
) -> Number:
    r"""Return the bearing resistance of the ground under the soil beside the cut, in effective stress.

    .. math:: R = \theta \left( c' N_c + q' N_q + \tfrac12 \gamma' B_1 N_\gamma \right)

    Parameters
    ----------
    factors : Factors
        Of :func:`bearing_factors`.
    cohesion : float or ndarray
        :math:`c'`, kPa.
    overburden : float or ndarray
        :math:`q'`, vertical effective stress inside the cut at the level of the footing, kPa.
    unit_weight : float or ndarray
        :math:`\gamma'` below that level, with the force of the water that flows there, kN/m3.
    breadth : float or ndarray
        :math:`B_1`, m.
    model_factor : float or ndarray
        :math:`\theta`, on the strength of the soil.

    Returns
    -------
    float or ndarray
        kPa.

    References
    ----------
    Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley; EN 1997-1:2004, Annex D.4.
    """
    bearing = (
        np.multiply(cohesion, factors.cohesion)
        + np.multiply(overburden, factors.overburden)
        + 0.5 * np.multiply(unit_weight, breadth) * factors.weight
    )
    return np.multiply(model_factor, bearing)


def toe_pressure(*, outside: Number, inside: Number, way_outside: Number, way_inside: Number) -> Number:
    r"""Return the pore pressure at the toe of a wall that water flows round.

    .. math:: u = u_i + (u_o - u_i) \frac{d_i}{d_o + d_i}

    Parameters
    ----------
    outside, inside : float or ndarray
        Pore pressures :math:`u_o` and :math:`u_i` at the level of the toe without that flow, kPa.
    way_outside, way_inside : float or ndarray
        Ways :math:`d_o` and :math:`d_i` of the water in the ground along the wall, m; none where below zero.

    Returns
    -------
    float or ndarray
        kPa; that inside where there is no way inside (no wall, or no embedment).

    Notes
    -----
    In uniform ground with water at formation this is :math:`2 \gamma_w d_o d_i/(d_o + d_i)`: the head lost evenly
    along the wall, common practice (Padfield & Mair 1984, CIRIA Report 104; recalled).
    """
    before, after = np.maximum(way_outside, 0.0), np.maximum(way_inside, 0.0)
    whole = np.add(before, after)
    share = np.divide(after, np.where(np.greater(whole, 0.0), whole, 1.0))
    pressure: Number = inside + np.subtract(outside, inside) * share
    return pressure


class Strength(NamedTuple):
    """Drained strength of the ground between two levels."""

    cohesion: Number
    """Mean, kPa."""
    tangent: Number
    """Mean of the tangent of the angle of friction."""
    unstated: profile.Rows
    """Rows in which some of the ground states none: it counts as without strength."""


def drained_strength(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Strength:
    """Return the drained strength between two levels, weighted by thickness: of clay its long-term strength."""
    cohesion: Number = 0.0
    tangent: Number = 0.0
    whole: Number = 0.0
    unstated: profile.Rows = False
    for part in profile.slices(strata, upper=upper, lower=lower):
        stated = part.stratum.long_term if part.stratum.undrained else part.stratum
        whole = whole + part.thickness
        if stated is None or stated.friction_angle is None:
            unstated = unstated | np.greater(part.thickness, 0.0)
            continue
        cohesion = cohesion + part.thickness * stated.cohesion
        tangent = tangent + part.thickness * np.tan(np.radians(stated.friction_angle))
    ground = profile.positive(whole)
    return Strength(cohesion / ground, tangent / ground, unstated)
