r"""Coefficients of a stratum's horizontal pressure on a vertical wall in level ground, by the method named.

- *rankine*: a smooth wall; wall friction and adhesion are not read;
- *coulomb*: planes (unsafe on the passive side beyond :math:`\delta = \varphi'/3`), the cohesion by the closed form of
  EN 1997-1 Annex C.1;
- *annex_c*: the numerical procedure of Annex C.2; with a ratio below zero outside its range, on the safe side.

Drained ground has the friction :math:`\delta = r \varphi'` on the wall, and the adhesion that goes with it,
:math:`a/c' = \tan\delta / \tan\varphi'`; undrained ground the adhesion :math:`a = r_u s_u`.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from riskcut.ground import annex_c, coulomb, earth_pressure
from riskcut.ground.lateral_pressure import Coefficients
from riskcut.study.block import Number, Stratum

Method = Literal["rankine", "coulomb", "annex_c"]
SMOOTH = 2.0
""":math:`K_c` of a smooth wall in undrained ground."""


def active(
    stratum: Stratum, *, method: Method, friction_ratio: Number = 0.0, adhesion_ratio: Number = 0.0
) -> Coefficients:
    r"""Return the active coefficients of a stratum.

    Parameters
    ----------
    stratum : Stratum
        One layer, drained or undrained.
    method : {"rankine", "coulomb", "annex_c"}
        As the module says.
    friction_ratio : float or ndarray
        :math:`r = \delta/\varphi'` of drained ground, -1 to 1; below zero where the ground moves up the wall.
    adhesion_ratio : float or ndarray
        :math:`r_u = a/s_u` of undrained ground, -1 to 1.

    Returns
    -------
    Coefficients
        Of the horizontal pressure; NaN beyond a ratio of 1 where the method sees it.

    Raises
    ------
    ValueError
        If the stratum states neither an undrained strength nor an angle of friction.
    """
    if stratum.undrained:
        return _undrained(method, adhesion_ratio)
    phi = earth_pressure.friction_angle(stratum)
    if method == "annex_c":
        found = annex_c.active(friction_angle=phi, wall_friction=np.multiply(friction_ratio, phi))
        return Coefficients(found.weight, found.cohesion)
    if method == "coulomb":
        delta = np.multiply(friction_ratio, phi)
        inclined = coulomb.coulomb_active(friction_angle=phi, wall_friction=delta)
        return _closed_form(inclined * np.cos(np.radians(delta)), phi, friction_ratio)
    return _closed_form(earth_pressure.rankine_active(friction_angle=phi), phi, 0.0)


def passive(
    stratum: Stratum, *, method: Method, friction_ratio: Number = 0.0, adhesion_ratio: Number = 0.0
) -> Coefficients:
    r"""Return the passive coefficients of a stratum.

    Parameters
    ----------
    stratum, method, friction_ratio, adhesion_ratio
        As in :func:`active`; a ratio is below zero where the wall moves up past the ground.

    Returns
    -------
    Coefficients
        Of the horizontal pressure; NaN beyond a ratio of 1, and where Coulomb's planes have no least thrust.

    Raises
    ------
    ValueError
        If the stratum states neither an undrained strength nor an angle of friction.
    """
    if stratum.undrained:
        return _undrained(method, adhesion_ratio)
    phi = earth_pressure.friction_angle(stratum)
    if method == "annex_c":
        found = annex_c.passive(friction_angle=phi, wall_friction=np.multiply(friction_ratio, phi))
        return Coefficients(found.weight, found.cohesion)
    if method == "coulomb":
        delta = np.multiply(friction_ratio, phi)
        inclined = coulomb.coulomb_passive(friction_angle=phi, wall_friction=delta)
        return _closed_form(inclined * np.cos(np.radians(delta)), phi, friction_ratio)
    return _closed_form(earth_pressure.rankine_passive(friction_angle=phi), phi, 0.0)


def _undrained(method: Method, adhesion_ratio: Number) -> Coefficients:
    """Return the coefficients of undrained ground, the same on either side."""
    if method == "annex_c":
        return Coefficients(1.0, annex_c.undrained_cohesion(adhesion_ratio=adhesion_ratio))
    if method == "coulomb":
        return Coefficients(1.0, annex_c.cohesion_coefficient(pressure=1.0, adhesion_ratio=adhesion_ratio))
    return Coefficients(1.0, SMOOTH)


def _closed_form(pressure: Number, friction_angle: Number, friction_ratio: Number) -> Coefficients:
    """Return a coefficient with that of the cohesion by the closed form."""
    tangent = np.tan(np.radians(friction_angle))
    some = np.greater(tangent, 0.0)
    on_wall = np.tan(np.radians(np.multiply(friction_ratio, friction_angle)))
    adhesion = np.where(some, on_wall / np.where(some, tangent, 1.0), friction_ratio)[()]
    return Coefficients(pressure, annex_c.cohesion_coefficient(pressure=pressure, adhesion_ratio=adhesion))
