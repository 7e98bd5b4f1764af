r"""Hydraulic heave: water that flows up into the cut round the wall's toe lifts the ground inside.

In permeable ground below the formation the water outside comes into a dry cut round the toe. Where the head
that is left there exceeds the weight of the ground above it, the ground inside the wall rises and the wall
loses its foot. Three forms of one event, alternative models: all are shown, one governs and enters the system.

- ``prism_effective`` (Terzaghi; EN 1997-1, 2.9b): on a prism as deep as the wall's embedment *D* and *D/2* wide
  the seepage force against the submerged weight;
- ``prism_total`` (EN 1997-1, 2.9a): on the same prism the pore pressure at its base against the total weight.
  With the model factor at 1 the same rows fail; the factor of safety is another;
- ``exit_gradient`` (Terzaghi, Harr): the gradient at the formation beside the wall against the critical one,
  both times :math:`\gamma_w D` so that the three share a unit.

The head at the toe, its mean over the prism and the exit gradient come from :mod:`riskcut.ground.seepage`, for
plane flow in uniform ground. The model factor multiplies the predicted excess head or gradient, never a
weight or the water at rest.

**Which water drives it**: the free water outside; where the wall's toe stands in the confined aquifer, the
aquifer's head; where a defect carries the aquifer's pressure to the toe, the higher of the two; where the study
states perched water or pore pressures that go to the aquifer, the piezometric level that they give outside at the
wall's toe. The wall's embedment outside counts up to that water, no higher than the permeable ground goes without a
break: an undrained stratum outside, or a confined aquifer's way from afar, neither lengthens the way nor takes head
off (on the safe side).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import profile, reach, seepage, water
from riskcut.mechanisms import aquifers, reading
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Option, Outcome, Step, Symbol
from riskcut.mechanisms.heave_prism import exit_balance, prism_effective, prism_total
from riskcut.study.block import Block, Number, Wall

NAME: Final = "hydraulic_heave"
MEMBERS: Final = ("prism_effective", "prism_total", "exit_gradient")

DRAINED: Final = "the ground is drained from the formation down to the wall's toe and below it"
DRAINED_OUTSIDE: Final = (
    "outside, too, the ground is drained up to the free water, or the aquifer's own head drives the flow"
)
FOOTED: Final = "the wall's embedment below formation is a quarter or more of that outside"
LONG: Final = "plane flow: the cut is at least twice as long as wide"

CLOSEST: Final = 0.999
"""Highest ratio of embedment to permeable ground below the formation: the gap under the toe never closes."""

OPTIONS: Final = {
    "governing": Option(meaning="which form enters the system", choices=MEMBERS, default="prism_effective"),
    "filter_weight": Option(
        meaning="effective weight of a filter laid on the formation along the wall, kPa: held against the prism",
        default=0.0,
        lowest=0.0,
        highest=200.0,
    ),
}


def members(block: Block) -> tuple[Member, ...]:
    """Return the three forms, with the one that governs and the reason where none applies."""
    governing = reading.word(block, mechanism=NAME, key="governing", options=OPTIONS)
    reason = _not_applicable(block)
    return tuple(
        Member(
            name=name,
            governing=name == governing,
            not_applicable=reason,
            note="" if reason or name == governing else f"shown beside {governing}, which governs",
        )
        for name in MEMBERS
    )


class _Common(NamedTuple):
    """What the three forms share."""

    embedment: Number
    submerged: Number
    standing: Number
    flow: seepage.CutFlow
    driving: Number
    impossible: profile.Rows
    outside: dict[str, profile.Rows]
    steps: tuple[Step, ...]


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return resistance and action of the named forms, kPa, with the numbers on the way.

    Rows in which strata cross, the cut has no depth, or the wall's toe is not below the formation have a
    NaN resistance. Rows in which the water outside stands no higher than that inside have no action.

    Raises
    ------
    ValueError
        If a name is not one of the three, or the block has no wall.
    """
    for name in names:
        if name not in MEMBERS or block.wall is None:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    if block.wall is None:
        return ()
    common = _common(block, block.wall)
    return tuple(_form(block, common, name) for name in names)


def _driving_level(block: Block, wall: Wall) -> tuple[Number, profile.Rows]:
    """Return the level of the water that drives the flow, m, and the rows in which it is the aquifer's."""
    if block.perched is not None or block.pore_pressure == "to_aquifer":
        return aquifers.level_outside(block, wall), _fed_by_the_aquifer(block, wall)
    if block.aquifer is None:
        return block.water_table, False
    stands = np.less(wall.toe, aquifers.stratum_top(block, block.aquifer))
    # A defect lets the aquifer's pressure in; it does not keep the free water out.
    otherwise = aquifers.head_at(block, level=wall.toe, otherwise=block.water_table)
    level = np.where(stands, block.aquifer.level, otherwise)[()]
    reached = aquifers.pressed(block, block.aquifer, level=wall.toe)
    return level, reached & np.equal(level, block.aquifer.level)


