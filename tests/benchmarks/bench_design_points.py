"""What design points cost: ``python tests/benchmarks/bench_design_points.py [study]``.

Rows are given per active variable and one, the unit in which a gradient is paid. "first" is the search for the
nearest point alone, "all" with the search for further ones.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from riskcut.analysis.binding import bind
from riskcut.reliability.design_points import Limits, Search, find
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.study.reading import read_study
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform

DEMO = Path(__file__).parents[2] / "studies" / "a_pumping_station.yaml"
FIRST = replace(Limits(), attempts=0)


def twelve_variables() -> Problem:
    """Seven lognormal numbers, two correlated normal ones, a uniform one and two Gumbel ones; three margins."""
    strengths = [Lognormal(mean=m, sd=v * m) for m, v in ((30.0, 0.2), (40.0, 0.2), (25.0, 0.25), (1.0, 0.1))]
    others = [Lognormal(mean=m, sd=v * m) for m, v in ((9.0, 0.1), (1.2, 0.15), (60.0, 0.3))]
    weights = [Normal(mean=18.0, sd=0.9), Normal(mean=19.0, sd=0.95)]
    rest = [Uniform(low=0.8, high=1.2), Gumbel(mean=2.0, sd=0.3), Gumbel(mean=10.0, sd=2.5)]
    marginals = [*strengths, *others, *weights, *rest]
    correlation = np.eye(12)
    correlation[7, 8] = correlation[8, 7] = 0.5

    def respond(x, which):
        a, b, c, model, depth, factor, load, g1, g2, part, head, surcharge = x.T
        margins = (
            lambda: model * (5.7 * a + 2.0 * b) - depth * g1 - surcharge,
            lambda: factor * (3.0 * b + 4.0 * c) - load - part * surcharge,
            lambda: 8.0 * g2 * part + 3.0 * a - 20.0 * head - 0.1 * load,
        )
        return Response(margin=np.stack([margins[k]() for k in which], axis=1))

    labels = ("bearing", "frame", "uplift")
    one = Component("twelve variables", (), tuple(range(12)), labels, (True,) * 3, respond)
    return Problem(Joint(marginals, correlation=correlation), (one,))


def report(name: str, first: Search, every: Search, active: int, seconds: float) -> None:
    """Print one line."""
    if not every.points:
        print(f"{name:<58} -      {every.rows:5d} rows {every.calls:3d} calls  {every.reason[:60]}")
        return
    unit = active + 1
    print(
        f"{name:<58}{every.points[0].beta:7.3f} {every.points[0].kind:<6}{len(every.points)} points {active:3d} active "
        f"first {first.rows / unit:5.1f} ({first.calls:2d} calls) "
        f"all {every.rows / unit:5.1f} ({every.calls:2d} calls) "
        f"{1e3 * seconds:6.1f} ms"
    )


def run(problem: Problem) -> list[tuple[float, int, float, int]]:
    """Search every limit state of a problem, print, and return the cost of those that have a smooth point."""
    costs = []
    for place, component in enumerate(problem.components):
        space = StandardSpace(problem, [place])
        for k, label in enumerate(component.labels):
            first = find(space, 0, k, limits=FIRST)
            begun = time.perf_counter()
            every = find(space, 0, k)
            taken = time.perf_counter() - begun
            active = int((every.points[0].alpha != 0.0).sum()) if every.points else space.dimension
            report(f"{component.name} {label}"[-57:], first, every, active, taken)
            if every.points and every.points[0].kind == "point":
                costs.append((first.rows / (active + 1), first.calls, every.rows / (active + 1), every.calls))
    return costs


def main() -> None:
    """Print the tables, and the medians and greatest values of each."""
    study = Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO
    for problem in (twelve_variables(), bind(read_study(study)).problem):
        costs = np.array(run(problem))
        for name, each in (("median", np.median(costs, axis=0)), ("greatest", costs.max(axis=0))):
            print(
                f"{name} of {len(costs)}: first {each[0]:.1f} (active + 1) rows, {each[1]:.0f} calls; "
                f"all {each[2]:.1f} (active + 1) rows, {each[3]:.0f} calls"
            )
        print()


if __name__ == "__main__":
    main()
