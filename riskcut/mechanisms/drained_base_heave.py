r"""Drained base heave: the base fails in effective stress, once the clay below formation has had time to swell.

The other end of undrained base heave: with time the suction that the dig leaves in the clay goes, and what is
left is :math:`c'` and :math:`\varphi'` under the steady pore pressures of the stage. The ground beside the cut
bears down like a strip footing of breadth :math:`B_1 = \min(B/\sqrt 2, T_z)` on the level of the wall's toe (of
formation, without a wall), with :math:`T_z` the clay below that level, in which the failure stays. The ground inside
stands beside that footing as its overburden,

.. math:: S = \sigma_{v,o} + q - u, \qquad
          R = \theta \left( c' N_c + q' N_q + \tfrac12 \gamma' B_1 N_\gamma \right), \qquad q' = \sigma_{v,i} - u

The pore pressure *u* at that level is one number on both sides of the toe. Water that flows round the wall loses
its head evenly along the faces, so with :math:`d_o` and :math:`d_i` the depths of the toe below the water (or the
ground) outside and inside,

.. math:: u = u_i + (u_o - u_i) \frac{d_i}{d_o + d_i}

between the pressures of the profiles without that flow. Shear on the sides of the ground that sinks is left out.

Which end holds at a stage is a matter of its length: with the time factor :math:`T_v = c_v t/d^2` the mean degree
of swelling *U* is told. Below 0.1 at the means the undrained end governs alone and this one is shown; from there
on, and where it cannot be told, both ends are run and both enter the system.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import effective_stress, pore_pressure, profile, reach, straight
from riskcut.mechanisms import edge_loads, heave_footing, heave_forms, heave_time, reading
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Outcome, Step, Symbol
from riskcut.study.block import Block, Number

NAME: Final = "drained_base_heave"
MEMBER: Final = "footing"

UNDRAINED_BELOW: Final = 0.1
"""Mean degree of swelling up to which the clay is read undrained alone."""

STATED: Final = "all ground over B_1 below the toe states a drained or long-term strength"
NOT_LIFTED: Final = "the water does not lift the ground inside the cut"


def members(block: Block) -> tuple[Member, ...]:
    """Return the one limit state, ``footing``, whether it governs, and the reason where it is no question."""
    reason = _not_applicable(block)
    if reason is not None:
        return (Member(name=MEMBER, governing=False, not_applicable=reason),)
    time = _standing_time(block)
    if isinstance(time, str):
        note = f"governs beside the undrained end: how far the clay has swelled cannot be told ({time})"
        return (Member(name=MEMBER, note=note),)
    told = f"T_v {float(time.factor):.3g}, {100.0 * float(time.degree):.0f} % swelled at the means"
    if float(time.degree) < UNDRAINED_BELOW:
        return (Member(name=MEMBER, governing=False, note=f"undrained, shown only: {told}"),)
    return (Member(name=MEMBER, note=f"governs beside the undrained end: {told}"),)


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return bearing resistance inside and load outside in effective stress, kPa.

    Rows in which strata cross or the cut has no depth have a NaN resistance. Where the water would lift the
    ground inside, the overburden counts as none.

    Raises
    ------
    ValueError
        If a name is not ``footing``.
    """
    for name in names:
        if name != MEMBER:
            raise ValueError(f"{NAME} has no member {name!r}")
    return tuple(_footing(block) for _ in names)


