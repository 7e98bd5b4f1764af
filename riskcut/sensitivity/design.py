"""The quasi-random points of one scramble: SALib draws them, and this file alone speaks to it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.streams import standard_normal

PURPOSE = "sobol"


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """The base matrices of every scramble, drawn once for several analyses with the same arguments."""

    drivers: int
    base_rows: int
    scrambles: int
    seed: int
    scores: tuple[tuple[NDArray[np.float64], NDArray[np.float64]], ...]
    """A and B of each scramble, standard normal (base_rows, drivers), read-only."""

    def of(self, drivers: int) -> Design:
        """Return the design of the first ``drivers`` of these: each coordinate of a scramble stands by itself."""
        if not 1 <= drivers <= self.drivers:
            raise ValueError(f"the design has 1 to {self.drivers} drivers to give, not {drivers}")
        scores = tuple((a[:, :drivers], b[:, :drivers]) for a, b in self.scores)
        return replace(self, drivers=drivers, scores=scores)


def draw(*, drivers: int, base_rows: int = 1024, scrambles: int = 16, seed: int) -> Design:
    """Draw a design to be handed to several calls of :func:`riskcut.sensitivity.sobol.analyse`.

    Drawing costs more than most margins do; many analyses with different groups, over the same drivers, can
    share one design.

    Parameters
    ----------
    drivers, base_rows, scrambles, seed
        As for ``analyse``.

    Returns
    -------
    Design
        Holds 16 ``scrambles base_rows drivers`` bytes.
    """
    scores = []
    for replicate in range(scrambles):
        a, b = normal_points(drivers=drivers, base_rows=base_rows, seed=seed, replicate=replicate)
        a.flags.writeable = b.flags.writeable = False
        scores.append((a, b))
    return Design(drivers=drivers, base_rows=base_rows, scrambles=scrambles, seed=seed, scores=tuple(scores))


def normal_points(
    *, drivers: int, base_rows: int, seed: int, replicate: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return A and B of one scramble as standard normal scores."""
    a, b = base_points(drivers=drivers, base_rows=base_rows, seed=seed, replicate=replicate)
    return standard_normal(a), standard_normal(b)


def scramble_seed(seed: int, replicate: int) -> int:
    """Return the seed of one scramble: a positive integer, since SALib takes 0 for no seed.

    Parameters
    ----------
    seed
        Of the run, 0 or more.
    replicate
        Number of the scramble, from 0.
    """
    key = np.random.SeedSequence(entropy=seed, spawn_key=(crc32(PURPOSE.encode()), replicate))
    return 1 + int(key.generate_state(1, np.uint64)[0] >> np.uint64(1))


def base_points(
    *, drivers: int, base_rows: int, seed: int, replicate: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Draw the two independent base matrices A and B of one scramble.

    SALib's design interleaves A, the matrices with swapped columns, and B, and fills them in Python loops.
    The points of A and B do not depend on how the inputs are grouped, so the cheapest grouping (two groups)
    is asked for and the swapped matrices are formed afterwards, from A and B, as they are needed.

    Parameters
    ----------
    drivers
        Number of independent inputs m.
    base_rows
        Rows of each matrix: a power of 2.
    seed, replicate
        Key of the scramble.

    Returns
    -------
    A, B : ndarray (base_rows, m)
        In the unit cube, not clipped.
    """
    from SALib.sample import sobol  # half a second to import

    names = [f"driver {j}" for j in range(drivers)]
    problem = {"num_vars": drivers, "names": names, "bounds": [[0.0, 1.0]] * drivers}
    if drivers > 1:
        problem["groups"] = ["first"] + ["rest"] * (drivers - 1)
    rows = sobol.sample(problem, base_rows, calc_second_order=False, seed=scramble_seed(seed, replicate))
    step = min(drivers, 2) + 2
    return rows[::step], rows[step - 1 :: step]
