"""Flooding by what the sumps cannot pump: ground water that comes in, and rain on the plan area.

Against it stands the installed capacity of the pumps that run: those that stand still are an event of their own,
with their own probability, and capacity is never multiplied by an availability.

The ground water is what the study states for the sumps (as measured, or by a calculation of its own), else what
the permeability of the ground lets in by Darcy: round the wall's toe (method of fragments), up through a plug over
a confined aquifer, or, in a cut without a wall, through its sides and floor (Dupuit, Girinskii, Sichardt, Hvorslev).
Which of them applies is a matter of geometry and told with the limit state. The model factor multiplies ground
water that is predicted; never what is stated, and never rain.

Flooded pumps drown the works, and the water then steadies the base. So the limit state is **shown beside the
others and does not enter the system**, unless the study says that it counts
(``models.sump_flooding.counts: enters_the_system``). Loss of relief wells is another matter: the head under the plug
recovers, and plug uplift judges that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.ground.profile import Rows
from riskcut.mechanisms import aquifers, ground_inflow, reading
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Option, Outcome, Step, Symbol
from riskcut.study.block import Block, Number, Sumps

NAME: Final = "sump_flooding"
MEMBER: Final = "pumps"

DRAINED_BY_PUMPS: Final = "the water inside stands below the ground surface: there is a cut to keep dry"

OPTIONS: Final = {
    "counts": Option(
        meaning="whether flooded works count as a failure of the works",
        choices=("shown_beside", "enters_the_system"),
        default="shown_beside",
    )
}


def balance(*, running: int, capacity: Number, ground: Number, rain: Number) -> tuple[Number, Number]:
    r"""Return what the pumps lift and what comes in.

    .. math:: R = n q_p, \qquad S = Q_g + Q_r

    Parameters
    ----------
    running : int
        *n*, pumps that run.
    capacity : float or ndarray
        :math:`q_p` of one, m3/h.
    ground, rain : float or ndarray
        Ground water (with its model factor) and rain that reach the sumps, m3/h.

    Returns
    -------
    resistance, action : float or ndarray
        m3/h.
    """
    return float(running) * np.asarray(capacity)[()], np.add(ground, rain)


def rain_on(*, rain: Number, runoff: Number, width: Number, length: Number) -> Number:
    """Return the rain that reaches the sumps, m3/h, from its intensity, mm/h, a share, and the plan, m."""
    return 1e-3 * np.multiply(rain, runoff) * np.multiply(width, length)


def members(block: Block) -> tuple[Member, ...]:
    """Return the one limit state, ``pumps``, with where the water comes from, or the reason where it is no question."""
    reason, note = _not_applicable(block), ""
    counts = reading.word(block, mechanism=NAME, key="counts", options=OPTIONS) == "enters_the_system"
    if reason is None and block.sumps is not None:
        note = f"{_where_from(block, block.sumps)}; "
        note += (
            "counts as a failure of the works, as the study says"
            if counts
            else "floods the works (and steadies the base): shown beside, does not enter the system"
        )
    return (Member(name=MEMBER, governing=counts, not_applicable=reason, note=note),)


def _not_applicable(block: Block) -> str | None:
    """Return why flooding of the sumps is no question in this block, None where it is one."""
    if not block.dug:
        return "nothing has been dug yet"
    if block.sumps is None:
        return "no sumps are stated (water.sumps)"
    if block.permanent:
        return "the finished works keep dry by drains and pumps of their own, which the study lacks"
    if block.sumps.inflow is not None or block.slab is not None:
        return None
    if block.aquifer is not None and bool(aquifers.open_to_the_cut(block, block.aquifer)):
        return "what a defect lets into the cut is not predicted: state the inflow (water.sumps.inflow)"
    if unknown := ground_inflow.names_without_permeability(block):
        keys = ", ".join(f"ground.strata.{name}.permeability" for name in unknown)
        return (
            f"neither the inflow (water.sumps.inflow) nor the permeability of the ground is stated ({keys})"
        )
    return None


def _where_from(block: Block, sumps: Sumps) -> str:
    """Return where the water comes from, in words, at the means."""
    if sumps.inflow is not None:
        return "ground water as the study states it, without a model factor"
    if block.slab is not None:
        return "the slab closes the formation: rain alone"
    coming = [way.name for way in ground_inflow.ways(block) if float(way.flow) > 0.0]
    return f"ground water {' and '.join(coming)}" if coming else "no ground water finds a way in: rain alone"


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return what the pumps that run can lift and what comes in, m3/h.

    Rows in which strata cross, the cut has no depth, or the wall's toe is not below the formation have a NaN
    resistance.

    Raises
    ------
    ValueError
        If a name is not ``pumps``, or the block has no sumps.
    """
    for name in names:
        if name != MEMBER or block.sumps is None:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    return tuple(_pumps(block, block.sumps) for _ in names if block.sumps is not None)


