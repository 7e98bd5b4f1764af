r"""How much of the uplift of a plug hangs on the walls beside it, by the friction on their inner faces.

The friction over the plug's thickness inside the walls, no more than the walls can take by their own weight and
the friction on their outer faces; per plan area of the cut.

**How thick** (derived here): friction :math:`f = \alpha s_u \le s_u` on both walls of a plug of thickness *t* and
span *B* holds a net load of :math:`2 f t/B`, which bends the plug with :math:`f t B/4`. Weightless clay that
yields in compression and tension at :math:`2 s_u` (in an arch against the walls: in compression alone) resists
:math:`2 s_u t^2/4`. So friction comes first up to :math:`B/t = 2 s_u/f`, which is 2 or more; a spread of
shear at 45 degrees from either wall meets in the middle at the same 2.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from riskcut.ground.profile import Rows
from riskcut.mechanisms import aquifers, holding_down, wall_friction
from riskcut.mechanisms.contract import Step, Symbol
from riskcut.study.block import Block, Number, Wall

SPAN: Final = 2.0
"""Width of the cut over the thickness of the plug inside the walls, up to which friction reaches its middle."""
SPANS: Final = "with the walls: the cut is no wider than twice the thickness of the plug inside them"

SYMBOLS: Final = (
    Symbol(symbol="F", meaning="what the plug hangs on the walls with per plan area", unit="kPa"),
    Symbol(symbol="F_i", meaning="friction on the walls' inner faces, over the plug in them", unit="kPa"),
    Symbol(symbol="F_o", meaning="friction on their outer faces, over the buried height", unit="kPa"),
    *wall_friction.SYMBOLS,
    Symbol(symbol="W_wall", meaning="weight of the walls, less the water on their toe", unit="kPa"),
    Symbol(symbol="gamma_c", meaning="unit weight of the walls", unit="kN/m3"),
    Symbol(symbol="z_t", meaning="level of the walls' top", unit="m"),
    Symbol(symbol="z_b", meaning="level of the walls' toe", unit="m"),
    Symbol(symbol="u_b", meaning="water pressure at the walls' toe", unit="kPa"),
    Symbol(symbol="t", meaning="thickness of the walls", unit="m"),
    Symbol(symbol="B", meaning="width of the cut", unit="m"),
    Symbol(symbol="L", meaning="length of the cut", unit="m"),
)


def not_counted(block: Block) -> str | None:
    """Return why friction on the walls is not counted in a block that has a plug, None where it is."""
    if block.aquifer is None or block.wall is None:
        return "there is no wall beside the plug"
    formation = float(block.formation)
    end = float(np.maximum(aquifers.aquifer_top(block, block.aquifer), block.wall.toe))
    if end >= formation:
        return "no part of a plug lies inside the walls"
    return wall_friction.not_counted(block, block.wall, upper=formation, lower=end)


def span(block: Block) -> float:
    """Return the width of the cut over the thickness of the plug inside the walls, at the means."""
    if block.aquifer is None or block.wall is None:
        return np.inf
    end = np.maximum(aquifers.aquifer_top(block, block.aquifer), block.wall.toe)
    return float(block.width / np.subtract(block.formation, end))


class Hung(NamedTuple):
    """What the plug hangs on the walls with, and the numbers on the way."""

    friction: Number
    """Per plan area, kPa."""
    too_thin: Rows
    """Rows in which the plug is too thin for its width to bring its load to the walls."""
    steps: tuple[Step, ...]


def hung(block: Block, wall: Wall, *, underside: Number, model_factor: Number) -> Hung:
    r"""Return what the plug of a block hangs on its walls with.

    .. math:: F = \min(\theta F_i, W_{wall} + \theta F_o)

    Parameters
    ----------
    block : Block
        For its ground, its water and its plan.
    wall : Wall
        Of the block.
    underside : float or ndarray
        Level of the plug's underside, m.
    model_factor : float or ndarray
        :math:`\theta`, on friction, never on the walls' weight.

    Returns
    -------
    Hung
        Of the broadcast shape.
    """
    level = block.water_inside if block.slab is None else holding_down.level_under_slab(block)
    level = np.maximum(level, block.formation)
    around = wall_friction.around(block)
    inner = around * wall_friction.inside(block, wall, lower=underside, water_level=level)
    outer = around * wall_friction.outside(block, wall)
    weight, pressure = holding_down.hanging_walls(block, wall, water_level=level)
    friction = np.minimum(model_factor * inner, weight + model_factor * outer)
    steps = (
        Step(symbol="F_i", meaning="plug on the walls' inner faces", unit="kPa", value=inner),
        Step(symbol="u_b", meaning="water pressure at the walls' toe", unit="kPa", value=pressure),
        Step(symbol="W_wall", meaning="walls, less the water on their toe", unit="kPa", value=weight),
        Step(symbol="F_o", meaning="ground on the walls' outer faces", unit="kPa", value=outer),
        Step(symbol="F", meaning="what the plug hangs on the walls with", unit="kPa", value=friction),
    )
    inside = np.subtract(block.formation, np.maximum(underside, wall.toe))
    return Hung(friction, np.greater(block.width, SPAN * inside), steps)