def _fed_by_the_aquifer(block: Block, wall: Wall) -> profile.Rows:
    """Tell the rows in which the wall's toe stands in the aquifer, or in drained ground that is one with it."""
    if block.aquifer is None:
        return False
    top = aquifers.aquifer_top(block, block.aquifer)
    if block.pore_pressure == "to_aquifer":
        top = reach.drained_top(block.strata, level=top)
    return np.less(wall.toe, top)


def _common(block: Block, wall: Wall) -> _Common:
    formation, toe = block.formation, wall.toe
    depth = np.subtract(formation, toe)
    embedment = np.maximum(depth, 1e-9)
    level, confined = _driving_level(block, wall)
    driving = np.maximum(np.subtract(level, block.water_inside), 0.0)
    permeable = reach.drained_top(block.strata, level=formation)
    entry = np.minimum(level, permeable)
    outside = np.maximum(np.subtract(entry, toe), embedment)
    below = reach.drained_depth(block.strata, level=formation)
    flow = seepage.into_a_cut(
        outside=outside,
        inside=embedment,
        thickness=np.maximum(below, embedment / CLOSEST),
        half_width=np.multiply(0.5, block.width),
    )
    weight = profile.total_stress(block.strata, upper=formation, lower=toe)
    submerged = weight - water.GAMMA_W * embedment
    standing = water.pressure(head=block.water_inside, elevation=formation)
    steps = (
        Step(symbol="h_o", meaning="level of the water that drives the flow", unit="m", value=level),
        Step(symbol="h", meaning="head that drives the flow", unit="m", value=driving),
        Step(symbol="D", meaning="embedment of the wall below formation", unit="m", value=embedment),
        Step(symbol="s_o", meaning="embedment of the wall outside", unit="m", value=outside),
        Step(symbol="T", meaning="permeable ground counted below formation", unit="m", value=flow.thickness),
        Step(symbol="Phi_o", meaning="form factor of the ground outside", unit="1", value=flow.form_outside),
        Step(symbol="Phi_i", meaning="form factor of the ground inside", unit="1", value=flow.form_inside),
        Step(symbol="h_t/h", meaning="share of the head left at the toe", unit="1", value=flow.toe),
        Step(symbol="gamma' D", meaning="submerged weight of the prism", unit="kPa", value=submerged),
    )
    limits: dict[str, profile.Rows] = {
        DRAINED: np.less_equal(below, depth),
        DRAINED_OUTSIDE: np.greater(np.minimum(level, block.surface), permeable) & np.logical_not(confined),
        FOOTED: np.less(embedment, 0.25 * np.asarray(outside)),
        LONG: np.less(block.length, 2.0 * np.asarray(block.width)),
    }
    impossible = reading.impossible_ground(block) | np.less_equal(depth, 0.0)
    return _Common(embedment, submerged, standing, flow, driving, impossible, limits, steps)


def _form(block: Block, common: _Common, member: str) -> Outcome:
    """Return one form of the event."""
    theta = reading.model_factor(block, mechanism=NAME, member=member)
    laid = reading.number(block, mechanism=NAME, key="filter_weight", options=OPTIONS)
    steps = [*common.steps]
    if member == "exit_gradient":
        gradient = common.driving * common.flow.exit_gradient
        resistance, action = exit_balance(
            gradient=gradient,
            embedment=common.embedment,
            submerged_weight=common.submerged,
            model_factor=theta,
        )
        steps.append(Step(symbol="i", meaning="exit gradient beside the wall", unit="1", value=gradient))
    else:
        head = common.driving * common.flow.prism
        share = common.flow.prism / common.flow.toe
        steps += [
            Step(symbol="h_a/h_t", meaning="mean over the prism's base, of that", unit="1", value=share),
            Step(symbol="h_a", meaning="mean excess head at the prism's base", unit="m", value=head),
            Step(symbol="W_f", meaning="weight of a filter on the formation", unit="kPa", value=laid),
        ]
        if member == "prism_effective":
            resistance, action = prism_effective(
                excess_head=head,
                submerged_weight=common.submerged,
                filter_weight=laid,
                model_factor=theta,
            )
        else:
            resistance, action = prism_total(
                excess_head=head,
                total_weight=common.submerged + water.GAMMA_W * common.embedment + common.standing,
                depth_of_water=common.embedment + common.standing / water.GAMMA_W,
                filter_weight=laid,
                model_factor=theta,
            )
    resistance = reading.without(resistance, common.impossible)
    steps += [
        Step(symbol="theta", meaning="model factor on excess head or gradient", unit="1", value=theta),
        Step(symbol="R", meaning="weight that holds the ground", unit="kPa", value=resistance),
        Step(symbol="S", meaning="water that lifts it", unit="kPa", value=action),
    ]
    return Outcome(resistance=resistance, action=action, outside=common.outside, steps=tuple(steps))


