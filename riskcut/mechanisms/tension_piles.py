"""What tension piles below a cut hold per plan area, at the stage that a block describes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from riskcut.ground import profile, water
from riskcut.mechanisms.contract import Step
from riskcut.study.block import Block, Number, Piles


def pile_tension(
    *, shaft_below: Number, shaft_within: Number | None, steel: Number, model_factor: Number = 1.0
) -> Number:
    r"""Return what one pile adds to the resistance against uplift of the plug.

    .. math:: R_p = \min(\theta R_{below}, \theta R_{within}, R_{steel})

    Parameters
    ----------
    shaft_below : float or ndarray
        Shaft friction below the underside of the plug, kN: the pile must be held by what stays.
    shaft_within : float or ndarray or None
        Shaft friction inside the plug, kN: the plug must hang on the pile. None once a slab that rests on
        the plug is cast over the piles' heads, which then holds the plug down.
    steel : float or ndarray
        Tension resistance of the pile's steel, kN.
    model_factor : float or ndarray
        :math:`\theta`, on shaft friction alone.

    Returns
    -------
    float or ndarray
        kN.

    Notes
    -----
    One pile is one body in series: the least of the three is its resistance, not a choice of limit
    states. Superposed on the weights without regard to the movement that each needs.
    """
    shaft = shaft_below if shaft_within is None else np.minimum(shaft_below, shaft_within)
    return np.minimum(model_factor * shaft, steel)


def shaft_friction(
    block: Block, piles: Piles, *, upper: Number, lower: Number, stress_at_upper: Number | None
) -> Number:
    r"""Return the friction on the shaft of one pile between two levels.

    .. math:: R_s = \pi d \left( \alpha \int_{undrained} s_u \, \mathrm{d}z
              + \beta \int_{drained} \sigma'_v \, \mathrm{d}z \right)

    Parameters
    ----------
    block : Block
        For its strata.
    piles : Piles
        The diameter *d*, the adhesion ratio :math:`\alpha` and the shaft ratio :math:`\beta`.
    upper, lower : float or ndarray
        Levels, m. Nothing where they are in the other order.
    stress_at_upper : float or ndarray or None
        Vertical effective stress at the upper level, kPa, from which it grows with the submerged unit
        weight. None leaves drained strata out.

    Returns
    -------
    float or ndarray
        kN, before any model factor.

    Notes
    -----
    The stress is that of the stage, after the dig and under that stage's water, not the overburden that
    was there before.
    """
    adhesion = piles.adhesion * profile.strength_integral(block.strata, upper=upper, lower=lower)
    if stress_at_upper is None:
        return np.pi * piles.diameter * adhesion
    stress = profile.drained_stress_integral(
        block.strata,
        upper=upper,
        lower=lower,
        stress_at_upper=stress_at_upper,
        water_table=np.inf,
        weight=lambda _: 1.0,
    )
    return np.pi * piles.diameter * (adhesion + piles.shaft_ratio * stress)


class Group(NamedTuple):
    """What the piles hold, and the numbers on the way."""

    resistance: Number
    """Per plan area, kPa."""
    as_block: profile.Rows
    """Rows in which that is more than the submerged weight of the ground between the piles."""
    steps: tuple[Step, ...]


def pile_group(
    block: Block, piles: Piles, *, underside: Number, stress: Number, model_factor: Number
) -> Group:
    r"""Return the tension resistance of the piles against uplift of the plug over an aquifer.

    .. math:: R = \frac{R_p}{a_1 a_2}

    Parameters
    ----------
    block : Block
        For its strata, its formation, and whether the slab is cast.
    piles : Piles
        On a grid of :math:`a_1` by :math:`a_2`.
    underside : float or ndarray
        Level of the plug's underside, m: shaft below it holds the pile, shaft above it the plug.
    stress : float or ndarray
        Vertical effective stress at the underside, kPa.
    model_factor : float or ndarray
        On shaft friction alone.

    Returns
    -------
    Group
        With :func:`pile_tension` over the plan area of one pile.

    Notes
    -----
    Shaft above the finished formation goes with the cut and is never counted. Inside the plug only
    undrained strata count. Piles whose friction below the underside exceeds the submerged weight of the
    ground between them would come up with it as a block; such rows are told, not corrected.
    """
    toe = np.subtract(piles.head, piles.length)
    head = np.minimum(piles.head, block.formation)
    below = shaft_friction(block, piles, upper=underside, lower=toe, stress_at_upper=stress)
    if np.any(np.less(head, underside)):
        # The finished formation lies inside the aquifer: the shaft starts at the pile's head.
        start = np.minimum(head, underside)
        below = below - shaft_friction(block, piles, upper=underside, lower=start, stress_at_upper=stress)
    within = None
    if block.slab is None:
        end = np.maximum(underside, toe)
        within = shaft_friction(block, piles, upper=head, lower=end, stress_at_upper=None)
    one = pile_tension(
        shaft_below=below, shaft_within=within, steel=piles.steel_resistance, model_factor=model_factor
    )
    area = np.multiply(piles.spacing_along, piles.spacing_across)
    resistance = one / area
    length = np.maximum(np.subtract(underside, toe), 0.0)
    weight = profile.total_stress(block.strata, upper=underside, lower=toe) - water.GAMMA_W * length
    steps = [Step(symbol="R_b", meaning="shaft below the underside, one pile", unit="kN", value=below)]
    if within is not None:
        steps.append(Step(symbol="R_i", meaning="shaft inside the plug, one pile", unit="kN", value=within))
    steps += [
        Step(symbol="R_t", meaning="steel of one pile", unit="kN", value=piles.steel_resistance),
        Step(symbol="A_p", meaning="plan area of one pile", unit="m2", value=area),
        Step(symbol="R_p", meaning="piles per plan area", unit="kPa", value=resistance),
    ]
    return Group(resistance=resistance, as_block=np.greater(resistance, weight), steps=tuple(steps))
