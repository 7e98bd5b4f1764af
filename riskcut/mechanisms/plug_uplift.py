"""Uplift of the low-permeability plug that is left between the formation and a confined aquifer.

The water in the aquifer presses on the underside of the plug; the plug's own weight, whatever lies on it,
and tension piles hold it down. Everything is per plan area of the cut, kPa, in total stress. The central
strip of the plug is judged on weight and piles alone: **side friction on the walls is not counted** in
this version, nor is bending or arching of the plug.

The underside is the top of the aquifer's stratum, or the formation in a row in which the cut is dug into
the aquifer: no plug is left there, and the row fails as soon as the head stands above the water inside
(and what slab and piles hold). A cut that is meant to reach the aquifer, inside a wall that reaches deeper,
or under a slab, has no plug to lift: hydraulic heave and flotation judge it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.ground import profile, water
from riskcut.mechanisms import aquifers, holding_down, reading, tension_piles
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Outcome, Step, Symbol
from riskcut.study.block import Aquifer, Block, Number

NAME: Final = "plug_uplift"

TIGHT: Final = "a plug of low permeability: every stratum between formation and aquifer is undrained"
PLUG_LEFT: Final = "a plug is left: the aquifer's top lies below the formation"
NO_BLOCK: Final = "the piles hold no more than the submerged weight of the ground between them below the plug"


def uplift(
    *,
    head: Number,
    underside: Number,
    plug: Number,
    standing_water: Number = 0.0,
    slab: Number = 0.0,
    piles: Number = 0.0,
    unit_weight_of_water: float = water.GAMMA_W,
) -> tuple[Number, Number]:
    r"""Return resistance and action of a layer that water lifts from below.

    .. math:: S = \gamma_w \max(h - z_u, 0), \qquad R = W_{plug} + W_{water} + W_{slab} + R_{piles}

    Parameters
    ----------
    head : float or ndarray
        Piezometric level *h* at the underside, m.
    underside : float or ndarray
        Level :math:`z_u` of the underside of the layer, m.
    plug : float or ndarray
        Total weight of the ground from formation to the underside, kPa.
    standing_water : float or ndarray
        Weight of the water that stands on the formation (on the slab, once cast), kPa.
    slab : float or ndarray
        Weight of the slab, kPa.
    piles : float or ndarray
        Tension resistance of the piles per plan area, kPa.
    unit_weight_of_water : float
        kN/m3; another unit system may be used throughout, as published examples do.

    Returns
    -------
    resistance, action : float or ndarray
        kPa, of the broadcast shape.

    Notes
    -----
    The vertical balance of EN 1997-1:2004, 2.4.7.4 and 10.2 (UPL) before its partial factors. Weights
    and water pressure carry no model factor. The same balance is that of flotation of a finished
    structure, with its weight per plan area as ``slab``.
    """
    action = water.pressure(head=head, elevation=underside, unit_weight=unit_weight_of_water)
    return plug + standing_water + slab + piles, action


def members(block: Block) -> tuple[Member, ...]:
    """Return the one limit state, ``plug``, with the reason where it is no question."""
    reason = None
    note = ""
    if block.aquifer is None:
        reason = "no confined aquifer is stated under this section"
    elif not block.dug:
        reason = "nothing has been dug yet: the ground over the aquifer is as it was found"
    elif float(aquifers.aquifer_top(block, block.aquifer)) >= float(block.formation):
        if block.slab is not None:
            reason = "the slab lies in the aquifer, without a plug: flotation judges it"
        elif aquifers.flows_under_the_wall(block):
            reason = "the cut is dug into the aquifer, inside a deeper wall: hydraulic heave judges it"
        else:
            note = "at the means the cut is dug into the aquifer: no plug is left under it"
    return (Member(name="plug", not_applicable=reason, note=note),)


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return holding weight (with piles) and water pressure at the plug's underside, kPa.

    Rows in which strata cross or the cut has no depth have a NaN resistance. Rows in which the aquifer
    reaches above the formation are evaluated at the formation, without a plug.

    Raises
    ------
    ValueError
        If a name is not ``plug``, or the block has no aquifer.
    """
    for name in names:
        if name != "plug" or block.aquifer is None:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    return tuple(_plug(block, block.aquifer) for _ in names if block.aquifer is not None)


