"""A block whose numbers still are readings of columns: filled with floats or with arrays, row by row."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskcut.study.block import Block, Number
from riskcut.study.columns import Column, Reading, below_bound
from riskcut.study.events import AS_PLANNED
from riskcut.study.filling import Certain, Filler, filler
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
        return filler(self.pattern)

    def fill(self, columns: Mapping[int, Number]) -> Block:
        """Return the block at the given values of its columns."""
        return _filled(self._filler, columns)


def fill(pattern: Any, columns: Mapping[int, Number]) -> Block:
    """Return the pattern of a block with every reading in it taken from the columns."""
    return _filled(filler(pattern), columns)


def _filled(one: Filler | Certain, columns: Mapping[int, Number]) -> Block:
    """Return the block; water that would stand below the formation is as good as pumped out, and raised to it."""
    block: Block = one.value if isinstance(one, Certain) else one(columns)
    inside = _not_below(block.water_inside, block.formation)
    return block if inside is block.water_inside else dataclasses.replace(block, water_inside=inside)


def readings(pattern: Any) -> set[int]:
    """Return the columns that a pattern reads."""
    if isinstance(pattern, Reading):
        return {column for column, _ in pattern.terms}
    if dataclasses.is_dataclass(pattern) and not isinstance(pattern, type):
        pattern = tuple(getattr(pattern, f.name) for f in dataclasses.fields(pattern))
    if isinstance(pattern, Mapping):
        pattern = tuple(pattern.values())
    return set().union(*(readings(item) for item in pattern)) if isinstance(pattern, tuple) else set()


def impossible_rows(
    template: Template, block: Block, columns: Mapping[int, Number], table: Sequence[Column]
) -> bool | NDArray[np.bool_]:
    """Return the rows in which the geometry cannot be: levels that cross, numbers below their bound.

    Parameters
    ----------
    template
        The block's template.
    block
        The template filled from ``columns``.
    columns
        By column: its value or array of values.
    table
        The study's columns.

    Returns
    -------
    bool or array of bool
        True where the row is impossible; a single False where nothing uncertain could make it so.
    """
    impossible: bool | NDArray[np.bool_] = False
    for above, below in zip(block.strata, block.strata[1:], strict=False):
        impossible = impossible | _crossed(above.top, below.top)
    impossible = impossible | (_crossed(block.surface, block.formation) if block.dug else False)
    if block.wall is not None:
        impossible = impossible | _crossed(block.formation, block.wall.toe)
    for prop in block.props:
        impossible = impossible | _crossed(prop.level, block.formation)
    for index in template.columns:
        values = columns[index]
        if isinstance(values, np.ndarray) and (below_it := below_bound(table[index], values)) is not None:
            impossible = impossible | below_it
    return impossible


def _crossed(upper: Number, lower: Number) -> bool | NDArray[np.bool_]:
    """Return where a level that belongs above another does not lie above it."""
    if isinstance(upper, float) and isinstance(lower, float):
        return False  # certain levels were checked when the study was read
    return np.asarray(upper <= lower)


def _not_below(level: Number, floor: Number) -> Number:
    """Return a level, raised to another where it lies below it."""
    if isinstance(level, float) and isinstance(floor, float):
        return max(level, floor)
    return level if level is floor else np.maximum(level, floor)
