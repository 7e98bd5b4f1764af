"""Sobol' indices: the model alone, ours, SALib, openturns: ``python tests/benchmarks/bench_sobol.py [log2 of rows]``.

First and total order with intervals for the three margins of the invented cut (``invented_cut.py``), its inputs taken
as independent, for 2^14 base rows in all: sixteen scrambles of 2^10 with ours, one of 2^14 with the others, whose
intervals are bootstraps. The floor is the model itself on all rows, ready made. Processor time, taken in turn; printed
are medians and the peak of memory. Only the ratios are worth quoting.
"""

from __future__ import annotations

import sys
import tracemalloc
from collections.abc import Callable

import numpy as np
import openturns as ot
from invented_cut import LIMIT_STATES, NAMES, VARIABLES, distribution, margin, problem
from SALib.analyze import sobol as salib_analysis
from SALib.sample import sobol as salib_sample
from scipy.special import ndtri
from timing import in_turn, ratio

from riskcut.sensitivity.sobol import Values, analyse
from riskcut.uncertainty.joint import Joint

TURNS, SCRAMBLES = 5, 16
COUNT = len(NAMES)


def joint() -> Joint:
    return Joint(problem().joint.marginals)


def respond(x: np.ndarray) -> np.ndarray:
    return np.stack([margin(x.T, k) for k in range(len(LIMIT_STATES))], axis=1)


def ours(rows: int, *, workers: int = 1) -> Callable[[], object]:
    inputs = joint()
    return lambda: analyse(
        drivers=COUNT,
        groups=[[k] for k in range(COUNT)],
        respond=respond,
        margins=len(LIMIT_STATES),
        base_rows=rows // SCRAMBLES,
        scrambles=SCRAMBLES,
        seed=1,
        values=Values(inputs.physical, inputs.driver),
        workers=workers,
    )


def salib(rows: int) -> Callable[[], object]:
    inputs = joint()
    names = {"num_vars": COUNT, "names": list(NAMES), "bounds": [[0.0, 1.0]] * COUNT}

    def run() -> list[object]:
        unit = salib_sample.sample(names, rows, calc_second_order=False, seed=1)
        margins = respond(inputs.physical(ndtri(np.clip(unit, 1e-12, 1.0 - 1e-12))))
        return [
            salib_analysis.analyze(names, margins[:, k], calc_second_order=False, seed=1)
            for k in range(len(LIMIT_STATES))
        ]

    return run


def openturns(rows: int) -> Callable[[], object]:
    inputs = ot.JointDistribution([distribution().getMarginal(k) for k in range(COUNT)])

    def of_sample(x: ot.Sample) -> np.ndarray:
        return respond(np.asfortranarray(x))

    function = ot.PythonFunction(COUNT, len(LIMIT_STATES), func_sample=of_sample)

    def run() -> object:
        design = ot.SobolIndicesExperiment(inputs, rows, False).generate()
        indices = ot.SaltelliSensitivityAlgorithm(design, function(design), rows)
        return [
            (indices.getFirstOrderIndices(k), indices.getTotalOrderIndices(k))
            for k in range(len(LIMIT_STATES))
        ] + [indices.getFirstOrderIndicesInterval(), indices.getTotalOrderIndicesInterval()]

    return run


def floor(rows: int) -> Callable[[], object]:
    scores = np.random.default_rng(1).standard_normal((COUNT, 8192)).T
    x = joint().physical(scores)
    times = rows * (COUNT + 2) // len(x)

    def run() -> None:
        for _ in range(times):
            respond(x)

    return run


def main(rows: int) -> None:
    assert len(VARIABLES) == COUNT
    works = {
        "the model alone": floor(rows),
        "ours": ours(rows),
        "openturns": openturns(rows),
        "SALib": salib(rows),
    }
    taken = in_turn(works, TURNS)
    print(f"{rows:,} base rows, {COUNT} inputs, {len(LIMIT_STATES)} margins, medians of {TURNS} turns")
    print(f"{'':18} {'ms':>8} {'times ours':>11} {'memory MB':>10}")
    for name, work in works.items():
        tracemalloc.start()
        work()
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        share = ratio(taken[name], taken["ours"])
        print(f"{name:18} {1e3 * np.median(taken[name]):8.0f} {share:11.2f} {peak / 1e6:10.1f}")


if __name__ == "__main__":
    main(2 ** (int(sys.argv[1]) if len(sys.argv) > 1 else 14))
