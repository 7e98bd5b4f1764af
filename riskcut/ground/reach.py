"""How far ground of one kind, drained or undrained, goes on below and above a level without a break."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from riskcut.ground.profile import tops
from riskcut.study.block import Number, Stratum


def undrained_depth(strata: Sequence[Stratum], *, level: Number) -> Number:
    """Return how far the undrained soil reaches below a level, down to the first drained stratum.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down.
    level : float or ndarray
        The level to start from, m.

    Returns
    -------
    float or ndarray
        Thickness, m: infinite where no drained stratum lies below; zero or negative (the depth of the
        level below that stratum's top) where the level itself lies in drained soil.
    """
    return _depth(strata, level=level, undrained=True)


def drained_depth(strata: Sequence[Stratum], *, level: Number) -> Number:
    """Return how far the drained soil reaches below a level: as :func:`undrained_depth`, with the kinds exchanged."""
    return _depth(strata, level=level, undrained=False)


def _depth(strata: Sequence[Stratum], *, level: Number, undrained: bool) -> Number:
    depth: Number = np.inf
    for stratum, top, bottom in reversed(list(_layers(strata))):
        if stratum.undrained != undrained:
            reached = np.less(bottom, level) & np.less(bottom, top)
            depth = np.where(reached, np.subtract(level, top), depth)[()]
    return depth


def drained_top(strata: Sequence[Stratum], *, level: Number) -> Number:
    """Return the level up to which the soil is drained without a break, from a level up.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down.
    level : float or ndarray
        The level to start from, m.

    Returns
    -------
    float or ndarray
        Level, m: the underside of the lowest undrained stratum above, else the ground surface; the level
        itself where it lies in undrained soil.
    """
    reached: Number = strata[0].top
    for stratum, top, bottom in _layers(strata):
        if stratum.undrained:
            above = np.greater(top, bottom) & np.greater(top, level)
            reached = np.where(above, np.maximum(bottom, level), reached)[()]
    return reached


def _layers(strata: Sequence[Stratum]) -> Iterator[tuple[Stratum, Number, Number]]:
    """Yield each stratum with the levels of its top and bottom, a stratum that is overtaken without room."""
    for stratum, (top, bottom) in zip(strata, pairwise((*tops(strata), -np.inf)), strict=True):
        yield stratum, top, bottom
