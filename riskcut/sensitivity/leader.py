"""Which input leads, said only where the intervals allow it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Leader:
    """The answer to "which input decides it"."""

    kind: Literal["leader", "tie", "none"]
    names: tuple[str, ...]
    """One name; or all that cannot be told from the first, by falling index; or none."""
    share: float
    """Index of the first of them; NaN where there is none."""


def leader(names: Sequence[str], values: ArrayLike, bounds: ArrayLike) -> Leader:
    """Name the input with the largest index, or those that it cannot be told from.

    Parameters
    ----------
    names
        Of the n inputs (or groups).
    values
        Their indices (n,); NaN for those without.
    bounds
        Lower and upper bounds of the indices (n, 2).

    Returns
    -------
    Leader
        ``leader`` where the lower bound of the largest index lies above the upper bound of every other;
        ``tie`` of the largest and of all whose upper bound reaches its lower one; ``none`` where there is
        no index, or where the largest cannot be told from 0.

    Raises
    ------
    ValueError
        Lengths that do not agree.
    """
    index, interval = np.asarray(values, dtype=np.float64), np.asarray(bounds, dtype=np.float64)
    if index.shape != (len(names),) or interval.shape != (len(names), 2):
        raise ValueError("names, values and bounds do not have one length")
    known = np.flatnonzero(~np.isnan(index))
    order = known[np.argsort(-index[known], kind="stable")]
    if not order.size or not interval[order[0], 0] > 0:
        return Leader("none", (), float("nan"))
    first = order[0]
    rivals = [i for i in order[1:] if not interval[i, 1] < interval[first, 0]]
    tied = tuple(str(names[i]) for i in (first, *rivals))
    return Leader("tie" if rivals else "leader", tied, float(index[first]))
