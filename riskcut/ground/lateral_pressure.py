r"""Total horizontal pressure of layered ground on a wall, drained and undrained layers side by side.

On the retained side the active limit, on the excavated side the passive one, as straight pieces over level:

.. math:: \sigma_a = K_a \sigma'_v - K_{ac} c' + u, \quad \sigma_p = K_p \sigma'_v + K_{pc} c' + u
          \qquad \text{(drained)}

.. math:: \sigma_a = \sigma_v - K_{ac} s_u, \quad \sigma_p = \sigma_v + K_{pc} s_u \qquad \text{(undrained)}

with the stresses of :func:`riskcut.ground.effective_stress.layers`, which take the surcharge, the strength growing
with depth, and the coefficients of a stratum as the caller has them (:mod:`riskcut.ground.wall_coefficients` has
some). The pressure jumps where the ground does. It is total pressure: water that stands in drained ground is in it,
and so is water over the ground, but only from the surface or the formation down.

References
----------
EN 1997-1:2004, Annex C.1 (recalled); Terzaghi (1943), Theoretical Soil Mechanics, for tension cracks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from riskcut.ground import straight
from riskcut.ground.effective_stress import Layer
from riskcut.ground.envelope import larger, parted, present
from riskcut.ground.straight import Piece
from riskcut.ground.water import GAMMA_W
from riskcut.study.block import Number, Stratum


class Coefficients(NamedTuple):
    """Of the horizontal pressure of one stratum on one side of the wall."""

    stress: Number
    """*K* on the effective vertical stress of drained ground, on the total one of undrained ground (there 1)."""
    cohesion: Number
    """:math:`K_c`, positive, on the effective cohesion or the undrained strength."""


CoefficientsOf = Callable[[Stratum], Coefficients]
"""How a stratum comes by its coefficients."""


def passive(parts: Sequence[Layer], *, coefficients: CoefficientsOf) -> tuple[Piece, ...]:
    """Return the passive pressure over the height of the layers.

    Parameters
    ----------
    parts : sequence of Layer
        Stresses on the excavated side, from the formation down.
    coefficients : callable
        From a stratum to its passive coefficients.

    Returns
    -------
    tuple of Piece
        kPa, in all, from the top down. Drained ground that the water lifts has no friction left: its effective stress
        counts as none where it is below zero.
    """
    found: tuple[Piece, ...] = ()
    for part in parts:
        of = coefficients(part.stratum)
        strength = _strength(part)
        if part.stratum.undrained:
            found += (_sum(part.total, of.stress, strength, of.cohesion),)
            continue
        water = _pore(part)
        for stress in straight.floored(part.effective):
            here, pore = _over(strength, stress), _over(water, stress)
            found += (_plus(_sum(stress, of.stress, here, of.cohesion), pore),)
    return present(found)


def active_unbroken(parts: Sequence[Layer], *, coefficients: CoefficientsOf) -> tuple[Piece, ...]:
    """Return the active pressure as if the ground could pull on the wall, as closed-form solutions have it.

    Parameters
    ----------
    parts : sequence of Layer
        Stresses on the retained side, from the surface down.
    coefficients : callable
        From a stratum to its active coefficients.

    Returns
    -------
    tuple of Piece
        kPa, in all, from the top down; below zero where strength outdoes the stress.
    """
    found: tuple[Piece, ...] = ()
    for part in parts:
        earth = _active_earth(part, coefficients(part.stratum))
        found += (earth if part.stratum.undrained else _plus(earth, _pore(part)),)
    return found


def active(
    parts: Sequence[Layer],
    *,
    coefficients: CoefficientsOf,
    crack_water: Number | None = None,
    least: Number = 0.0,
) -> tuple[Piece, ...]:
    r"""Return the active pressure of ground that cannot pull, tension cracks and a least pressure counted.

    Undrained ground presses :math:`\max(\sigma_a, 0, m d)` at a depth *d* below the surface, or, in cracks that
    stand full of water to a level :math:`z_c`,

    .. math:: \sigma = \max(\gamma_w (z_c - z), \, 0, \, m d) \quad \text{where} \quad \sigma_a < 0

    Drained ground keeps its water: :math:`\max(\sigma'_a, 0) + u`, and no less than the water of a crack where
    :math:`\sigma'_a < 0`.

    Parameters
    ----------
    parts : sequence of Layer
        Stresses on the retained side, from the surface down.
    coefficients : callable
        From a stratum to its active coefficients.
    crack_water : float or ndarray, optional
        Level :math:`z_c` to which water stands in tension cracks, m; without it they are dry.
    least : float or ndarray
        Least total pressure *m* of undrained ground, kPa per metre of depth below the surface, 0 or more.

    Returns
    -------
    tuple of Piece
        kPa, in all, from the top down, cut where any two of these lines cross.

    Notes
    -----
    A crack is as deep as the unbroken active pressure is below zero, and no deeper for the water in it: at its
    end the pressure falls from the water's to nothing. Ground that would pull below other ground that does not
    is taken to gape too, and its gap to be joined to the water. A least pressure of 5 kPa per metre is common
    practice in Britain, BS 8002 (recalled).
    """
    found: tuple[Piece, ...] = ()
    for part in parts:
        earth = _active_earth(part, coefficients(part.stratum))
        if part.stratum.undrained:
            floor = _line(earth, start=parts[0].total.upper, per_metre=least)
            found += _undrained(earth, floor, crack_water)
        else:
            found += _drained(earth, _pore(part), crack_water)
    return present(found)


def _undrained(earth: Piece, floor: Piece, crack_water: Number | None) -> tuple[Piece, ...]:
    """Return the pressure of an undrained layer, no less than a floor which is not below zero."""
    if crack_water is None:
        return larger(earth, floor)
    found: tuple[Piece, ...] = ()
    for piece in parted(earth):
        crack = _line(piece, start=crack_water, per_metre=GAMMA_W)
        found += larger(_in_gaps(crack, piece, of=piece), _over(floor, piece))
    return found


def _drained(earth: Piece, pore: Piece, crack_water: Number | None) -> tuple[Piece, ...]:
    """Return the pressure of a drained layer: the earth's where that is above zero, and the water."""
    found: tuple[Piece, ...] = ()
    for piece in parted(earth):
        kept = piece._replace(
            at_upper=np.maximum(piece.at_upper, 0.0), at_lower=np.maximum(piece.at_lower, 0.0)
        )
        pressure = _plus(kept, _over(pore, piece))
        if crack_water is None:
            found += (pressure,)
            continue
        crack = _line(piece, start=crack_water, per_metre=GAMMA_W)
        found += larger(pressure, _in_gaps(crack, pressure, of=piece))
    return found