def _footing(block: Block) -> Outcome:
    level = block.formation if block.wall is None else np.minimum(block.wall.toe, block.formation)
    breadth = _breadth(block, level)
    lower = np.subtract(level, breadth)
    pore_out = pore_pressure.outside(block, down_to=level)
    pore_in = pore_pressure.inside(block, down_to=lower)
    layers_in = effective_stress.layers(block.strata, pore_in)
    total_out = effective_stress.total_at(effective_stress.layers(block.strata, pore_out), level=level)
    total_in = effective_stress.total_at(layers_in, level=level)
    water_out, water_in = (straight.value_at(pore, level=level) for pore in (pore_out, pore_in))
    water = heave_footing.toe_pressure(
        outside=water_out,
        inside=water_in,
        way_outside=np.subtract(np.minimum(block.water_table, block.surface), level),
        way_inside=np.subtract(block.formation, level),
    )
    edge = edge_loads.on_failing_ground(block.edge_loads, breadth=breadth, length=block.length)
    surcharge = block.surcharge + edge
    action = total_out + surcharge - water
    left = total_in - water
    overburden = np.maximum(left, 0.0)
    at_level, below = (effective_stress.effective_at(layers_in, level=z) for z in (level, lower))
    unit_weight = np.maximum((below - at_level) / breadth, 0.0)
    strength = heave_footing.drained_strength(block.strata, upper=level, lower=lower)
    factors = heave_footing.bearing_factors(tangent=strength.tangent)
    theta = reading.model_factor(block, mechanism=NAME, member=MEMBER)
    bearing = heave_footing.footing_resistance(
        factors=factors,
        cohesion=strength.cohesion,
        overburden=overburden,
        unit_weight=unit_weight,
        breadth=breadth,
        model_factor=theta,
    )
    resistance = reading.without(bearing, reading.impossible_ground(block))
    steps = (
        Step(symbol="z", meaning="level of the footing: the wall's toe, or formation", unit="m", value=level),
        Step(symbol="sigma_o", meaning="total stress outside at that level", unit="kPa", value=total_out),
        Step(symbol="sigma_i", meaning="total stress inside at that level", unit="kPa", value=total_in),
        Step(symbol="u", meaning="pore pressure at that level", unit="kPa", value=water),
        Step(symbol="q", meaning="surcharge, edge loads in it", unit="kPa", value=surcharge),
        Step(symbol="S", meaning="load in effective stress", unit="kPa", value=action),
        Step(symbol="B_1", meaning="breadth of the footing, min(B/sqrt 2, T_z)", unit="m", value=breadth),
        Step(symbol="q'", meaning="effective stress inside", unit="kPa", value=overburden),
        Step(symbol="gamma'", meaning="effective unit weight below", unit="kN/m3", value=unit_weight),
        Step(symbol="c'", meaning="effective cohesion over B_1", unit="kPa", value=strength.cohesion),
        Step(symbol="tan phi'", meaning="mean over B_1", unit="1", value=strength.tangent),
        Step(symbol="N_c", meaning="factor of the cohesion", unit="1", value=factors.cohesion),
        Step(symbol="N_q", meaning="factor of the overburden", unit="1", value=factors.overburden),
        Step(symbol="N_gamma", meaning="factor of the weight", unit="1", value=factors.weight),
        *_time_steps(block),
        Step(symbol="theta", meaning="model factor on soil strength", unit="1", value=theta),
        Step(symbol="R", meaning="resistance", unit="kPa", value=resistance),
    )
    outside = {STATED: strength.unstated, NOT_LIFTED: np.less(left, 0.0)}
    return Outcome(resistance=resistance, action=action, outside=outside, steps=steps)


def _breadth(block: Block, level: Number) -> Number:
    """Return the breadth of the footing, m: no more than the clay below it, none of which is left in drained ground."""
    clay = reach.undrained_depth(block.strata, level=level)
    ends = np.where(np.greater(clay, 0.0), clay, np.inf)[()]
    return heave_forms.failing_breadth(width=block.width, clay_thickness=ends)


class _Time(NamedTuple):
    """How far the clay has swelled by the end of the stage."""

    consolidation: Number
    path: Number
    factor: Number
    degree: Number


def _standing_time(block: Block) -> _Time | str:
    """Return it, or what would have to be stated."""
    clay = reach.undrained_depth(block.strata, level=block.formation)
    breadth = np.divide(block.width, np.sqrt(2.0))
    depth = np.maximum(np.minimum(clay, breadth), 0.0)
    total: Number = 0.0
    whole: Number = 0.0
    for part in profile.slices(block.strata, upper=block.formation, lower=block.formation - depth):
        if part.stratum.consolidation is None:
            return f"{part.stratum.name} states no coefficient of consolidation"
        total = total + part.thickness * part.stratum.consolidation
        whole = whole + part.thickness
    if block.open_for is None:
        return "a stage since the dig states no length"
    consolidation = total / profile.positive(whole)
    path = heave_time.drainage_path(clay=profile.positive(clay), breadth=breadth)
    factor = heave_time.time_factor(consolidation=consolidation, years=block.open_for, path=path)
    return _Time(consolidation, path, factor, heave_time.degree(factor))


def _time_steps(block: Block) -> tuple[Step, ...]:
    time = _standing_time(block)
    if isinstance(time, str):
        return ()
    return (
        Step(symbol="d", meaning="longest drainage path", unit="m", value=time.path),
        Step(symbol="c_v", meaning="coefficient of consolidation", unit="m2/year", value=time.consolidation),
        Step(symbol="T_v", meaning="time factor at the end of the stage", unit="1", value=time.factor),
        Step(symbol="U", meaning="mean degree of swelling", unit="1", value=time.degree),
    )


