"""Exact integrals over a layered profile whose every number may be a float or an array.

A profile is the tuple of strata of a block, from the surface down. Stratum *i* fills the levels between
its top and the top of the next; the last one has no bottom, and above the first there is nothing. The
tops may be uncertain, so which stratum a level falls in can differ from row to row: every integral is
taken by clipping each stratum to the wanted interval, which is exact and needs no search.

Where the tops cross in a row (the geometry is impossible) a stratum that is overtaken has no thickness;
nothing is counted twice. :func:`crossed` tells those rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from riskcut.ground.once import of_the_block, once
from riskcut.ground.water import GAMMA_W
from riskcut.study.block import Number, Stratum
from riskcut.study.block import Rows as Rows


class Slice(NamedTuple):
    """The part of one stratum that lies in an interval."""

    stratum: Stratum
    top: Number
    """Level of the slice's top, m; means nothing in rows without thickness."""
    thickness: Number
    """Of the slice, m; zero in the rows in which the stratum does not reach the interval."""


@of_the_block
def tops(strata: Sequence[Stratum]) -> tuple[Number, ...]:
    """Return the levels of the tops of the strata, m; one that is overtaken begins where it ends."""
    found = [strata[0].top]
    for stratum in strata[1:]:
        found.append(np.minimum(stratum.top, found[-1]))
    return tuple(found)


