"""Where the confined aquifer of a block begins, how far its head reaches, and whether it flows into the cut.

A defect of the ground or of the cut-off (a sand window, a borehole that was not sealed, the ring round a pile,
an open joint) carries the aquifer's pressure up to a level that the study states: from there down, the block is
read as if the aquifer began there. A defect is a place, and the ground is judged at that place.
"""

from __future__ import annotations

import numpy as np

from riskcut.ground import pore_pressure, reach, straight, water
from riskcut.ground.profile import Rows
from riskcut.study.block import Aquifer, Block, Number, Wall


def stratum_top(block: Block, aquifer: Aquifer) -> Number:
    """Return the level of the top of the aquifer's stratum, m.

    Raises
    ------
    ValueError
        If the section has no stratum of that name.
    """
    for stratum in block.strata:
        if stratum.name == aquifer.stratum:
            return stratum.top
    raise ValueError(
        f"the aquifer is stated in stratum {aquifer.stratum!r}, which section {block.section!r} lacks"
    )


def aquifer_top(block: Block, aquifer: Aquifer) -> Number:
    """Return the level up to which the aquifer's pressure acts: of its stratum's top, or of a defect above it, m.

    Raises
    ------
    ValueError
        If the section has no stratum of that name.
    """
    top = stratum_top(block, aquifer)
    return top if aquifer.reaches is None else np.maximum(top, aquifer.reaches)


def pressed(block: Block, aquifer: Aquifer, *, level: Number) -> Rows:
    """Tell the rows in which a level feels the aquifer's pressure: below its stratum's top, or up to a defect."""
    inside: Rows = np.less(level, stratum_top(block, aquifer))
    return inside if aquifer.reaches is None else inside | np.less_equal(level, aquifer.reaches)


def open_to_the_cut(block: Block, aquifer: Aquifer) -> Rows:
    """Tell the rows in which a defect carries the aquifer's pressure as high as the formation."""
    return False if aquifer.reaches is None else np.greater_equal(aquifer.reaches, block.formation)


def head_at(block: Block, *, level: Number, otherwise: Number) -> Number:
    """Return the higher of a water level and the aquifer's head, where the aquifer's pressure acts at a level.

    Parameters
    ----------
    block : Block
        For its strata and its aquifer.
    level : float or ndarray
        Of the point in the ground, m.
    otherwise : float or ndarray
        Level of the water that stands there if the aquifer does not reach it, m.

    Returns
    -------
    float or ndarray
        Piezometric level, m.
    """
    if block.aquifer is None:
        return otherwise
    reached = pressed(block, block.aquifer, level=level)
    return np.where(reached, np.maximum(block.aquifer.level, otherwise), otherwise)[()]


def level_outside(block: Block, wall: Wall) -> Number:
    """Return the piezometric level outside at the wall's toe, no flow; the toe's own where the ground is dry, m."""
    toe = np.minimum(wall.toe, block.surface)
    pore = pore_pressure.outside(block, down_to=toe)
    level = toe + straight.value_at(pore, level=toe) / water.GAMMA_W
    return head_at(block, level=toe, otherwise=level)


def passes_the_toe(block: Block, wall: Wall) -> Rows:
    """Tell the rows in which permeable ground reaches from the formation down past the wall's toe."""
    below = reach.drained_depth(block.strata, level=block.formation)
    rows: Rows = np.greater(below, np.maximum(np.subtract(block.formation, wall.toe), 0.0))
    return rows


def flows_under_the_wall(block: Block) -> bool:
    """Whether, at the means, permeable ground reaches from the formation down past the wall's toe."""
    return block.wall is not None and bool(passes_the_toe(block, block.wall))
