"""Histograms kept while simulating: of the ratio on a fixed grid, of the margin on given edges.

The ratio r (resistance over action) lives on a grid that is the same for every limit state: 8,192 equal
bins of t = r/(1 + r), from r = 0 to infinity. Around r = 1 a bin is 0.0005 wide, fine enough that
quantiles are read from the counts and no sample is kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

RATIO_BINS = 8192

Counts = NDArray[np.int64]
Floats = NDArray[np.float64]


def count_ratios(ratio: Floats, counts: Counts) -> None:
    """Add the ratios of one limit state to ``counts`` (8192,).

    Zero and below go to the first bin, and so does NaN (nothing known is nothing safe); +inf goes to
    the last.
    """
    place = np.fmax(ratio, 0.0)
    place += 1.0
    np.divide(-float(RATIO_BINS), place, out=place)
    place += RATIO_BINS
    found = np.bincount(place.astype(np.intp), minlength=RATIO_BINS + 1)
    counts += found[:RATIO_BINS]
    counts[-1] += found[RATIO_BINS]


def ratio_quantiles(counts: Counts, p: ArrayLike) -> Floats:
    """Read quantiles of the ratio from counts.

    Parameters
    ----------
    counts : ndarray, (k, 8192)
        A row a limit state.
    p : array_like, (q,)
        Probabilities, 0 to 1.

    Returns
    -------
    ndarray, (k, q)
        Linear in t within a bin; 0 for a quantile in the first bin (below 1/8191), +inf for one in the
        last (above 8191), NaN for a limit state without a count.
    """
    wanted = np.atleast_1d(np.asarray(p, dtype=np.float64))
    if not np.all((wanted >= 0.0) & (wanted <= 1.0)):
        raise ValueError("a probability lies between 0 and 1")
    result = np.full((len(counts), len(wanted)), np.nan)
    for row, count in enumerate(counts):
        upto = np.cumsum(count)
        if upto[-1] == 0:
            continue
        target = wanted * upto[-1]
        place = np.maximum(np.searchsorted(upto, target, side="left"), np.flatnonzero(count)[0])
        share = np.clip((target - (upto[place] - count[place])) / count[place], 0.0, 1.0)
        t = (place + share) / RATIO_BINS
        first, last = place == 0, place == RATIO_BINS - 1
        inner = np.where(first | last, 0.0, t)
        result[row] = np.where(last, np.inf, inner / (1.0 - inner))
    return result


@dataclass(frozen=True)
class MarginGrid:
    """Edges of the margin's histogram for one limit state, ready to count on.

    There are two bins more than the edges enclose: below the first edge, and at or above the last. A bin
    holds its lower edge. On edges of one width the place of a margin is computed, from the edge at zero
    where there is one, so that the bins below zero hold the failures exactly; any other edge of such a
    grid is sharp to rounding. On uneven edges the place is searched.
    """

    edges: Floats
    width: float | None
    """None where the edges are uneven."""
    anchor: int
    """The edge that places are computed from."""

    @classmethod
    def on(cls, edges: ArrayLike) -> MarginGrid:
        """Return the grid on finite, increasing edges (bins + 1,); raises ValueError otherwise."""
        values = np.asarray(edges, dtype=np.float64)
        increasing = values.ndim == 1 and len(values) > 1 and np.all(np.diff(values) > 0.0)
        if not (increasing and np.all(np.isfinite(values))):
            raise ValueError("the edges of a margin's histogram are two or more finite, increasing numbers")
        bins = len(values) - 1
        anchor = int(np.flatnonzero(values == 0.0)[0]) if np.any(values == 0.0) else 0
        width = float(values[-1] - values[0]) / bins
        even = values[anchor] + width * (np.arange(bins + 1) - anchor)
        rounding = 4.0 * np.finfo(np.float64).eps * np.abs(values).max()
        return cls(
            edges=values, width=width if np.all(np.abs(even - values) <= rounding) else None, anchor=anchor
        )

    @property
    def bins(self) -> int:
        """Bins that the edges enclose."""
        return len(self.edges) - 1

    def count(self, margin: Floats, counts: Counts) -> None:
        """Add margins, none of them NaN, to ``counts`` (bins + 2,)."""
        if self.width is None:
            place = np.searchsorted(self.edges, margin, side="right")
        else:
            scaled = np.subtract(margin, self.edges[self.anchor])
            with np.errstate(over="ignore"):
                scaled /= self.width
            np.floor(scaled, out=scaled)
            scaled += self.anchor + 1.0
            np.clip(scaled, 0.0, self.bins + 1.0, out=scaled)
            place = scaled.astype(np.intp)
        counts += np.bincount(place, minlength=self.bins + 2)
