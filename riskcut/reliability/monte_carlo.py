"""Plain Monte Carlo simulation: constant memory, the same bits for any chunk size and worker count."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskcut.reliability.counting import Counter, Record, Sums
from riskcut.reliability.crew import dealt
from riskcut.reliability.estimates import Estimate, estimate
from riskcut.reliability.problem import ImpossibleRows, Problem
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.reliability.tally import ComponentTally, SystemTally, Tally

__all__ = ["Estimate", "ImpossibleRows", "Tally", "estimate", "simulate"]

IMPOSSIBLE_SHARE = 0.01
"""Greatest share of impossible rows in a component."""

Progress = Callable[[int, int], None]
Counts = NDArray[np.int64]
Floats = NDArray[np.float64]


class _Total:
    """The sums over blocks, taken in the order of the blocks."""

    def __init__(self, counter: Counter, blocks: int, checkpoints: tuple[int, ...]) -> None:
        components = counter.problem.components
        states = counter.problem.limit_states
        self._counter = counter
        self._rows = blocks * BLOCK_ROWS
        self._done = 0
        self._checkpoints = {after: place for place, after in enumerate(checkpoints)}
        self.failures = np.zeros(states, dtype=np.int64)
        self.impossible = np.zeros(states, dtype=np.int64)
        self.impossible_rows = np.zeros(len(components), dtype=np.int64)
        self.system_failures = np.zeros(counter.systems, dtype=np.int64)
        self.system_impossible = np.zeros(counter.systems, dtype=np.int64)
        self.failures_at = np.zeros((len(checkpoints), states), dtype=np.int64)
        self.impossible_at = np.zeros((len(checkpoints), states), dtype=np.int64)
        self.system_failures_at = np.zeros((len(checkpoints), counter.systems), dtype=np.int64)
        self.system_impossible_at = np.zeros((len(checkpoints), counter.systems), dtype=np.int64)
        self.finite = np.zeros(states)
        self.mean = np.zeros(states)
        self.squares = np.zeros(states)

    def add(self, record: Record) -> int:
        """Add a chunk's blocks and return how many are done."""
        for row in range(len(record.failures)):
            self.failures += record.failures[row]
            self.impossible += record.impossible[row]
            self.impossible_rows += record.impossible_rows[row]
            self.system_failures += record.system_failures[row]
            self.system_impossible += record.system_impossible[row]
            self._moments(record.finite[row], record.mean[row], record.squares[row])
            self._done += 1
            place = self._checkpoints.get(self._done)
            if place is not None:
                self.failures_at[place] = self.failures
                self.impossible_at[place] = self.impossible
                self.system_failures_at[place] = self.system_failures
                self.system_impossible_at[place] = self.system_impossible
            self._refuse_impossible()
        return self._done

    def _moments(self, finite: Counts, mean: Floats, squares: Floats) -> None:
        # Chan, Golub & LeVeque (1983): no cancellation where the mean is far above the spread.
        together = self.finite + finite
        share = finite / np.where(together > 0.0, together, 1.0)
        apart = mean - self.mean
        self.squares += squares + apart * apart * self.finite * share
        self.mean += apart * share
        self.finite = together

    def _refuse_impossible(self) -> None:
        """Stop as soon as it is certain; judged at every block, so the message is always the same."""
        too_many = self.impossible_rows > IMPOSSIBLE_SHARE * self._rows
        if too_many.any():
            place = int(np.argmax(too_many))
            raise ImpossibleRows(
                int(self.impossible_rows[place]),
                self._done * BLOCK_ROWS,
                self._counter.problem.components[place].name,
            )

    def _system(self, system: int, limit_states: int) -> SystemTally:
        return SystemTally(
            rows=self._rows,
            limit_states=limit_states,
            failures=int(self.system_failures[system]),
            impossible=int(self.system_impossible[system]),
            failures_at=self.system_failures_at[:, system].copy(),
            impossible_at=self.system_impossible_at[:, system].copy(),
        )

    def tally(self, sums: Sums) -> Tally:
        """Return the finished counts."""
        counter = self._counter
        problem = counter.problem
        components: dict[str, ComponentTally] = {}
        known = self.finite > 0.0
        mean = np.where(known, self.mean, np.nan)
        sd = np.where(known, np.sqrt(self.squares / np.where(known, self.finite, 1.0)), np.nan)
        offset = 0
        for place, component in enumerate(problem.components):
            part = slice(offset, offset + len(component.labels))
            offset = part.stop
            grids = counter.grids.get(place)
            components[component.name] = ComponentTally(
                name=component.name,
                unions=component.unions,
                labels=component.labels,
                governing=component.governing,
                rows=self._rows,
                failures=self.failures[part].copy(),
                impossible=self.impossible[part].copy(),
                outside=sums.outside[part].copy(),
                impossible_rows=int(self.impossible_rows[place]),
                failures_at=self.failures_at[:, part].copy(),
                impossible_at=self.impossible_at[:, part].copy(),
                detail_rows=min(self._rows, counter.detail_blocks * BLOCK_ROWS),
                margin_mean=mean[part].copy(),
                margin_sd=sd[part].copy(),
                margin_low=sums.low[part].copy(),
                margin_high=sums.high[part].copy(),
                ratio_counts=sums.ratios.get(place),
                margin_edges=None if grids is None else np.stack([grid.edges for grid in grids]),
                margin_counts=sums.margins.get(place),
                system=self._system(place, sum(component.governing)),
            )
        unions: dict[str, SystemTally] = {}
        for place, union in enumerate(counter.unions, start=len(components)):
            members = (one for one in problem.components if union in one.unions)
            unions[union] = self._system(place, sum(sum(one.governing) for one in members))
        first = {
            (union, turn): self._system(
                place, sum(sum(problem.components[one].governing) for one in counter.turns[union][turn])
            )
            for place, (union, turn) in enumerate(
                counter.first_failures, start=len(components) + len(counter.unions)
            )
        }
        return Tally(
            seed=counter.seed,
            purpose=counter.purpose,
            blocks=self._rows // BLOCK_ROWS,
            rows=self._rows,
            checkpoints=tuple(self._checkpoints),
            components=components,
            unions=unions,
            first_failures=first,
        )


