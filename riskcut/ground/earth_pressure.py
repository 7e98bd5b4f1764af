"""Earth pressure coefficients, and the height at which a vertical cut in clay stands unheld."""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Number, Stratum


def rankine_active(*, friction_angle: Number) -> Number:
    r"""Return Rankine's coefficient of active earth pressure.

    .. math:: K_a = \tan^2\left(45^\circ - \varphi'/2\right) = \frac{1 - \sin\varphi'}{1 + \sin\varphi'}

    Parameters
    ----------
    friction_angle : float or ndarray
        Effective angle of friction, degrees, 0 or more and below 90.

    Returns
    -------
    float or ndarray
        The coefficient, dimensionless, of the shape of the angle: 1 at 0 degrees (undrained clay).

    Notes
    -----
    Range of use: level ground, a vertical face without wall friction. Rankine, W. J. M. (1857), "On the
    stability of loose earth", Philosophical Transactions of the Royal Society 147, 9-27.
    """
    sine = np.sin(np.radians(friction_angle))
    return (1.0 - sine) / (1.0 + sine)


def rankine_passive(*, friction_angle: Number) -> Number:
    r"""Return Rankine's coefficient of passive earth pressure.

    .. math:: K_p = \tan^2\left(45^\circ + \varphi'/2\right) = \frac{1 + \sin\varphi'}{1 - \sin\varphi'}

    Parameters
    ----------
    friction_angle : float or ndarray
        Effective angle of friction, degrees, 0 or more and below 90.

    Returns
    -------
    float or ndarray
        The coefficient, dimensionless, of the shape of the angle: 1 at 0 degrees (undrained clay).

    Notes
    -----
    Range of use and source as for :func:`rankine_active`; wall friction would add to it.
    """
    sine = np.sin(np.radians(friction_angle))
    return (1.0 + sine) / (1.0 - sine)


def active_coefficient(stratum: Stratum) -> Number:
    """Return Rankine's active coefficient of a stratum, 1 where it is read undrained (no friction).

    Parameters
    ----------
    stratum : Stratum
        One layer; drained layers must state their angle of friction.

    Returns
    -------
    float or ndarray
        The coefficient, dimensionless.

    Raises
    ------
    ValueError
        If the layer states neither an undrained strength nor an angle of friction.
    """
    if stratum.undrained:
        return 1.0
    return rankine_active(friction_angle=friction_angle(stratum))


def friction_angle(stratum: Stratum) -> Number:
    """Return the angle of friction of a drained stratum, degrees.

    Raises
    ------
    ValueError
        If the layer states none.
    """
    if stratum.friction_angle is None:
        raise ValueError(
            f"stratum {stratum.name!r} states neither an undrained strength nor an angle of friction"
        )
    return stratum.friction_angle


def critical_height(*, strength: Number, unit_weight: Number) -> Number:
    r"""Return the height at which a vertical cut in undrained clay stands without support.

    .. math:: H_c = 4 s_u / \gamma

    Parameters
    ----------
    strength : float or ndarray
        Undrained shear strength, kPa.
    unit_weight : float or ndarray
        Total unit weight, kN/m3.

    Returns
    -------
    float or ndarray
        Critical height, m, of the broadcast shape.

    Notes
    -----
    Active thrust of zero over the height, tension counted (a dry tension crack halves what is left of
    it). Range of use: uniform saturated clay, no surcharge, undrained. Das, Principles of Foundation
    Engineering; Terzaghi (1943), Theoretical Soil Mechanics.
    """
    return 4.0 * np.asarray(strength)[()] / unit_weight
