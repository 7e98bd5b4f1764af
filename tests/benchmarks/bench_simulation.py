"""Rows a second of the study path, beside the machine's floor: ``python tests/benchmarks/bench_simulation.py``.

The floor is drawing as many standard normals a row as the study has drivers, and nothing else. All figures are
of one run, taken in turn, each the median of several; only the ratios are worth quoting.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from riskcut.analysis.binding import bind
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.streams import BLOCK_ROWS, normals
from riskcut.study.reading import read_study

DEMO = Path(__file__).parents[2] / "studies" / "a_pumping_station.yaml"
BLOCKS = 16
TURNS = 7


def seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def main() -> None:
    """Print the table."""
    problem = bind(read_study(DEMO)).problem
    joint = problem.joint
    edges = pilot(problem, seed=1, blocks=4).edges
    floor_generator = np.random.Generator(np.random.SFC64(1))
    buffer = np.empty((joint.drivers, BLOCK_ROWS))

    def floor() -> None:
        for _ in range(BLOCKS):
            floor_generator.standard_normal(out=buffer)

    def draw_and_transform() -> None:
        for index in range(BLOCKS):
            z = joint.correlate(normals(seed=1, purpose="bench", index=index, count=joint.drivers))
            for component in problem.components:
                joint.physical(z, component.columns)

    def run(workers: int) -> Callable[[], object]:
        return lambda: simulate(
            problem, seed=1, blocks=BLOCKS, purpose="bench", edges=edges, workers=workers, chunk_blocks=1
        )

    works = {
        f"floor: {joint.drivers} standard normals a row": floor,
        "draw and transform, every block": draw_and_transform,
        "whole study path, one thread": run(1),
        "whole study path, two threads": run(2),
    }
    times: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(TURNS):
        for name, work in works.items():
            times[name].append(seconds(work))
    rows = BLOCKS * BLOCK_ROWS
    base = statistics.median(next(iter(times.values())))
    print(f"{len(problem.components)} blocks, {problem.limit_states} limit states, {joint.columns} columns")
    for name, taken in times.items():
        median = statistics.median(taken)
        print(f"{name:<44} {rows / median / 1e6:8.3f} million rows/s   {base / median:6.3f} of the floor")


if __name__ == "__main__":
    main()
