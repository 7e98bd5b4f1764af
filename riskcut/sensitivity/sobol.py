r"""First-order and total-order Sobol' indices of many margins at once, with honest intervals.

For independent inputs, the variance of a margin Y splits into the parts that each group of inputs i
explains alone and together with others:

.. math:: S_i = V[E(Y | X_i)] / V(Y), \qquad T_i = E[V(Y | X_{\sim i})] / V(Y).

Estimators, on margins centred by the mean of all rows, with A and B two independent base matrices, AB_i
the matrix A with the columns of group i from B, and V(Y) the variance over A and B together:

.. math:: S_i = \overline{f(B)\,(f(AB_i) - f(A))} / V(Y), \qquad
          T_i = \overline{(f(A) - f(AB_i))^2} / (2 V(Y)).

One scrambled Sobol' sequence gives one value of each index. The scrambles are independent, so that the mean
of their values is the estimate, and Student's t with one degree of freedom less than there are scrambles
gives its interval. (A bootstrap over the rows of one scramble is two to three times too wide: it takes
quasi-random rows for random ones.)

Sources
-------
.. [1] Saltelli, A. et al. 2010. Variance based sensitivity analysis of model output. Computer Physics
   Communications 181, 259-270: the first-order estimator (its Table 2, (b)) and the design.
.. [2] Jansen, M. J. W. 1999. Analysis of variance designs for model output. Computer Physics Communications
   117, 35-43: the total-order estimator.
.. [3] Owen, A. B. 1998. Scrambling Sobol' and Niederreiter-Xing points. Journal of Complexity 14, 466-489:
   independent scrambles as replicates.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from riskcut.reliability.crew import dealt
from riskcut.sensitivity.design import Design, normal_points

Array = NDArray[np.float64]
LEVEL = 0.95
ROWS_A_CALL = 8192
"""Matrices are handed to the model together up to this many rows; the answer does not depend on it."""
MOST_DRIVERS = 10_600
"""Twice as many dimensions are drawn, and Sobol' direction numbers are tabulated for 21,201."""
WITHIN_ROUNDING = 2.0**-40
"""A margin whose range is smaller than this share of its size is taken not to vary."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SobolIndices:
    """Sobol' indices of k margins for G groups of drivers."""

    first: Array
    """First order (k, G); NaN in the rows of refused margins, here and below."""
    total: Array
    """Total order (k, G)."""
    first_bounds: Array
    """Bounds of the 95 % interval (k, G, 2); not cut off at 0 and 1."""
    total_bounds: Array
    refusal: tuple[str | None, ...]
    """Why a margin has no indices (k); None where it has."""
    rows: int
    margin_evaluations: int


@dataclass(frozen=True, slots=True)
class Values:
    """What a model reads in place of the scores: worked out once for A and B, and swapped like these."""

    transform: Callable[[Array], Array]
    """From scores (n, m) to values (n, d), row by row."""
    driver: Sequence[int]
    """(d,), the driver of each value, on whose group alone it hangs."""


@dataclass(frozen=True, slots=True)
class _Replicate:
    """What one scramble gives."""

    first: Array
    total: Array
    no_number: NDArray[np.int64]
    varies: NDArray[np.bool_]


