r"""Uplift of the low-permeability plug that is left between the formation and a confined aquifer.

The water in the aquifer presses on the underside of the plug; the plug's own weight, whatever lies on it,
and tension piles hold it down. Everything is per plan area of the cut, kPa, in total stress. Two forms of one
event, alternative models: both are shown, one governs and enters the system.

- ``plug`` (the default): the central strip of the plug on weight and piles alone;
- ``with_walls``: with the friction on the inner faces of the walls over the plug's thickness, no more than the
  walls can take by their own weight and the friction on their outer faces. It governs only if the study says
  so, the friction is stated, and the plug is thick enough to bring its load to the walls.

The underside is the top of the aquifer's stratum; the level to which a defect carries the aquifer's pressure,
where that is higher; or the formation in a row in which either reaches it. No plug is left there, and the row fails as
soon as the head stands above the water inside (and what slab and piles hold): a boil, where a defect leads to it.
A cut that is meant to reach the aquifer, inside a wall that reaches deeper, or under a slab, has no plug to lift:
hydraulic heave and flotation judge it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import profile, water
from riskcut.mechanisms import aquifers, holding_down, plug_on_walls, reading, tension_piles
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Option, Outcome, Step, Symbol
from riskcut.study.block import Aquifer, Block, Number

NAME: Final = "plug_uplift"
MEMBERS: Final = ("plug", "with_walls")

TIGHT: Final = "a plug of low permeability: every stratum between formation and aquifer is undrained"
PLUG_LEFT: Final = "a plug is left: the aquifer's top, or the reach of a defect, lies below the formation"
NO_BLOCK: Final = "the piles hold no more than the submerged weight of the ground between them below the plug"

OPTIONS: Final = {
    "governing": Option(
        meaning="which form enters the system (with_walls only where it applies and the plug is thick enough)",
        choices=MEMBERS,
        default="plug",
    )
}


def uplift(
    *,
    head: Number,
    underside: Number,
    plug: Number,
    standing_water: Number = 0.0,
    slab: Number = 0.0,
    piles: Number = 0.0,
    walls: Number = 0.0,
    unit_weight_of_water: float = water.GAMMA_W,
) -> tuple[Number, Number]:
    r"""Return resistance and action of a layer that water lifts from below.

    .. math:: S = \gamma_w \max(h - z_u, 0), \qquad R = W_{plug} + W_{water} + W_{slab} + R_{piles} + F

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
    walls : float or ndarray
        Friction *F* on the walls per plan area, kPa.
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
    return plug + standing_water + slab + piles + walls, action


def members(block: Block) -> tuple[Member, ...]:
    """Return the two forms, with the one that governs and the reasons where they are no question."""
    reason, note = _no_plug(block)
    unwalled = reason or plug_on_walls.not_counted(block)
    wanted = reading.word(block, mechanism=NAME, key="governing", options=OPTIONS) == "with_walls"
    wide = unwalled is None and plug_on_walls.span(block) > plug_on_walls.SPAN
    with_walls = wanted and unwalled is None and not wide
    if wanted and not reason and not with_walls:
        why = "the plug is too thin for its width" if wide else "friction on the walls cannot be counted"
        note = f"{note}; " * bool(note) + f"governs instead of with_walls: {why}"
    beside = "" if unwalled or with_walls else "shown beside plug, which governs"
    if wide:
        beside += ": the plug is too thin for its width to bring its load to the walls"
    return (
        Member(name="plug", governing=not with_walls, not_applicable=reason, note=note),
        Member(name="with_walls", governing=with_walls, not_applicable=unwalled, note=beside),
    )


