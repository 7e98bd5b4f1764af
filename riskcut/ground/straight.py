"""A quantity that runs straight between levels: pore pressure, vertical stress, what presses on a wall.

A profile is a tuple of pieces from the top down, each beginning where the one above it ends. It may jump
from one piece to the next. In some rows a piece may have no extent; it carries nothing there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from riskcut.ground.rows import some
from riskcut.study.block import Number


class Piece(NamedTuple):
    """A straight piece of a profile over level."""

    upper: Number
    """Level of its upper end, m."""
    lower: Number
    """Level of its lower end, m, not above the upper end."""
    at_upper: Number
    """Value at the upper end, kPa."""
    at_lower: Number


def value(piece: Piece, *, level: Number) -> Number:
    """Return the straight line of a piece at a level, carried on beyond its ends; its upper value without extent."""
    return _values(piece, level)[0]


def _values(piece: Piece, *levels: Number) -> list[Number]:
    extent = np.subtract(piece.upper, piece.lower)
    extent = np.where(extent > 0.0, extent, np.inf)[()]
    rise = np.subtract(piece.at_lower, piece.at_upper)
    return [piece.at_upper + rise * (np.subtract(piece.upper, level) / extent) for level in levels]


def value_at(pieces: Sequence[Piece], *, level: Number) -> Number:
    """Return a profile's value at a level.

    Parameters
    ----------
    pieces : sequence of Piece
        From the top down.
    level : float or ndarray
        m.

    Returns
    -------
    float or ndarray
        Where the profile jumps, the value just above; 0 above and below the profile.
    """
    if not pieces:
        return 0.0
    found: Number = np.where(np.equal(level, pieces[0].upper), pieces[0].at_upper, 0.0)[()]
    for piece in reversed(pieces):
        below = np.less_equal(level, piece.upper)
        above = np.greater_equal(level, piece.lower)
        if not (some(below) and some(above)):
            continue
        here = below & above & np.greater(piece.upper, piece.lower)
        if some(here):
            found = np.where(here, value(piece, level=level), found)[()]
    return found


def clipped(piece: Piece, *, upper: Number, lower: Number) -> Piece:
    """Return the part of a piece between two levels; without extent in rows in which it does not reach there."""
    start, end = _overlap(piece, upper, lower)
    return Piece(start, end, *_values(piece, start, end))


def reaching(pieces: Iterable[Piece], *, upper: Number, lower: Number) -> Iterator[Piece]:
    """Yield the parts of pieces between two levels, as :func:`clipped`, of those that reach there in some row."""
    for piece in pieces:
        start, end = _overlap(piece, upper, lower)
        if some(np.greater(start, end)):
            yield Piece(start, end, *_values(piece, start, end))


def _overlap(piece: Piece, upper: Number, lower: Number) -> tuple[Number, Number]:
    start = np.minimum(piece.upper, upper)
    return start, np.minimum(np.maximum(piece.lower, lower), start)


def integral(pieces: Sequence[Piece], *, upper: Number, lower: Number) -> Number:
    r"""Return a profile integrated over level, :math:`\int_{z_l}^{z_u} p \, \mathrm{d}z`, exactly.

    Parameters
    ----------
    pieces : sequence of Piece
        From the top down.
    upper, lower : float or ndarray
        Levels, m; nothing where they are in the other order.

    Returns
    -------
    float or ndarray
        kN/m.
    """
    total: Number = 0.0
    for part in reaching(pieces, upper=upper, lower=lower):
        total = total + 0.5 * np.subtract(part.upper, part.lower) * (part.at_upper + part.at_lower)
    return total


def floored(piece: Piece) -> tuple[Piece, ...]:
    """Return a piece with what lies below zero set to zero, cut in two where it crosses zero in some row."""
    first, last = np.maximum(piece.at_upper, 0.0), np.maximum(piece.at_lower, 0.0)
    crosses = np.less(np.multiply(piece.at_upper, piece.at_lower), 0.0)
    if not some(crosses):
        return (piece._replace(at_upper=first, at_lower=last),)
    share = piece.at_upper / np.where(crosses, np.subtract(piece.at_upper, piece.at_lower), np.inf)[()]
    middle = piece.upper - np.subtract(piece.upper, piece.lower) * share
    between = np.where(crosses, 0.0, first)[()]
    return Piece(piece.upper, middle, first, between), Piece(middle, piece.lower, between, last)
