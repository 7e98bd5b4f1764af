"""What loads of plant and stores beside the cut bring on its props and on its base.

The props feel the lateral pressure of elasticity (:mod:`riskcut.ground.edge_load`), taken as straight between
depths; the base feels the part of the load that stands on the failing ground, spread over its breadth and over
the length of the cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from riskcut.ground.edge_load import patch_pressure, strip_pressure
from riskcut.mechanisms.spans import Diagram, Piece
from riskcut.study.block import EdgeLoad, Number

DEPTHS: Final = (0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.37, 0.45, 0.55, 0.65, 0.8, 1.0)
"""Of the depth of the cut, where the pressure is taken; closest where it changes most."""


def diagram(load: EdgeLoad, *, depth: Number) -> Diagram:
    """Return the lateral pressure of one load over the height of the cut.

    Parameters
    ----------
    load : EdgeLoad
        A strip, or a patch where it has a length.
    depth : float or ndarray
        Of the cut, m.

    Returns
    -------
    tuple of Piece
        kPa on a wall that does not yield.
    """
    levels = [part * depth for part in DEPTHS]
    pressures = [_pressure(load, level) for level in levels]
    return tuple(
        Piece(upper, lower, p_upper, p_lower)
        for (upper, lower), (p_upper, p_lower) in zip(pairwise(levels), pairwise(pressures), strict=True)
    )


def _pressure(load: EdgeLoad, depth: Number) -> Number:
    if load.length is None:
        return strip_pressure(depth=depth, pressure=load.pressure, distance=load.distance, width=load.width)
    return patch_pressure(
        depth=depth, pressure=load.pressure, distance=load.distance, width=load.width, length=load.length
    )


def on_failing_ground(loads: Sequence[EdgeLoad], *, breadth: Number, length: Number) -> Number:
    r"""Return the edge loads as a uniform surcharge on the ground that sinks in base heave.

    .. math:: q_e = \sum q \, \frac{[a, a + b] \cap [0, B_1]}{B_1} \, \frac{\min(l, L)}{L}

    Parameters
    ----------
    loads : sequence of EdgeLoad
        Beside the cut.
    breadth : float or ndarray
        :math:`B_1` of the failing ground beside the wall, m.
    length : float or ndarray
        *L* of the cut, m; a strip runs along all of it.

    Returns
    -------
    float or ndarray
        kPa.

    Notes
    -----
    Vertical balance; common practice, no source.
    """
    total: Number = 0.0
    for load in loads:
        over = np.maximum(np.minimum(np.add(load.distance, load.width), breadth) - load.distance, 0.0)
        along = 1.0 if load.length is None else np.minimum(load.length, length) / length
        total = total + load.pressure * (over / breadth) * along
    return total
