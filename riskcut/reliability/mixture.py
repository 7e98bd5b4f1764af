"""The density that importance samples are drawn from: the nominal one, and what leads it to some centres.

In the m independent standard normals u of a :class:`~riskcut.reliability.standard_space.StandardSpace`

    h(u) = w_0 phi(u) + sum_j w_j phi(u - c_j) + sum_j v_j phi(u) 1[a_j.u > b_j]/Phi(-b_j),    w_0 >= 0.1,

with a copy of the nominal density about each centre c_j, and the tail of the nominal density beyond the plane through
it, across its direction a_j = c_j/b_j, b_j = |c_j|. Where failure is a half-space the latter alone would have hardly
any scatter; where the surface bends towards the origin, the copy catches what the plane cuts off. A row drawn from
any part carries the weight W = phi(u)/h(u), the balance heuristic [1]_: never above 1/w_0, so that a failure region
that no centre knows of shows as a few heavy rows and not as nothing.

A sample that is to look about, rather than to estimate, has a third part about each centre, a *near copy*: all of it
short of the plane, a mirrored half, and a little wider than the nominal density in the coordinates in which the
centre lies off the origin. That is where rows fail that the centre does not explain.

How many rows of a block come from which part is not drawn but laid down (:meth:`Mixture.counts`). With fixed
counts n_j of N the mean of W f over the block is unbiased where h has the shares n_j/N that were really
used [1]_, and it has the variance within the parts only. So every block weighs its rows by its own shares, and
is an unbiased estimate by itself.

References
----------
.. [1] Veach, E. & Guibas, L. J. (1995). Optimally combining sampling techniques for Monte Carlo rendering.
   SIGGRAPH 95, 419-428. Fixed counts as mixture shares (deterministic mixture): Owen, A. & Zhou, Y. (2000).
   Safe and effective importance sampling. J. Am. Stat. Assoc. 95(449), 135-143. Both recalled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, ndtr, ndtri

from riskcut.reliability.streams import BLOCK_ROWS, generator

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
LimitState = tuple[int, int]
"""A component's place in the space, and the place of one of its limit states."""

LEAST_NOMINAL = 0.1
"""Least share of the nominal density."""
NEAR_SPREAD = 1.25
"""Spread of a near copy, in the coordinates in which its centre lies off the origin."""


@dataclass(frozen=True)
class Centre:
    """A place to sample about: a design point of one limit state."""

    u: Floats
    """(m,), independent standard normals."""
    limit_state: LimitState
    first_order_probability: float
    """Of the failure domain about this point, Phi(-beta); above 1/2 where the origin fails."""


@dataclass(frozen=True)
class Draw:
    """One block of rows from a mixture."""

    u: Floats
    """(rows, m), Fortran order; those of one part stand together, in the order of the parts."""
    log_ratios: Floats
    """(1 + 2J, rows), log of each part's density over phi: 0 for the nominal one, -inf short of a plane."""
    log_weight: Floats
    """(rows,), log of phi/h with the block's own shares."""
    counts: Counts
    """(1 + 2J,), rows from each part."""