def _not_applicable(block: Block) -> str | None:
    """Return why the drained end is no question in this block, None where it is one."""
    if not block.dug:
        return "nothing has been dug yet"
    if block.slab is not None:
        return (
            "the base slab closes the excavation: the clay swells against it, a question of long-term heave"
        )
    level = float(block.formation)
    if float(reach.undrained_depth(block.strata, level=level)) <= 0.0:
        drained = [s.name for s in block.strata if not s.undrained and float(s.top) >= level]
        return (
            f"the formation lies in or on {drained[-1]}, which is read drained: its questions are uplift and "
            "hydraulic heave"
        )
    at_formation = [s for s in block.strata if s.undrained and float(s.top) >= level][-1]
    if at_formation.long_term is None:
        return (
            f"no long-term strength of {at_formation.name} is stated "
            f"(ground.strata.{at_formation.name}.long_term)"
        )
    return None


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Drained base heave",
    sentence="The clay below the formation has swelled and lost its suction, and the base fails in effective "
    "stress.",
    unit="kPa",
    formula=(
        "S = sigma_o + q - u; B_1 = min(B/sqrt 2, T_z); R = theta (c' N_c + q' N_q + gamma' B_1 N_gamma / 2), q' = "
        "sigma_i - u, u = u_i + (u_o - u_i) d_i/(d_o + d_i); N_q = exp(pi tan phi') tan^2(45 + "
        "phi'/2), N_c = (N_q - 1) cot phi', N_gamma = 2 (N_q - 1) tan phi'; T_v = c_v t/d^2, d = min(T/2, B/sqrt "
        "2), U = sqrt(4 T_v/pi) up to T_v 0.2, then 1 - 8/pi^2 exp(-pi^2 T_v/4)"
    ),
    symbols=(
        Symbol(symbol="S", meaning="effective load beside the cut at the level of the footing", unit="kPa"),
        Symbol(symbol="R", meaning="bearing resistance at that level", unit="kPa"),
        Symbol(symbol="sigma_o", meaning="total stress outside at the wall's toe or formation", unit="kPa"),
        Symbol(symbol="sigma_i", meaning="total stress inside at that level", unit="kPa"),
        Symbol(symbol="u", meaning="pore pressure there, with the flow round the wall", unit="kPa"),
        Symbol(symbol="q", meaning="surcharge beside the cut", unit="kPa"),
        Symbol(symbol="q'", meaning="effective stress inside, as overburden", unit="kPa"),
        Symbol(symbol="gamma'", meaning="effective unit weight below, flow in it", unit="kN/m3"),
        Symbol(symbol="B_1", meaning="breadth of the footing, min(B/sqrt 2, T_z)", unit="m"),
        Symbol(
            symbol="T_z", meaning="undrained soil below that level; no limit where there is none", unit="m"
        ),
        Symbol(symbol="c'", meaning="effective cohesion", unit="kPa"),
        Symbol(symbol="phi'", meaning="effective angle of friction", unit="degrees"),
        Symbol(symbol="N_c, N_q, N_gamma", meaning="bearing capacity factors of a strip", unit="1"),
        Symbol(
            symbol="u_o, u_i", meaning="pore pressure at that level outside, inside, without flow", unit="kPa"
        ),
        Symbol(symbol="d_o, d_i", meaning="that level below the water or ground outside, inside", unit="m"),
        Symbol(symbol="T", meaning="undrained soil below formation", unit="m"),
        Symbol(symbol="d", meaning="longest drainage path", unit="m"),
        Symbol(symbol="c_v", meaning="coefficient of consolidation (swelling)", unit="m2/year"),
        Symbol(symbol="t", meaning="length of the stage", unit="years"),
        Symbol(symbol="T_v", meaning="time factor", unit="1"),
        Symbol(symbol="U", meaning="mean degree of swelling", unit="1"),
        Symbol(symbol="theta", meaning="model factor on soil strength", unit="1"),
    ),
    range_of_use=(STATED, NOT_LIFTED, "stages with an open cut", "a long cut: a strip"),
    sources=(
        "Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley: bearing capacity in three terms; consolidation",
        "EN 1997-1:2004, Annex D.4: the bearing capacity factors in drained ground",
        "Padfield, C. J. and Mair, R. J. (1984), CIRIA Report 104 (recalled): head lost evenly along the wall",
        "the base as an upturned footing at the wall's toe: reasoned, no source",
    ),
    not_covered=(
        "shear on the sides of the ground that sinks, and on the wall (left out: on the safe side)",
        "the shape of the cut in plan, depth factors (left out: on the safe side)",
        "swelling before the dig reached this formation: the time counts from there",
        "the way between the ends: partly drained strength, softening below the stated long-term strength",
        "ground below the clay that is weaker than it",
        "flow round the wall but for the pore pressure at its toe; piping and uplift: hydraulic heave, plug uplift",
    ),
    factors={
        MEMBER: ModelFactor(
            term="the bearing resistance in effective stress",
            mean=1.0,
            cov=0.25,
            basis="judgement",
            source="no calibration of this form against drained failures of a base known; wider than the undrained "
            "forms' for the extrapolation from footings",
        )
    },
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset({"sumps", "rain", "temperature_rise", "water_under_slab"}),
    monotone={
        "surcharge": -1,
        "strata.*.long_term.friction_angle": +1,
        "strata.*.long_term.cohesion": +1,
        "model_factors.*": +1,
    },
)
