"""Simulation with points spread evenly: Latin hypercubes and scrambled Sobol' points.

Both thin out the scatter of what is nearly additive in few inputs; neither says from one set of points how much.
Hence independent replicates, each a hypercube or a scramble of its own, and Student's interval over them. It
means something only where a replicate counts failures enough: a pilot of random rows, whose only other use is to
answer where there are too few, says how many are to be expected.

References
----------
.. [1] McKay, M. D., Beckman, R. J. & Conover, W. J. (1979). A comparison of three methods for selecting values
   of input variables in the analysis of output from a computer code. Technometrics 21(2), 239-245.
.. [2] Owen, A. B. (1995). Randomly permuted (t,m,s)-nets and (t,s)-sequences. In: Monte Carlo and
   Quasi-Monte Carlo Methods in Scientific Computing, Lecture Notes in Statistics 106, 299-317.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.answer import IMPOSSIBLE_SHARE, Answer, Failing, shared_out, t_interval
from riskcut.reliability.streams import BLOCK_ROWS, generator, normals, standard_normal

Floats = NDArray[np.float64]
Points = Callable[[np.random.Generator, int, int], Iterator[Floats]]
"""From the generator of a replicate, its rows and the dimension: blocks (rows, m) of the unit cube."""

LEAST_EXPECTED = 50.0
"""Failures expected of a replicate (or rows that do not fail, where those are rarer) below which no interval is
given."""


def hypercube(draws: np.random.Generator, rows: int, dimension: int) -> Iterator[Floats]:
    """Draw a Latin hypercube [1]_: in every column one point in each of ``rows`` equal cells.

    The columns are shuffled and jittered one after another, and all held: 8 rows m bytes.
    """
    u = np.empty((dimension, rows))
    for column in u:
        column[:] = draws.permutation(rows)
        column += draws.random(rows)
        column /= rows
    for first in range(0, rows, BLOCK_ROWS):
        yield u[:, first : first + BLOCK_ROWS].T


def sobol(draws: np.random.Generator, rows: int, dimension: int) -> Iterator[Floats]:
    """Draw one scramble [2]_ of ``rows`` Sobol' points (a power of 2), block by block."""
    from scipy.stats import qmc  # scipy.stats takes half a second to import

    engine = qmc.Sobol(dimension, scramble=True, rng=draws)
    for first in range(0, rows, BLOCK_ROWS):
        yield engine.random(min(BLOCK_ROWS, rows - first))