def _in_gaps(fill: Piece, other: Piece, *, of: Piece) -> Piece:
    """Return one line in the rows in which a piece that does not change sign is below zero, else another."""
    gapes = np.less(np.add(of.at_upper, of.at_lower), 0.0)
    return of._replace(
        at_upper=np.where(gapes, fill.at_upper, other.at_upper)[()],
        at_lower=np.where(gapes, fill.at_lower, other.at_lower)[()],
    )


def _active_earth(part: Layer, of: Coefficients) -> Piece:
    """Return the unbroken active pressure of a layer: total where it is undrained, effective where drained."""
    stress = part.total if part.stratum.undrained else part.effective
    return _sum(stress, of.stress, _strength(part), -np.asarray(of.cohesion)[()])


def _strength(part: Layer) -> Piece:
    """Return the undrained strength or the effective cohesion over a layer."""
    stratum = part.stratum
    if stratum.su_at_top is None:
        return part.total._replace(at_upper=stratum.cohesion, at_lower=stratum.cohesion)
    upper, lower = (
        stratum.su_at_top + stratum.su_per_metre * np.subtract(stratum.top, level)
        for level in (part.total.upper, part.total.lower)
    )
    return part.total._replace(at_upper=upper, at_lower=lower)


def _pore(part: Layer) -> Piece:
    """Return the pore pressure of a layer."""
    return part.total._replace(
        at_upper=np.subtract(part.total.at_upper, part.effective.at_upper),
        at_lower=np.subtract(part.total.at_lower, part.effective.at_lower),
    )


def _line(piece: Piece, *, start: Number, per_metre: Number) -> Piece:
    """Return what grows in proportion to the depth below a level, over the levels of a piece."""
    return piece._replace(
        at_upper=per_metre * np.subtract(start, piece.upper),
        at_lower=per_metre * np.subtract(start, piece.lower),
    )


def _over(line: Piece, piece: Piece) -> Piece:
    """Return a line over the levels of a piece of it."""
    return straight.clipped(line, upper=piece.upper, lower=piece.lower)


def _sum(first: Piece, times: Number, second: Piece, and_times: Number) -> Piece:
    """Return a sum of two pieces over the same levels, each with its factor."""
    return first._replace(
        at_upper=times * first.at_upper + and_times * second.at_upper,
        at_lower=times * first.at_lower + and_times * second.at_lower,
    )


def _plus(first: Piece, second: Piece) -> Piece:
    return _sum(first, 1.0, second, 1.0)
