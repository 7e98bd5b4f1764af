"""Flotation of the finished structure: water under the base slab lifts it, and all that hangs on it.

From the stage at which the base slab is cast the water that reaches its underside presses on it with its full
head, whatever the ground: in clay it takes time to come, but it comes along the walls, the piles and the
drainage layer. Against it stand the slab, the permanent load on it, the walls if the connection lets the slab
lift them, with the friction of the ground on their outer faces **if the study states it**, and tension piles.
Everything is per plan area of the cut, kPa.

The underside of the slab is the formation. The water under it stands at the level that the study states for
the stage, else at that of the free water outside, or at the aquifer's head where the slab lies in the aquifer.
Where a defect carries the aquifer's pressure up to the slab, no lower than the aquifer's head.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.ground import water
from riskcut.mechanisms import holding_down, overtopping, reading
from riskcut.mechanisms.contract import Mechanism, Member, Outcome, Step, Symbol
from riskcut.study.block import Block, Slab

NAME: Final = "flotation"
MEMBER: Final = "structure"

NOT_FLOODED: Final = (
    "the free water outside stays below the top of the wall (without a wall: the ground surface), above which "
    "the works flood"
)


def members(block: Block) -> tuple[Member, ...]:
    """Return the one limit state, ``structure``, with the reason where it is no question yet."""
    reason = None
    if not block.dug:
        reason = "nothing has been dug yet"
    elif block.slab is None:
        reason = "the base slab is not cast yet: there is nothing to float"
    return (Member(name=MEMBER, not_applicable=reason),)


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return what holds the slab down and the water pressure at its underside, kPa.

    Rows in which strata cross or the cut has no depth have a NaN resistance.

    Raises
    ------
    ValueError
        If a name is not ``structure``, or the slab is not cast.
    """
    for name in names:
        if name != MEMBER or block.slab is None:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    return tuple(_structure(block, block.slab) for _ in names if block.slab is not None)


def _structure(block: Block, slab: Slab) -> Outcome:
    level = holding_down.level_under_slab(block)
    action = water.pressure(head=level, elevation=block.formation)
    theta = reading.model_factor(block, mechanism=NAME, member=MEMBER)
    held = holding_down.holding(block, slab, water_level=level, model_factor=theta)
    resistance = reading.without(held.resistance, reading.impossible_ground(block))
    steps = (
        Step(symbol="z_s", meaning="level of the slab's underside", unit="m", value=block.formation),
        Step(symbol="h_s", meaning="level of the water under the slab", unit="m", value=level),
        *held.steps,
        Step(symbol="R", meaning="weights, friction and piles", unit="kPa", value=resistance),
        Step(symbol="S", meaning="water pressure at the slab's underside", unit="kPa", value=action),
    )
    outside = {NOT_FLOODED: np.greater(block.water_table, overtopping.rim(block))}
    return Outcome(resistance=resistance, action=action, outside=outside, steps=steps)


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Flotation",
    sentence="The water under the base slab lifts the finished structure.",
    unit="kPa",
    formula="S = 9.81 max(h_s - z_s, 0); " + holding_down.FORMULA,
    symbols=(
        Symbol(symbol="S", meaning="water pressure at the slab's underside", unit="kPa"),
        Symbol(symbol="h_s", meaning="level of the water under the slab", unit="m"),
        Symbol(symbol="z_s", meaning="level of the slab's underside: the formation", unit="m"),
        *holding_down.SYMBOLS,
    ),
    range_of_use=(
        NOT_FLOODED,
        "water at rest under the slab, at one level over the whole plan",
        "the walls stand around the whole plan",
    ),
    sources=holding_down.SOURCES,
    not_covered=(
        *holding_down.NOT_COVERED,
        "heave pressure of unloaded clay, where no relief fraction is stated (works.slab.heave_relief)",
    ),
    factors={MEMBER: holding_down.SHAFT},
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset({"sumps", "rain", "surcharge", "edge_loads", "temperature_rise"}),
    monotone={
        **holding_down.MONOTONE,
        "formation": +1,
        "strata.*.unit_weight": +1,
    },
)
