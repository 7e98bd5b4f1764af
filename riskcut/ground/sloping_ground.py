"""Rankine's earth pressure below a surface that slopes: the state of stress of a slope without end."""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Number


def rankine_active(*, friction_angle: Number, slope: Number) -> Number:
    r"""Return Rankine's coefficient of active pressure on a vertical plane in sloping ground.

    .. math:: K_a = \cos\beta \, \frac{\cos\beta - \sqrt{\cos^2\beta - \cos^2\varphi'}}
              {\cos\beta + \sqrt{\cos^2\beta - \cos^2\varphi'}}

    Parameters
    ----------
    friction_angle : float or ndarray
        Effective angle of friction, degrees, 0 or more and below 90.
    slope : float or ndarray
        :math:`\beta` of the surface, degrees; its sign does not count.

    Returns
    -------
    float or ndarray
        Of the pressure parallel to the surface over :math:`\gamma z`, *z* measured vertically; the horizontal
        part is :math:`\cos\beta` of it. NaN in slopes steeper than the angle of friction: they do not stand.

    Notes
    -----
    Range of use: no cohesion, no load, a dry slope. Rankine (1857), Philosophical Transactions of the Royal
    Society 147, 9-27; in this form Taylor (1948), Fundamentals of Soil Mechanics (recalled). On a level surface
    it is :func:`riskcut.ground.earth_pressure.rankine_active`.
    """
    along, root = _parts(friction_angle, slope)
    return along * (along - root) / (along + root)


def rankine_passive(*, friction_angle: Number, slope: Number) -> Number:
    r"""Return Rankine's coefficient of passive pressure on a vertical plane in sloping ground.

    .. math:: K_p = \cos\beta \, \frac{\cos\beta + \sqrt{\cos^2\beta - \cos^2\varphi'}}
              {\cos\beta - \sqrt{\cos^2\beta - \cos^2\varphi'}}

    Parameters
    ----------
    friction_angle, slope : float or ndarray
        As in :func:`rankine_active`.

    Returns
    -------
    float or ndarray
        As in :func:`rankine_active`, notes included. It falls as the slope grows, rising or falling alike, since
        the pressure leans with the surface: a poor guide to a wall before a slope.
    """
    along, root = _parts(friction_angle, slope)
    return along * (along + root) / (along - root)


def _parts(friction_angle: Number, slope: Number) -> tuple[Number, Number]:
    """Return the cosine of the slope, and the root of Rankine's formula."""
    along = np.cos(np.radians(slope))
    # sin2(phi) - sin2(beta) is the same difference, and exactly zero at beta = phi.
    square = np.sin(np.radians(friction_angle)) ** 2 - np.sin(np.radians(slope)) ** 2
    return along, np.sqrt(np.where(square >= 0.0, square, np.nan))[()]