def _not_applicable(block: Block) -> str | None:
    """Return why hydraulic heave is no question in this block, None where it is one."""
    if not block.dug:
        return "nothing has been dug yet"
    if block.wall is None:
        return "there is no wall for water to flow round"
    if block.slab is not None:
        return "the base slab closes the formation: what presses on it from below is a question of flotation"
    if float(reach.drained_depth(block.strata, level=block.formation)) <= 0.0:
        return "the formation lies in undrained ground, through which no water flows while the cut is open"
    if not aquifers.flows_under_the_wall(block):
        return "the wall's toe stands in or below undrained ground, which cuts the flow off"
    if float(_driving_level(block, block.wall)[0]) <= float(block.water_inside):
        return "the water outside stands no higher than the water inside"
    return None


_SCATTER: Final = (
    "no calibration known; excess heads by flow nets and closed forms are taken to scatter by 20 % about what is "
    "measured in ground that is never quite uniform"
)

HEAD: Final = ModelFactor(
    term="the excess head at the base of the prism", mean=1.0, cov=0.20, basis="judgement", source=_SCATTER
)

MECHANISM: Final = Mechanism(
    name=NAME,
    title="Hydraulic heave",
    sentence="Water that flows up into the cut round the wall's toe lifts the permeable ground inside, and the wall "
    "loses its foot.",
    unit="kPa",
    formula=(
        "prism_effective: S = theta 9.81 h_a, R = gamma' D + W_f; prism_total: S = 9.81 (D_w + theta h_a), R = gamma "
        "D + 9.81 (D_w - D) + W_f; exit_gradient: S = theta i 9.81 D, R = gamma' D; h_a = (h_a/h_t) (h_t/h) h, "
        "h_t/h = Phi_i/(Phi_o + Phi_i), Phi = K(m)/K'(m)"
    ),
    symbols=(
        Symbol(symbol="S", meaning="water that lifts the ground", unit="kPa"),
        Symbol(symbol="R", meaning="weight that holds it", unit="kPa"),
        Symbol(symbol="h_o", meaning="level of the water that drives the flow", unit="m"),
        Symbol(symbol="h", meaning="its height over the water inside", unit="m"),
        Symbol(symbol="h_t", meaning="excess head at the wall's toe", unit="m"),
        Symbol(symbol="h_a", meaning="mean excess head at the base of the prism, D/2 wide", unit="m"),
        Symbol(symbol="i", meaning="exit gradient at the formation beside the wall", unit="1"),
        Symbol(symbol="D", meaning="embedment of the wall below formation", unit="m"),
        Symbol(symbol="D_w", meaning="water inside over the wall's toe", unit="m"),
        Symbol(symbol="s_o", meaning="embedment of the wall outside, below the water there", unit="m"),
        Symbol(symbol="T", meaning="permeable ground below formation", unit="m"),
        Symbol(symbol="Phi", meaning="form factor of the ground outside (o) and inside (i)", unit="1"),
        Symbol(symbol="K, K'", meaning="complete elliptic integrals of the modulus m", unit="1"),
        Symbol(symbol="gamma' D", meaning="submerged weight of the prism", unit="kPa"),
        Symbol(symbol="gamma D", meaning="total weight of the prism", unit="kPa"),
        Symbol(symbol="W_f", meaning="effective weight of a filter on the formation", unit="kPa"),
        Symbol(symbol="theta", meaning="model factor on excess head or gradient", unit="1"),
    ),
    range_of_use=(
        DRAINED,
        DRAINED_OUTSIDE,
        FOOTED,
        LONG,
        "uniform, isotropic ground, steady flow, and a level of the water outside that the flow does not draw down",
    ),
    sources=(
        "EN 1997-1:2004, 2.4.7.5 and 10.3 (HYD): expressions 2.9a and 2.9b, before partial factors",
        "Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley: the prism D by D/2",
        "Harr, M. E. (1962), Groundwater and Seepage, McGraw-Hill: fragments, exit gradient",
        "perched water and pore pressures that go to the aquifer: steady vertical seepage, common practice (recalled)",
    ),
    not_covered=(
        "flow in three dimensions: in the corners of a cut and in short cuts the head left inside is higher",
        "perched water that runs down behind the wall to its toe: below the stratum that bears it the table rules",
        "strata of different permeability: finer ground over coarser keeps more of the head inside",
        "men and plant on clean sand, who are unsafe at exit gradients above 0.5 to 0.75 (UFC 3-220-20), well before "
        "the critical one",
        "erosion along the wall, through open joints and round piles",
        "friction on the sides of the prism, and the filter against the exit gradient (left out: on the safe side)",
    ),
    factors={"*": HEAD, "exit_gradient": replace(HEAD, term="the exit gradient")},
    members=members,
    evaluate=evaluate,
    options=OPTIONS,
    unaffected_by=frozenset(
        {"sumps", "rain", "water_under_slab", "surcharge", "edge_loads", "temperature_rise"}
    ),
    monotone={
        "water_table": -1,
        "aquifer.head": -1,
        "water_inside": +1,
        "formation": +1,
        "wall.toe": -1,
        "width": +1,
        "strata.*.unit_weight": +1,
        "model_factors.*": -1,
    },
)
