"""Where straight pieces cross: each row is cut at its own crossing, so that what is integrated stays exact."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from riskcut.ground import straight
from riskcut.ground.straight import Piece


def parted(piece: Piece) -> tuple[Piece, ...]:
    """Return a piece cut in two where it passes through zero.

    Parameters
    ----------
    piece : Piece
        Of floats or arrays.

    Returns
    -------
    tuple of Piece
        One where it does so in no row; else two, the upper one without extent in the rows in which it does not.
        Neither changes sign in any row.
    """
    crosses = np.less(np.multiply(piece.at_upper, piece.at_lower), 0.0)
    if not np.any(crosses):
        return (piece,)
    fall = np.where(crosses, np.subtract(piece.at_upper, piece.at_lower), np.inf)[()]
    middle = piece.upper - np.subtract(piece.upper, piece.lower) * (piece.at_upper / fall)
    between = np.where(crosses, 0.0, piece.at_upper)[()]
    return Piece(piece.upper, middle, piece.at_upper, between), Piece(
        middle, piece.lower, between, piece.at_lower
    )


def larger(first: Piece, second: Piece) -> tuple[Piece, ...]:
    """Return the larger of two pieces over the same levels, cut in two where they cross in some row.

    Parameters
    ----------
    first, second : Piece
        The levels are those of the first.

    Returns
    -------
    tuple of Piece
        One or two, from the top down; NaN where either is NaN.
    """
    lead = first._replace(
        at_upper=np.subtract(first.at_upper, second.at_upper),
        at_lower=np.subtract(first.at_lower, second.at_lower),
    )
    found: tuple[Piece, ...] = ()
    for part in parted(lead):
        base = straight.clipped(second, upper=part.upper, lower=part.lower)
        found += (
            part._replace(
                at_upper=base.at_upper + np.maximum(part.at_upper, 0.0),
                at_lower=base.at_lower + np.maximum(part.at_lower, 0.0),
            ),
        )
    return found


def present(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Return the pieces that have some extent in some row."""
    return tuple(piece for piece in pieces if np.any(np.greater(piece.upper, piece.lower)))