class Mixture:
    """The nominal density, and two or three parts for each of J centres.

    Parameters
    ----------
    centres : array_like, (J, m)
        J may be 0; then the sample is a plain one.
    weights : array_like, (1 + kJ,), optional
        Of the nominal density, the copies about the centres, the tails beyond their planes (k = 2 or more) and the near
        copies (k = 3). By default 0.1 and equal shares of the rest for copies and tails.

    Attributes
    ----------
    centres : ndarray, (J, m)
    weights : ndarray, (1 + 2J,) or (1 + 3J,)

    Raises
    ------
    ValueError
        Where the weights are no shares of one, or the nominal one is below 0.1.
    """

    def __init__(self, centres: ArrayLike, weights: ArrayLike | None = None) -> None:
        self.centres: Floats = np.array(centres, dtype=np.float64)
        if self.centres.ndim != 2:
            raise ValueError(f"centres are (J, m), not {self.centres.shape}")
        if not np.all(np.isfinite(self.centres)):
            raise ValueError("a centre has coordinates that are not finite numbers")
        count = len(self.centres)
        given = equal_weights(count) if weights is None else np.array(weights, dtype=np.float64)
        if given.shape not in ((1 + count,), (1 + 2 * count,), (1 + 3 * count,)):
            raise ValueError(f"{count} centres want {1 + 2 * count} weights, not {given.shape}")
        self.weights: Floats = np.concatenate((given, np.zeros(max(1 + 2 * count - len(given), 0))))
        if not np.all(self.weights >= 0.0) or abs(float(self.weights.sum()) - 1.0) > 1e-9:
            raise ValueError("the weights of a mixture are shares of one")
        if self.weights[0] < LEAST_NOMINAL - 1e-12:
            raise ValueError(
                f"the nominal density has a share of {LEAST_NOMINAL:g} or more, not {self.weights[0]:g}"
            )
        # By explicit sums, as everything that enters a weight.
        self._square = np.array([float(sum(x * x for x in centre)) for centre in self.centres])
        self._distance = np.sqrt(self._square)
        share = self.weights[1:] / max(float(self.weights[1:].sum()), 1e-300)
        self._steps = np.concatenate(([0.0], np.minimum(np.cumsum(share), 1.0)))
        self._steps[-1] = 1.0 if count else 0.0

    @property
    def dimension(self) -> int:
        """Number of standard normals, m."""
        return int(self.centres.shape[1])

    def counts(self, rows: int, index: int) -> Counts:
        """Lay down how many rows of a block come from each part.

        Parameters
        ----------
        rows : int
            Of the block, N.
        index : int
            Of the block.

        Returns
        -------
        ndarray, (1 + 2J,)
            The nominal part has N w_0 rounded up, the others their shares of the rest by systematic
            rounding: each its share rounded down or up, which of them is up going round with the block
            (the offset is van der Corput's sequence), so that the shares over many blocks tend to the
            weights.
        """
        if len(self.weights) == 1:
            return np.array([rows], dtype=np.int64)
        nominal = min(int(np.ceil(rows * self.weights[0] - 1e-9)), rows)
        marks = np.floor(self._steps * (rows - nominal) + _van_der_corput(index)).astype(np.int64)
        return np.concatenate(([nominal], np.diff(marks)))

    def log_ratios(self, u: Floats) -> Floats:
        """Return the log of each part's density over phi at places (n, m): (1 + 2J, n), or (1 + 3J, n).

        It is 0 for the nominal part, c_j.u - |c_j|^2/2 for a copy, and -ln Phi(-b_j) or -inf for a tail. The
        products are summed coordinate by coordinate: a matrix product rounds differently with the number of rows
        and of threads. A centre's zeros cost nothing, and most limit states read few variables.
        """
        count = len(self.centres)
        logs = np.zeros((len(self.weights), len(u)))
        term = np.empty(len(u))
        for j, (centre, square) in enumerate(zip(self.centres, self._square, strict=True)):
            copy, tail = logs[1 + j], logs[1 + count + j]
            for k in np.flatnonzero(centre):
                np.multiply(u[:, k], centre[k], out=term)
                copy += term
            # The origin has no plane: as a centre, both its parts are the nominal density.
            if square > 0.0:
                tail[:] = np.where(copy > square, -log_ndtr(-self._distance[j]), -np.inf)
            copy -= 0.5 * square
        if len(logs) > 1 + 2 * count:
            self._near(u, logs)
        return logs

    def _near(self, u: Floats, logs: Floats) -> None:
        """Fill in the near copies' rows of the logs of density ratios, once those of copies and tails are known.

        Short of the plane it is ln 2 + sum over the k coordinates of u^2/2 - (u - c)^2/(2 s^2) - ln s.
        """
        count, narrow = len(self.centres), 1.0 / NEAR_SPREAD**2
        squares: dict[bytes, Floats] = {}
        for j, centre in enumerate(self.centres):
            which = np.flatnonzero(centre)
            if not len(which):
                continue  # the nominal density, as its other parts
            copy, tail, near = logs[1 + j], logs[1 + count + j], logs[1 + 2 * count + j]
            if (key := which.tobytes()) not in squares:
                squares[key] = np.zeros(len(u))
                for k in which:
                    squares[key] += u[:, k] * u[:, k]
            np.multiply(squares[key], 0.5 * (1.0 - narrow), out=near)
            near += narrow * copy  # c.u - |c|^2/2
            near += np.log(2.0) - len(which) * np.log(NEAR_SPREAD)
            near[tail > -np.inf] = -np.inf

    def draw(self, *, seed: int, purpose: str, index: int, rows: int = BLOCK_ROWS) -> Draw:
        """Draw one block.

        Parameters
        ----------
        seed, purpose, index
            Of the stream, as in :func:`riskcut.reliability.streams.generator`.
        rows : int
            1 to 8,192; part of the method like the block itself.

        Returns
        -------
        Draw
        """
        return self.draws(seed=seed, purpose=purpose, indices=(index,), rows=rows)[1][0]

    def draws(
        self, *, seed: int, purpose: str, indices: Sequence[int], rows: int
    ) -> tuple[Floats, list[Draw]]:
        """Draw several blocks at once, each the same as alone.

        Parameters
        ----------
        seed, purpose, rows
            As for :meth:`draw`.
        indices : sequence of int
            Of the blocks, k of them.

        Returns
        -------
        ndarray, (k rows, m)
            The rows of all blocks, which the blocks' own are views of.
        list of Draw
        """
        if not 1 <= rows <= BLOCK_ROWS:
            raise ValueError(f"a block has 1 to {BLOCK_ROWS:,} rows, not {rows:,}")
        u: Floats = np.empty((self.dimension, len(indices) * rows)).T
        counts = [self.counts(rows, index) for index in indices]
        blocks = [slice(first, first + rows) for first in range(0, len(u), rows)]
        for index, count, block in zip(indices, counts, blocks, strict=True):
            draws = generator(seed=seed, purpose=purpose, index=index)
            u[block] = draws.standard_normal((self.dimension, rows)).T
            self._lead(u[block], count)
        logs = self.log_ratios(u)
        return u, [
            Draw(u[block], logs[:, block], log_weights(logs[:, block], count / rows), count)
            for count, block in zip(counts, blocks, strict=True)
        ]

    def _lead(self, u: Floats, counts: Counts) -> None:
        """Lead the rows of a block to the parts that they are of."""
        stop, centres = np.cumsum(counts), len(self.centres)
        for j, centre in enumerate(self.centres):
            u[stop[j] : stop[j + 1]] += centre
            first, last = stop[centres + j], stop[centres + j + 1]
            if last > first:
                _push_beyond(u[first:last], centre, float(self._distance[j]))
        for j, centre in enumerate(self.centres if len(counts) > 1 + 2 * centres else ()):
            _put_near(u[stop[2 * centres + j] : stop[2 * centres + j + 1]], centre)


