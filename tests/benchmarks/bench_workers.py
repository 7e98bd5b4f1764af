"""What a second worker brings, by chunk: ``python tests/benchmarks/bench_workers.py [blocks]``.

Plain simulation of the invented cut (``invented_cut.py``) and of the demonstration, by chunks of 1, 2, 4 and 8 blocks
of 8,192 rows: million rows a second of wall time with one worker and with two, and the parallel efficiency, the time
of one over twice the time of two. Bits do not depend on either. All are of one run, taken in turn, medians.

A machine that is busy has no second core to give. So the same is done by two processes that count half each and know
nothing of each other: their efficiency is what the machine had to give in the same turns, and "of two processes" is
the time of theirs over that of two workers. An efficiency is worth quoting only where that of two processes is near 1.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Callable
from functools import cache
from multiprocessing.pool import Pool

import invented_cut
import numpy as np
from bench_simulation import DEMO
from timing import in_turn, ratio

from riskcut.analysis.binding import bind
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import Pilot, pilot
from riskcut.reliability.problem import Problem
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.study.reading import read_study

CHUNKS = (1, 2, 4, 8)
TURNS = 3


@cache
def made(name: str) -> tuple[Problem, Pilot]:
    """Return a problem and its pilot."""
    problem = invented_cut.problem() if name == "invented cut" else bind(read_study(DEMO)).problem
    return problem, pilot(problem, seed=1, blocks=4)


def count(name: str, blocks: int, chunk: int = 1, workers: int = 1) -> int:
    """Simulate."""
    problem, first = made(name)
    tally = simulate(
        problem,
        seed=1,
        blocks=blocks,
        purpose="bench",
        edges=first.edges,
        chunk_blocks=chunk,
        workers=workers,
    )
    return tally.rows


def table(name: str, blocks: int, pool: Pool) -> None:
    """Print the lines of one problem."""

    def run(chunk: int, workers: int) -> Callable[[], object]:
        return lambda: count(name, blocks, chunk, workers)

    def processes(number: int) -> Callable[[], object]:
        return lambda: pool.starmap(count, [(name, blocks // 2)] * number, chunksize=1)

    works = {f"{chunk} {workers}": run(chunk, workers) for chunk in CHUNKS for workers in (1, 2)}
    works |= {"half by one process": processes(1), "whole by two": processes(2)}
    times = in_turn(works, TURNS, time.perf_counter)
    beside = times["whole by two"]
    machine = ratio(times["half by one process"], beside)
    print(f"{name}, {blocks * BLOCK_ROWS:,} rows; efficiency of two processes: {machine:.2f}")
    print(
        f"  {'rows a chunk':>12}{'one worker':>12}{'two workers':>13}{'efficiency':>12}{'of two processes':>18}"
    )
    for chunk in CHUNKS:
        one, two = times[f"{chunk} 1"], times[f"{chunk} 2"]
        speeds = [blocks * BLOCK_ROWS / float(np.median(taken)) / 1e6 for taken in (one, two)]
        print(
            f"  {chunk * BLOCK_ROWS:12,}{speeds[0]:12.3f}{speeds[1]:13.3f}{0.5 * ratio(one, two):12.2f}"
            f"{ratio(beside, two):18.2f}"
        )


def main(blocks: int) -> None:
    """Print the tables."""
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        table("invented cut", 8 * blocks, pool)
        table("demonstration", blocks, pool)


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 16)
