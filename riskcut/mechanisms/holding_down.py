"""What holds a cast base slab down: its weight, what stands on it, walls that it lifts, tension piles.

With the walls the slab lifts the friction of the ground on their outer faces, where the study states it: where
it does not, nothing is counted. Everything is per plan area of the cut, kPa.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import water
from riskcut.mechanisms import aquifers, tension_piles, wall_friction
from riskcut.mechanisms.contract import ModelFactor, Step, Symbol
from riskcut.study.block import Block, Number, Slab, Wall


def on_the_base(*, water_inside: Number, formation: Number, slab: Slab | None) -> tuple[Number, Number]:
    """Return the weights of the water that stands on the base, and of the slab with its permanent load.

    Parameters
    ----------
    water_inside : float or ndarray
        Level of the water inside the cut, m.
    formation : float or ndarray
        Level of the formation, m.
    slab : Slab or None
        The base slab, once cast: it takes the place of water.

    Returns
    -------
    standing, slab : float or ndarray
        kPa.
    """
    if slab is None:
        return water.pressure(head=water_inside, elevation=formation), 0.0
    over_slab = water.pressure(head=water_inside, elevation=formation + slab.thickness)
    return over_slab, slab.unit_weight * slab.thickness + slab.fill


def walls_weight(
    *,
    thickness: Number,
    top: Number,
    toe: Number,
    unit_weight: Number,
    pressure_at_toe: Number,
    width: Number,
    length: Number,
) -> Number:
    r"""Return the weight of the walls that a slab lifts with it, less the water's push on their toe.

    .. math:: W = \max\left( \gamma_c (z_t - z_b) - u_b, 0 \right) t \; \frac{2 (B + L)}{B L}

    Parameters
    ----------
    thickness : float or ndarray
        *t* of the walls, m.
    top, toe : float or ndarray
        Levels :math:`z_t` and :math:`z_b`, m.
    unit_weight : float or ndarray
        :math:`\gamma_c` of the walls, kN/m3.
    pressure_at_toe : float or ndarray
        Water pressure :math:`u_b` at the walls' toe, kPa.
    width, length : float or ndarray
        *B* and *L* of the cut between the walls, m.

    Returns
    -------
    float or ndarray
        kPa of the plan area of the cut.

    Notes
    -----
    The slab's underside ends at the walls, so their toe is lifted by its own water pressure. The corners are
    left out.
    """
    around = 2.0 * np.add(width, length) / np.multiply(width, length)
    net: Number = np.maximum(unit_weight * np.subtract(top, toe) - pressure_at_toe, 0.0) * thickness * around
    return net


class Holding(NamedTuple):
    """Resistance of a slab against what lifts it, and the numbers on the way."""

    resistance: Number
    """kPa."""
    steps: tuple[Step, ...]


def holding(block: Block, slab: Slab, *, water_level: Number, model_factor: Number) -> Holding:
    r"""Return what holds the slab of a block down.

    .. math:: R = W_s + W_w + W_{wall} + \theta F_o + R_p

    Parameters
    ----------
    block : Block
        Once its slab is cast.
    slab : Slab
        Of the block.
    water_level : float or ndarray
        Level of the water under the slab, m.
    model_factor : float or ndarray
        On shaft friction and friction on the walls, never on weight.

    Returns
    -------
    Holding
        With walls only where the slab carries them, friction on them only where it is stated too, and piles
        only where they are installed.
    """
    standing, weight = on_the_base(water_inside=block.water_inside, formation=block.formation, slab=slab)
    steps = [
        Step(symbol="W_s", meaning="slab and permanent load on it", unit="kPa", value=weight),
        Step(symbol="W_w", meaning="weight of water standing on it", unit="kPa", value=standing),
        Step(symbol="theta", meaning="model factor on friction", unit="1", value=model_factor),
    ]
    resistance = weight + standing
    if slab.carries_walls and block.wall is not None:
        walls, pressure = hanging_walls(block, block.wall, water_level=water_level)
        resistance = resistance + walls
        steps += [
            Step(symbol="u_b", meaning="water pressure at the walls' toe", unit="kPa", value=pressure),
            Step(symbol="W_wall", meaning="walls, less the water on their toe", unit="kPa", value=walls),
        ]
        if wall_friction.stated(block.wall):
            friction = wall_friction.outside(block, block.wall) * wall_friction.around(block)
            resistance = resistance + model_factor * friction
            steps.append(
                Step(symbol="F_o", meaning="ground on the walls' outer faces", unit="kPa", value=friction)
            )
    if block.piles is not None:
        group = tension_piles.slab_group(
            block, block.piles, water_level=water_level, model_factor=model_factor
        )
        resistance = resistance + group.resistance
        steps += group.steps
    return Holding(resistance, tuple(steps))


def hanging_walls(block: Block, wall: Wall, *, water_level: Number) -> tuple[Number, Number]:
    """Return the walls' weight per plan area, less the water on their toe, and the pressure there, kPa.

    Parameters
    ----------
    block : Block
        For its plan, its surface, its free water and its aquifer.
    wall : Wall
        Of the block.
    water_level : float or ndarray
        Level of the water inside that may reach the toe, m; the highest that does is counted.
    """
    level = aquifers.head_at(block, level=wall.toe, otherwise=np.maximum(block.water_table, water_level))
    pressure = water.pressure(head=level, elevation=wall.toe)
    weight = walls_weight(
        thickness=wall.thickness,
        top=block.surface if wall.top is None else wall.top,
        toe=wall.toe,
        unit_weight=wall.unit_weight,
        pressure_at_toe=pressure,
        width=block.width,
        length=block.length,
    )
    return weight, pressure


def level_under_slab(block: Block) -> Number:
    """Return the level of the water under the slab, m.

    The stage's own; else that of the free water outside, or the aquifer's head where that is higher and the
    slab lies in the aquifer. Where a defect carries the aquifer's pressure up to the slab, no lower than the
    aquifer's head, whatever the stage states: what it states was planned without the defect.
    """
    if block.water_under_slab is None:
        return aquifers.head_at(block, level=block.formation, otherwise=block.water_table)
    if block.aquifer is None:
        return block.water_under_slab
    opened = aquifers.open_to_the_cut(block, block.aquifer)
    planned = block.water_under_slab
    return np.where(opened, np.maximum(planned, block.aquifer.level), planned)[()]


SHAFT: Final = ModelFactor(
    term="shaft friction of the tension piles, shear on the sides of their block, and friction of the ground on "
    "the walls (never weight or water)",
    mean=1.0,
    cov=0.25,
    basis="judgement",
    source=tension_piles.SCATTER,
    shared=tension_piles.SHAFT_FRICTION,
)

FORMULA: Final = (
    "R = W_s + W_w + W_wall + theta F_o + R_p; W_wall = max(gamma_c (z_t - z_b) - u_b, 0) t 2 (B + L)/(B L) and "
    "F_o = (alpha_w int su dz + beta_w int sigma' dz) 2 (B + L)/(B L) if the slab carries the walls; R_p = "
    "min(min(theta R_s, R_t)/A_p, theta T_b + W_b); R_s = pi d (alpha int su dz + beta int sigma' dz) below the "
    "slab"
)

SYMBOLS: Final = (
    Symbol(symbol="R", meaning="weights, friction and piles per plan area", unit="kPa"),
    Symbol(symbol="W_s", meaning="weight of the slab and of the permanent load on it", unit="kPa"),
    Symbol(symbol="W_w", meaning="weight of water standing on the slab", unit="kPa"),
    Symbol(
        symbol="W_wall", meaning="weight of the walls per plan area, less the water on their toe", unit="kPa"
    ),
    Symbol(
        symbol="F_o",
        meaning="friction of the ground on the walls' outer faces, over their buried height, per plan area",
        unit="kPa",
    ),
    *wall_friction.SYMBOLS,
    Symbol(symbol="gamma_c", meaning="unit weight of the walls", unit="kN/m3"),
    Symbol(symbol="z_t", meaning="level of the walls' top", unit="m"),
    Symbol(symbol="z_b", meaning="level of the walls' toe", unit="m"),
    Symbol(symbol="u_b", meaning="water pressure at the walls' toe", unit="kPa"),
    Symbol(symbol="t", meaning="thickness of the walls", unit="m"),
    Symbol(symbol="B", meaning="width of the cut", unit="m"),
    Symbol(symbol="L", meaning="length of the cut", unit="m"),
    Symbol(symbol="R_p", meaning="tension resistance of the piles per plan area", unit="kPa"),
    Symbol(symbol="R_s", meaning="shaft friction of one pile below the slab", unit="kN"),
    Symbol(symbol="R_t", meaning="tension resistance of one pile's steel", unit="kN"),
    Symbol(symbol="A_p", meaning="plan area of one pile", unit="m2"),
    Symbol(
        symbol="T_b", meaning="shear on the sides of the block of piles, below the walls' toe", unit="kPa"
    ),
    Symbol(symbol="W_b", meaning="submerged weight of the block, less the aquifer's excess head", unit="kPa"),
    Symbol(symbol="d", meaning="diameter of a pile", unit="m"),
    Symbol(symbol="alpha", meaning="adhesion over undrained strength", unit="1"),
    Symbol(symbol="beta", meaning="shaft friction over vertical effective stress", unit="1"),
    Symbol(symbol="sigma'", meaning="vertical effective stress left after the dig", unit="kPa"),
    Symbol(symbol="theta", meaning="model factor on friction", unit="1"),
)

SOURCES: Final = (
    "EN 1997-1:2004, 2.4.7.4 and 10.2 (UPL): the vertical balance, before partial factors",
    "UFC 3-220-20 (2025), Foundations and Earth Structures: piles in tension, one by one or as a block",
    "friction on shafts and walls by alpha and beta: common practice, no one source",
)

NOT_COVERED: Final = (
    "friction of the ground on the walls where the study does not state it, and on their inner faces below the "
    "slab (left out: on the safe side)",
    "whether the walls stay in touch with the ground: friction may be stated only where they do",
    "the piles' own weight (left out: on the safe side)",
    "shear in drained strata on the sides of the block of piles (left out: on the safe side)",
    "bending and punching of the slab between piles and walls, and its connection to both",
    "the drop of friction in clay on shafts and walls as it swells after the dig",
)

# Without water_table and water_under_slab: where the aquifer's head stands above the water under the slab, a
# rise of that water presses on the ground too, and many piles may gain more in the aquifer than the slab loses.
MONOTONE: Final = {
    "width": -1,
    "length": -1,
    "water_inside": +1,
    "aquifer.head": -1,
    "slab.thickness": +1,
    "slab.unit_weight": +1,
    "slab.fill": +1,
    "wall.thickness": +1,
    "wall.top": +1,
    "wall.unit_weight": +1,
    "wall.adhesion": +1,
    "wall.friction_ratio": +1,
    "strata.*.su_at_top": +1,
    "strata.*.su_per_metre": +1,
    "piles.diameter": +1,
    "piles.length": +1,
    "piles.adhesion": +1,
    "piles.shaft_ratio": +1,
    "piles.steel_resistance": +1,
    "piles.spacing_along": -1,
    "piles.spacing_across": -1,
    "model_factors.*": +1,
}