def _pumps(block: Block, sumps: Sumps) -> Outcome:
    theta = reading.model_factor(block, mechanism=NAME, member=MEMBER)
    outside: dict[str, Rows] = {DRAINED_BY_PUMPS: np.greater_equal(block.water_inside, block.surface)}
    steps: list[Step] = []
    ground: Number = 0.0
    if sumps.inflow is not None:
        ground = sumps.inflow
    elif block.slab is None:
        unknown: Rows = False
        for way in ground_inflow.ways(block):
            ground = ground + way.flow
            unknown = unknown | way.unknown
            steps += way.steps
        steps.append(Step(symbol="theta", meaning="model factor on ground water", unit="1", value=theta))
        ground = theta * ground
        outside |= {ground_inflow.KNOWN: unknown, ground_inflow.UNBROKEN: False}
        if block.aquifer is not None:
            outside[ground_inflow.UNBROKEN] = aquifers.open_to_the_cut(block, block.aquifer)
        if block.wall is None:
            outside[ground_inflow.COMPACT] = np.greater(block.length, 5.0 * np.asarray(block.width))
    rain = rain_on(rain=block.rain, runoff=sumps.runoff, width=block.width, length=block.length)
    resistance, action = balance(running=sumps.running, capacity=sumps.capacity, ground=ground, rain=rain)
    impossible = reading.impossible_ground(block)
    if block.wall is not None:
        impossible = impossible | np.greater_equal(block.wall.toe, block.formation)
    resistance = reading.without(resistance, impossible)
    steps += [
        Step(symbol="Q_g", meaning="ground water, model factor and all", unit="m3/h", value=ground),
        Step(symbol="Q_r", meaning="rain that reaches the sumps", unit="m3/h", value=rain),
        Step(symbol="n", meaning="pumps that run", unit="1", value=float(sumps.running)),
        Step(symbol="q_p", meaning="capacity of one", unit="m3/h", value=sumps.capacity),
        Step(symbol="R", meaning="what the pumps lift", unit="m3/h", value=resistance),
        Step(symbol="S", meaning="what comes in", unit="m3/h", value=action),
    ]
    return Outcome(resistance=resistance, action=action, outside=outside, steps=tuple(steps))


INFLOW: Final = ModelFactor(
    term="the predicted inflow of ground water (never what the study states, never rain)",
    mean=1.0,
    cov=0.50,
    basis="judgement",
    source="predicted inflows are commonly found within a factor of two or so of what is pumped, the scatter of the "
    "permeability itself aside; unbiased for want of a pumping record",
)