def _no_plug(block: Block) -> tuple[str | None, str]:
    """Return why uplift of the plug is no question in this block, or what a reader should know of it."""
    if block.aquifer is None:
        return "no confined aquifer is stated under this section", ""
    if not block.dug:
        return "nothing has been dug yet: the ground over the aquifer is as it was found", ""
    if float(aquifers.stratum_top(block, block.aquifer)) >= float(block.formation):
        if block.slab is not None:
            return "the slab lies in the aquifer, without a plug: flotation judges it", ""
        if aquifers.flows_under_the_wall(block):
            return "the cut is dug into the aquifer, inside a deeper wall: hydraulic heave judges it", ""
        return None, "at the means the cut is dug into the aquifer: no plug is left under it"
    if bool(aquifers.open_to_the_cut(block, block.aquifer)):
        if block.slab is not None:
            return "a defect carries the aquifer's pressure up to the slab: flotation judges it", ""
        return None, "a defect carries the aquifer's pressure up to the formation: a boil"
    return None, ""


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return what holds the plug down and the water pressure at its underside, kPa, of the named forms.

    Rows in which strata cross or the cut has no depth have a NaN resistance. Rows in which the aquifer, or a
    defect that carries its pressure, reaches above the formation are evaluated at the formation, without a plug.

    Raises
    ------
    ValueError
        If a name is not one of the two, the block has no aquifer, or ``with_walls`` no wall.
    """
    for name in names:
        walled = name != "with_walls" or block.wall is not None
        if name not in MEMBERS or block.aquifer is None or not walled:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    if block.aquifer is None:
        return ()
    shared = _shared(block, block.aquifer)
    return tuple(_plug(block, shared, name) for name in names)


class _Shared(NamedTuple):
    """What the two forms share."""

    head: Number
    underside: Number
    plug: Number
    standing: Number
    slab: Number
    stress: Number
    """Vertical effective stress at the underside, kPa; read where there are piles."""
    shafts: tension_piles.Shafts | None
    impossible: profile.Rows
    outside: dict[str, profile.Rows]
    steps: tuple[Step, ...]


def _shared(block: Block, aquifer: Aquifer) -> _Shared:
    formation, head = block.formation, aquifer.level
    top = aquifers.aquifer_top(block, aquifer)
    underside = np.minimum(top, formation)
    plug = profile.total_stress(block.strata, upper=formation, lower=underside)
    standing, slab = holding_down.on_the_base(
        water_inside=block.water_inside, formation=formation, slab=block.slab
    )
    pressure = water.pressure(head=head, elevation=underside)
    stress: Number = 0.0
    shafts = None
    if block.piles is not None:
        stress = np.maximum(plug + standing + slab - pressure, 0.0)
        shafts = tension_piles.shafts_through(block, block.piles, underside=underside, stress=stress)
    return _Shared(
        head=head,
        underside=underside,
        plug=plug,
        standing=standing,
        slab=slab,
        stress=stress,
        shafts=shafts,
        impossible=reading.impossible_ground(block),
        outside={
            TIGHT: np.greater(profile.drained_thickness(block.strata, upper=formation, lower=underside), 0.0),
            PLUG_LEFT: np.greater_equal(top, formation),
        },
        steps=(
            Step(symbol="z_u", meaning="level of the plug's underside", unit="m", value=underside),
            Step(symbol="h", meaning="piezometric level in the aquifer", unit="m", value=head),
            Step(symbol="u", meaning="water pressure at the underside", unit="kPa", value=pressure),
            Step(symbol="W_p", meaning="total weight of the plug", unit="kPa", value=plug),
            Step(symbol="W_w", meaning="weight of water standing on it", unit="kPa", value=standing),
            Step(symbol="W_s", meaning="weight of the slab and of what stands on it", unit="kPa", value=slab),
        ),
    )


def _plug(block: Block, shared: _Shared, member: str) -> Outcome:
    theta = reading.model_factor(block, mechanism=NAME, member=member)
    steps = [
        *shared.steps,
        Step(symbol="theta", meaning="model factor on friction", unit="1", value=theta),
    ]
    outside = dict(shared.outside)
    piles: Number = 0.0
    if block.piles is not None and shared.shafts is not None:
        held = tension_piles.pile_group(block.piles, shared.shafts, model_factor=theta)
        piles = held.resistance
        outside[NO_BLOCK] = held.as_block
        meaning = "vertical effective stress at the underside"
        steps += [Step(symbol="sigma'", meaning=meaning, unit="kPa", value=shared.stress), *held.steps]
    walls: Number = 0.0
    if member == "with_walls" and block.wall is not None:
        hung = plug_on_walls.hung(block, block.wall, underside=shared.underside, model_factor=theta)
        walls = hung.friction
        outside[plug_on_walls.SPANS] = hung.too_thin
        steps += hung.steps
    resistance, action = uplift(
        head=shared.head,
        underside=shared.underside,
        plug=shared.plug,
        standing_water=shared.standing,
        slab=shared.slab,
        piles=piles,
        walls=walls,
    )
    resistance = reading.without(resistance, shared.impossible)
    steps += [
        Step(symbol="R", meaning="weights, friction and piles", unit="kPa", value=resistance),
        Step(symbol="S", meaning="water pressure at the underside", unit="kPa", value=action),
    ]
    return Outcome(resistance=resistance, action=action, outside=outside, steps=tuple(steps))


SHAFT: Final = ModelFactor(
    term="shaft friction of the tension piles (never weight or water pressure)",
    mean=1.0,
    cov=0.25,
    basis="judgement",
    source=tension_piles.SCATTER,
    shared=tension_piles.SHAFT_FRICTION,
)

WALLS: Final = replace(
    SHAFT, term="friction on walls and shafts of tension piles (never weight or water pressure)"
)

MECHANISM: Final = Mechanism(
    name=NAME,
    title="Plug uplift",
    sentence="Water in the confined aquifer lifts the low-permeability plug below the formation, and the "
    "base bursts.",
    unit="kPa",
    formula=(
        "plug: S = 9.81 max(h - z_u, 0); R = W_p + W_w + W_s + R_p; R_p = min(theta R_b, theta R_i, R_t) / A_p "
        "(R_i only before the slab is cast); R_b, R_i = pi d (alpha int su dz + beta int sigma' dz); with_walls: R "
        "+ F; F = min(theta F_i, W_wall + theta F_o); F_i, F_o = (alpha_w int su dz + beta_w int sigma' dz) 2 (B + "
        "L)/(B L); W_wall = max(gamma_c (z_t - z_b) - u_b, 0) t 2 (B + L)/(B L)"
    ),
    symbols=(
        Symbol(symbol="S", meaning="water pressure at the plug's underside", unit="kPa"),
        Symbol(symbol="R", meaning="weights, friction and piles per plan area", unit="kPa"),
        Symbol(symbol="h", meaning="piezometric level in the aquifer", unit="m"),
        Symbol(
            symbol="z_u", meaning="level of the plug's underside: the aquifer's top, or a defect's", unit="m"
        ),
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
        *plug_on_walls.SYMBOLS,
        Symbol(symbol="theta", meaning="model factor on friction", unit="1"),
    ),
    range_of_use=(
        TIGHT,
        PLUG_LEFT,
        NO_BLOCK,
        plug_on_walls.SPANS,
        "water at rest in the aquifer under the stated head",
    ),
    sources=(
        "EN 1997-1:2004, 2.4.7.4 and 10.2 (UPL): the vertical balance, before partial factors",
        "Das, Principles of Geotechnical Engineering, Example 9.2: the plug's weight against the head",
        "friction on shafts and walls by alpha and beta: common practice, no one source",
        "how thick a plug brings its load to the walls: plastic bending of clay, derived in plug_on_walls.py",
    ),
    not_covered=(
        "bending and arching of the plug, but for the limit on its width (plug: left out, on the safe side)",
        "whether the walls stay in touch with the ground: friction may be stated only where they do",
        "the piles' own weight (left out: on the safe side)",
        "shaft friction in drained strata inside the plug (left out: on the safe side)",
        "pull-out of the piles as a block: reported as outside the range of use, not evaluated",
        "a short cut of the aquifer's pressure through the plug that the study does not state (aquifer_reaches)",
    ),
    factors={"plug": SHAFT, "with_walls": WALLS},
    members=members,
    evaluate=evaluate,
    options=OPTIONS,
    unaffected_by=frozenset({"sumps", "rain", "surcharge", "edge_loads", "temperature_rise"}),
    monotone={
        "aquifer.head": -1,
        "formation": +1,
        "width": -1,
        "length": -1,
        "wall.adhesion": +1,
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
