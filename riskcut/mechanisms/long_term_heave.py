r"""Long-term heave: the clay under the base slab swells against it for years after the dig.

The dig takes the total vertical stress off the clay at formation. With time the clay takes up water and
part of that stress comes back on the underside of a slab that does not let it rise. What presses on the slab
is the greater of the water pressure and this heave pressure, **not their sum**: the relieved stress is total
and includes the water.

The share that comes back (``works.slab.heave_relief``) depends on the clay, the stiffness of slab and piles,
and on the time that the clay swelled before the slab was cast. No published value that fits all was found: it
is a random variable, by judgement unless measured. Slab, permanent load, walls and piles hold the slab down as
they do against flotation, with friction of the ground on the walls where it is stated.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.ground import profile, reach, water
from riskcut.mechanisms import holding_down, reading
from riskcut.mechanisms.contract import Mechanism, Member, Outcome, Step, Symbol
from riskcut.study.block import Block, Number, Slab

NAME: Final = "long_term_heave"
MEMBER: Final = "slab"

CLAY: Final = "the formation lies in undrained ground"


def heave_pressure(*, water_pressure: Number, relief: Number, relieved: Number) -> Number:
    r"""Return what presses on a slab from below in the long term.

    .. math:: S = \max(u, f \sigma_v)

    Parameters
    ----------
    water_pressure : float or ndarray
        *u* at the slab's underside, kPa.
    relief : float or ndarray
        Share *f* of the relieved stress that comes back, 0 to 1.
    relieved : float or ndarray
        Total vertical stress :math:`\sigma_v` that the dig took off the formation, kPa.

    Returns
    -------
    float or ndarray
        kPa: the greater, not the sum, since the total stress includes the water.

    Notes
    -----
    Common practice, no one source; no published value of *f* that fits all was found.
    """
    return np.maximum(water_pressure, np.multiply(relief, relieved))


def members(block: Block) -> tuple[Member, ...]:
    """Return the one limit state, ``slab``, with the reason where it is no question."""
    return (Member(name=MEMBER, not_applicable=_not_applicable(block)),)


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return what holds the slab down and what presses on it from below, kPa.

    Rows in which strata cross or the cut has no depth have a NaN resistance.

    Raises
    ------
    ValueError
        If a name is not ``slab``, or no slab is cast of which a relief fraction is stated.
    """
    slab = block.slab
    for name in names:
        if name != MEMBER or slab is None or slab.heave_relief is None:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    return tuple(
        _slab(block, slab, slab.heave_relief)
        for _ in names
        if slab is not None and slab.heave_relief is not None
    )


def _slab(block: Block, slab: Slab, relief: Number) -> Outcome:
    formation, surface = block.formation, block.surface
    level = holding_down.level_under_slab(block)
    pressure = water.pressure(head=level, elevation=formation)
    relieved = profile.total_stress(block.strata, upper=surface, lower=formation) + water.pressure(
        head=block.water_table, elevation=surface
    )
    action = heave_pressure(water_pressure=pressure, relief=relief, relieved=relieved)
    theta = reading.model_factor(block, mechanism=NAME, member=MEMBER)
    held = holding_down.holding(block, slab, water_level=level, model_factor=theta)
    resistance = reading.without(held.resistance, reading.impossible_ground(block))
    steps = (
        Step(symbol="u", meaning="water pressure at the slab's underside", unit="kPa", value=pressure),
        Step(symbol="f", meaning="share of the relieved stress that comes back", unit="1", value=relief),
        Step(
            symbol="sigma_v",
            meaning="total vertical stress relieved at formation",
            unit="kPa",
            value=relieved,
        ),
        *held.steps,
        Step(symbol="R", meaning="weights, friction and piles", unit="kPa", value=resistance),
        Step(symbol="S", meaning="the greater of water and heave pressure", unit="kPa", value=action),
    )
    outside = {CLAY: np.less_equal(reach.undrained_depth(block.strata, level=formation), 0.0)}
    return Outcome(resistance=resistance, action=action, outside=outside, steps=steps)


def _not_applicable(block: Block) -> str | None:
    """Return why heave pressure on the slab is no question in this block, None where it is one."""
    if not block.dug:
        return "nothing has been dug yet"
    if block.slab is None:
        return "the base slab is not cast yet: the clay swells freely"
    if not block.permanent:
        return "heave pressure takes years to build up: it is judged at the stages of the finished works"
    if float(reach.undrained_depth(block.strata, level=block.formation)) <= 0.0:
        return (
            "the formation lies in or on drained ground, which does not swell: water pressure is judged alone"
        )
    if block.slab.heave_relief is None:
        return "no relief fraction is stated (works.slab.heave_relief)"
    return None


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Long-term heave",
    sentence="The clay under the base slab, relieved by the dig, swells and lifts the slab off its piles.",
    unit="kPa",
    formula="S = max(u, f sigma_v); " + holding_down.FORMULA,
    symbols=(
        Symbol(symbol="S", meaning="what presses on the slab from below in the long term", unit="kPa"),
        Symbol(symbol="u", meaning="water pressure at the slab's underside", unit="kPa"),
        Symbol(symbol="f", meaning="share of the relieved stress that comes back", unit="1"),
        Symbol(symbol="sigma_v", meaning="total vertical stress relieved at formation", unit="kPa"),
        *holding_down.SYMBOLS,
    ),
    range_of_use=(CLAY, "a slab that holds the clay where it was when the slab was cast"),
    sources=(
        *holding_down.SOURCES,
        "the greater of water and heave pressure, by a share of the relieved stress: common practice, no source",
    ),
    not_covered=(
        *holding_down.NOT_COVERED,
        "how the heave pressure depends on time, on the stiffness of slab and piles, and on a void under the slab",
        "tension in the piles from heave before the slab is cast",
    ),
    factors={MEMBER: holding_down.SHAFT},
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset({"sumps", "rain", "surcharge", "edge_loads", "temperature_rise"}),
    monotone={
        **holding_down.MONOTONE,
        "slab.heave_relief": -1,
    },
)
