"""Plane seepage round a wall by finite differences: knows nothing of closed forms.

Square cells, each with one head; a wall is a column of faces that nothing passes, the ground surfaces are
faces under a given head half a cell away. The head falls from 1 outside to 0 inside. Near the wall's toe
the error goes with the size of the cells, so two sizes give the limit.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve


class Heads(NamedTuple):
    toe: float
    """At the wall's toe."""
    prism: float
    """Mean at the toe's level from the wall over half the embedment inside, or half the cut."""
    exit_gradient: float
    """At the surface inside, beside the wall."""


def heads(
    *, step: float, inside: float, thickness: float, half_width: float, reach: float, cell: float
) -> Heads:
    """Return the solution: surface outside at 0, inside at ``step`` below it, the wall ``inside`` deeper."""
    left, right, rows = round(reach / cell), round(half_width / cell), round(thickness / cell)
    dug, toe = round(step / cell), round((step + inside) / cell)
    ground = np.ones((rows, left + right), dtype=bool)
    ground[:dug, left:] = False
    number = np.full(ground.shape, -1)
    number[ground] = np.arange(ground.sum())
    count = int(ground.sum())
    diagonal, known = np.zeros(count), np.zeros(count)
    pairs = [(number[:-1], number[1:], ground[:-1] & ground[1:])]
    beside = ground[:, :-1] & ground[:, 1:]
    beside[:toe, left - 1] = False
    pairs.append((number[:, :-1], number[:, 1:], beside))
    one = np.concatenate([a[both] for a, _, both in pairs])
    other = np.concatenate([b[both] for _, b, both in pairs])
    np.add.at(diagonal, one, 1.0)
    np.add.at(diagonal, other, 1.0)
    # A surface lies half a cell from the centre of its cells.
    diagonal[number[0, :left]] += 2.0
    known[number[0, :left]] = 2.0
    diagonal[number[dug, left:]] += 2.0
    all_cells = np.arange(count)
    matrix = coo_matrix(
        (
            np.concatenate([-np.ones(2 * one.size), diagonal]),
            (np.concatenate([one, other, all_cells]), np.concatenate([other, one, all_cells])),
        ),
        shape=(count, count),
    ).tocsr()
    head = np.full(ground.shape, np.nan)
    head[ground] = spsolve(matrix, known)
    base = head[toe - 1 : toe + 1, left : left + round(min(0.5 * inside, half_width) / cell)]
    return Heads(
        toe=float(head[toe - 1 : toe + 1, left - 1 : left + 1].mean()),
        prism=float(base.mean()),
        exit_gradient=float(head[dug, left] / (0.5 * cell)),
    )


def limit(*, cell: float, **shape: float) -> tuple[Heads, Heads]:
    """Return the solution with the finer of two cells, and the two carried to cells of no size."""
    coarse, fine = heads(cell=cell, **shape), heads(cell=0.5 * cell, **shape)
    return fine, Heads(*(2.0 * f - c for f, c in zip(fine, coarse, strict=True)))
