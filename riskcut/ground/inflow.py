"""Ground water that flows into a dry cut: round the wall's toe, up through a plug, in through open sides and floor.

Steady flow after Darcy. Levels and heads in m, permeabilities in m/s, flows in m3/s.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.ground import profile
from riskcut.study.block import Number, Stratum

DEEP: Final = 1e4
"""Thickness of ground without a base, as far as it is counted, m."""


def round_a_wall(*, permeability: Number, head: Number, form_outside: Number, form_inside: Number) -> Number:
    r"""Return the plane flow round the toe of a wall, per metre of wall.

    .. math:: q = \frac{k h}{\Phi_o + \Phi_i}

    Parameters
    ----------
    permeability : float or ndarray
        *k* of the ground, m/s.
    head : float or ndarray
        *h* between the water outside and inside, m.
    form_outside, form_inside : float or ndarray
        Form factors of :func:`riskcut.ground.seepage.into_a_cut`.

    Returns
    -------
    float or ndarray
        m3/s per m.

    References
    ----------
    Harr, M. E. (1962), Groundwater and Seepage, McGraw-Hill, chapter 5.
    """
    return np.divide(np.multiply(permeability, head), np.add(form_outside, form_inside))[()]


def hindrance(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    r"""Return what ground sets against flow straight through it, :math:`\sum t_i/k_i`, s.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down; a stratum without a permeability sets nothing.
    upper, lower : float or ndarray
        Levels, m.
    """

    def per_metre(stratum: Stratum) -> Number:
        return 0.0 if stratum.permeability is None else 1.0 / np.asarray(stratum.permeability)[()]

    return profile.weighted_thickness(strata, upper=upper, lower=lower, weight=per_metre)


def through_layers(*, head: Number, hindrance: Number, area: Number) -> Number:
    r"""Return the flow straight through layers, :math:`Q = A h / \sum (t_i/k_i)`, m3/s.

    Parameters
    ----------
    head : float or ndarray
        *h* between the two sides, m.
    hindrance : float or ndarray
        :math:`\sum t_i/k_i`, s, above 0: the layers' harmonic mean permeability.
    area : float or ndarray
        *A*, m2.
    """
    return np.divide(np.multiply(area, head), hindrance)[()]


def discharge_potential(strata: Sequence[Stratum], *, base: Number, level: Number) -> Number:
    r"""Return the discharge potential of level layers under a level of water, after Girinskii.

    .. math:: G(h) = \sum_{i\ \mathrm{drained}} k_i \int_i \max(h - z, 0) \, \mathrm{d}z

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down. Undrained strata carry no water, nor does a stratum without a permeability.
    base : float or ndarray
        Level below which nothing is counted, m.
    level : float or ndarray
        *h*, m: above the top of a layer it is the head of confined water in it.

    Returns
    -------
    float or ndarray
        m3/s; :math:`k h^2/2` in uniform ground, *h* from its base.

    References
    ----------
    Girinskii, N. K. (1946): the potential of flow in level layers (recalled).
    """
    total: Number = 0.0
    for part in profile.slices(strata, upper=strata[0].top, lower=base):
        if part.stratum.undrained or part.stratum.permeability is None:
            continue
        bottom = np.subtract(part.top, part.thickness)
        wet = np.clip(np.subtract(level, bottom), 0.0, part.thickness)
        over = np.where(wet > 0.0, wet * (np.subtract(level, bottom) - 0.5 * wet), 0.0)[()]
        total = total + part.stratum.permeability * over
    return total


def influence(*, drawdown: Number, permeability: Number) -> Number:
    r"""Return how far beyond the edge of a cut the water is drawn down, :math:`3000 s \sqrt{k}`, m.

    Parameters
    ----------
    drawdown : float or ndarray
        *s*, m.
    permeability : float or ndarray
        *k*, m/s.

    Returns
    -------
    float or ndarray
        m.

    Notes
    -----
    For drawdowns of metres: as *s* goes to zero the reach goes with it, and the flow through deep sides does not.

    References
    ----------
    Sichardt (1928): an empirical rule (recalled); the flow hangs on its logarithm alone.
    """
    return 3000.0 * np.multiply(drawdown, np.sqrt(permeability))


def equivalent_radius(*, width: Number, length: Number) -> Number:
    r"""Return the radius of the circle of a cut's plan area, :math:`\sqrt{B L/\pi}`, m."""
    radius: Number = np.sqrt(np.multiply(width, length) / np.pi)
    return radius


def through_the_sides(*, outside: Number, inside: Number, radius: Number, reach: Number) -> Number:
    r"""Return the radial flow into a cut whose sides reach down to the base of the ground counted.

    .. math:: Q = \frac{2 \pi (G(h_o) - G(h_i))}{\ln \left( (r + R)/r \right)}

    Parameters
    ----------
    outside, inside : float or ndarray
        Discharge potentials *G* under the water outside and inside, m3/s.
    radius : float or ndarray
        *r* of the cut, m.
    reach : float or ndarray
        *R* beyond it over which the water is drawn down, m.

    Returns
    -------
    float or ndarray
        m3/s; none where there is no drawdown.

    Notes
    -----
    :math:`Q = \pi k (H^2 - h^2)/\ln(R/r)` in uniform ground (Dupuit 1863, Thiem 1906; recalled): flow nearly
    level, the face of seepage left out.
    """
    spread = np.log1p(np.divide(reach, radius))
    flow = 2.0 * np.pi * np.subtract(outside, inside) / np.where(spread > 0.0, spread, np.inf)
    return np.maximum(flow, 0.0)[()]


def through_the_floor(*, permeability: Number, radius: Number, drawdown: Number) -> Number:
    r"""Return the flow up into the floor of a cut in deep ground, :math:`Q = 4 k r s`, m3/s.

    Parameters
    ----------
    permeability : float or ndarray
        *k*, m/s.
    radius : float or ndarray
        *r* of the floor, m.
    drawdown : float or ndarray
        *s*, m.

    References
    ----------
    Hvorslev, M. J. (1951), Time Lag and Soil Permeability in Ground-Water Observations, Waterways Experiment
    Station, Bulletin 36: a round opening, flush with a tight boundary over deep ground, intake factor 2 D (recalled).
    """
    return 4.0 * np.multiply(permeability, radius) * drawdown
