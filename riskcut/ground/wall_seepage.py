r"""Pore pressure on both faces of a wall round whose foot water seeps into a cut.

The method of fragments gives the head at the wall's toe (:func:`riskcut.ground.seepage.into_a_cut`). Between
the ends of a fragment the head is taken to run straight along the wall, as published; or, in several straight
pieces, through heads that the fragment itself has there.
"""

from __future__ import annotations

from typing import NamedTuple, cast

import numpy as np
from scipy.special import ellipkm1, elliprf

from riskcut.ground import seepage
from riskcut.ground.fragment import image
from riskcut.ground.straight import Piece, floored
from riskcut.ground.water import GAMMA_W
from riskcut.study.block import Number


class OnTheWall(NamedTuple):
    """Pore pressure along the faces of a wall, kPa."""

    outside: tuple[Piece, ...]
    """From the upper end of the permeable ground outside (or the free water in it) down to the toe."""
    inside: tuple[Piece, ...]
    """From the formation down to the toe."""
    toe: Number
    """Piezometric level at the toe, m."""


def head_share(*, depth: Number, embedment: Number, thickness: Number, half_width: Number = np.inf) -> Number:
    r"""Return the head lost between a fragment's surface and a point of its wall, over that lost to the toe.

    .. math:: \frac{h(z)}{h_t} = \frac{F(\varphi, m)}{K(m)}, \qquad
              \sin\varphi = \frac{\operatorname{sn}(K_r z/T)}{m}

    Parameters
    ----------
    depth : float or ndarray
        *z* of the point below the surface, m, above 0 and not below the toe.
    embedment : float or ndarray
        *s* of the wall, m.
    thickness, half_width : float or ndarray
        *T* and *b* of the fragment, m, as in :func:`riskcut.ground.fragment.fragment`.

    Returns
    -------
    float or ndarray
        From 0 at the surface to 1 at the toe; :math:`(2/\pi) \arcsin(z/s)` in deep ground without end.

    References
    ----------
    Harr, M. E. (1962), Groundwater and Seepage, McGraw-Hill, chapters 4 and 5.
    """
    toe = image(depth=embedment, thickness=thickness, half_width=half_width)
    at, rest, _ = image(depth=depth, thickness=thickness, half_width=half_width)
    ratio = np.minimum(cast(Number, at) / cast(Number, toe.at), 1.0)
    short = np.maximum(cast(Number, rest) - cast(Number, toe.rest), 0.0) / cast(Number, toe.at)
    share = np.sqrt(ratio) * elliprf(short, rest, 1.0) / ellipkm1(cast(Number, toe.rest))
    return cast(Number, share)


def on_the_wall(
    *,
    water_outside: Number,
    entry: Number,
    water_inside: Number,
    formation: Number,
    toe: Number,
    thickness: Number,
    half_width: Number,
    pieces: int = 1,
) -> OnTheWall:
    r"""Return the pore pressure along a wall in permeable ground, with steady seepage round its toe.

    .. math:: u = \gamma_w \max(h(z) - z, 0), \qquad h_t = h_i + (h_o - h_i) \frac{\Phi_i}{\Phi_o + \Phi_i}

    Parameters
    ----------
    water_outside : float or ndarray
        Level :math:`h_o` of the water that drives the flow, m.
    entry : float or ndarray
        Level at which it enters the permeable ground outside: the lower of the ground's upper end and the
        water, m; not below the formation.
    water_inside : float or ndarray
        Level :math:`h_i` of the water inside, m; not below the formation.
    formation, toe : float or ndarray
        Levels, m, the toe below the formation.
    thickness : float or ndarray
        Permeable ground below the formation, m, more than the embedment; may be infinite.
    half_width : float or ndarray
        Half the width of the cut, m.
    pieces : int
        Straight pieces on each face: 1 as published; more follow the fragment's own heads.

    Returns
    -------
    OnTheWall
        Of the broadcast shape.

    Notes
    -----
    Uniform, isotropic ground and the range of use of :func:`riskcut.ground.seepage.into_a_cut`. Error against a
    finite-difference solution (tests/ground), in shares of :math:`h_o - h_i`: of the head at the toe -1 to +10 %;
    of straight heads -15 to +3 % outside and 0 to +17 % inside, so one straight piece reads too little water
    outside and too much inside, most half-way to three quarters down; of six pieces -5 to +4 % outside, -2 to
    +10 % inside, the most in narrow cuts, where the method puts too much loss inside.

    References
    ----------
    Harr, M. E. (1962), Groundwater and Seepage, McGraw-Hill, chapter 5.
    """
    embedment = np.subtract(formation, toe)
    way = np.maximum(np.subtract(entry, toe), embedment)
    flow = seepage.into_a_cut(outside=way, inside=embedment, thickness=thickness, half_width=half_width)
    at_toe = water_inside + np.subtract(water_outside, water_inside) * flow.toe
    outer = _face(way, flow.thickness + way - embedment, np.inf, pieces)
    inner = _face(embedment, flow.thickness, half_width, pieces)
    return OnTheWall(
        outside=_pressure(outer, toe + way, way, water_outside, at_toe),
        inside=_pressure(inner, np.add(toe, embedment), embedment, water_inside, at_toe),
        toe=at_toe,
    )


def _face(
    embedment: Number, thickness: Number, half_width: Number, pieces: int
) -> list[tuple[float, Number]]:
    """Return the ends of the pieces on one face: depth over the embedment, and share of the head lost to there."""
    ends: list[tuple[float, Number]] = [(0.0, 0.0)]
    for step in range(1, pieces):
        # In deep ground equal steps of this angle are equal steps of head.
        at = float(np.sin(0.5 * np.pi * step / pieces))
        share = head_share(
            depth=np.multiply(at, embedment), embedment=embedment, thickness=thickness, half_width=half_width
        )
        ends.append((at, share))
    return [*ends, (1.0, 1.0)]


def _pressure(
    ends: list[tuple[float, Number]], top: Number, embedment: Number, start: Number, at_toe: Number
) -> tuple[Piece, ...]:
    """Return the pressure between the ends of the pieces, floored at zero."""
    found: tuple[Piece, ...] = ()
    levels = [top - at * embedment for at, _ in ends]
    over = [
        GAMMA_W * (start + (at_toe - start) * share - z) for (_, share), z in zip(ends, levels, strict=True)
    ]
    for i in range(len(ends) - 1):
        found += floored(Piece(levels[i], levels[i + 1], over[i], over[i + 1]))
    return found