def _plug(block: Block, aquifer: Aquifer) -> Outcome:
    formation, head = block.formation, aquifer.head
    aquifer_top = aquifers.aquifer_top(block, aquifer)
    underside = np.minimum(aquifer_top, formation)
    plug = profile.total_stress(block.strata, upper=formation, lower=underside)
    standing, slab = holding_down.on_the_base(
        water_inside=block.water_inside, formation=formation, slab=block.slab
    )
    pressure = water.pressure(head=head, elevation=underside)
    steps = [
        Step(symbol="z_u", meaning="level of the plug's underside", unit="m", value=underside),
        Step(symbol="h", meaning="piezometric level in the aquifer", unit="m", value=head),
        Step(symbol="u", meaning="water pressure at the underside", unit="kPa", value=pressure),
        Step(symbol="W_p", meaning="total weight of the plug", unit="kPa", value=plug),
        Step(symbol="W_w", meaning="weight of water standing on it", unit="kPa", value=standing),
        Step(symbol="W_s", meaning="weight of the slab and of what stands on it", unit="kPa", value=slab),
    ]
    outside = {
        TIGHT: np.greater(profile.drained_thickness(block.strata, upper=formation, lower=underside), 0.0),
        PLUG_LEFT: np.greater_equal(aquifer_top, formation),
    }
    piles: Number = 0.0
    if block.piles is not None:
        stress = np.maximum(plug + standing + slab - pressure, 0.0)
        theta = reading.model_factor(block, mechanism=NAME, member="plug")
        held = tension_piles.pile_group(
            block, block.piles, underside=underside, stress=stress, model_factor=theta
        )
        piles = held.resistance
        outside[NO_BLOCK] = held.as_block
        steps += [
            Step(
                symbol="sigma'",
                meaning="vertical effective stress at the underside",
                unit="kPa",
                value=stress,
            ),
            Step(symbol="theta", meaning="model factor on shaft friction", unit="1", value=theta),
            *held.steps,
        ]
    resistance, action = uplift(
        head=head, underside=underside, plug=plug, standing_water=standing, slab=slab, piles=piles
    )
    resistance = reading.without(resistance, reading.impossible_ground(block))
    steps += [
        Step(symbol="R", meaning="weights and piles", unit="kPa", value=resistance),
        Step(symbol="S", meaning="water pressure at the underside", unit="kPa", value=action),
    ]
    return Outcome(resistance=resistance, action=action, outside=outside, steps=tuple(steps))


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Plug uplift",
    sentence="Water in the confined aquifer lifts the low-permeability plug below the formation, and the "
    "base bursts.",
    unit="kPa",
    formula=(
        "S = 9.81 max(h - z_u, 0); R = W_p + W_w + W_s + R_p; R_p = min(theta R_b, theta R_i, R_t) / A_p "
        "(R_i only before the slab is cast); R_b, R_i = pi d (alpha int su dz + beta int sigma' dz)"
    ),
    symbols=(
        Symbol(symbol="S", meaning="water pressure at the plug's underside", unit="kPa"),
        Symbol(symbol="R", meaning="weights and piles per plan area", unit="kPa"),
        Symbol(symbol="h", meaning="piezometric level in the aquifer", unit="m"),
        Symbol(symbol="z_u", meaning="level of the plug's underside: the aquifer's top", unit="m"),
        Symbol(symbol="W_p", meaning="total weight of the plug", unit="kPa"),
        Symbol(symbol="W_w", meaning="weight of water standing on the formation or the slab", unit="kPa"),
        Symbol(
            symbol="W_s",
            meaning="weight of the base slab, once cast, and of the permanent load on it",
            unit="kPa",
        ),
        Symbol(symbol="R_p", meaning="tension resistance of the piles per plan area", unit="kPa"),
        Symbol(symbol="R_b", meaning="shaft friction of one pile below the underside", unit="kN"),
        Symbol(
            symbol="R_i", meaning="shaft friction of one pile inside the plug (undrained strata)", unit="kN"
        ),
        Symbol(symbol="R_t", meaning="tension resistance of one pile's steel", unit="kN"),
        Symbol(symbol="A_p", meaning="plan area of one pile", unit="m2"),
        Symbol(symbol="d", meaning="diameter of a pile", unit="m"),
        Symbol(symbol="alpha", meaning="adhesion over undrained strength", unit="1"),
        Symbol(symbol="beta", meaning="shaft friction over vertical effective stress", unit="1"),
        Symbol(symbol="sigma'", meaning="vertical effective stress left at this stage", unit="kPa"),
        Symbol(symbol="theta", meaning="model factor on shaft friction", unit="1"),
    ),
    range_of_use=(TIGHT, PLUG_LEFT, NO_BLOCK, "water at rest in the aquifer under the stated head"),
    sources=(
        "EN 1997-1:2004, 2.4.7.4 and 10.2 (UPL): the vertical balance, before partial factors",
        "Das, Principles of Geotechnical Engineering, Example 9.2: the plug's weight against the head",
        "shaft friction by alpha and beta: common practice, no one source",
    ),
    not_covered=(
        "side friction of the plug on the walls, and its bending or arching to them (left out: on the safe "
        "side)",
        "the piles' own weight (left out: on the safe side)",
        "shaft friction in drained strata inside the plug (left out: on the safe side)",
        "pull-out of the piles as a block: reported as outside the range of use, not evaluated",
        "a short cut of the aquifer's pressure through the plug (sand window, unsealed borehole, pile "
        "annulus)",
    ),
    factors={
        "plug": ModelFactor(
            term="shaft friction of the tension piles (never weight or water pressure)",
            mean=1.0,
            cov=0.25,
            basis="judgement",
            source=tension_piles.SCATTER,
        )
    },
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset(
        {"water_table", "water_under_slab", "surcharge", "edge_loads", "temperature_rise"}
    ),
    monotone={
        "aquifer.head": -1,
        "formation": +1,
        "water_inside": +1,
        "strata.*.unit_weight": +1,
        "strata.*.su_at_top": +1,
        "strata.*.su_per_metre": +1,
        "slab.thickness": +1,
        "slab.unit_weight": +1,
        "piles.diameter": +1,
        "piles.length": +1,
        "piles.adhesion": +1,
        "piles.shaft_ratio": +1,
        "piles.steel_resistance": +1,
        "piles.spacing_along": -1,
        "piles.spacing_across": -1,
        "model_factors.*": +1,
    },
)
