"""Cost of a value by kind of marginal, beside ``ndtri``: ``python tests/benchmarks/bench_marginals.py``.

A value is one row of ``from_normal`` on a block of 8,192 rows, written in place. The exact inverses of the
library that the tables stand in for follow. All figures are of one run, taken in turn, each the least of
several; only the ratios are worth quoting.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import special

from riskcut.uncertainty.marginals import make

ROWS = 8192
TURNS = 9
REPEATS = 20

MARGINALS = {
    "normal": make("normal", mean=3.0, sd=1.0),
    "lognormal": make("lognormal", mean=3.0, sd=1.0),
    "uniform": make("uniform", low=2.0, high=5.0),
    "gumbel": make("gumbel", mean=3.0, sd=1.0),
    "truncated_normal, one end": make("truncated_normal", parent_mean=3.0, parent_sd=1.0, low=0.0),
    "truncated_normal, two ends": make("truncated_normal", parent_mean=3.0, parent_sd=1.0, low=0.0, high=5.0),
    "triangular": make("triangular", low=0.0, mode=3.0, high=5.0),
    "beta": make("beta", mean=3.0, sd=0.7, low=0.0, high=5.0),
    "gamma": make("gamma", mean=3.0, sd=1.0),
    "exponential": make("exponential", mean=3.0),
    "weibull": make("weibull", mean=3.0, sd=1.0),
    "gev": make("gev", location=3.0, scale=1.0, shape=-0.1),
    "frechet": make("frechet", mean=3.0, sd=1.0),
}


def nanoseconds(work: Callable[[], object], rows: int, repeats: int) -> float:
    begun = time.perf_counter()
    for _ in range(repeats):
        work()
    return 1e9 * (time.perf_counter() - begun) / (rows * repeats)


def main() -> None:
    """Print the table."""
    z = np.random.default_rng(1).standard_normal(ROWS)
    p, out, few = special.ndtr(z), np.empty(ROWS), special.ndtr(z[:512])
    works: dict[str, tuple[Callable[[], object], int, int]] = {
        "ndtri": (lambda: special.ndtri(p, out), ROWS, REPEATS)
    }
    for name, marginal in MARGINALS.items():
        marginal.from_normal(z, out)  # builds its table
        works[name] = (lambda marginal=marginal: marginal.from_normal(z, out), ROWS, REPEATS)
    works["gammaincinv"] = (lambda: special.gammaincinv(9.0, few), len(few), 2)
    works["betaincinv"] = (lambda: special.betaincinv(6.7, 4.5, few), len(few), 2)
    best = dict.fromkeys(works, np.inf)
    for _ in range(TURNS):
        for name, work in works.items():
            best[name] = min(best[name], nanoseconds(*work))
    print(f"{'':28}{'ns a value':>12}{'of ndtri':>10}")
    for name, cost in best.items():
        print(f"{name:28}{cost:12.1f}{cost / best['ndtri']:10.2f}")


if __name__ == "__main__":
    main()
