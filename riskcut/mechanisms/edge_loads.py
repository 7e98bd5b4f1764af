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
from riskcut.ground.rows import every
from riskcut.mechanisms.spans import Diagram, Piece
from riskcut.study.block import EdgeLoad, Number

DEPTHS: Final = (
    0.0,
    0.05,
    0.1,
    0.15,
    0.2,
    0.3,
    0.4,
    0.5,
    0.65,
    0.8,
    1.0,
    1.3,
    1.7,
    2.2,
    3.0,
    4.5,
    7.0,
    12.0,
    1e3,
)
"""Where the pressure is taken, over the distance of the load's far edge; closest where it changes most."""


def unit_diagram(load: EdgeLoad, *, depth: Number) -> Diagram:
    """Return the lateral pressure of one load over the height of the cut, for a pressure of 1 on it.

    Parameters
    ----------
    load : EdgeLoad
        A strip, or a patch where it has a length.
    depth : float or ndarray
        Of the cut, m.

    Returns
    -------
    tuple of Piece
        On a wall that does not yield, down to the depth of the cut. The depths depend on the load alone: where it
        stands at a certain place, only the piece that formation cuts differs from row to row.
    """
    far = np.add(load.distance, load.width)
    levels = [part * far for part in DEPTHS]
    pressures = [_unit_pressure(load, level) for level in levels]
    pieces = []
    for (upper, lower), (p_upper, p_lower) in zip(pairwise(levels), pairwise(pressures), strict=True):
        if every(np.greater_equal(upper, depth)):
            break
        if every(np.less_equal(lower, depth)):
            pieces.append(Piece(upper, lower, p_upper, p_lower))
            continue
        end = np.maximum(np.minimum(lower, depth), upper)
        p_end = p_upper + np.subtract(p_lower, p_upper) * (
            np.subtract(end, upper) / np.subtract(lower, upper)
        )
        pieces.append(Piece(upper, end, p_upper, p_end))
    return tuple(pieces)


def _unit_pressure(load: EdgeLoad, depth: Number) -> Number:
    place = {"depth": depth, "pressure": 1.0, "distance": load.distance, "width": load.width}
    if load.length is None:
        return strip_pressure(**place)
    return patch_pressure(**place, length=load.length)


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
