"""One importance sample for a set of limit states and their systems.

All limit states read the same rows of one mixture (:mod:`riskcut.reliability.mixture`), so that systems of any
kind come from the same rows as their parts. The size and the weights are fixed beforehand
(:mod:`riskcut.reliability.allocation`), never by what comes out here.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskcut.reliability.failure_events import Event, System, Verdict, as_event, limit_states, verdict
from riskcut.reliability.mixture import Centre, Draw, LimitState, Mixture, mixture_of
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.reliability.weighted_tally import WeightedTally

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
T = TypeVar("T")


class Sampler:
    """Draws blocks of a mixture and judges their rows; holds no state that changes.

    Parameters
    ----------
    space : StandardSpace
    mixture : Mixture
    which : mapping of int to sequence of int, optional
        The limit states wanted, by component of the space; by default all.
    systems : mapping of str to System
    seed, purpose
        Of the stream.
    rows_per_block : int

    Attributes
    ----------
    limit_states : tuple of LimitState
    events : tuple of Event
        The limit states, then the systems.
    """

    def __init__(
        self,
        space: StandardSpace,
        mixture: Mixture,
        *,
        which: Mapping[int, Sequence[int]] | None,
        systems: Mapping[str, System],
        seed: int,
        purpose: str,
        rows_per_block: int,
    ) -> None:
        if mixture.dimension != space.dimension:
            raise ValueError(f"the mixture has {mixture.dimension} dimensions, the space {space.dimension}")
        if which is None:
            which = {c: range(len(one.labels)) for c, one in enumerate(space.components)}
        self._space, self.mixture = space, mixture
        self._which = {component: tuple(places) for component, places in sorted(which.items()) if len(places)}
        self._seed, self._purpose, self.rows_per_block = seed, purpose, rows_per_block
        self.limit_states = tuple((c, place) for c, places in self._which.items() for place in places)
        self.systems = {name: as_event(system) for name, system in systems.items()}
        known = set(self.limit_states)
        for name, event in self.systems.items():
            if lost := [state for state in limit_states(event) if state not in known]:
                raise ValueError(f"system {name!r} has limit state {lost[0]}, which is not sampled")
        self.events: tuple[Event, ...] = (*self.limit_states, *self.systems.values())

    def judged(self, indices: Sequence[int]) -> list[tuple[Draw, list[Verdict]]]:
        """Draw some blocks, and judge every event on their rows."""
        u, draws = self.mixture.draws(
            seed=self._seed, purpose=self._purpose, indices=indices, rows=self.rows_per_block
        )
        answers = self._space.answers(self._space.scores(u), self._which)
        done = []
        for place, draw in enumerate(draws):
            block = slice(place * self.rows_per_block, (place + 1) * self.rows_per_block)
            judged = {
                (component, k): Verdict.of(answers[component].margin[block, column])
                for component, places in self._which.items()
                for column, k in enumerate(places)
            }
            done.append((draw, [verdict(event, judged) for event in self.events]))
        return done

    def each_block(self, blocks: int, reduce: Callable[[Draw, Sequence[Verdict]], T]) -> list[T]:
        """Reduce every block, in the order of the blocks. The cost goes to the space's ledger.

        Small blocks are evaluated several at a time: a call costs as much as hundreds of rows.
        """
        if blocks < 1:
            raise ValueError(f"blocks is 1 or more, not {blocks}")
        together = max(BLOCK_ROWS // self.rows_per_block, 1)
        return [
            reduce(draw, verdicts)
            for first in range(0, blocks, together)
            for draw, verdicts in self.judged(range(first, min(first + together, blocks)))
        ]


@dataclass(frozen=True)
class _Sums:
    """Of one block; arrays (E,)."""

    nominal: int
    mean: Floats
    variance: Floats
    possible_mean: Floats
    possible_variance: Floats
    failing: Counts
    impossible: Counts
    weight: Floats
    squares: Floats
    largest: Floats
    heaviest: Floats


def stratified(values: Floats, part: NDArray[np.intp], counts: Counts) -> tuple[float, float]:
    """Return the mean over a block of values that are zero but for some rows, and the variance of that mean.

    Parameters
    ----------
    values : ndarray, (k,)
        Of the rows that are not zero.
    part : ndarray, (k,)
        The part of the mixture that each comes from.
    counts : ndarray, (1 + 2J,)
        Rows from each part, n_j, N in all.

    Returns
    -------
    tuple of float
        The mean, and sum_j n_j s_j^2/N^2 with s_j^2 the sample variance within a part. A part with one row
        shows no spread; the square of its value stands in, which is too much on average.
    """
    rows = counts.sum()
    total = np.bincount(part, weights=values, minlength=len(counts))
    squares = np.bincount(part, weights=values * values, minlength=len(counts))
    several = counts > 1
    within = np.where(
        several,
        np.maximum(squares - total * total / np.maximum(counts, 1), 0.0) / np.where(several, counts - 1, 1),
        squares,
    )
    return float(total.sum() / rows), float((counts * within).sum() / (float(rows) * float(rows)))


def _reduce(draw: Draw, verdicts: Sequence[Verdict], turned: NDArray[np.bool_]) -> _Sums:
    weight = np.exp(draw.log_weight)
    part = np.repeat(np.arange(len(draw.counts)), draw.counts)
    events = len(verdicts)
    floats = np.zeros((7, events))
    failing, impossible = np.zeros(events, dtype=np.int64), np.zeros(events, dtype=np.int64)
    heaviest = np.full((events, draw.u.shape[1]), np.nan)
    for e, verdict_ in enumerate(verdicts):
        one = verdict_.turned() if turned[e] else verdict_
        rows = np.flatnonzero(one.certain)
        failing[e] = len(rows)
        values = weight[rows]
        floats[0:2, e] = stratified(values, part[rows], draw.counts)
        floats[4:7, e] = values.sum(), (values * values).sum(), values.max(initial=0.0)
        if len(rows):
            heaviest[e] = draw.u[rows[np.argmax(values)]]
        possible = np.flatnonzero(one.possible)
        impossible[e] = len(possible) - len(rows)
        floats[2:4, e] = (
            stratified(weight[possible], part[possible], draw.counts) if impossible[e] else floats[0:2, e]
        )
    return _Sums(
        nominal=int(draw.counts[0]),
        mean=floats[0],
        variance=floats[1],
        possible_mean=floats[2],
        possible_variance=floats[3],
        failing=failing,
        impossible=impossible,
        weight=floats[4],
        squares=floats[5],
        largest=floats[6],
        heaviest=heaviest,
    )


def sample(
    space: StandardSpace,
    *,
    centres: Sequence[Centre],
    which: Mapping[int, Sequence[int]] | None = None,
    blocks: int,
    rows_per_block: int = BLOCK_ROWS,
    seed: int,
    purpose: str,
    systems: Mapping[str, System] | None = None,
    weights: ArrayLike | None = None,
    turned: Collection[LimitState | str] = (),
) -> WeightedTally:
    """Sample limit states and systems together.

    Parameters
    ----------
    space : StandardSpace
    centres : sequence of Centre
        The places to sample about; none gives plain sampling.
    which : mapping of int to sequence of int, optional
        The limit states to evaluate, by component of the space; by default all.
    blocks, rows_per_block : int
        The size, fixed beforehand; each block has at most 8,192 rows. The size of a block is part of the
        method: another one draws other rows.
    seed, purpose
        Of the stream; another purpose draws other numbers.
    systems : mapping of str to System, optional
        Named systems: a list of limit states fails where any does; :class:`~riskcut.reliability.failure_events.AnyOf`
        and :class:`~riskcut.reliability.failure_events.AllOf` nest.
    weights : array_like, (1 + 2J,) or (1 + J,), optional
        Of the nominal density and the parts of the centres; see :class:`~riskcut.reliability.mixture.Mixture`.
    turned : collection of LimitState or str
        The limit states, and systems by name, of which the complement is estimated: those whose
        probability the pilot puts above one half.

    Returns
    -------
    WeightedTally

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    sampler = Sampler(
        space,
        mixture_of(centres, space.dimension, weights),
        which=which,
        systems={} if systems is None else systems,
        seed=seed,
        purpose=purpose,
        rows_per_block=rows_per_block,
    )
    names: tuple[LimitState | str, ...] = (*sampler.limit_states, *sampler.systems)
    if lost := [event for event in turned if event not in names]:
        raise ValueError(f"{lost[0]!r} is to be turned and is not sampled")
    turns = np.array([name in turned for name in names], dtype=np.bool_)
    first_order = np.full(len(names), np.nan)
    for centre in centres:
        if centre.limit_state in names:
            e = names.index(centre.limit_state)
            first_order[e] = np.nan_to_num(first_order[e]) + centre.first_order_probability
    done = sampler.each_block(blocks, lambda draw, verdicts: _reduce(draw, verdicts, turns))

    def stack(name: str) -> NDArray[np.float64]:
        return np.stack([getattr(one, name) for one in done])

    return WeightedTally(
        seed=seed,
        purpose=purpose,
        blocks=blocks,
        rows_per_block=rows_per_block,
        mixture=sampler.mixture,
        limit_states=sampler.limit_states,
        systems=tuple(sampler.systems),
        turned=turns,
        first_order=first_order,
        nominal_rows=sum(one.nominal for one in done),
        means=stack("mean"),
        variances=stack("variance"),
        possible_means=stack("possible_mean"),
        possible_variances=stack("possible_variance"),
        failing=sum((one.failing for one in done), np.zeros(len(names), dtype=np.int64)),
        impossible=sum((one.impossible for one in done), np.zeros(len(names), dtype=np.int64)),
        weight=stack("weight").sum(axis=0),
        squares=stack("squares").sum(axis=0),
        largest=stack("largest").max(axis=0),
        heaviest=stack("heaviest")[stack("largest").argmax(axis=0), np.arange(len(names))],
    )
