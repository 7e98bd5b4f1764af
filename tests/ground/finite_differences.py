"""Seepage by finite differences, plane round a wall and straight through layers: knows nothing of closed forms.

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


class Field(NamedTuple):
    head: np.ndarray
    """By row from the surface outside down and column from afar to the middle of the cut."""
    left: int
    """Number of columns outside."""
    dug: int
    """Number of rows above the surface inside."""
    toe: int
    """Number of rows above the wall's toe."""


def solved(
    *, step: float, inside: float, thickness: float, half_width: float, reach: float, cell: float
) -> Field:
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
    return Field(head, left, dug, toe)


def heads(*, inside: float, half_width: float, cell: float, **shape: float) -> Heads:
    """Return the heads at the toe and under the prism, and the exit gradient."""
    head, left, dug, toe = solved(inside=inside, half_width=half_width, cell=cell, **shape)
    base = head[toe - 1 : toe + 1, left : left + round(min(0.5 * inside, half_width) / cell)]
    return Heads(
        toe=float(head[toe - 1 : toe + 1, left - 1 : left + 1].mean()),
        prism=float(base.mean()),
        exit_gradient=float(head[dug, left] / (0.5 * cell)),
    )


def along_the_wall(*, cell: float, **shape: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return depths below the surface outside and heads beside the wall: outside, then inside."""
    head, left, dug, toe = solved(cell=cell, **shape)
    depth = (np.arange(toe) + 0.5) * cell
    return depth, head[:toe, left - 1], depth[dug:], head[dug:toe, left]


def limit(*, cell: float, **shape: float) -> tuple[Heads, Heads]:
    """Return the solution with the finer of two cells, and the two carried to cells of no size."""
    coarse, fine = heads(cell=cell, **shape), heads(cell=0.5 * cell, **shape)
    return fine, Heads(*(2.0 * f - c for f, c in zip(fine, coarse, strict=True)))


def column_heads(
    *, ends: list[float], permeability: list[float], first: float, last: float, cells: int = 12
) -> tuple[np.ndarray, np.ndarray]:
    """Return levels and heads of steady flow straight through layers, between given heads at both ends.

    ``ends`` are the levels of the layers' ends from the top down; each layer has ``cells`` equal cells, with
    heads in their middles and half a cell's resistance to either face.
    """
    spans = [(top, bottom, k) for top, bottom, k in zip(ends, ends[1:], permeability, strict=False)]
    size = np.concatenate([np.full(cells, (top - bottom) / cells) for top, bottom, _ in spans])
    half = 0.5 * size / np.repeat([k for *_, k in spans], cells)
    levels = ends[0] - np.cumsum(size) + 0.5 * size
    between = 1.0 / np.concatenate([half[:1], half[:-1] + half[1:], half[-1:]])
    matrix = np.diag(between[:-1] + between[1:]) - np.diag(between[1:-1], 1) - np.diag(between[1:-1], -1)
    known = np.zeros(size.size)
    known[0], known[-1] = between[0] * first, between[-1] * last
    return levels, np.linalg.solve(matrix, known)
