"""How honest importance samples are: ``python tests/benchmarks/bench_coverage.py [seeds]``.

Linear margins, whose probabilities are exact, over fixed consecutive seeds from 0 on: 2,000 by default, which takes
some minutes. For each, the share of 95 % intervals that hold the truth with its own Clopper-Pearson band, the true
spread over the seeds beside the claimed one, and the mean of the estimates. The contract: coverage at least 0.93
everywhere and at most 0.985; claimed spread within 15 % of the true one.
Plain simulation, with its binomial interval, stands beside them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from riskcut.reliability.allocation import allocate, pilot, wanted_errors
from riskcut.reliability.importance import sample
from riskcut.reliability.intervals import proportion
from riskcut.reliability.mixture import Centre
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal

PROBABILITIES = (1e-2, 1e-4, 1e-7)
PLAIN = ((1e-2, 1), (1e-3, 3))
"""Probability, and blocks for 20 expected failures or more."""
SIZES = ((4, 32), (4, 128), (16, 128))
"""Blocks and rows a block: some 15 effective failing rows, and more."""
Floats = NDArray[np.float64]
Line = tuple[float, float, float, float, int]
"""An estimate, its claimed error, its bounds and its rows."""


def plane_problem(alphas: Floats, betas: Floats) -> Problem:
    """Return a problem with margins beta - alpha.u."""

    def respond(x: Floats, which: Sequence[int]) -> Response:
        return Response(margin=np.stack([betas[k] - (x * alphas[k]).sum(axis=1) for k in which]).T)

    count, columns = alphas.shape
    labels = tuple(f"plane {k}" for k in range(count))
    component = Component("one", (), tuple(range(columns)), labels, (True,) * count, respond)
    return Problem(Joint([Normal(mean=0.0, sd=1.0)] * columns), (component,))


def report(name: str, exact: float, seeds: int, run: Callable[[int], Line]) -> None:
    """Run over the seeds and print one line."""
    found = np.array([run(seed) for seed in range(seeds)])
    p, claimed, lower, upper, rows = found.T
    held = int(np.count_nonzero((lower <= exact) & (exact <= upper)))
    low, high = proportion(held, seeds)
    spread = p.std(ddof=1)
    print(
        f"{name:<34} {exact:8.1e} {rows.mean():9,.0f}   {held / seeds:.4f} ({low:.4f} to {high:.4f})"
        f"   {spread / exact:7.4f} {np.sqrt((claimed**2).mean()) / exact:7.4f}"
        f"   {p.mean() / exact - 1.0:+.4f} +- {spread / exact / np.sqrt(seeds):.4f}"
    )


def main(seeds: int) -> None:
    """Print the table."""
    print(f"{seeds:,} seeds, from 0 on; spreads are coefficients of variation")
    print(f"{'':<34} {'Pf':>8} {'rows':>9}   coverage (its 95 % band)          true claimed   mean, off by")
    alpha = np.array([[0.6, 0.8]])
    for exact, blocks in PLAIN:
        problem = plane_problem(alpha, np.array([stats.norm.isf(exact)]))

        def plain(seed: int, problem: Problem = problem, blocks: int = blocks) -> Line:
            tally = simulate(problem, seed=seed, blocks=blocks, purpose="coverage")
            one = tally.components["one"].estimate()
            p = float(one.failure_probability[0])
            return p, p * float(one.coefficient_of_variation[0]), *one.bounds[0], tally.rows

        report("plain simulation", exact, seeds, plain)
    for exact in PROBABILITIES:
        beta = stats.norm.isf(exact)
        space = StandardSpace(plane_problem(alpha, np.array([beta])))
        centre = Centre(alpha[0] * beta, (0, 0), exact)
        for blocks, rows in SIZES:
            for name, weights in (("copies alone", [0.1, 0.9]), ("copies and tails", [0.1, 0.45, 0.45])):

                def fixed(
                    seed: int,
                    space: StandardSpace = space,
                    centre: Centre = centre,
                    size: tuple[int, int] = (blocks, rows),
                    weights: list[float] = weights,
                ) -> Line:
                    tally = sample(
                        space,
                        centres=[centre],
                        weights=weights,
                        blocks=size[0],
                        rows_per_block=size[1],
                        seed=seed,
                        purpose="coverage",
                    )
                    one = tally.estimate()
                    return one.failure_probability[0], one.standard_error[0], *one.bounds[0], tally.rows

                report(f"one margin, {name}", exact, seeds, fixed)
    several = np.array([*PROBABILITIES, 1e-3, 1e-5, 3e-9])
    alphas = np.random.default_rng(1).standard_normal((len(several), 6))
    alphas[:, 0] += 2.0
    alphas /= np.linalg.norm(alphas, axis=1)[:, np.newaxis]
    betas = stats.norm.isf(several)
    space = StandardSpace(plane_problem(alphas, betas))
    centres = [Centre(alphas[k] * betas[k], (0, k), float(several[k])) for k in range(len(several))]
    cache: dict[int, tuple[Floats, Floats, Floats, int]] = {}

    def planned(seed: int) -> tuple[Floats, Floats, Floats, int]:
        if seed not in cache:
            first = pilot(space, centres=centres, seed=seed)
            plan = allocate(first, wanted=wanted_errors(first))
            one = sample(
                space,
                centres=plan.centres,
                weights=plan.weights,
                blocks=plan.blocks,
                rows_per_block=plan.rows_per_block,
                seed=seed,
                purpose="coverage",
            ).estimate()
            cache[seed] = (one.failure_probability, one.standard_error, one.bounds, first.rows + plan.rows)
        return cache[seed]

    for k, exact in enumerate(several):

        def of_several(seed: int, k: int = k) -> Line:
            p, error, bounds, rows = planned(seed)
            return p[k], error[k], bounds[k, 0], bounds[k, 1], rows

        report("six margins, planned, pilot and all", float(exact), seeds, of_several)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
