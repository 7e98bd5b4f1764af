"""Sharing a pressure diagram among props: simple spans with a hinge at every middle prop.

Depths here are in metres below the ground surface, downwards. A pressure diagram is a tuple of straight
pieces; forces and moments of the part of it that a span carries are exact, and so are the reactions.
Everything is linear in the pressures, so a reaction under a unit diagram may be scaled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal, NamedTuple

import numpy as np

from riskcut.ground import profile
from riskcut.study.block import Number

LowestSpan = Literal["to_formation", "overhang"]


class Piece(NamedTuple):
    """A straight piece of a pressure diagram."""

    upper: Number
    """Depth of its upper end, m."""
    lower: Number
    """Depth of its lower end, m, not above the upper end."""
    pressure_upper: Number
    """kPa at the upper end."""
    pressure_lower: Number
    """kPa at the lower end."""


Diagram = tuple[Piece, ...]

OPEN_ABOVE: Final = -math.inf
OPEN_BELOW: Final = math.inf


class Span(NamedTuple):
    """A simple span: the load between two depths rests on two supports."""

    upper: Number
    lower: Number
    first: Number
    """Depth of the upper support, m."""
    second: Number
    first_index: int
    """Number of the upper support: that of the prop, or the number of props for the base."""
    second_index: int


def resultant(diagram: Diagram, *, upper: Number, lower: Number) -> tuple[Number, Number]:
    r"""Return the force of a diagram between two depths, and its moment about the ground surface.

    .. math:: F = \int_{z_u}^{z_l} p \, \mathrm{d}z, \qquad M = \int_{z_u}^{z_l} p z \, \mathrm{d}z

    Parameters
    ----------
    diagram : tuple of Piece
        Pressure against depth; zero where no piece is.
    upper, lower : float or ndarray
        Depths, m; may be infinite.

    Returns
    -------
    force, moment : float or ndarray
        kN/m and kNm/m, of the broadcast shape.
    """
    return resultants(diagram, levels=(upper, np.maximum(upper, lower)))[0]


def resultants(diagram: Diagram, *, levels: Sequence[Number]) -> list[tuple[Number, Number]]:
    """Return the force and the moment, as :func:`resultant`, of each stretch from one depth to the next.

    Parameters
    ----------
    diagram : tuple of Piece
        Pressure against depth.
    levels : sequence of float or ndarray
        Depths, m, from the top down; the first and the last may be infinite.
    """
    found: list[tuple[Number, Number]] = [(0.0, 0.0)] * (len(levels) - 1)
    for piece in diagram:
        rise = np.subtract(piece.pressure_lower, piece.pressure_upper)
        even = not rise.any()
        # A piece without length carries nothing in its rows, whatever it is divided by.
        extent = 1.0 if even else _or_one(np.subtract(piece.lower, piece.upper))
        ends = [_within(piece, level) for level in levels]
        for i, (start, end) in enumerate(pairwise(ends)):
            thick = np.subtract(end, start)
            if not thick.any():
                continue
            force, moment = found[i]
            if even:
                part = thick * piece.pressure_upper
                found[i] = force + part, moment + part * (start + 0.5 * thick)
                continue
            here = piece.pressure_upper + rise * ((start - piece.upper) / extent)
            change = rise * (thick / extent)
            part = thick * (here + 0.5 * change)
            found[i] = force + part, moment + part * start + thick * thick * (0.5 * here + change / 3.0)
    return found


def _within(piece: Piece, depth: Number) -> Number:
    """Return a depth, brought to the nearer end of a piece where it lies beyond; an open end costs no pass."""
    if depth is OPEN_ABOVE:
        return piece.upper
    return piece.lower if depth is OPEN_BELOW else np.minimum(np.maximum(piece.upper, depth), piece.lower)


def _or_one(extent: Number) -> Number:
    kept: Number = np.where(np.greater(extent, 0.0), extent, 1.0)[()]
    return kept


def spans(*, props: Sequence[Number], base: Number, lowest_span: LowestSpan) -> tuple[Span, ...]:
    """Return the simple spans into which hinges at the middle props divide the height of the cut.

    Parameters
    ----------
    props : sequence of float or ndarray
        Depths of the props, m, from the top down, increasing.
    base : float or ndarray
        Depth of the cut, m.
    lowest_span : {"to_formation", "overhang"}
        Whether the lowest span ends on a support at formation, with a hinge at the lowest prop as well;
        or overhangs the lowest prop down to formation, which needs two props.

    Returns
    -------
    tuple of Span
        The first carries all above its second support, so the wall overhangs the first prop; the last
        carries all below its first one. Empty for one prop with an overhang: no span, all to the prop.

    Raises
    ------
    ValueError
        If there is no prop.
    """
    if not props:
        raise ValueError("load sharing needs a prop")
    supports = [*props, base] if lowest_span == "to_formation" else list(props)
    count = len(supports) - 1
    return tuple(
        Span(
            upper=OPEN_ABOVE if i == 0 else supports[i],
            lower=OPEN_BELOW if i == count - 1 else supports[i + 1],
            first=supports[i],
            second=supports[i + 1],
            first_index=i,
            second_index=i + 1,
        )
        for i in range(count)
    )


def line_loads(
    diagram: Diagram, *, props: Sequence[Number], base: Number, lowest_span: LowestSpan
) -> tuple[Number, ...]:
    r"""Return what each support takes of a pressure diagram, per metre of wall.

    In a span whose load *F* has the moment *M* about the surface, with supports at :math:`z_1 < z_2`,

    .. math:: R_2 = \frac{M - F z_1}{z_2 - z_1}, \qquad R_1 = F - R_2

    and a middle support takes what the spans on either side of it bring.

    Parameters
    ----------
    diagram : tuple of Piece
        Pressure against depth, kPa.
    props : sequence of float or ndarray
        Depths of the props, m, increasing.
    base : float or ndarray
        Depth of the cut, m, below the lowest prop.
    lowest_span : {"to_formation", "overhang"}
        As in :func:`spans`.

    Returns
    -------
    tuple of float or ndarray
        kN/m, of the broadcast shape: of each prop from the top and, with ``to_formation``, of the support
        at formation; negative where a support would have to pull. NaN where two supports are at one level
        or in the wrong order.

    Notes
    -----
    Published worked examples differ in the lowest span, hence the choice. Das, Principles of Foundation
    Engineering, Example 10.1, overhangs it.
    """
    parts = spans(props=props, base=base, lowest_span=lowest_span)
    if not parts:
        return (resultant(diagram, upper=OPEN_ABOVE, lower=OPEN_BELOW)[0],)
    loads: list[Number] = [0.0] * (len(parts) + 1)
    carried = resultants(diagram, levels=(parts[0].upper, *(span.lower for span in parts)))
    for span, (force, moment) in zip(parts, carried, strict=True):
        second = (moment - force * span.first) / profile.positive(np.subtract(span.second, span.first))
        loads[span.first_index] = loads[span.first_index] + (force - second)
        loads[span.second_index] = loads[span.second_index] + second
    return tuple(loads)
