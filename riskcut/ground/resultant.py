"""The force of straight pieces of pressure, and its moment about a level."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from riskcut.ground import straight
from riskcut.ground.straight import Piece
from riskcut.study.block import Number


class Resultant(NamedTuple):
    """What a diagram of pressure comes to, of the broadcast shape."""

    force: Number
    """kN/m."""
    moment: Number
    """kNm/m, positive where the force acts below the level that it is taken about."""


def resultant(
    pieces: Sequence[Piece], *, about: Number, upper: Number = math.inf, lower: Number = -math.inf
) -> Resultant:
    r"""Return the force of a diagram between two levels, and its moment about a third, exactly.

    .. math:: F = \int_{z_l}^{z_u} p \, \mathrm{d}z, \qquad M = \int_{z_l}^{z_u} p \, (z_0 - z) \, \mathrm{d}z

    Parameters
    ----------
    pieces : sequence of Piece
        Pressure over level, kPa, from the top down.
    about : float or ndarray
        Level :math:`z_0`, m.
    upper, lower : float or ndarray
        Levels between which the pressure counts, m; without them all of it.

    Returns
    -------
    Resultant
        Nothing where the levels are in the other order.
    """
    force: Number = 0.0
    moment: Number = 0.0
    for piece in pieces:
        part = straight.clipped(piece, upper=upper, lower=lower)
        extent = np.subtract(part.upper, part.lower)
        share = 0.5 * extent * (part.at_upper + part.at_lower)
        force = force + share
        arm = np.subtract(about, part.upper)
        moment = moment + share * arm + extent * extent * (part.at_upper + 2.0 * part.at_lower) / 6.0
    return Resultant(force, moment)
