"""Overtopping: the water outside stands higher than what keeps it out, and drowns the works.

The level of the free water outside (a tide, a river in flood, water on the ground) against the level over which
it would run into the cut: the wall's top, or the ground surface where there is no wall, no top is stated, or the
wall ends below the ground. A freeboard for waves may be taken off (``models.overtopping.freeboard``).

It governs, and enters the system: the cut fills in minutes, with men and plant in it. There is a second reason:
in rows in which the flood runs over the wall all other mechanisms are still judged on a dry cut beside that
flood, which no longer exists. Their verdict on such a row means little, and the system's must not hang on it.
No model factor: level against level. Both are told as heights over the formation, so that their ratio does not hang on
the datum.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.mechanisms import reading
from riskcut.mechanisms.contract import Mechanism, Member, Option, Outcome, Step, Symbol
from riskcut.study.block import Block, Number

NAME: Final = "overtopping"
MEMBER: Final = "rim"

WALL_OVER_GROUND: Final = "the wall's top, where it is stated, lies no lower than the ground surface"

OPTIONS: Final = {
    "freeboard": Option(
        meaning="height kept for waves and for what the rim gives way, m: taken off the rim's level",
        default=0.0,
        lowest=0.0,
        highest=5.0,
    )
}


def rim(block: Block) -> Number:
    """Return the level over which free water outside would run into the cut, m."""
    if block.wall is None or block.wall.top is None:
        return block.surface
    return np.maximum(block.wall.top, block.surface)


def members(block: Block) -> tuple[Member, ...]:
    """Return the one limit state, ``rim``, with the reason where it is no question."""
    reason = None
    if not block.dug:
        reason = "nothing has been dug yet"
    elif block.permanent:
        reason = "the finished works keep water out by openings and gates of their own, which the study lacks"
    return (Member(name=MEMBER, not_applicable=reason),)


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return the height of the rim and of the free water outside over the formation, m.

    Rows in which strata cross or the cut has no depth have a NaN resistance.

    Raises
    ------
    ValueError
        If a name is not ``rim``.
    """
    for name in names:
        if name != MEMBER:
            raise ValueError(f"{NAME} has no member {name!r} in this block")
    return tuple(_rim(block) for _ in names)


def _rim(block: Block) -> Outcome:
    level = rim(block)
    freeboard = reading.number(block, mechanism=NAME, key="freeboard", options=OPTIONS)
    kept = np.subtract(level, freeboard) - block.formation
    resistance = reading.without(kept, reading.impossible_ground(block))
    action = np.subtract(block.water_table, block.formation)
    steps = (
        Step(symbol="z_r", meaning="level of the rim", unit="m", value=level),
        Step(symbol="f", meaning="freeboard", unit="m", value=freeboard),
        Step(
            symbol="R",
            meaning="height over the formation that keeps the water out",
            unit="m",
            value=resistance,
        ),
        Step(
            symbol="S", meaning="height of the free water outside over the formation", unit="m", value=action
        ),
    )
    top = block.surface if block.wall is None or block.wall.top is None else block.wall.top
    outside = {WALL_OVER_GROUND: np.less(top, block.surface)}
    return Outcome(resistance=resistance, action=action, outside=outside, steps=steps)


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Overtopping",
    sentence="The water outside rises over the wall's top, or over the ground, and drowns the works.",
    unit="m",
    formula="S = z_w - z_f; R = z_r - f - z_f; z_r = max(z_t, z_s)",
    symbols=(
        Symbol(symbol="S", meaning="height of the free water outside over the formation", unit="m"),
        Symbol(symbol="R", meaning="height over the formation that keeps it out", unit="m"),
        Symbol(symbol="z_f", meaning="level of the formation", unit="m"),
        Symbol(symbol="z_w", meaning="level of the free water outside", unit="m"),
        Symbol(symbol="z_r", meaning="level of the rim", unit="m"),
        Symbol(
            symbol="z_t", meaning="level of the wall's top, where there is a wall and it is stated", unit="m"
        ),
        Symbol(symbol="z_s", meaning="level of the ground surface", unit="m"),
        Symbol(symbol="f", meaning="freeboard", unit="m"),
    ),
    range_of_use=(WALL_OVER_GROUND, "water at one level all round; a rim without gaps"),
    sources=("level against level: no model",),
    not_covered=(
        "waves, and settlement of the rim, but for the freeboard that the study states",
        "openings in the wall, ramps, drains and ducts below the rim",
        "the strength of the wall's upper part against water that stands on it",
        "how long the water stands over the rim, and what runs in by then",
        "the finished works, which have a rim of their own",
    ),
    factors={},
    members=members,
    evaluate=evaluate,
    options=OPTIONS,
    unaffected_by=frozenset(
        {
            "aquifer",
            "water_inside",
            "water_under_slab",
            "sumps",
            "rain",
            "surcharge",
            "edge_loads",
            "temperature_rise",
        }
    ),
    monotone={"water_table": -1, "wall.top": +1},
)
