r"""Total and effective vertical stress of layered ground under any straight profile of pore pressure.

The profile of :mod:`riskcut.ground.pore_pressure` begins at the surface of the ground (or of what is left of
it in the cut) with the weight of the water that stands there. From it down the total stress grows with the
total unit weight, and the effective stress is what the pore pressure leaves,

.. math:: \sigma_v = u(z_0) + q + \int_z^{z_0} \gamma \, \mathrm{d}z, \qquad \sigma'_v = \sigma_v - u

Nothing is clipped: an artesian pressure that carries more than the ground weighs gives an effective stress
below zero, and :func:`lifted` tells those rows. Friction asks for :func:`integral` with ``floor``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from riskcut.ground import profile, straight
from riskcut.ground.straight import Piece
from riskcut.study.block import Number, Stratum


class Layer(NamedTuple):
    """A part of one stratum in which all three run straight."""

    stratum: Stratum
    total: Piece
    """Total vertical stress, kPa."""
    effective: Piece
    """Effective vertical stress, kPa; below zero where the water lifts the ground."""


def layers(strata: Sequence[Stratum], pore: Sequence[Piece], *, load: Number = 0.0) -> tuple[Layer, ...]:
    """Return the stresses over the height of a profile of pore pressure.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down; what lies above the upper end of ``pore`` weighs nothing (it was dug away).
    pore : sequence of Piece
        Pore pressure from the surface down, kPa; at its upper end the water that stands there.
    load : float or ndarray
        Further load *q* on the surface, kPa.

    Returns
    -------
    tuple of Layer
        From the top down.
    """
    found: list[Layer] = []
    total = np.add(pore[0].at_upper, load)
    for part, upper, lower in _bounds(strata, pore):
        weight = part.stratum.unit_weight
        for water in straight.reaching(pore, upper=upper, lower=lower):
            over, under = (total + weight * (upper - level) for level in (water.upper, water.lower))
            whole = Piece(water.upper, water.lower, over, under)
            left = whole._replace(at_upper=over - water.at_upper, at_lower=under - water.at_lower)
            found.append(Layer(part.stratum, whole, left))
        total = total + weight * part.thickness
    return tuple(found)


def _bounds(
    strata: Sequence[Stratum], pore: Sequence[Piece]
) -> Iterator[tuple[profile.Slice, Number, Number]]:
    """Yield the parts of the strata with the levels of their ends, each beginning exactly where the last one ends."""
    parts = list(profile.slices(strata, upper=pore[0].upper, lower=pore[-1].lower))
    ends: list[Number] = [pore[-1].lower]
    for part in reversed(parts):
        ends.append(np.where(np.greater(part.thickness, 0.0), part.top, ends[-1])[()])
    for part, (upper, lower) in zip(parts, pairwise(reversed(ends)), strict=True):
        yield part, upper, lower


def total_at(parts: Sequence[Layer], *, level: Number) -> Number:
    """Return the total vertical stress at a level, kPa; 0 above and below the layers."""
    return straight.value_at([part.total for part in parts], level=level)


def effective_at(parts: Sequence[Layer], *, level: Number) -> Number:
    """Return the effective vertical stress at a level, kPa, just above it where the pore pressure jumps."""
    return straight.value_at([part.effective for part in parts], level=level)


def total_integral(parts: Sequence[Layer], *, upper: Number, lower: Number) -> Number:
    """Return the total vertical stress integrated between two levels, kN/m."""
    return straight.integral([part.total for part in parts], upper=upper, lower=lower)


def effective_integral(
    parts: Sequence[Layer],
    *,
    upper: Number,
    lower: Number,
    weight: Callable[[Stratum], Number] = lambda _: 1.0,
    floor: bool = False,
) -> Number:
    r"""Return the effective vertical stress integrated between two levels, each stratum with its weight.

    .. math:: \sum_i w_i \int_i \sigma'_v \, \mathrm{d}z

    Parameters
    ----------
    parts : sequence of Layer
        As :func:`layers` returns them.
    upper, lower : float or ndarray
        Levels, m.
    weight : callable
        From a stratum to the number by which its part is multiplied.
    floor : bool
        Whether stress below zero counts as none, as friction has it.

    Returns
    -------
    float or ndarray
        kN/m times the unit of the weight.
    """
    total: Number = 0.0
    for part in parts:
        pieces = straight.floored(part.effective) if floor else (part.effective,)
        total = total + weight(part.stratum) * straight.integral(pieces, upper=upper, lower=lower)
    return total


def least(parts: Sequence[Layer]) -> Number:
    """Return the least effective vertical stress over the layers, kPa."""
    lowest: Number = np.inf
    for part in parts:
        here = np.greater(part.effective.upper, part.effective.lower)
        end = np.minimum(part.effective.at_upper, part.effective.at_lower)
        lowest = np.where(here, np.minimum(lowest, end), lowest)[()]
    return lowest


def lifted(parts: Sequence[Layer]) -> profile.Rows:
    """Tell the rows in which the water carries more than the ground weighs somewhere in the layers."""
    return np.less(least(parts), 0.0)
