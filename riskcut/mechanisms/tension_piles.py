"""What tension piles below a cut hold per plan area, at the stage that a block describes."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import effective_stress, pore_pressure, profile, water
from riskcut.ground.rows import some
from riskcut.mechanisms.aquifers import aquifer_top
from riskcut.mechanisms.contract import Step
from riskcut.study.block import Block, Number, Piles

SHAFT_FRICTION: Final = "shaft_friction/all"
"""Name of the model factor of one friction, that every mechanism which counts on it shares."""

SCATTER: Final = (
    "predicted shaft friction of piles is commonly found to scatter by 20 to 30 % about load tests; unbiased "
    "for want of tests at the site"
)
"""Where the model factor on shaft friction comes from."""


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
    """Rows in which the piles would come up with the ground between them first."""
    steps: tuple[Step, ...]


class Shafts(NamedTuple):
    """What the ground gives piles through a plug, before any model factor."""

    below: Number
    """Friction of one pile below the underside, kN."""
    within: Number | None
    """Friction of one pile inside the plug, kN; None once the slab is cast over the piles' heads."""
    weight: Number
    """Submerged weight of the ground between the piles below the underside, kPa."""


def shafts_through(block: Block, piles: Piles, *, underside: Number, stress: Number) -> Shafts:
    """Return what the ground gives piles through the plug over an aquifer.

    Parameters
    ----------
    block : Block
        For its strata, its formation, and whether the slab is cast.
    piles : Piles
        Of the block.
    underside : float or ndarray
        Level of the plug's underside, m: shaft below it holds the pile, shaft above it the plug.
    stress : float or ndarray
        Vertical effective stress at the underside, kPa.

    Notes
    -----
    Shaft above the finished formation goes with the cut and is never counted. Inside the plug only undrained
    strata count.
    """
    toe = np.subtract(piles.head, piles.length)
    head = np.minimum(piles.head, block.formation)
    below = shaft_friction(block, piles, upper=underside, lower=toe, stress_at_upper=stress)
    if some(np.less(head, underside)):
        # The finished formation lies inside the aquifer: the shaft starts at the pile's head.
        start = np.minimum(head, underside)
        below = below - shaft_friction(block, piles, upper=underside, lower=start, stress_at_upper=stress)
    within = None
    if block.slab is None:
        end = np.maximum(underside, toe)
        within = shaft_friction(block, piles, upper=head, lower=end, stress_at_upper=None)
    length = np.maximum(np.subtract(underside, toe), 0.0)
    weight = profile.total_stress(block.strata, upper=underside, lower=toe) - water.GAMMA_W * length
    return Shafts(below, within, weight)


def pile_group(piles: Piles, shafts: Shafts, *, model_factor: Number) -> Group:
    r"""Return the tension resistance of the piles against uplift of the plug over an aquifer.

    .. math:: R = \frac{R_p}{a_1 a_2}

    Parameters
    ----------
    piles : Piles
        On a grid of :math:`a_1` by :math:`a_2`.
    shafts : Shafts
        Of :func:`shafts_through`.
    model_factor : float or ndarray
        On shaft friction alone.

    Returns
    -------
    Group
        With :func:`pile_tension` over the plan area of one pile.

    Notes
    -----
    Piles whose friction below the underside exceeds the submerged weight of the ground between them would come
    up with it as a block; such rows are told, not corrected.
    """
    below, within, weight = shafts
    one = pile_tension(
        shaft_below=below, shaft_within=within, steel=piles.steel_resistance, model_factor=model_factor
    )
    area = np.multiply(piles.spacing_along, piles.spacing_across)
    resistance = one / area
    steps = [Step(symbol="R_b", meaning="shaft below the underside, one pile", unit="kN", value=below)]
    if within is not None:
        steps.append(Step(symbol="R_i", meaning="shaft inside the plug, one pile", unit="kN", value=within))
    steps += [
        Step(symbol="R_t", meaning="steel of one pile", unit="kN", value=piles.steel_resistance),
        Step(symbol="A_p", meaning="plan area of one pile", unit="m2", value=area),
        Step(symbol="R_p", meaning="piles per plan area", unit="kPa", value=resistance),
    ]
    return Group(resistance=resistance, as_block=np.greater(resistance, weight), steps=tuple(steps))


def group_uplift(
    *, count: Number, one_pile: Number, sides: Number, block: Number, cap: Number = 0.0
) -> Number:
    r"""Return what a group of piles holds: one by one, or as a block with the ground between them.

    .. math:: R = \min\left( n (R_1 + W_1) + W_{cap},\; 2 Z (B + L) s_u + W_{block} \right)

    Parameters
    ----------
    count : float or ndarray
        *n* of piles; or piles per plan area, with ``cap``, ``sides`` and ``block`` per plan area too.
    one_pile : float or ndarray
        What one pile holds :math:`R_1`, with its weight :math:`W_1` where that is counted, kN.
    sides : float or ndarray
        Shear on the sides of the block, :math:`2 Z (B + L) s_u` in uniform clay, kN or kPa.
    block : float or ndarray
        Weight of the block, kN or kPa.
    cap : float or ndarray
        Weight of the cap over single piles, kN or kPa.

    Returns
    -------
    float or ndarray
        kN or kPa.

    References
    ----------
    UFC 3-220-20 (2025), Foundations and Earth Structures: piles in tension.
    """
    return np.minimum(np.add(np.multiply(count, one_pile), cap), np.add(sides, block))


