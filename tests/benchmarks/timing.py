"""Timing for the scripts: works taken in turn, so that a load that comes and goes falls on all of them alike."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def in_turn(
    works: Mapping[str, Callable[[], object]], turns: int, clock: Callable[[], float] = time.process_time
) -> dict[str, Floats]:
    """Run every work in every turn, and return the seconds (turns,) of each, by its name.

    The clock is the processor's by default, which other work on the machine disturbs least; what runs on several
    threads wants ``time.perf_counter``. A run beforehand is not timed: what is done once only falls there.
    """
    taken: dict[str, list[float]] = {name: [] for name in works}
    for turn in range(turns + 1):
        for name, work in works.items():
            begun = clock()
            work()
            if turn:
                taken[name].append(clock() - begun)
    return {name: np.array(each) for name, each in taken.items()}


def ratio(first: Floats, second: Floats) -> float:
    """Return the median over the turns of the first time over the second."""
    return float(np.median(first / second))


def exponent(sizes: Sequence[float], amounts: Sequence[float], last: int = 3) -> float:
    """Return the slope of log amount against log size over the last sizes: 1 where it grows in proportion."""
    return float(np.polyfit(np.log(sizes[-last:]), np.log(amounts[-last:]), 1)[0])
