"""Counting one block of rows: draw, transform, respond, count.

A :class:`Counter` knows the problem and is shared by all workers; it holds no state that changes. What is
whole numbers and large (histograms) goes into a :class:`Sums` of the worker, since whole numbers may be
added in any order. What is small goes into a :class:`Record`, a row a block, so that sums of floats and
cumulative counts can be taken in the order of the blocks whoever computed them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskcut.reliability.histograms import RATIO_BINS, MarginGrid, count_ratios
from riskcut.reliability.problem import Problem
from riskcut.reliability.streams import BLOCK_ROWS, normals

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]


class Sums:
    """Whole-number sums (and extremes) of one worker; K limit states of all components in a row."""

    def __init__(self, limit_states: int, columns: int, grids: Mapping[int, tuple[MarginGrid, ...]]) -> None:
        self.outside: Counts = np.zeros(limit_states, dtype=np.int64)
        self.low: Floats = np.full(limit_states, np.inf)
        self.high: Floats = np.full(limit_states, -np.inf)
        self.ratios: dict[int, Counts] = {}
        """By component, (k, 8192); only of those that answer a ratio."""
        self.margins: dict[int, Counts] = {
            place: np.zeros((len(rows), rows[0].bins + 2), dtype=np.int64) for place, rows in grids.items()
        }
        self.normals: Floats | None = None
        """The worker's block of draws, written over each time."""
        self.values: Floats = np.empty((columns, BLOCK_ROWS))
        """The worker's block of values, a row a column of the joint, written over each time."""

    def spend(self) -> None:
        """Let go of what is written over with each block."""
        self.normals, self.values = None, np.empty((0, BLOCK_ROWS))

    def add(self, other: Sums) -> None:
        """Add another worker's sums."""
        self.outside += other.outside
        np.minimum(self.low, other.low, out=self.low)
        np.maximum(self.high, other.high, out=self.high)
        for place, counts in other.ratios.items():
            if place in self.ratios:
                self.ratios[place] += counts
            else:
                self.ratios[place] = counts
        for place, counts in other.margins.items():
            self.margins[place] += counts


class Record:
    """A row a block: K limit states, C components, S systems (components, unions, first failures)."""

    def __init__(self, blocks: int, limit_states: int, components: int, systems: int) -> None:
        self.failures: Counts = np.zeros((blocks, limit_states), dtype=np.int64)
        self.impossible: Counts = np.zeros((blocks, limit_states), dtype=np.int64)
        self.impossible_rows: Counts = np.zeros((blocks, components), dtype=np.int64)
        self.system_failures: Counts = np.zeros((blocks, systems), dtype=np.int64)
        self.system_impossible: Counts = np.zeros((blocks, systems), dtype=np.int64)
        self.finite: Counts = np.zeros((blocks, limit_states), dtype=np.int64)
        self.mean: Floats = np.zeros((blocks, limit_states))
        self.squares: Floats = np.zeros((blocks, limit_states))
        """Of the deviations from the block's own mean."""


class _Union:
    """Rows in which any limit state of a set failed, or was impossible."""

    __slots__ = ("failed", "impossible")

    def __init__(self) -> None:
        self.failed: Flags | None = None
        self.impossible: Flags | None = None

    def add(self, failed: Flags | None, impossible: Flags | None) -> None:
        if failed is not None:
            if self.failed is None:
                self.failed = failed.copy()
            else:
                self.failed |= failed
        if impossible is not None:
            if self.impossible is None:
                self.impossible = impossible.copy()
            else:
                self.impossible |= impossible

    def counts(self) -> tuple[int, int]:
        failures = 0 if self.failed is None else int(np.count_nonzero(self.failed))
        if self.impossible is None:
            return failures, 0
        lost = self.impossible if self.failed is None else self.impossible & ~self.failed
        return failures, int(np.count_nonzero(lost))