def _hand(counter: Counter, chunks: Sequence[tuple[int, int]]) -> Iterator[Record | Sums]:
    """Give the record of each chunk, and at last the sums over all of them."""
    sums = counter.sums()
    for first, stop in chunks:
        yield counter.chunk(first, stop, sums)
    sums.spend()
    yield sums


def simulate(
    problem: Problem,
    *,
    seed: int,
    blocks: int,
    purpose: str,
    edges: Mapping[str, ArrayLike] | None = None,
    chunk_blocks: int = 1,
    workers: int = 1,
    checkpoints: Sequence[int] = (),
    detail_blocks: int | None = None,
    progress: Progress | None = None,
) -> Tally:
    """Simulate a problem and count.

    Parameters
    ----------
    problem : Problem
        Its components are called with one block of 8,192 rows at a time, in several processes where there are
        several workers; their x is written over once they have answered.
    seed : int
        Of the study, 0 or more.
    blocks : int
        Rows in blocks of 8,192; fixed beforehand, never by what comes out.
    purpose : str
        What the run is for: another purpose draws other numbers.
    edges : mapping of str to array_like, optional
        Edges (k, bins + 1) of the margins' histograms, by the name of the component.
    chunk_blocks : int
        Blocks that a worker takes at a time.
    workers : int
        Processes, where the system can fork.
    checkpoints : sequence of int
        Increasing numbers of blocks after which the cumulative counts are kept.
    detail_blocks : int, optional
        Take histograms, moments and extremes from so many blocks, the first ones; from all by default.
        They cost more than counting failures, and are sharp long before a small probability is.
    progress : callable, optional
        Called in the caller's thread with (blocks done, blocks) after each chunk.

    Returns
    -------
    Tally
        Bit for bit the same for any ``chunk_blocks`` and ``workers``.

    Raises
    ------
    ImpossibleRows
        Where more than 1 % of the rows are impossible in a component.
    ValueError
        Where an argument makes no sense.
    """
    for name, value in (("blocks", blocks), ("chunk_blocks", chunk_blocks), ("workers", workers)):
        if value < 1:
            raise ValueError(f"{name} is 1 or more, not {value}")
    if detail_blocks is not None and detail_blocks < 0:
        raise ValueError(f"detail_blocks is 0 or more, not {detail_blocks}")
    marks = tuple(int(after) for after in checkpoints)
    if any(a >= b for a, b in pairwise((0, *marks))) or (marks and marks[-1] > blocks):
        raise ValueError(f"checkpoints increase from 1 to {blocks} blocks at most, not {marks}")
    counter = Counter(
        problem,
        seed=seed,
        purpose=purpose,
        edges={} if edges is None else edges,
        detail_blocks=blocks if detail_blocks is None else min(detail_blocks, blocks),
    )
    chunks = [(first, min(first + chunk_blocks, blocks)) for first in range(0, blocks, chunk_blocks)]
    hands = [partial(_hand, counter, chunks[w::workers]) for w in range(min(workers, len(chunks)))]
    total = _Total(counter, blocks, marks)
    sums: list[Sums] = []
    with closing(dealt(hands)) as given:
        for one in given:
            if isinstance(one, Sums):
                sums.append(one)
                continue
            done = total.add(one)
            if progress is not None:
                progress(done, blocks)
    for other in sums[1:]:
        sums[0].add(other)
    return total.tally(sums[0])
