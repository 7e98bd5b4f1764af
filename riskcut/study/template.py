"""A block whose numbers still are readings of columns: filled with floats or with arrays, row by row."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np

from riskcut.study.block import Block, Number, Rows, Strata
from riskcut.study.columns import Column, Reading
from riskcut.study.events import AS_PLANNED
from riskcut.study.filling import Certain, Filler, filler, parts_of
from riskcut.study.targets import TargetIndex


@dataclass(frozen=True)
class Template:
    """A block whose numbers still are readings of columns."""

    section: str
    stage: str
    phase: str
    target: TargetIndex
    pattern: Any
    """A :class:`Block` that holds a :class:`Reading` in place of each number."""
    columns: tuple[int, ...]
    """The columns that it reads, ascending."""
    scenario: str = AS_PLANNED
    share: float = 1.0
    """Probability of the scenario in this stage."""

    @cached_property
    def _filler(self) -> Filler | Certain:
        return filler(parts_of(self.pattern))

    def fill(self, columns: Mapping[int, Number]) -> Block:
        """Return the block at the given values of its columns."""
        return _filled(self._filler, columns)


def fill(pattern: Any, columns: Mapping[int, Number]) -> Block:
    """Return the pattern of a block with every reading in it taken from the columns."""
    return _filled(filler(parts_of(pattern)), columns)


def _filled(one: Filler | Certain, columns: Mapping[int, Number]) -> Block:
    """Return the block; water that would stand below the formation is as good as pumped out, and raised to it."""
    parts = one.value if isinstance(one, Certain) else one(columns)
    inside = _not_below(parts["water_inside"], parts["formation"])
    return Block(**parts | {"strata": Strata(parts["strata"]), "water_inside": inside})


def readings(pattern: Any) -> set[int]:
    """Return the columns that a pattern reads."""
    if isinstance(pattern, Reading):
        return {column for column, _ in pattern.terms}
    if dataclasses.is_dataclass(pattern) and not isinstance(pattern, type):
        pattern = tuple(getattr(pattern, f.name) for f in dataclasses.fields(pattern))
    if isinstance(pattern, Mapping):
        pattern = tuple(pattern.values())
    return set().union(*(readings(item) for item in pattern)) if isinstance(pattern, tuple) else set()


Bound = tuple[int, np.ufunc, float]
"""A column, what tells its draws below what they can be, and that limit."""


def bounds(template: Template, table: Sequence[Column]) -> tuple[Bound, ...]:
    """Return the bounds of a template's columns that draws may pass."""
    found = ((index, table[index].bound) for index in template.columns)
    return tuple((index, *bound) for index, bound in found if bound is not None)


def impossible_rows(block: Block, columns: Mapping[int, Number], bounds: Sequence[Bound]) -> Rows:
    """Return the rows in which the geometry cannot be: levels that cross, numbers below their bound.

    Parameters
    ----------
    block
        A template filled from ``columns``.
    columns
        By column: its value or array of values.
    bounds
        Of that template, :func:`bounds`.

    Returns
    -------
    bool or array of bool
        True where the row is impossible; a single False where nothing uncertain could make it so.
    """
    return _crossed_levels(block) | _below_bounds(bounds, columns)


def _crossed_levels(block: Block) -> Rows:
    """Return the rows in which levels of a block cross; a single False where no uncertain ones could."""
    impossible: Rows = False
    for above, below in pairwise(block.strata):
        impossible = impossible | _crossed(above.top, below.top)
    if block.dug:
        impossible = impossible | _crossed(block.surface, block.formation)
    if block.wall is not None:
        impossible = impossible | _crossed(block.formation, block.wall.toe)
    for prop in block.props:
        impossible = impossible | _crossed(prop.level, block.formation)
    return impossible


def _below_bounds(bounds: Sequence[Bound], columns: Mapping[int, Number]) -> Rows:
    """Return the rows in which a number passes its bound; a single False where none that varies has one."""
    impossible: Rows = False
    for index, beyond, limit in bounds:
        values = columns[index]
        if isinstance(values, np.ndarray):
            impossible = impossible | beyond(values, limit)
    return impossible


def _crossed(upper: Number, lower: Number) -> Rows:
    """Return where a level that belongs above another does not lie above it."""
    if isinstance(upper, float) and isinstance(lower, float):
        return False  # certain levels were checked when the study was read
    return np.asarray(upper <= lower)


def _not_below(level: Number, floor: Number) -> Number:
    """Return a level, raised to another where it lies below it."""
    if isinstance(level, float) and isinstance(floor, float):
        return max(level, floor)
    return level if level is floor else np.maximum(level, floor)
