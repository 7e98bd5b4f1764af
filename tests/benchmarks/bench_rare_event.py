"""Rare failure, ours beside openturns: ``python tests/benchmarks/bench_rare_event.py [repeats]``.

The three margins of ``invented_cut.py``, which fail with about 1.3e-3, 1.9e-5 and 1.0e-6; the exact figures are
computed at every run (``exact_cut.py``).

A method is run with many seeds. Printed are the median time of a run, its mean rows (design points, pilots and
discarded rows included), the bias of the mean estimate, the coefficient of variation that a run claims (the root
mean square) and the one seen over the seeds. With R repeats the seen one is good to 1/sqrt(2 R) of itself.
The rows of openturns leave out the gradients of the compiled formula, which it has without evaluations.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import openturns as ot
from exact_cut import exact
from invented_cut import LIMIT_STATES, distribution, openturns_function, problem
from rare_reference import about_the_design_point

from riskcut.reliability.allocation import allocate
from riskcut.reliability.design_points import find
from riskcut.reliability.importance import sample
from riskcut.reliability.importance_pilot import pilot, wanted_errors
from riskcut.reliability.mixture import Centre
from riskcut.reliability.standard_space import StandardSpace


@dataclass(frozen=True)
class Run:
    """One answer."""

    estimate: float
    claimed: float
    """Coefficient of variation."""
    rows: int


Method = Callable[[int], Run]
"""From a seed."""


def ours(limit_state: int) -> Method:
    """Design points, a pilot that is thrown away, then an importance sample of the size it fixed."""
    whole = problem()

    def run(seed: int) -> Run:
        space = StandardSpace(whole)
        points = find(space, 0, limit_state).points
        state = (0, limit_state)
        first = pilot(
            space,
            centres=[Centre(point.u, state, point.first_order_probability) for point in points],
            which={0: [limit_state]},
            seed=seed,
        )
        plan = allocate(first, wanted=wanted_errors(first))
        tally = sample(
            space,
            centres=plan.centres,
            weights=plan.weights,
            which={0: [limit_state]},
            turned=plan.turned,
            blocks=plan.blocks,
            rows_per_block=plan.rows_per_block,
            seed=seed,
            purpose="bench",
        )
        estimate = tally.estimate()
        return Run(
            float(estimate.failure_probability[0]),
            float(estimate.coefficient_of_variation[0]),
            space.ledger.rows,
        )

    return run


def theirs(limit_state: int, *, symbolic: bool) -> Method:
    """Design point, then importance sampling about it until its own estimate says 5 %."""
    inputs = distribution()
    function = openturns_function([limit_state], symbolic=symbolic)
    event = ot.ThresholdEvent(ot.CompositeRandomVector(function, ot.RandomVector(inputs)), ot.Less(), 0.0)

    def run(seed: int) -> Run:
        ot.RandomGenerator.SetSeed(seed)
        before = function.getEvaluationCallsNumber()
        result = about_the_design_point(event, inputs.getMean())
        rows = function.getEvaluationCallsNumber() - before
        return Run(result.getProbabilityEstimate(), result.getCoefficientOfVariation(), rows)

    return run


def line(name: str, method: Method, reference: float, repeats: int) -> str:
    """Run a method with seeds 1 to ``repeats`` and return its line."""
    method(0)  # what is done once only, as compiling, is not timed
    runs, times = [], []
    for seed in range(1, repeats + 1):
        begun = time.perf_counter()
        runs.append(method(seed))
        times.append(time.perf_counter() - begun)
    estimates = np.array([run.estimate for run in runs])
    claimed = math.sqrt(np.mean([run.claimed**2 for run in runs]))
    seen = float(estimates.std(ddof=1) / estimates.mean())
    bias, noise = float(estimates.mean() / reference - 1.0), seen / math.sqrt(repeats)
    return (
        f"{name:<34}{np.mean([run.rows for run in runs]):>9,.0f}{1e3 * np.median(times):>10.1f}"
        f"{runs[0].estimate:>12.3e}{bias:>+9.2%} +- {noise:.2%}{claimed:>9.2%}{seen:>9.2%}"
    )


def main(repeats: int) -> None:
    """Print the table."""
    ot.TBB.Disable()
    print(f"seeds 1 to {repeats}; one thread; openturns {ot.__version__}")
    print(f"{'':<34}{'rows':>9}{'ms':>10}{'seed 1':>12}{'bias':>9}{'':<9}{'claimed':>9}{'seen':>9}")
    for k, (name, reference) in enumerate(zip(LIMIT_STATES, exact(), strict=True)):
        print(f"{name}: {reference:.4e} by quadrature")
        print(line("  riskcut, FORM + importance", ours(k), reference, repeats))
        print(line("  openturns, compiled formula", theirs(k, symbolic=True), reference, repeats))
        print(line("  openturns, Python function", theirs(k, symbolic=False), reference, repeats))


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 50)
