"""Random numbers: fixed blocks of rows, each keyed by what it is for and which block it is.

The block is the unit of randomness and of computing. Whoever computes a block, and in whatever order,
gets the same bits, so chunk size and number of workers cannot change a result. The block size is part
of the method and is recorded with the results.
"""

from __future__ import annotations

from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

BLOCK_ROWS = 8192
"""Rows in a block."""
EDGE = 2.0**-31
"""Half a cell of the 30-bit grid on which scipy draws Sobol' points: what an exact 0 is taken for."""


def generator(*, seed: int, purpose: str, index: int) -> np.random.Generator:
    """Return the generator of one block, keyed by (seed, purpose, index).

    Parameters
    ----------
    seed : int
        Of the study, 0 or more.
    purpose : str
        What the numbers are for; two purposes never share a stream.
    index : int
        Of the block, 0 or more.

    Returns
    -------
    numpy.random.Generator
        SFC64, the fastest of NumPy's bit generators for normals.
    """
    key = (crc32(purpose.encode("utf-8")), index)
    return np.random.Generator(np.random.SFC64(np.random.SeedSequence(entropy=seed, spawn_key=key)))


def normals(
    *, seed: int, purpose: str, index: int, count: int, out: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Draw one block of independent standard normals.

    Parameters
    ----------
    seed, purpose, index
        As in :func:`generator`.
    count : int
        Columns, m. A column's numbers do not depend on how many columns follow it.
    out : ndarray, (8192, m), Fortran order, optional
        A used block to write over, which saves an allocation.

    Returns
    -------
    ndarray, (8192, m)
        Fortran order: drawn column by column.
    """
    draws = generator(seed=seed, purpose=purpose, index=index)
    if out is None:
        return draws.standard_normal((count, BLOCK_ROWS)).T
    if out.shape != (BLOCK_ROWS, count):
        raise ValueError(f"a block of {count} columns is ({BLOCK_ROWS}, {count}), not {out.shape}")
    draws.standard_normal(out=out.T)
    return out


def standard_normal(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Map points of the unit cube to standard normal ones, column by column contiguous.

    Scrambled points may be an exact 0; they are moved in by half a cell of the grid so that no normal is
    infinite.
    """
    clipped = np.clip(points, EDGE, 1 - EDGE, order="F")
    scores: NDArray[np.float64] = ndtri(clipped, out=clipped)
    return scores
