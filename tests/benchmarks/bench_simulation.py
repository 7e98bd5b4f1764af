"""Rows a second of plain simulation: floor, ours, openturns: ``python tests/benchmarks/bench_simulation.py [blocks]``.

The floor is drawing as many standard normals a row as the problem has drivers, by the fastest generator of numpy,
and nothing else. The first table is the demonstration's study path (many blocks and limit states, no peer has it),
the second the invented cut (``invented_cut.py``), where openturns stands beside: drawing its joint sample alone, and
its Monte Carlo of the three margins in series, with a vectorised Python function and with a compiled formula. Ours
counts the three margins, their union and their histograms in the same time; openturns counts the union alone.

One-thread figures are of processor time, those of two workers (openturns: two threads) of wall time, where the floor
stays on one. All are of one run, taken in turn; printed are medians, of the ratios turn by turn.
Only the ratios are worth quoting.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import invented_cut
import numpy as np
import openturns as ot
from timing import in_turn, ratio

from riskcut.analysis.binding import bind
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Problem
from riskcut.reliability.streams import BLOCK_ROWS, normals
from riskcut.study.reading import read_study

DEMO = Path(__file__).parents[2] / "studies" / "a_pumping_station.yaml"
TURNS = 7
FLOOR = "floor: standard normals"
COMPILED = "openturns, compiled formula"
Works = dict[str, Callable[[], object]]


def ours(problem: Problem, blocks: int, workers: int) -> Callable[[], object]:
    """Return the whole path."""
    edges = pilot(problem, seed=1, blocks=4).edges
    return lambda: simulate(problem, seed=1, blocks=blocks, purpose="bench", edges=edges, workers=workers)


def floor_and_parts(problem: Problem, blocks: int) -> Works:
    """Return the floor, and what comes before any margin."""
    joint = problem.joint
    generator = np.random.Generator(np.random.SFC64(1))
    buffer = np.empty((joint.drivers, BLOCK_ROWS))

    def floor() -> None:
        for _ in range(blocks):
            generator.standard_normal(out=buffer)

    def draw_and_transform() -> None:
        for index in range(blocks):
            w = normals(seed=1, purpose="bench", index=index, count=joint.drivers, out=buffer.T)
            z = joint.correlate(w, out=w)
            joint.physical(z)

    return {FLOOR: floor, "riskcut, draw and transform": draw_and_transform}


def monte_carlo(blocks: int, *, symbolic: bool) -> Callable[[], object]:
    """Return the Monte Carlo of openturns on the cut's three margins in series, by blocks of our size."""
    function = invented_cut.openturns_function(range(len(invented_cut.LIMIT_STATES)), symbolic=symbolic)
    inputs = ot.RandomVector(invented_cut.distribution())
    event = ot.ThresholdEvent(ot.CompositeRandomVector(function, inputs), ot.Less(), 0.0)

    def run() -> None:
        method = ot.ProbabilitySimulationAlgorithm(event, ot.MonteCarloExperiment())
        method.setMaximumCoefficientOfVariation(0.0)
        method.setBlockSize(BLOCK_ROWS)
        method.setMaximumOuterSampling(blocks)
        method.setConvergenceStrategy(ot.Null())
        method.run()
        result = method.getResult()
        if result.getOuterSampling() * result.getBlockSize() != blocks * BLOCK_ROWS:
            raise RuntimeError("openturns stopped early")

    return run


def openturns_works(blocks: int) -> Works:
    """Return what openturns does with the invented cut."""
    inputs = invented_cut.distribution()

    def draw() -> None:
        for _ in range(blocks):
            inputs.getSample(BLOCK_ROWS)

    return {
        "openturns, draws its joint sample": draw,
        "openturns, Python function": monte_carlo(blocks, symbolic=False),
        COMPILED: monte_carlo(blocks, symbolic=True),
    }


def show(
    title: str, works: Mapping[str, Callable[[], object]], blocks: int, clock: Callable[[], float]
) -> None:
    """Take the works in turn and print a table."""
    times = in_turn(works, TURNS, clock)
    peer = COMPILED in times
    print(
        f"{title:<44}{'million rows/s':>15}{'of the floor':>14}" + (f"{'of openturns':>14}" if peer else "")
    )
    for name, taken in times.items():
        speed = blocks * BLOCK_ROWS / float(np.median(taken)) / 1e6
        last = f"{ratio(times[COMPILED], taken):14.2f}" if peer else ""
        print(f"  {name:<42}{speed:15.3f}{ratio(times[FLOOR], taken):14.3f}{last}")


def main(blocks: int) -> None:
    """Print the tables."""
    demo, cut = bind(read_study(DEMO)).problem, invented_cut.problem()
    print(f"{blocks * BLOCK_ROWS:,} rows, {TURNS} turns; openturns {ot.__version__}")
    for name, problem in (("demonstration", demo), ("invented cut", cut)):
        theirs = openturns_works(blocks) if problem is cut else {}
        parts = floor_and_parts(problem, blocks)
        size = f"{problem.joint.drivers} drivers, {problem.limit_states} limit states"
        print(f"\n{name}: {size} in {len(problem.components)} blocks, {problem.joint.columns} columns")
        ot.TBB.SetThreadsNumber(1)
        one = {**parts, "riskcut, whole path": ours(problem, blocks, 1), **theirs}
        show("one, processor time", one, blocks, time.process_time)
        ot.TBB.SetThreadsNumber(2)
        two = {FLOOR: parts[FLOOR], "riskcut, whole path": ours(problem, blocks, 2), **theirs}
        show("two workers, wall time", two, blocks, time.perf_counter)


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 16)