def analyse(
    *,
    drivers: int,
    groups: Sequence[Sequence[int]],
    respond: Callable[[Array], Array],
    margins: int,
    base_rows: int = 1024,
    scrambles: int = 16,
    seed: int,
    design: Design | None = None,
    values: Values | None = None,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> SobolIndices:
    """Estimate the first-order and total-order indices of every margin for every group of drivers.

    Parameters
    ----------
    drivers
        Number m of independent standard normal inputs.
    groups
        Drivers that are varied together, each driver in one group at most (inputs that depend on each other
        share one index). A driver in no group varies like the others and has no index of its own.
    respond
        From rows (n, m), read-only, to margins (n, k). Each row's margins must depend on that row alone.
        Called in several processes if ``workers`` is more than 1.
    margins
        Number k of margins.
    base_rows
        Rows of each base matrix in a scramble, a power of 2. A scramble costs base_rows (G + 2) rows.
    scrambles
        Number of independent scrambles, 2 or more.
    seed
        0 or more. The same seed gives the same bits, whatever the workers.
    design
        From :func:`riskcut.sensitivity.design.draw` with the same drivers, base_rows, scrambles and seed; it
        saves the drawing, and changes nothing.
    values
        What ``respond`` gets in place of the scores, (n, d). It saves a transformation of every row, and changes
        nothing.
    workers
        Processes, where the system can fork.
    progress
        Called with the number of scrambles done and wanted.

    Returns
    -------
    SobolIndices
        A margin with any row that is no finite number is refused, since one such row spoils its indices; so
        is a margin that does not vary.

    Raises
    ------
    ValueError
        Arguments that make no design, or a response of the wrong shape.
    """
    members = _checked(drivers, groups, margins, base_rows, scrambles, seed)
    if design is not None:
        drawn = (design.drivers, design.base_rows, design.scrambles, design.seed)
        if drawn != (drivers, base_rows, scrambles, seed):
            raise ValueError("the design was drawn for other drivers, base_rows, scrambles or seed")

    swapped = members
    if values is not None:
        swapped = [[c for c, driver in enumerate(values.driver) if driver in group] for group in members]

    def one(replicate: int) -> _Replicate:
        if design is not None:
            a, b = design.scores[replicate]
        else:
            a, b = normal_points(drivers=drivers, base_rows=base_rows, seed=seed, replicate=replicate)
        if values is not None:
            a, b = values.transform(a), values.transform(b)
        return _replicate(a, b, swapped, respond, margins)

    def hand(worker: int) -> Iterator[_Replicate]:
        return map(one, range(worker, scrambles, workers))

    replicates: list[_Replicate] = []
    with closing(dealt([partial(hand, worker) for worker in range(min(workers, scrambles))])) as given:
        for replicate in given:
            replicates.append(replicate)
            if progress is not None:
                progress(len(replicates), scrambles)

    rows = scrambles * base_rows * (len(members) + 2)
    refusal = _refusals(replicates, rows)
    refused = np.array([text is not None for text in refusal], dtype=np.bool_)
    first, first_bounds = _interval(np.stack([r.first for r in replicates]), refused)
    total, total_bounds = _interval(np.stack([r.total for r in replicates]), refused)
    return SobolIndices(
        first=first,
        total=total,
        first_bounds=first_bounds,
        total_bounds=total_bounds,
        refusal=refusal,
        rows=rows,
        margin_evaluations=rows * margins,
    )


def _checked(
    drivers: int, groups: Sequence[Sequence[int]], margins: int, base_rows: int, scrambles: int, seed: int
) -> list[list[int]]:
    members = [[int(j) for j in group] for group in groups]
    listed = [j for group in members for j in group]
    if not 1 <= drivers <= MOST_DRIVERS:
        raise ValueError(f"there must be 1 to {MOST_DRIVERS:,} drivers, not {drivers:,}")
    if not members or not all(members):
        raise ValueError("there must be a group of drivers, and none may be empty")
    if len(set(listed)) != len(listed):
        raise ValueError("a driver is in two groups, or twice in one")
    if min(listed) < 0 or max(listed) >= drivers:
        raise ValueError(f"drivers are numbered from 0 to {drivers - 1}")
    if margins < 1:
        raise ValueError("there must be a margin")
    if base_rows < 2 or base_rows & (base_rows - 1):
        raise ValueError(f"base_rows must be a power of 2, from 2 up, not {base_rows:,}")
    if scrambles < 2:
        raise ValueError("an interval needs 2 scrambles or more")
    if seed < 0:
        raise ValueError("the seed must be 0 or more")
    return members


def _matrices(
    a: Array, b: Array, groups: list[list[int]], respond: Callable[[Array], Array], margins: int
) -> Iterator[Array]:
    """Yield the margins (k, N) of A, of B and of each AB_i, several matrices a call of the model."""
    n = len(a)
    swaps: list[list[int] | None] = [[], None, *groups]  # no column from B, all of them, those of a group
    together = max(1, ROWS_A_CALL // n)
    for start in range(0, len(swaps), together):
        batch = swaps[start : start + together]
        rows = np.empty((n * len(batch), a.shape[1]), order="F")
        for i, columns in enumerate(batch):
            block = rows[i * n : (i + 1) * n]
            block[:] = b if columns is None else a
            if columns:
                block[:, columns] = b[:, columns]
        rows.flags.writeable = False
        response = np.asarray(respond(rows), dtype=np.float64)
        if response.shape != (len(rows), margins):
            raise ValueError(f"the model gave margins of shape {response.shape}, not {(len(rows), margins)}")
        for i in range(len(batch)):
            yield np.ascontiguousarray(response[i * n : (i + 1) * n].T)


def _replicate(
    a: Array, b: Array, groups: list[list[int]], respond: Callable[[Array], Array], margins: int
) -> _Replicate:
    n = len(a)
    no_number = np.zeros(margins, dtype=np.int64)

    def numbers(y: Array) -> Array:
        """Count what is no number, and put 0 in its place: the margin is refused anyway."""
        bad = ~np.isfinite(y)
        no_number[:] += np.count_nonzero(bad, axis=1)
        return np.where(bad, 0.0, y)

    responses = _matrices(a, b, groups, respond, margins)
    of_a, of_b = numbers(next(responses)), numbers(next(responses))
    both = np.hstack([of_a, of_b])
    size = np.abs(both).max(axis=1, keepdims=True)
    size[size == 0] = 1.0
    both /= size
    varies = np.ptp(both, axis=1) > WITHIN_ROUNDING
    centre = both.mean(axis=1, keepdims=True)
    both -= centre
    of_a, of_b = both[:, :n], both[:, n:]
    variance = np.where(varies, both.var(axis=1), 1.0)

    sums = both.sum(axis=1)
    products, swings, squares = (np.empty((margins, len(groups))) for _ in range(3))
    for g, response in enumerate(responses):
        change = numbers(response) / size - centre - of_a
        swings[:, g] = change.sum(axis=1)
        products[:, g] = (of_b * change).sum(axis=1)
        squares[:, g] = (change * change).sum(axis=1)
        sums += of_a.sum(axis=1) + swings[:, g]
    mean = sums / (n * (len(groups) + 2))  # of all rows: the centre that SALib takes
    first = (products - mean[:, None] * swings) / n / variance[:, None]
    total = squares / (2 * n) / variance[:, None]
    return _Replicate(first, total, no_number, varies)


def _refusals(replicates: list[_Replicate], rows: int) -> tuple[str | None, ...]:
    no_number = np.sum([r.no_number for r in replicates], axis=0)
    still = np.sum([~r.varies for r in replicates], axis=0)
    texts: list[str | None] = []
    for bad, constant in zip(no_number.tolist(), still.tolist(), strict=True):
        if bad:
            texts.append(f"{bad:,} of {rows:,} rows gave no number")
        elif constant == len(replicates):
            texts.append("the margin does not vary")
        elif constant:
            texts.append(f"the margin does not vary in {constant} of {len(replicates)} scrambles")
        else:
            texts.append(None)
    return tuple(texts)


def _interval(values: Array, refused: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Mean over the scrambles (k, G) and the bounds of its t interval (k, G, 2)."""
    count = len(values)
    mean = values.mean(axis=0)
    half = stdtrit(count - 1, (1 + LEVEL) / 2) * values.std(axis=0, ddof=1) / np.sqrt(count)
    mean[refused] = np.nan
    return mean, np.stack([mean - half, mean + half], axis=-1)
