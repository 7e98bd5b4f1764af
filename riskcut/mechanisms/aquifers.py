"""Where the confined aquifer of a block begins, how far its head reaches, and whether it flows into the cut."""

from __future__ import annotations

import numpy as np

from riskcut.ground import reach
from riskcut.study.block import Aquifer, Block, Number


def aquifer_top(block: Block, aquifer: Aquifer) -> Number:
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


def head_at(block: Block, *, level: Number, otherwise: Number) -> Number:
    """Return the higher of a water level and the aquifer's head, where a level lies in the aquifer.

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
    reached = np.less(level, aquifer_top(block, block.aquifer))
    return np.where(reached, np.maximum(block.aquifer.head, otherwise), otherwise)[()]


def flows_under_the_wall(block: Block) -> bool:
    """Whether, at the means, permeable ground reaches from the formation down past the wall's toe."""
    if block.wall is None:
        return False
    formation = float(block.formation)
    below = float(reach.drained_depth(block.strata, level=formation))
    return below > max(formation - float(block.wall.toe), 0.0)