def _first_counts(turns: Sequence[_Union]) -> list[tuple[int, int]]:
    """Return the rows that fail first at each turn, and those of which that cannot be told."""
    counts = []
    before = _Union()
    for turn in turns:
        certain, possible = _flags(turn)
        earlier_certain, earlier_possible = _flags(before)
        first = certain & ~earlier_possible
        maybe = possible & ~earlier_certain
        counts.append((int(np.count_nonzero(first)), int(np.count_nonzero(maybe & ~first))))
        before.add(turn.failed, turn.impossible)
    return counts


def _joined(each: Sequence[_Union], places: Sequence[int]) -> _Union:
    union = _Union()
    for place in places:
        union.add(each[place].failed, each[place].impossible)
    return union


def _flags(union: _Union) -> tuple[Flags, Flags]:
    """Return the rows that fail for certain, and those that may."""
    none: Flags = np.zeros(BLOCK_ROWS, dtype=np.bool_)
    certain = none if union.failed is None else union.failed
    return certain, certain if union.impossible is None else certain | union.impossible


class Counter:
    """Counts blocks of a problem.

    Parameters
    ----------
    problem : Problem
    seed, purpose
        Of the stream.
    edges : mapping of str to array_like
        Edges (k, bins + 1) of the margins' histograms by the component's name; others have none.
    detail_blocks : int
        Blocks, from the first on, that enter histograms, moments and extremes.
    """

    def __init__(
        self, problem: Problem, *, seed: int, purpose: str, edges: Mapping[str, ArrayLike], detail_blocks: int
    ) -> None:
        self.problem = problem
        self.seed = seed
        self.purpose = purpose
        self.detail_blocks = detail_blocks
        names = {component.name: place for place, component in enumerate(problem.components)}
        self.grids: dict[int, tuple[MarginGrid, ...]] = {}
        for name, rows in edges.items():
            if name not in names:
                raise ValueError(f"edges are given for {name!r}, which is no component")
            array = np.asarray(rows, dtype=np.float64)
            wanted = len(problem.components[names[name]].labels)
            if array.ndim != 2 or len(array) != wanted:
                raise ValueError(f"component {name!r} wants edges of ({wanted}, bins + 1), not {array.shape}")
            self.grids[names[name]] = tuple(MarginGrid.on(row) for row in array)
        self.unions = tuple(
            dict.fromkeys(name for component in problem.components for name in component.unions)
        )
        self.turns = {union: problem.turns(union) for union in self.unions if union in problem.in_turns}
        self.first_failures = tuple((union, turn) for union, turns in self.turns.items() for turn in turns)
        self.systems = len(problem.components) + len(self.unions) + len(self.first_failures)
        # A column that several components read is transformed once and kept until the last has read it.
        readers: dict[int, list[int]] = {}
        for place, component in enumerate(problem.components):
            for column in dict.fromkeys(component.columns):
                readers.setdefault(column, []).append(place)
        self._last_reader = {column: places[-1] for column, places in readers.items() if len(places) > 1}

    def sums(self) -> Sums:
        """Return sums with nothing in them."""
        columns = max(len(component.columns) for component in self.problem.components)
        return Sums(self.problem.limit_states, columns, self.grids)

    def chunk(self, first: int, stop: int, sums: Sums) -> Record:
        """Count the blocks ``first`` to ``stop - 1``."""
        record = Record(stop - first, self.problem.limit_states, len(self.problem.components), self.systems)
        for row, index in enumerate(range(first, stop)):
            self._block(index, row, record, sums)
        return record

    def _block(self, index: int, row: int, record: Record, sums: Sums) -> None:
        joint, components = self.problem.joint, self.problem.components
        sums.normals = normals(
            seed=self.seed, purpose=self.purpose, index=index, count=joint.drivers, out=sums.normals
        )
        z = joint.correlate(sums.normals, out=sums.normals)
        kept: dict[int, Floats] = {}
        unions = {name: _Union() for name in self.unions}
        each: list[_Union] = []
        offset = 0
        for place, component in enumerate(components):
            union = self._component(
                place, offset, self._values(place, z, kept, sums), index, row, record, sums
            )
            each.append(union)
            for name in component.unions:
                unions[name].add(union.failed, union.impossible)
            record.system_failures[row, place], record.system_impossible[row, place] = union.counts()
            offset += len(component.labels)
        counts = [union.counts() for union in unions.values()]
        for turns in self.turns.values():
            counts += _first_counts([_joined(each, places) for places in turns.values()])
        for system, (failures, lost) in enumerate(counts, start=len(components)):
            record.system_failures[row, system], record.system_impossible[row, system] = failures, lost

    def _values(self, place: int, z: Floats, kept: dict[int, Floats], sums: Sums) -> Floats:
        joint, columns = self.problem.joint, self.problem.components[place].columns
        x = sums.values[: len(columns)].T
        for j, column in enumerate(columns):
            if column in self._last_reader:
                if column not in kept:
                    kept[column] = joint.column(z, column, np.empty(len(z)))
                x[:, j] = kept[column]
            else:
                joint.column(z, column, x[:, j])
        for column in columns:
            if self._last_reader.get(column) == place:
                kept.pop(column, None)
        return x

    def _component(
        self, place: int, offset: int, x: Floats, index: int, row: int, record: Record, sums: Sums
    ) -> _Union:
        component = self.problem.components[place]
        count = len(component.labels)
        response = component.answer(x, range(count))
        governing, every = _Union(), _Union()
        for j in range(count):
            at = offset + j
            margin = np.ascontiguousarray(response.margin[:, j], dtype=np.float64)
            least = float(margin.min())
            impossible: Flags | None = None
            if least != least:  # a NaN comes through the minimum
                impossible = np.isnan(margin)
                record.impossible[row, at] = np.count_nonzero(impossible)
            failed: Flags | None = None
            if not least >= 0.0:
                failed = margin < 0.0
                record.failures[row, at] = np.count_nonzero(failed)
            every.add(None, impossible)
            if component.governing[j]:
                governing.add(failed, impossible)
            if response.outside is not None:
                sums.outside[at] += np.count_nonzero(response.outside[:, j])
            if index < self.detail_blocks:
                possible = None if impossible is None else ~impossible
                ratio = None if response.ratio is None else response.ratio[:, j]
                self._detail(place, j, at, margin, ratio, possible, row, record, sums)
        record.impossible_rows[row, place] = every.counts()[1]
        return governing

    def _detail(
        self,
        place: int,
        j: int,
        at: int,
        margin: Floats,
        ratio: Floats | None,
        possible: Flags | None,
        row: int,
        record: Record,
        sums: Sums,
    ) -> None:
        if possible is not None:
            margin = margin[possible]
            ratio = None if ratio is None else ratio[possible]
        if ratio is not None:
            if place not in sums.ratios:
                shape = (len(self.problem.components[place].labels), RATIO_BINS)
                sums.ratios[place] = np.zeros(shape, dtype=np.int64)
            count_ratios(ratio, sums.ratios[place][j])
        if place in self.grids:
            self.grids[place][j].count(margin, sums.margins[place][j])
        low, high = margin.min(initial=np.inf), margin.max(initial=-np.inf)
        if not (low > -np.inf and high < np.inf):
            margin = margin[np.isfinite(margin)]
            low, high = margin.min(initial=np.inf), margin.max(initial=-np.inf)
        if len(margin):
            sums.low[at], sums.high[at] = min(sums.low[at], low), max(sums.high[at], high)
            mean = margin.sum() / len(margin)
            deviation = margin - mean
            deviation *= deviation
            record.finite[row, at] = len(margin)
            record.mean[row, at] = mean
            record.squares[row, at] = deviation.sum()