def slab_group(block: Block, piles: Piles, *, water_level: Number, model_factor: Number) -> Group:
    r"""Return the tension resistance of the piles against uplift of the slab over them, kPa.

    .. math:: R = \min\left( \frac{\min(\theta R_s, R_{steel})}{a_1 a_2},\;
              \theta \frac{2 (B + L)}{B L} \int s_u \, \mathrm{d}z + W'_b \right)

    Parameters
    ----------
    block : Block
        For its ground, its aquifer, its plan, its wall and its formation.
    piles : Piles
        On a grid of :math:`a_1` by :math:`a_2`.
    water_level : float or ndarray
        Level of the water under the slab, m.
    model_factor : float or ndarray
        :math:`\theta`, on shaft friction and on the shear on the sides of the block.

    Returns
    -------
    Group
        With :func:`group_uplift` per plan area.

    Notes
    -----
    Shaft friction over the length below the slab, with the vertical effective stress left after the dig:
    nothing under the slab, which the water carries, and the submerged weight of the ground from there down; in
    the aquifer less the excess of its head over the water under the slab. Where the pore pressure goes to the
    aquifer, what that profile leaves between the water under the slab and the aquifer: no friction where it is
    below zero, and more where the aquifer is drawn down below that water. The block is the ground between the
    piles' heads and toes over the whole plan; on its sides only undrained strata below the wall's toe count,
    since above it they are the wall's. The piles' own weight is left out.
    """
    toe = np.subtract(piles.head, piles.length)
    start = np.minimum(piles.head, block.formation)
    if block.aquifer is not None and block.pore_pressure == "to_aquifer":
        below = _to_the_aquifer(block, piles, start=start, toe=toe, water_level=water_level)
    else:
        below = _at_rest(block, piles, start=start, toe=toe, water_level=water_level)
    one = pile_tension(
        shaft_below=below.shaft, shaft_within=None, steel=piles.steel_resistance, model_factor=model_factor
    )
    area = np.multiply(piles.spacing_along, piles.spacing_across)
    free = start if block.wall is None else np.minimum(start, block.wall.toe)
    perimeter = 2.0 * np.add(block.width, block.length) / np.multiply(block.width, block.length)
    sides = perimeter * profile.strength_integral(block.strata, upper=free, lower=toe)
    resistance = group_uplift(count=1.0 / area, one_pile=one, sides=model_factor * sides, block=below.weight)
    steps = (
        *below.steps,
        Step(symbol="R_s", meaning="shaft below the slab, one pile", unit="kN", value=below.shaft),
        Step(symbol="R_t", meaning="steel of one pile", unit="kN", value=piles.steel_resistance),
        Step(symbol="A_p", meaning="plan area of one pile", unit="m2", value=area),
        Step(symbol="W_b", meaning="submerged weight of the block of piles", unit="kPa", value=below.weight),
        Step(symbol="T_b", meaning="shear on the sides of the block", unit="kPa", value=sides),
        Step(symbol="R_p", meaning="piles per plan area", unit="kPa", value=resistance),
    )
    return Group(resistance=resistance, as_block=np.less(resistance, one / area), steps=steps)


class _Below(NamedTuple):
    """What the ground below a slab gives its piles."""

    shaft: Number
    """Friction of one pile, kN."""
    weight: Number
    """Of the block of ground between the piles, water taken off, kPa."""
    steps: tuple[Step, ...] = ()


def _at_rest(block: Block, piles: Piles, *, start: Number, toe: Number, water_level: Number) -> _Below:
    """Return it with the water at rest, and the aquifer's excess over it from the aquifer's top down."""
    formation = block.formation
    stress = _submerged(block, upper=formation, lower=start)
    relief: Number = 0.0
    if block.aquifer is None:
        shaft = shaft_friction(block, piles, upper=start, lower=toe, stress_at_upper=stress)
    else:
        top = aquifer_top(block, block.aquifer)
        below = water.pressure(head=block.aquifer.level, elevation=np.maximum(water_level, formation))
        within = np.minimum(np.maximum(top, toe), start)
        left = np.maximum(_submerged(block, upper=formation, lower=within) - below, 0.0)
        shaft = shaft_friction(block, piles, upper=start, lower=within, stress_at_upper=stress)
        shaft = shaft + shaft_friction(block, piles, upper=within, lower=toe, stress_at_upper=left)
        relief = np.where(np.less(toe, top), below, 0.0)[()]
    weight = np.maximum(_submerged(block, upper=start, lower=toe) - relief, 0.0)
    return _Below(shaft, weight)


def _to_the_aquifer(block: Block, piles: Piles, *, start: Number, toe: Number, water_level: Number) -> _Below:
    """Return it with pore pressures that change from the water under the slab to the aquifer's."""
    level = np.maximum(water_level, block.formation)
    end = np.minimum(toe, start)
    pore = pore_pressure.inside(block, down_to=end, level=level)
    layers = effective_stress.layers(block.strata, pore)
    friction = effective_stress.effective_integral(
        layers, upper=start, lower=end, weight=lambda s: 0.0 if s.undrained else 1.0, floor=True
    )
    adhesion = piles.adhesion * profile.strength_integral(block.strata, upper=start, lower=toe)
    shaft = np.pi * piles.diameter * (adhesion + piles.shaft_ratio * friction)
    over, under = (effective_stress.effective_at(layers, level=z) for z in (start, end))
    lowest = effective_stress.least(layers)
    step = Step(
        symbol="sigma'_min",
        meaning="least vertical effective stress below the slab (below zero: the water lifts the ground)",
        unit="kPa",
        value=lowest,
    )
    return _Below(shaft, np.maximum(under - over, 0.0), (step,))


def _submerged(block: Block, *, upper: Number, lower: Number) -> Number:
    """Return the submerged weight of the ground between two levels, kPa."""
    depth = np.maximum(np.subtract(upper, lower), 0.0)
    return profile.total_stress(block.strata, upper=upper, lower=lower) - water.GAMMA_W * depth
