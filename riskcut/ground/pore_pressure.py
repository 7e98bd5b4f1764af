r"""The pore water pressure of a block's ground, outside the cut and below it, as straight pieces over level.

What a study states fixes the profile; between two levels it is exact:

- *hydrostatic* (the default): from the free water down, nothing above it; water over the ground presses on it;
- *to the aquifer*: steady seepage straight down (an under-drained profile) or up (an artesian one) between the
  free water and the aquifer. The head is lost in undrained strata alone, in proportion to their thickness, or
  to thickness over permeability where all of them state it; drained strata keep the head that they are reached
  with. Where only drained ground lies between, it loses the head, by the same rule;
- *perched water*: above the top of the stratum that it stands on, hydrostatic from its own level; from there
  down, what the ground would hold without it: nothing down to the free water.

In the aquifer, and in drained ground that no undrained stratum parts from it in a profile to the aquifer, the
water is at rest under the aquifer's own level; in a hydrostatic profile the pressure jumps at its top.

There is no suction: where a head lies below its point the pressure is zero. Range of use: steady state; in clay
that has not yet come to it after a change of level the pressure lags behind. Defects of the cut-off
(:attr:`Aquifer.reaches`) are places, not profiles, and change nothing here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from riskcut.ground import profile, reach
from riskcut.ground.straight import Piece, floored
from riskcut.ground.water import GAMMA_W
from riskcut.study.block import Aquifer, Block, Number, Stratum


def outside(block: Block, *, down_to: Number) -> tuple[Piece, ...]:
    r"""Return the pore pressure beside the cut, from the ground surface down, without flow round the wall.

    .. math:: u(z) = \gamma_w \max(h(z) - z, 0), \qquad
              h(z) = z_w - (z_w - h_a) \frac{\int_z^{z_s} \mathrm{d}z/k}{\int_{z_e}^{z_s} \mathrm{d}z/k}

    Parameters
    ----------
    block : Block
        For its ground and its water.
    down_to : float or ndarray
        Level at which the profile ends, m.

    Returns
    -------
    tuple of Piece
        kPa; the first begins at the ground surface, with the weight of water that stands on it.

    Raises
    ------
    ValueError
        If the perched water or the aquifer names a stratum that the block lacks.

    Notes
    -----
    :math:`z_s` is the level of the free water or of the ground, whichever is lower, :math:`z_e` the end of the
    undrained ground (the underside of the lowest undrained stratum above the aquifer), :math:`h_a` the
    aquifer's level, but not below :math:`z_e`, where air would come in. Perched water merges with free water that
    stands above the top of the stratum which bears it: above that top the higher of the two levels holds,
    below it the free water's; between the two the pressure jumps. Free water below the aquifer's top: nothing
    down to that top.

    References
    ----------
    Terzaghi, Peck & Mesri (1996), Soil Mechanics in Engineering Practice, 3rd ed., Wiley: flow across layers;
    under-drained profiles below perched or free water: common practice (recalled).
    """
    surface = block.surface
    lower = np.minimum(down_to, surface)
    if block.perched is None:
        return _column(block, upper=surface, lower=lower, level=block.water_table)
    bed = np.minimum(np.maximum(top_of(block.strata, name=block.perched.on), lower), surface)
    over = _at_rest(upper=surface, lower=bed, level=np.maximum(block.perched.level, block.water_table))
    return over + _column(block, upper=bed, lower=lower, level=block.water_table)


def inside(block: Block, *, down_to: Number, level: Number | None = None) -> tuple[Piece, ...]:
    """Return the pore pressure below the formation, without flow round the wall.

    Parameters
    ----------
    block : Block
        For its ground and its water.
    down_to : float or ndarray
        Level at which the profile ends, m.
    level : float or ndarray, optional
        Level of the water at the formation, m, not below it; without it, that of the water inside the cut. Under
        a slab it is the caller's.

    Returns
    -------
    tuple of Piece
        kPa; the first begins at the formation. As :func:`outside`, from the formation down.
    """
    start = block.water_inside if level is None else level
    lower = np.minimum(down_to, block.formation)
    return _column(block, upper=block.formation, lower=lower, level=start)


def top_of(strata: Sequence[Stratum], *, name: str) -> Number:
    """Return the level of the top of a stratum, m.

    Raises
    ------
    ValueError
        If there is no stratum of that name.
    """
    for stratum in strata:
        if stratum.name == name:
            return stratum.top
    raise ValueError(f"there is no stratum {name!r} for the water that is stated in it")


def _at_rest(*, upper: Number, lower: Number, level: Number) -> tuple[Piece, ...]:
    """Return the pressure of water at rest under a piezometric level."""
    return _of_heads(upper, lower, level, level)


def _of_heads(upper: Number, lower: Number, first: Number, last: Number) -> tuple[Piece, ...]:
    """Return the pressure between two levels with the piezometric levels at them."""
    at_upper, at_lower = (GAMMA_W * np.subtract(head, z) for head, z in ((first, upper), (last, lower)))
    return floored(Piece(upper, lower, at_upper, at_lower))


def _column(block: Block, *, upper: Number, lower: Number, level: Number) -> tuple[Piece, ...]:
    """Return the pressure in the ground from its upper end, under free water of a level, down to an end."""
    if block.aquifer is None:
        return _at_rest(upper=upper, lower=lower, level=level)
    top = np.minimum(top_of(block.strata, name=block.aquifer.stratum), upper)
    if block.pore_pressure == "hydrostatic":
        edge = np.maximum(top, lower)
        within = _at_rest(upper=edge, lower=lower, level=block.aquifer.level)
        return _at_rest(upper=upper, lower=edge, level=level) + within
    start = np.maximum(np.minimum(level, upper), top)
    first = _at_rest(upper=upper, lower=np.maximum(start, lower), level=level)
    middle, end = _seeping(block.strata, block.aquifer, upper=start, top=top, level=level, lower=lower)
    last = _at_rest(upper=np.maximum(end, lower), lower=lower, level=block.aquifer.level)
    return first + middle + last


def _seeping(
    strata: Sequence[Stratum], aquifer: Aquifer, *, upper: Number, top: Number, level: Number, lower: Number
) -> tuple[tuple[Piece, ...], Number]:
    """Return the pressure of steady flow to the aquifer, no deeper than ``lower``, and the level at which it ends."""
    tight = np.greater(profile.undrained_thickness(strata, upper=upper, lower=top), 0.0)
    end = np.where(tight, np.minimum(reach.drained_top(strata, level=top), upper), top)[()]
    parts = list(profile.slices(strata, upper=upper, lower=end))
    hindrance = _hindrance(parts, tight)
    whole: Number = 0.0
    for part, per_metre in zip(parts, hindrance, strict=True):
        whole = whole + per_metre * part.thickness
    lost = (
        np.subtract(level, np.maximum(aquifer.level, end))
        / np.where(np.greater(whole, 0.0), whole, np.inf)[()]
    )
    pieces: tuple[Piece, ...] = ()
    z, head = upper, level
    for part, per_metre in zip(parts, hindrance, strict=True):
        fall = lost * per_metre
        bottom = z - part.thickness
        begin, stop = np.maximum(z, lower), np.maximum(bottom, lower)
        pieces += _of_heads(begin, stop, head - fall * (z - begin), head - fall * (z - stop))
        z, head = bottom, head - fall * part.thickness
    return pieces, z


def _hindrance(parts: Sequence[profile.Slice], tight: profile.Rows) -> list[Number]:
    """Return by how much a metre of each part hinders the flow: by undrained parts alone, in rows that have any."""
    known = {
        kind: all(p.stratum.permeability is not None for p in parts if p.stratum.undrained is kind)
        for kind in (True, False)
    }
    found: list[Number] = []
    for part in parts:
        kind, permeability = part.stratum.undrained, part.stratum.permeability
        per_metre = 1.0 / permeability if permeability is not None and known[kind] else 1.0
        found.append(np.where(np.equal(tight, kind), per_metre, 0.0)[()])
    return found