def latin_hypercube(
    failing: Failing,
    *,
    seed: int,
    rows: int | None = None,
    replicates: int = 16,
    coefficient_of_variation: float = 0.05,
    cap_rows: int = 131_072,
    pilot_blocks: int = 4,
    workers: int = 1,
) -> Answer:
    """Answer a failure probability by independent Latin hypercubes.

    Parameters
    ----------
    failing : Failing
    seed : int
        Of the study, 0 or more.
    rows : int, optional
        Of each hypercube; by default a power of 2 from the pilot.
    replicates : int
        3 or more.
    coefficient_of_variation : float
        That random rows, as many in all, would have; spread points do no worse.
    cap_rows : int
        The most a replicate may take by default.
    pilot_blocks : int
        Blocks of 8,192 random rows in the discarded pilot.
    workers : int
        Threads, over replicates.

    Returns
    -------
    Answer
        The mean over the replicates with its t interval. Where fewer than 50 failures a replicate are to be
        expected no interval is given: the answer is then the pilot's count, not trusted. Bit for bit the same
        for any ``workers``.

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    return _simulate(
        failing,
        hypercube,
        "Latin hypercube",
        seed=seed,
        rows=rows,
        replicates=replicates,
        coefficient_of_variation=coefficient_of_variation,
        cap_rows=cap_rows,
        pilot_blocks=pilot_blocks,
        workers=workers,
    )


def sobol_points(
    failing: Failing,
    *,
    seed: int,
    rows: int | None = None,
    replicates: int = 16,
    coefficient_of_variation: float = 0.05,
    cap_rows: int = 131_072,
    pilot_blocks: int = 4,
    workers: int = 1,
) -> Answer:
    """Answer a failure probability by independent scrambles of Sobol' points.

    Parameters, answer and errors are those of :func:`latin_hypercube`; ``rows`` of a scramble is a power of 2.
    """
    if rows is not None and (rows < 1 or rows & (rows - 1)):
        raise ValueError(f"the rows of a scramble are a power of 2, not {rows:,}")
    return _simulate(
        failing,
        sobol,
        "Sobol' points",
        seed=seed,
        rows=rows,
        replicates=replicates,
        coefficient_of_variation=coefficient_of_variation,
        cap_rows=cap_rows,
        pilot_blocks=pilot_blocks,
        workers=workers,
    )


def _count(failing: Failing, blocks: Iterator[Floats]) -> NDArray[np.int64]:
    """Return the failing and the impossible rows of blocks of scores."""
    counts = np.zeros(2, dtype=np.int64)
    for u in blocks:
        margin = failing.margins(u)
        counts += np.count_nonzero(margin < 0.0), np.count_nonzero(np.isnan(margin))
    return counts


def _rows_wanted(rare: float, coefficient_of_variation: float, replicates: int, cap: int) -> int:
    """Return a power of 2: enough for the error that is wanted, and for the failures that are."""
    wanted = (1.0 - rare) / (rare * coefficient_of_variation**2) / replicates
    wanted = max(wanted, LEAST_EXPECTED / rare, 1024.0)
    return 1 << min(math.ceil(math.log2(wanted)), int(math.log2(cap)))


def _simulate(
    failing: Failing,
    points: Points,
    method: str,
    *,
    seed: int,
    rows: int | None,
    replicates: int,
    coefficient_of_variation: float,
    cap_rows: int,
    pilot_blocks: int,
    workers: int,
) -> Answer:
    if replicates < 3:
        raise ValueError(f"replicates is 3 or more, not {replicates}")
    if coefficient_of_variation <= 0.0:
        raise ValueError(f"a coefficient of variation is above zero, not {coefficient_of_variation:g}")
    for name, value in (("pilot_blocks", pilot_blocks), ("cap_rows", cap_rows), ("rows", rows)):
        if value is not None and value < 1:
            raise ValueError(f"{name} is 1 or more, not {value}")
    if (certain := failing.answer_without_chance(method)) is not None:
        return certain
    run = failing.apart()
    m = failing.space.dimension

    def pilot(twin: Failing, index: int) -> NDArray[np.int64]:
        block = normals(seed=seed, purpose=method + " pilot", index=index, count=m)
        return _count(twin, iter([block]))

    pilot_rows = pilot_blocks * BLOCK_ROWS
    failures, impossible = (int(k) for k in sum(shared_out(run, pilot, pilot_blocks, workers), np.zeros(2)))
    share = (failures + 0.5) / (pilot_rows + 1.0)
    rare = min(share, 1.0 - share)
    if rows is None:
        rows = _rows_wanted(rare, coefficient_of_variation, replicates, cap_rows)
    doubt = ""
    if impossible > IMPOSSIBLE_SHARE * pilot_rows:
        doubt = f"{100.0 * impossible / pilot_rows:.3g} % of the rows are impossible"
    elif rare * rows < LEAST_EXPECTED:
        which = "failures" if rare == share else "rows that do not fail"
        doubt = (
            f"a replicate of {rows:,} rows may expect some {rare * rows:.2g} {which}, and an interval wants "
            f"{LEAST_EXPECTED:.0f}"
        )
    if doubt:
        return failing.answer_of_counts(
            run,
            failures=failures,
            impossible=impossible,
            rows=pilot_rows,
            method=method,
            trusted=False,
            reason=f"The count of {pilot_rows:,} random rows, those of the pilot: {doubt}.",
        )

    def replicate(twin: Failing, index: int) -> NDArray[np.int64]:
        draws = generator(seed=seed, purpose=method, index=index)
        return _count(twin, map(standard_normal, points(draws, rows, m)))

    counts = np.array(shared_out(run, replicate, replicates, workers), dtype=np.float64)
    fails, lost = counts.T
    mean, error, half = t_interval(fails / rows)
    ceiling, _, ceiling_half = t_interval((fails + lost) / rows)
    # Where all replicates count the same, the truth may still lie a part of one row off: the part that a
    # replicate in so many would have shown, at 95 %.
    least = -math.expm1(math.log(0.05) / replicates) / rows
    possible = 1.0 - float(lost.mean()) / rows
    return failing.answer(
        run,
        probability=mean / possible,
        bounds=(mean - max(half, least), ceiling + max(ceiling_half, least)),
        standard_error=error / possible,
        method=method,
        trusted=True,
        reason=f"{replicates} replicates of {rows:,} rows.",
        impossible=int(lost.sum()),
    )
