"""What a simulation counted. Plain results, no methods that compute anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskcut.reliability import histograms
from riskcut.reliability.estimates import Estimate, estimate

Counts = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SystemTally:
    """Rows in which any governing limit state of a set failed."""

    rows: int
    limit_states: int
    """Governing ones in the set; of none, nothing can fail."""
    failures: int
    impossible: int
    """Rows that are impossible in a governing limit state and failed in none."""
    failures_at: Counts
    """(c,), failures up to each checkpoint."""
    impossible_at: Counts

    def estimate(self, level: float = 0.95) -> Estimate:
        """Failure probability of the system, arrays of no dimension."""
        return estimate(self.failures, self.impossible, self.rows, level)


@dataclass(frozen=True)
class ComponentTally:
    """Counts of one component, arrays over its k limit states."""

    name: str
    unions: tuple[str, ...]
    labels: tuple[str, ...]
    governing: tuple[bool, ...]
    rows: int
    failures: Counts
    """(k,), rows with margin < 0."""
    impossible: Counts
    """(k,), rows without a margin (NaN)."""
    outside: Counts
    """(k,), rows outside the model's range of use."""
    impossible_rows: int
    """Rows that are impossible in any of the limit states, governing or not."""
    failures_at: Counts
    """(c, k), failures up to each checkpoint."""
    impossible_at: Counts
    detail_rows: int
    """Rows that the histograms, moments and extremes below are taken from."""
    margin_mean: Floats
    """(k,), of the finite margins; NaN where there is none."""
    margin_sd: Floats
    """(k,), of the rows themselves (divided by n)."""
    margin_low: Floats
    """(k,), least finite margin; +inf where there is none."""
    margin_high: Floats
    """(k,), greatest finite margin; -inf where there is none."""
    ratio_counts: Counts | None
    """(k, 8192), see :mod:`riskcut.reliability.histograms`; None where the component has no ratio."""
    margin_edges: Floats | None
    """(k, bins + 1), as given."""
    margin_counts: Counts | None
    """(k, bins + 2), with the rows below the first edge and at or above the last."""
    system: SystemTally
    """Any governing limit state of the component."""

    def estimate(self, level: float = 0.95) -> Estimate:
        """Failure probability of each limit state, arrays (k,)."""
        return estimate(self.failures, self.impossible, self.rows, level)

    def ratio_quantiles(self, p: ArrayLike) -> Floats:
        """Quantiles (k, q) of resistance over action; NaN where the component has no ratio."""
        if self.ratio_counts is None:
            return np.full((len(self.labels), np.size(p)), np.nan)
        return histograms.ratio_quantiles(self.ratio_counts, p)


@dataclass(frozen=True)
class Tally:
    """Counts of a whole simulation."""

    seed: int
    purpose: str
    blocks: int
    rows: int
    checkpoints: tuple[int, ...]
    """Blocks."""
    components: Mapping[str, ComponentTally]
    """By name, in the order of the problem."""
    unions: Mapping[str, SystemTally]
    """Any governing limit state of any component of the union, in order of first appearance. Columns that its
    components share are shared here."""
    first_failures: Mapping[tuple[str, int], SystemTally] = field(default_factory=dict)
    """Of the unions that are taken in turns: the rows that fail at a turn and at none before it."""

    @property
    def margin_evaluations(self) -> int:
        """Limit states times rows."""
        return self.rows * sum(len(component.labels) for component in self.components.values())
