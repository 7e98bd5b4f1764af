"""How cost grows with the problem, ours beside openturns: ``python tests/benchmarks/bench_growth.py [doublings]``.

Synthetic problems, made here: blocks in pairs (two stages of a section), which read the same lognormal, normal and
Gumbel variables; every margin is a mildly curved sum of all of them. Each size doubles in turn.

Plain simulation: ours counts every margin, block, section and the whole; openturns (vectorised Python function, and
compiled formula) the whole alone. Rare events: ours assesses every margin, every section and the whole, from a pilot
and a simulation that are not timed; openturns, one margin after another by its design point and importance sampling
about it, to 5 % by its own estimate, tells of the margins alone, so that its figures are linear in them by nature.

Printed are seconds of processor time on one thread at each size (the median of three runs; one for rare events), rows,
and the exponent: the slope of log time against log size over the last two doublings. Wanted is 1.1 or less, but for
the variables of rare events: a gradient takes a row a variable, and each row reads all of them, so that rows have to
grow in proportion and time by more, up to the square.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import openturns as ot
from numpy.typing import NDArray
from rare_reference import about_the_design_point
from timing import exponent

from riskcut.reliability.assessment import assess
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import make

REPEATS = {"plain": 3, "rare": 1}
KINDS = ("lognormal", "normal", "gumbel")
MEAN, SD, CURVED = 1.0, 0.2, 0.02
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Case:
    """The size of a problem; ``margins`` are those of one block."""

    rows: int = 4
    """Blocks of 8,192."""
    margins: int = 2
    blocks: int = 2
    variables: int = 6

    def slopes(self) -> Floats:
        """Return unit vectors (all margins, variables), all positive but of no order."""
        a = np.random.default_rng(1).uniform(0.2, 1.0, (self.blocks * self.margins, self.variables))
        return a / np.linalg.norm(a, axis=1)[:, np.newaxis]


def margins(x: Floats, slopes: Floats) -> Floats:
    """Return margins (n, k) that fail with some 1e-5 where all variables are normal."""
    # Without the linear algebra library, which takes threads of its own.
    s = np.einsum("nj,kj->kn", (x - MEAN) / SD, slopes, optimize=False)
    return (4.3 - s + CURVED * s * s).T


def problem(case: Case) -> Problem:
    """Return a problem as ours."""
    slopes = case.slopes().reshape(case.blocks, case.margins, case.variables)

    def component(place: int) -> Component:
        return Component(
            name=f"block {place}",
            unions=(f"section {place // 2}", "all"),
            columns=tuple(range(case.variables)),
            labels=tuple(f"margin {k}" for k in range(case.margins)),
            governing=(True,) * case.margins,
            respond=lambda x, which: Response(margin=margins(x, slopes[place][list(which)])),
        )

    marginals = [make(KINDS[j % 3], mean=MEAN, sd=SD) for j in range(case.variables)]
    return Problem(Joint(marginals), tuple(component(place) for place in range(case.blocks)))


def function(slopes: Floats, symbolic: bool) -> ot.Function:
    """Return the least of some margins as openturns takes it."""
    names = [f"x{j}" for j in range(slopes.shape[1])]
    if not symbolic:
        return ot.PythonFunction(
            len(names), 1, func_sample=lambda x: margins(np.asarray(x), slopes).min(axis=1)[:, np.newaxis]
        )
    sums = [
        " + ".join(f"{a / SD} * x{j}" for j, a in enumerate(row)) + f" - {row.sum() * MEAN / SD}"
        for row in slopes
    ]
    if len(sums) == 1:  # without a name for the sum there is a gradient in closed form
        return ot.SymbolicFunction(names, [f"4.3 - ({sums[0]}) + {CURVED} * ({sums[0]})^2"])
    lines = "".join(f"var s{k} := {text}; " for k, text in enumerate(sums))
    least = ", ".join(f"4.3 - s{k} + {CURVED} * s{k} * s{k}" for k in range(len(sums)))
    return ot.SymbolicFunction(names, ["y"], f"{lines}y := min({least});")


def event_of(case: Case, model: ot.Function) -> ot.ThresholdEvent:
    """Return its failing."""
    makers = (
        ot.ParametrizedDistribution(ot.LogNormalMuSigma(MEAN, SD, 0.0)),
        ot.Normal(MEAN, SD),
        ot.ParametrizedDistribution(ot.GumbelMuSigma(MEAN, SD)),
    )
    inputs = ot.JointDistribution([makers[j % 3] for j in range(case.variables)])
    return ot.ThresholdEvent(ot.CompositeRandomVector(model, ot.RandomVector(inputs)), ot.Less(), 0.0)


Work = Callable[[], int]
"""Answers rows."""


def ours_plain(case: Case) -> Work:
    made = problem(case)
    return lambda: simulate(made, seed=1, blocks=case.rows, purpose="bench").rows


def theirs_plain(case: Case, symbolic: bool) -> Work:
    event = event_of(case, function(case.slopes(), symbolic))

    def run() -> int:
        method = ot.ProbabilitySimulationAlgorithm(event, ot.MonteCarloExperiment())
        method.setMaximumCoefficientOfVariation(0.0)
        method.setBlockSize(BLOCK_ROWS)
        method.setMaximumOuterSampling(case.rows)
        method.setConvergenceStrategy(ot.Null())
        method.run()
        return method.getResult().getOuterSampling() * BLOCK_ROWS

    return run


def ours_rare(case: Case) -> Work:
    made = problem(case)
    first = pilot(made, seed=1, blocks=1, bins=8)
    tally = simulate(made, seed=1, blocks=1, purpose="bench")
    return lambda: assess(made, first, tally, seed=1).ledger.rows


def theirs_rare(case: Case, symbolic: bool) -> Work:
    models = [function(row[np.newaxis, :], symbolic) for row in case.slopes()]
    events = [event_of(case, model) for model in models]

    def run() -> int:
        ot.RandomGenerator.SetSeed(1)
        before = sum(model.getEvaluationCallsNumber() for model in models)
        for event in events:
            about_the_design_point(event, [MEAN] * case.variables)
        return sum(model.getEvaluationCallsNumber() for model in models) - before

    return run


METHODS: dict[str, dict[str, Callable[[Case], Work]]] = {
    "plain": {
        "riskcut": ours_plain,
        "openturns, Python": lambda case: theirs_plain(case, False),
        "openturns, compiled": lambda case: theirs_plain(case, True),
    },
    "rare": {
        "riskcut": ours_rare,
        "openturns, Python": lambda case: theirs_rare(case, False),
        "openturns, compiled": lambda case: theirs_rare(case, True),
    },
}


def table(kind: str, grows: str, cases: Sequence[Case]) -> None:
    """Print the growth of one kind with one size."""
    sizes = [float(getattr(case, grows)) for case in cases]
    print(f"\n{kind}, {grows}" + "".join(f"{size:12.0f}" for size in sizes) + "    exponent: time   rows")
    works = {name: [make_(case) for case in cases] for name, make_ in METHODS[kind].items()}
    seconds: dict[str, list[float]] = {name: [] for name in works}
    rows: dict[str, list[int]] = {name: [] for name in works}
    for place in range(len(cases)):
        for name, each in works.items():
            if not place:
                each[0]()
            taken = []
            for _ in range(REPEATS[kind]):
                begun = time.process_time()
                found = each[place]()
                taken.append(time.process_time() - begun)
            rows[name].append(found)
            seconds[name].append(float(np.median(taken)))
    for name in works:
        print(
            f"  {name:<22}"
            + "".join(f"{t:10.3f} s" for t in seconds[name])
            + f"{exponent(sizes, seconds[name]):12.2f}{exponent(sizes, rows[name]):7.2f}"
        )
        if kind == "rare":
            print(f"  {'  rows':<22}" + "".join(f"{n:12,}" for n in rows[name]))


def main(doublings: int) -> None:
    """Print the tables."""
    ot.TBB.SetThreadsNumber(1)
    ot.Log.Show(ot.Log.NONE)
    for kind in METHODS:
        for grows in ("rows", "margins", "blocks", "variables"):
            if (kind, grows) != ("rare", "rows"):
                start = getattr(Case(), grows) // (2 if kind == "rare" else 1)
                table(kind, grows, [replace(Case(), **{grows: start << d}) for d in range(doublings + 1)])


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 4)