@once
def slices(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> tuple[Slice, ...]:
    """Return the strata between two levels, clipped to them, from the top down.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down.
    upper, lower : float or ndarray
        The interval, m. Rows with ``upper`` below ``lower`` have no thickness anywhere.

    Returns
    -------
    tuple of Slice
        One for every stratum that has some thickness in the interval in some row.
    """
    parts = []
    ends = [np.maximum(np.minimum(top, upper), lower) for top in tops(strata)]
    for stratum, (start, end) in zip(strata, pairwise((*ends, lower)), strict=True):
        # Both ends are clipped to the interval, and in order: nothing is below zero.
        thickness = np.subtract(start, end)
        if thickness.any():
            parts.append(Slice(stratum, start, thickness))
    return tuple(parts)


@of_the_block
def crossed(strata: Sequence[Stratum]) -> Rows:
    """Tell the rows in which the top of a stratum lies above the top of the one over it.

    Returns
    -------
    bool or ndarray of bool
        True where the geometry is impossible. Equal tops are a stratum that pinches out: possible.
    """
    rows: Rows = False
    for above, below in pairwise(strata):
        rows = rows | np.greater(below.top, above.top)
    return rows


@once
def total_stress(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    r"""Return the weight of the ground between two levels per plan area.

    .. math:: \sigma_v = \int_{z_l}^{z_u} \gamma \, \mathrm{d}z

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down; total unit weights.
    upper, lower : float or ndarray
        Levels, m. What lies above the surface weighs nothing.

    Returns
    -------
    float or ndarray
        kPa, of the broadcast shape.
    """
    total: Number = 0.0
    for part in slices(strata, upper=upper, lower=lower):
        total = total + part.thickness * part.stratum.unit_weight
    return total


def mean_unit_weight(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    """Return the average total unit weight of the ground between two levels.

    Returns
    -------
    float or ndarray
        kN/m3; NaN in rows in which there is no ground between the levels.
    """
    ground = weighted_thickness(strata, upper=upper, lower=lower, weight=lambda _: 1.0)
    return total_stress(strata, upper=upper, lower=lower) / positive(ground)


def weighted_thickness(
    strata: Sequence[Stratum], *, upper: Number, lower: Number, weight: Callable[[Stratum], Number]
) -> Number:
    """Return the sum over the strata between two levels of thickness times a number of the stratum.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down.
    upper, lower : float or ndarray
        Levels, m.
    weight : callable
        From a stratum to the number that it carries; called only for strata that reach the interval.

    Returns
    -------
    float or ndarray
        Metres times the unit of the weight.
    """
    total: Number = 0.0
    for part in slices(strata, upper=upper, lower=lower):
        total = total + part.thickness * weight(part.stratum)
    return total


@once
def undrained_thickness(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    """Return the thickness of undrained soil between two levels, m."""
    return _thickness(strata, upper=upper, lower=lower, undrained=True)


@once
def drained_thickness(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    """Return the thickness of drained soil between two levels, m."""
    return _thickness(strata, upper=upper, lower=lower, undrained=False)


def _thickness(strata: Sequence[Stratum], *, upper: Number, lower: Number, undrained: bool) -> Number:
    total: Number = 0.0
    for part in slices(strata, upper=upper, lower=lower):
        if part.stratum.undrained is undrained:
            total = total + part.thickness
    return total


@once
def strength_integral(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    r"""Return the undrained shear strength integrated over the undrained soil between two levels.

    .. math::

        \int s_u \, \mathrm{d}z = \sum_i t_i \left( s_{u,i} + k_i ( z_i - z_{s,i} + t_i/2 ) \right)

    with :math:`s_{u,i}` the strength at the top :math:`z_i` of stratum *i*, :math:`k_i` its growth with
    depth, and :math:`t_i`, :math:`z_{s,i}` the thickness and the top of its part in the interval.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down. Drained strata add nothing.
    upper, lower : float or ndarray
        Levels, m.

    Returns
    -------
    float or ndarray
        kN/m, of the broadcast shape.

    Notes
    -----
    The strength of a stratum hangs on the stratum's own top: where the top is uncertain the whole line
    moves with it.
    """
    total: Number = 0.0
    for part in slices(strata, upper=upper, lower=lower):
        stratum = part.stratum
        if stratum.su_at_top is None:
            continue
        middle = stratum.top - part.top + 0.5 * part.thickness
        total = total + part.thickness * (stratum.su_at_top + stratum.su_per_metre * middle)
    return total


@once
def mean_strength(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
    """Return the mean undrained strength of the undrained soil between two levels.

    Returns
    -------
    float or ndarray
        kPa; NaN in rows without undrained soil between the levels.
    """
    clay = undrained_thickness(strata, upper=upper, lower=lower)
    return strength_integral(strata, upper=upper, lower=lower) / positive(clay)


def effective_stress(strata: Sequence[Stratum], *, level: Number, water_table: Number) -> Number:
    """Return the vertical effective stress at a level below a level surface, water at rest.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down; total unit weights.
    level : float or ndarray
        Where the stress is wanted, m.
    water_table : float or ndarray
        Level of the free water, m. Water that stands above the surface adds the same to the total stress
        and to the pore pressure.

    Returns
    -------
    float or ndarray
        kPa. No suction is counted above the water table.
    """
    surface = strata[0].top
    wet = np.maximum(np.minimum(water_table, surface) - level, 0.0)
    return total_stress(strata, upper=surface, lower=level) - GAMMA_W * wet


def drained_stress_integral(
    strata: Sequence[Stratum],
    *,
    upper: Number,
    lower: Number,
    stress_at_upper: Number,
    water_table: Number,
    weight: Callable[[Stratum], Number],
) -> Number:
    r"""Return the vertical effective stress integrated over the drained strata between two levels.

    .. math:: \sum_{i\ \mathrm{drained}} w_i \int_i \sigma'_v \, \mathrm{d}z, \qquad
              \frac{\mathrm{d}\sigma'_v}{\mathrm{d}(-z)} = \gamma - \gamma_w\ [z < z_w]

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down; total unit weights.
    upper, lower : float or ndarray
        Levels, m.
    stress_at_upper : float or ndarray
        Effective stress at the upper level (at the surface, where that is lower), kPa.
    water_table : float or ndarray
        Level below which the effective stress grows with the submerged unit weight, m; infinite where
        all is submerged.
    weight : callable
        From a drained stratum to the number by which its part is multiplied.

    Returns
    -------
    float or ndarray
        kN/m times the unit of the weight. Undrained strata load what lies below them, and add nothing.
    """
    stress = stress_at_upper
    total: Number = 0.0
    for part in slices(strata, upper=upper, lower=lower):
        thick = part.thickness
        wet = np.maximum(np.minimum(water_table, part.top) - (part.top - thick), 0.0)
        if not part.stratum.undrained:
            over = stress * thick + 0.5 * (part.stratum.unit_weight * thick * thick - GAMMA_W * wet * wet)
            total = total + weight(part.stratum) * over
        stress = stress + part.stratum.unit_weight * thick - GAMMA_W * wet
    return total


def positive(value: Number) -> Number:
    """Return a divisor: the value where it is above zero, NaN where there is nothing to divide by."""
    kept: Number = np.where(np.greater(value, 0.0), value, np.nan)[()]
    return kept
