"""Whether the 95 % intervals hold the exact index 95 times in 100."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binomtest

from riskcut.sensitivity.sobol import analyse

Array = NDArray[np.float64]
SEEDS, BASE_ROWS = 250, 64
SLOPES = np.array([1.0, 2.0])
MEAN, SD = np.array([2.0, 1.0]), np.array([1.0, 1.0])
GROWTH = np.array([0.3, 0.5])


def respond(z: Array) -> Array:
    """Compute a sum, a product of normals, a product of lognormals."""
    return np.stack([z @ SLOPES, np.prod(MEAN + SD * z, axis=1), np.exp(z @ GROWTH)], axis=1)


def exact() -> tuple[Array, Array]:
    share = SLOPES**2 / np.sum(SLOPES**2)
    first, total = [share], [share]
    for squared in ((SD / MEAN) ** 2, np.expm1(GROWTH**2)):  # of the factors: their squared variation
        variance = np.prod(1 + squared) - 1
        first.append(squared / variance)
        total.append(squared * np.prod(1 + squared) / (1 + squared) / variance)
    return np.array(first), np.array(total)


def test_the_t_interval_covers() -> None:
    first, total = exact()
    hits = np.zeros((2, 3, 2), dtype=int)
    for seed in range(SEEDS):
        found = analyse(
            drivers=2, groups=[[0], [1]], respond=respond, margins=3, base_rows=BASE_ROWS, seed=seed
        )
        for i, (bounds, truth) in enumerate(((found.first_bounds, first), (found.total_bounds, total))):
            hits[i] += (bounds[..., 0] <= truth) & (truth <= bounds[..., 1])

    print(f"\ncoverage of the 95 % interval, seeds 0 to {SEEDS - 1}, {BASE_ROWS} base rows, 16 scrambles:")
    for order, rows in zip(("first", "total"), hits, strict=True):
        for name, row in zip(("sum", "product", "lognormal"), rows, strict=True):
            for j, count in enumerate(row.tolist()):
                band = binomtest(count, SEEDS).proportion_ci(0.95, method="exact")
                print(
                    f"  {order} order, {name}, input {j + 1}: {count / SEEDS:.3f} "
                    f"({band.low:.3f} to {band.high:.3f})"
                )
    print(f"  all: {hits.sum() / hits.size / SEEDS:.3f}")

    # an index whose true coverage is 0.95 falls outside 0.90 to 0.99 once in 1,500 times
    assert np.all((hits >= 0.90 * SEEDS) & (hits <= 0.99 * SEEDS))
    assert 0.93 <= hits.sum() / hits.size / SEEDS <= 0.97