def equal_weights(centres: int) -> Floats:
    """Return the weights (1 + 2J,) of the nominal density, the least, and of the parts of J centres alike."""
    if centres == 0:
        return np.ones(1)
    return np.concatenate(([LEAST_NOMINAL], np.full(2 * centres, (1.0 - LEAST_NOMINAL) / (2 * centres))))


def log_weights(log_ratios: Floats, shares: Floats) -> Floats:
    """Return log(phi/h) = -log(sum_j share_j ratio_j) from logs (1 + 2J, rows): log-sum-exp over the parts."""
    most = log_ratios.max(axis=0, initial=-np.inf, where=(shares > 0.0)[:, np.newaxis])
    total = np.zeros(log_ratios.shape[1])
    term = np.empty_like(total)
    for logs, share in zip(log_ratios, shares, strict=True):
        if share > 0.0:
            np.subtract(logs, most, out=term)
            np.exp(term, out=term)
            term *= share
            total += term
    return np.asarray(-(most + np.log(total)))


def mixture_of(centres: Sequence[Centre], dimension: int, weights: ArrayLike | None = None) -> Mixture:
    """Return the mixture about some centres, their coordinates checked against the space's dimension."""
    for centre in centres:
        if np.shape(centre.u) != (dimension,):
            raise ValueError(f"a centre has {np.shape(centre.u)} coordinates; the space has {dimension}")
    places = np.array([centre.u for centre in centres], dtype=np.float64).reshape(len(centres), dimension)
    return Mixture(places, weights)


def _van_der_corput(index: int) -> float:
    """Return the binary digits of ``index`` mirrored at the point: 0, 1/2, 1/4, 3/4, ..."""
    value, unit = 0.0, 0.5
    while index:
        value += unit * (index & 1)
        index >>= 1
        unit *= 0.5
    return value


def _put_near(u: Floats, centre: Floats) -> None:
    """Turn standard normal rows into those of a near copy: wider, and those beyond the plane mirrored at it."""
    which = np.flatnonzero(centre)
    along = np.zeros(len(u))
    for k in which:
        u[:, k] *= NEAR_SPREAD
        along += u[:, k] * centre[k]
    mirrored = 2.0 * np.maximum(along, 0.0) / max(float(sum(x * x for x in centre)), 1e-300)
    for k in which:
        u[:, k] += (1.0 - mirrored) * centre[k]


def _push_beyond(u: Floats, centre: Floats, distance: float) -> None:
    """Turn standard normal rows into ones beyond a plane: along its direction only, and in the same order there."""
    if distance == 0.0:
        return
    along = np.zeros(len(u))
    for k in np.flatnonzero(centre):
        along += u[:, k] * centre[k]
    along /= distance
    beyond = -ndtri(ndtr(-along) * ndtr(-distance))
    # Rounding may leave a row on the plane itself, which is not beyond it.
    shift = (np.maximum(beyond, distance + 1e-12 * max(distance, 1.0)) - along) / distance
    for k in np.flatnonzero(centre):
        u[:, k] += shift * centre[k]