MECHANISM: Final = Mechanism(
    name=NAME,
    title="Flooding of the sumps",
    sentence="More ground water and rain come into the cut than the pumps that run can lift, and the works flood.",
    unit="m3/h",
    formula=(
        "S = Q_g + Q_r; R = n q_p; Q_r = i psi B L/1000; Q_g as stated, else theta (Q_w + Q_p + Q_s); Q_w = k h 2 "
        "(B + L)/(Phi_o + Phi_i); Q_p = B L h_p/c, c = sum t_i/k_i; Q_s = 2 pi (G(h_o) - G(h_i))/ln((r + R_s)/r) "
        "down to the base, or the same down to the formation + Q_f, the lesser; G(h) = sum k_i int (h - z) dz, r = "
        "(B L/pi)^0.5, R_s = 3000 s k^0.5, Q_f = 4 k r s; times 3600 s/h"
    ),
    symbols=(
        Symbol(symbol="S", meaning="what comes into the cut", unit="m3/h"),
        Symbol(symbol="R", meaning="what the pumps lift", unit="m3/h"),
        Symbol(symbol="n", meaning="pumps that run", unit="1"),
        Symbol(symbol="q_p", meaning="capacity of one pump", unit="m3/h"),
        Symbol(symbol="Q_g", meaning="ground water", unit="m3/h"),
        Symbol(symbol="Q_r", meaning="rain that reaches the sumps", unit="m3/h"),
        Symbol(symbol="i", meaning="intensity of the rain", unit="mm/h"),
        Symbol(symbol="psi", meaning="share of it that reaches the sumps", unit="1"),
        Symbol(symbol="B", meaning="width of the cut", unit="m"),
        Symbol(symbol="L", meaning="length of the cut", unit="m"),
        Symbol(symbol="Q_w", meaning="flow round the wall's toe", unit="m3/h"),
        Symbol(symbol="Q_p", meaning="flow up through the plug", unit="m3/h"),
        Symbol(symbol="Q_s", meaning="flow through sides and floor of a cut without a wall", unit="m3/h"),
        Symbol(symbol="Q_f", meaning="flow up from ground without a base", unit="m3/h"),
        Symbol(symbol="k", meaning="permeability; the mean over drained ground by thickness", unit="m/s"),
        Symbol(symbol="h", meaning="head between the water outside and inside", unit="m"),
        Symbol(symbol="h_p", meaning="head between the aquifer and the water inside", unit="m"),
        Symbol(symbol="Phi", meaning="form factor of the ground outside (o) and inside (i)", unit="1"),
        Symbol(symbol="c", meaning="thickness over permeability, summed over the plug", unit="s"),
        Symbol(symbol="G", meaning="discharge potential of level layers", unit="m3/s"),
        Symbol(symbol="h_o, h_i", meaning="levels of the water outside and inside", unit="m"),
        Symbol(symbol="r", meaning="equivalent radius of the cut", unit="m"),
        Symbol(symbol="R_s", meaning="reach of the drawdown beyond the cut", unit="m"),
        Symbol(symbol="s", meaning="drawdown in the cut", unit="m"),
        Symbol(symbol="theta", meaning="model factor on predicted ground water", unit="1"),
    ),
    range_of_use=(
        DRAINED_BY_PUMPS,
        ground_inflow.KNOWN,
        ground_inflow.UNBROKEN,
        ground_inflow.COMPACT,
        "steady flow after Darcy; round the wall's toe plane flow in uniform ground",
    ),
    sources=(
        "Darcy (1856): flow through layers, by their harmonic mean permeability",
        "Harr, M. E. (1962), Groundwater and Seepage, McGraw-Hill: method of fragments",
        "Dupuit (1863), Thiem (1906), Girinskii (1946): radial flow in level layers (recalled)",
        "Sichardt (1928): reach of the drawdown, an empirical rule (recalled)",
        "Hvorslev, M. J. (1951), Waterways Experiment Station, Bulletin 36: flow into a round floor (recalled)",
    ),
    not_covered=(
        "leaks through the wall, its joints and a defect: state the inflow (water.sumps.inflow)",
        "flow in three dimensions round the wall's toe, in the corners of a cut and in short cuts",
        "water released from storage when the ground is first drawn down, which comes on top at the start",
        "flow up from an aquifer below the ground into which water already flows round the wall's toe",
        "perched water that runs in over the sides of a cut without a wall",
        "ground that conducts water better level than straight down, but for its layers",
        "how long the cut takes to fill, rain that is stored meanwhile, and run-off from beyond the cut",
        "whether the flow carries ground with it",
    ),
    factors={MEMBER: INFLOW},
    members=members,
    evaluate=evaluate,
    options=OPTIONS,
    unaffected_by=frozenset({"water_under_slab", "surcharge", "edge_loads", "temperature_rise"}),
    monotone={
        "sumps.capacity": +1,
        "sumps.runoff": -1,
        "rain": -1,
        "width": -1,
        "length": -1,
        "formation": +1,
        "water_table": -1,
        "aquifer.head": -1,
        "water_inside": +1,
        "strata.*.permeability": -1,
        "model_factors.*": -1,
    },
)
