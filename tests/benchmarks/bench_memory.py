"""Memory of plain simulation at n and at 8 n rows: ``python tests/benchmarks/bench_memory.py [blocks]``.

The invented cut (``invented_cut.py``), ours and openturns, each figure of a process of its own. "Resident" is by how
much the most memory that it ever held, as the system counts it, lies above that before the run, after a warm-up of
one block: 0 is no more than that took. "In Python" is the most that Python and numpy had given out at a time, the
buffers of a block included; it does not see into openturns. Ours is to be flat in the rows. openturns is flat where
its Monte Carlo goes in blocks, and holds everything where the sample is asked for in one piece, as it is for whatever
its simulation algorithms do not tell.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tracemalloc
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

import invented_cut
import numpy as np
import openturns as ot
from bench_simulation import monte_carlo, ours

from riskcut.reliability.streams import BLOCK_ROWS


def one_piece(blocks: int) -> Callable[[], object]:
    """Return openturns's joint sample of all rows and the margins of it."""
    inputs = invented_cut.distribution()
    function = invented_cut.openturns_function(range(3), symbolic=True)

    return lambda: np.count_nonzero(np.asarray(function(inputs.getSample(blocks * BLOCK_ROWS))) < 0.0)


def openturns_blocks(blocks: int) -> Callable[[], object]:
    """Return openturns's Monte Carlo."""
    return monte_carlo(blocks, symbolic=True)


def whole_path(blocks: int) -> Callable[[], object]:
    """Return ours with one worker; a second is a process that holds as much again."""
    return ours(invented_cut.problem(), blocks, 1)


WORKS: dict[str, Callable[[int], Callable[[], object]]] = {
    "riskcut": whole_path,
    "openturns, Monte Carlo in blocks": openturns_blocks,
    "openturns, one sample": one_piece,
}


def peak() -> float:
    """Return the most memory that this process ever held, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def growth(name: str, blocks: int) -> float:
    """Return by how much a run raises it."""
    ot.TBB.SetThreadsNumber(1)
    WORKS[name](1)()
    work = WORKS[name](blocks)
    before = peak()
    work()
    return peak() - before


def given_out(name: str, blocks: int) -> float:
    """Return the most that Python had given out at a time during a run, in MB."""
    ot.TBB.SetThreadsNumber(1)
    work = WORKS[name](blocks)
    tracemalloc.start()
    work()
    return tracemalloc.get_traced_memory()[1] / 2.0**20


def main(blocks: int) -> None:
    """Print the table."""
    sizes = [blocks, 8 * blocks]
    print(f"{'MB':<46}" + "".join(f"{size * BLOCK_ROWS:>12,} rows" for size in sizes))
    # Processes that start afresh: a fork would begin at its parent's peak.
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), max_tasks_per_child=1) as pool:
        for measure, title in ((growth, "resident"), (given_out, "in Python")):
            for name in WORKS:
                if measure is given_out and not name.startswith("riskcut"):
                    continue
                found = [pool.submit(measure, name, size).result() for size in sizes]
                print(f"{name + ', ' + title:<46}" + "".join(f"{megabytes:17.1f}" for megabytes in found))


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 16)
