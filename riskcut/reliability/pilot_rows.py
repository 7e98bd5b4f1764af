"""Rows drawn about some places as these become known, and weighed as if all had been drawn at once.

A pilot is thrown away, so that it may look where it likes: rows about the places known so far tell of others, about
which rows are then drawn as well. Each row is weighed against all that was drawn, by the balance heuristic
(:mod:`riskcut.reliability.mixture`), so that the same rows serve to look about and to size a sample.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.mixture import LEAST_NOMINAL, LimitState, Mixture, log_weights
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.streams import BLOCK_ROWS

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Group = tuple[int, Sequence[Floats]]
"""How many rows to draw about each of some places (m,), and these."""

PURPOSE = "importance pilot"
_MOST_ROWS = 32_768
"""Beyond so many, only a few are drawn about each further place,"""
_LEAST_ABOUT = 32
"""namely so many."""
_SHARES = (0.2, 0.2, 0.6)
"""Of a place's rows: of its copy, of its tail, and of its near copy, which is what finds others."""
_DIGITS = 9
"""Places are rounded, so that a last bit of a search does not reach a row."""


class PilotRows:
    """Draws the rows and keeps them, with the margins there.

    Parameters
    ----------
    space : StandardSpace
    which : mapping of int to sequence of int
        The limit states to evaluate, by component of the space.
    seed : int
        Of the stream; its purpose is "importance pilot".

    Attributes
    ----------
    which : mapping of int to tuple of int
    u, z : ndarray, (n, m)
        Independent and correlated normal scores.
    margins : mapping of LimitState to ndarray, (n,)
    """

    def __init__(self, space: StandardSpace, which: Mapping[int, Sequence[int]], *, seed: int) -> None:
        self.space = space
        self.which = {component: tuple(some) for component, some in sorted(which.items()) if len(some)}
        self._seed = seed
        self.u: Floats = np.zeros((space.dimension, 0)).T
        self.z: Floats = np.zeros((space.dimension, 0)).T
        self.margins: dict[LimitState, Floats] = {
            (component, k): np.zeros(0) for component, some in self.which.items() for k in some
        }
        self._places: dict[bytes, Floats] = {}
        self._part = np.zeros(0, dtype=np.int64)
        """Of each row, the number of the part of the mixture that it is of: 0 for the nominal density, from 1 + 3j on
        for the copy about the place j, its tail and its near copy."""
        self._log_ratios: Floats = np.zeros((1, 0))
        """(parts, n)."""
        self._blocks = 0

    def __len__(self) -> int:
        return len(self.u)

    def about(self, groups: Sequence[Group]) -> bool:
        """Draw rows about those of some places about which none were drawn before; whether there were any.

        The first time as many are drawn of the nominal density as about the place with the most; fewer from 32,768
        rows in all on. A place of several groups is of the first of them.
        """
        rows = {key: count for count, places in reversed(groups) for key in _keyed(places)}
        every = {key: place for _, places in groups for key, place in _keyed(places).items()}
        new = {key: place for key, place in every.items() if key not in self._places}
        if len(self) and not new:
            return False
        counts = np.array([rows[key] for key in new], dtype=np.float64)
        nominal = 0.0 if len(self) else float(max(count for count, _ in groups))
        room = max(_MOST_ROWS - len(self), _LEAST_ABOUT * (1 + len(new)))
        fewer = min(room / max(counts.sum() + nominal, counts.sum() / (1.0 - LEAST_NOMINAL)), 1.0)
        self._draw(new, fewer * counts, fewer * nominal)
        return True

    def again(self, rows: int) -> None:
        """Draw one more block, of so many rows about each place, if it holds them."""
        count = min(float(rows), BLOCK_ROWS / (1 + len(self._places)))
        self._draw(self._places, np.full(len(self._places), count), count)

    def weighed(self, places: Sequence[Floats] | None = None) -> tuple[NDArray[np.intp], Floats]:
        """Return the rows of a mixture, and their weights.

        Parameters
        ----------
        places : sequence of ndarray (m,), optional
            What the mixture is about; by default all that was drawn about.

        Returns
        -------
        ndarray, (k,)
            The rows that are of the nominal density or were drawn about one of the places.
        ndarray, (k,)
            phi/h of each of them, for the shares that were really drawn.
        """
        counts = np.bincount(self._part, minlength=len(self._log_ratios))
        if places is None:
            return np.arange(len(self)), np.exp(log_weights(self._log_ratios, counts / len(self)))
        parts = _parts(self._numbers(_keyed(places)))
        rows = np.flatnonzero(np.isin(self._part, parts))
        ratios = self._log_ratios[np.ix_(parts, rows)]
        return rows, np.exp(log_weights(ratios, counts[parts] / len(rows)))

    def log_ratios(self, places: Sequence[Floats], rows: NDArray[np.intp]) -> Floats:
        """Return :meth:`Mixture.log_ratios` (1 + 2J, k) of some places, about which were drawn, at k rows."""
        keys = [key for place in places for key in _keyed([place])]
        copies = 1 + 3 * np.array(self._numbers(keys), dtype=np.int64)
        return np.asarray(self._log_ratios[np.ix_(np.concatenate(([0], copies, copies + 1)), rows)])

    def _numbers(self, keys: Iterable[bytes]) -> list[int]:
        numbers = {key: j for j, key in enumerate(self._places)}
        return [numbers[key] for key in keys]

    def _mixture(self, places: Collection[Floats], counts: Floats, nominal: float) -> Mixture:
        least = max(LEAST_NOMINAL, nominal / (counts.sum() + nominal)) if len(places) else 1.0
        shares = np.outer(_SHARES, counts * (1.0 - least) / max(float(counts.sum()), 1e-300))
        return Mixture(
            np.array([*places]).reshape(len(places), self.space.dimension), [least, *shares.ravel()]
        )

    def _draw(self, places: Mapping[bytes, Floats], counts: Floats, nominal: float) -> None:
        mixture = self._mixture(places.values(), counts, nominal)
        rows = float(counts.sum()) / (1.0 - mixture.weights[0]) if len(places) else max(nominal, 1.0)
        blocks = math.ceil(rows / BLOCK_ROWS)
        u, draws = mixture.draws(
            seed=self._seed,
            purpose=PURPOSE,
            indices=range(self._blocks, self._blocks + blocks),
            rows=math.ceil(rows / blocks),
        )
        self._blocks += blocks
        before, known = len(self), len(self._places)
        self._places |= places
        parts = _parts(self._numbers(places))
        self._part = np.concatenate((self._part, *(np.repeat(parts, draw.counts) for draw in draws)))
        ratios = np.empty((1 + 3 * len(self._places), before + len(u)))
        ratios[: 1 + 3 * known, :before] = self._log_ratios
        ratios[parts, :before] = mixture.log_ratios(self.u)
        every = self._mixture(self._places.values(), np.ones(len(self._places)), 0.0)
        ratios[_parts(range(len(self._places))), before:] = every.log_ratios(u)
        self._log_ratios = ratios
        self._keep(u)

    def _keep(self, u: Floats) -> None:
        z = self.space.scores(u)
        blocks = [slice(first, first + BLOCK_ROWS) for first in range(0, len(u), BLOCK_ROWS)]
        answers = [self.space.answers(z[block], self.which) for block in blocks]
        self.u = np.concatenate((self.u.T, u.T), axis=1).T
        self.z = np.concatenate((self.z.T, z.T), axis=1).T
        for component, some in self.which.items():
            for column, k in enumerate(some):
                new = [answer[component].margin[:, column] for answer in answers]
                self.margins[component, k] = np.concatenate((self.margins[component, k], *new))


def _parts(places: Sequence[int]) -> Integers:
    """Return the numbers of the parts of a mixture about places of some numbers, in the mixture's order."""
    first = 1 + 3 * np.array(places, dtype=np.int64)
    return np.concatenate(([0], first, first + 1, first + 2))


def _keyed(places: Sequence[Floats]) -> dict[bytes, Floats]:
    rounded = [np.round(place, _DIGITS) + 0.0 for place in places]
    return {place.tobytes(): place for place in rounded}
