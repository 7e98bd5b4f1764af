"""Directional simulation: where a ray from the origin fails, and how likely that stretch of it is.

The radius is integrated exactly, so only the direction is sampled: good for failure all round, for several
modes and for unions, in up to some twenty dimensions (beyond them nearly every direction misses a mode).

References
----------
.. [1] Bjerager, P. (1988). Probability integration by directional simulation. Journal of Engineering Mechanics
   114(8), 1285-1302.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, chdtri

from riskcut.reliability.answer import Answer, Failing, shared_out
from riskcut.reliability.rays import Indices, answer_of_rays, chances, rays_wanted
from riskcut.reliability.streams import generator

Floats = NDArray[np.float64]

METHOD = "directional simulation"
DIRECTIONS = 256
"""Directions in a block: the unit of randomness and of work."""
_NEVER = 1e-12
"""Probability beyond the greatest radius that is looked at."""
_SPACING = 0.5
"""Of the radii at which a ray is looked at first; two roots closer than that may be missed."""


def _block(failing: Failing, seed: int, purpose: str, index: int) -> tuple[Floats, int]:
    """Return the chances (2, 256) of a block of directions, and how many rows were impossible."""
    m = failing.space.dimension
    normal = generator(seed=seed, purpose=purpose, index=index).standard_normal((m, DIRECTIONS))
    direction = normal / np.sqrt(np.square(normal).sum(axis=0))
    # For n normals the squared radius is chi-square with n degrees of freedom.
    greatest = math.sqrt(float(chdtri(float(m), _NEVER)))
    radii = np.append(np.arange(0.0, greatest, _SPACING), greatest)

    impossible = 0

    def along(radius: Floats, ray: Indices) -> Floats:
        nonlocal impossible
        margin = failing.margins((radius * direction[:, ray]).T)
        impossible += int(np.count_nonzero(np.isnan(margin)))
        return margin

    def tail(radius: Floats) -> Floats:
        return np.asarray(chdtrc(float(m), radius * radius))

    return chances(along, radii, tail, DIRECTIONS), impossible


def directional_simulation(
    failing: Failing,
    *,
    seed: int,
    coefficient_of_variation: float = 0.05,
    least_directions: int = 512,
    cap_directions: int = 20_000,
    workers: int = 1,
) -> Answer:
    """Answer a failure probability by directional simulation.

    Parameters
    ----------
    failing : Failing
        Of few dimensions, some twenty at most.
    seed : int
        Of the study, 0 or more.
    coefficient_of_variation : float
        Wanted; a pilot of 256 directions, thrown away, says how many it takes.
    least_directions, cap_directions : int
        Between which their number lies, rounded up to whole blocks of 256.
    workers : int
        Threads, over blocks.

    Returns
    -------
    Answer
        Bit for bit the same for any ``workers``. The bounds hold the impossible stretches of the rays.

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    if coefficient_of_variation <= 0.0:
        raise ValueError(f"a coefficient of variation is above zero, not {coefficient_of_variation:g}")
    if not 2 <= least_directions <= cap_directions:
        raise ValueError(
            f"2 <= least_directions <= cap_directions is wanted, not {least_directions} and {cap_directions}"
        )
    if (certain := failing.answer_without_chance(METHOD)) is not None:
        return certain
    run = failing.apart()
    pilot, _ = _block(run, seed, METHOD + " pilot", 0)
    count = rays_wanted(
        pilot[0], coefficient_of_variation, block=DIRECTIONS, least=least_directions, cap=cap_directions
    )
    every = shared_out(run, lambda twin, k: _block(twin, seed, METHOD, k), count // DIRECTIONS, workers)
    return answer_of_rays(
        failing,
        run,
        np.hstack([p for p, _ in every]),
        method=METHOD,
        rays="directions",
        how="sized by a pilot",
        impossible=sum(impossible for _, impossible in every),
    )
