"""Water pressure, and the thrust of standing water on a vertical face.

Pressure is not head and head is not level: every argument says which it is. A *head* here is a
piezometric level in metres above the site datum, as read in a standpipe; an *elevation* is the level of
the point at which the pressure is wanted.
"""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Number

GAMMA_W: float = 9.81
"""Unit weight of water, kN/m3."""


def pressure(*, head: Number, elevation: Number, unit_weight: float = GAMMA_W) -> Number:
    r"""Return the water pressure at a level under a piezometric head.

    .. math:: u = \gamma_w \max(h - z, 0)

    Parameters
    ----------
    head : float or ndarray
        Piezometric level *h*, m.
    elevation : float or ndarray
        Level *z* of the point, m.
    unit_weight : float
        Unit weight of water, kN/m3; 9.81 unless a published example in other units is followed.

    Returns
    -------
    float or ndarray
        Pressure, kPa, of the broadcast shape. Never negative: above the head there is no suction.

    Notes
    -----
    Range of use: water at rest along the vertical line between the point and the level at which the
    head is stated.
    """
    return unit_weight * np.maximum(np.subtract(head, elevation), 0.0)


def thrust(*, head: Number, upper: Number, lower: Number) -> Number:
    r"""Return the force of water at rest on a vertical face between two levels.

    .. math:: U = \frac{\gamma_w}{2} \left[ \max(h - z_l, 0)^2 - \max(h - z_u, 0)^2 \right]

    Parameters
    ----------
    head : float or ndarray
        Level *h* of the water, m.
    upper, lower : float or ndarray
        Levels of the top and the bottom of the face, m; ``upper`` is not below ``lower``.

    Returns
    -------
    float or ndarray
        Force per metre of face, kN/m, of the broadcast shape; zero where the water is below the face.
    """
    deep = np.maximum(np.subtract(head, lower), 0.0)
    shallow = np.maximum(np.subtract(head, upper), 0.0)
    force: Number = 0.5 * GAMMA_W * (deep * deep - shallow * shallow)
    return force


def net_thrust(*, outside: Number, inside: Number, upper: Number, lower: Number) -> Number:
    """Return the thrust of the water outside a face less that of the water inside it.

    Parameters
    ----------
    outside, inside : float or ndarray
        Levels of the water on either side, m.
    upper, lower : float or ndarray
        Levels of the top and the bottom of the face, m.

    Returns
    -------
    float or ndarray
        Net force per metre of face, kN/m, positive towards the inside; negative in a cut that is flooded
        above the water outside it.
    """
    return thrust(head=outside, upper=upper, lower=lower) - thrust(head=inside, upper=upper, lower=lower)
