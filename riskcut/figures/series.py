"""One limit state, or the system, over the stages of a section: what is known of it, and how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.path import Path as Outline
from numpy.typing import NDArray

from riskcut.figures.choosing import ESTIMATED, names, values
from riskcut.figures.palette import Mark
from riskcut.results.status import Status

SYSTEM = "system of the stage"
HIGHEST = 8.0
"""Index at which an axis ends: what lies above is rarer than anyone will ever ask, and is told in words."""

_ARROW = [(-0.36, 0.0), (0.36, 0.0), (0.0, 0.0), (0.0, 2.0), (-0.36, 1.4), (0.0, 2.0), (0.36, 1.4)]
_MOVES = [
    Outline.MOVETO,
    Outline.LINETO,
    Outline.MOVETO,
    Outline.LINETO,
    Outline.MOVETO,
    Outline.LINETO,
    Outline.LINETO,
]
AT_LEAST = Outline(_ARROW, _MOVES)
"""An arrow that starts at the bound and points up: the index is greater than this."""
AT_MOST = Outline([(x, -y) for x, y in _ARROW], _MOVES)
"""The same downwards: the index is less than this."""
AT_LEAST_IN_KEY = Outline([(x, y - 1.0) for x, y in _ARROW], _MOVES)
AT_MOST_IN_KEY = Outline([(x, 1.0 - y) for x, y in _ARROW], _MOVES)
"""The arrows about their middle, for a key."""


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Reliability index over the stages, with its 95 % interval and the status of each."""

    name: str
    index: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    status: NDArray[np.int8]
    governing: NDArray[np.bool_]
    """Whether it enters the system of the stage; an alternative model of another limit state does not."""

    def _where(self, chosen: NDArray[np.bool_], numbers: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where(chosen & np.isfinite(numbers), numbers, np.nan)

    @property
    def known(self) -> NDArray[np.float64]:
        """The index where there is an estimate, else NaN."""
        return self._where(np.isin(self.status, ESTIMATED), self.index)

    def under(self, status: Status) -> NDArray[np.float64]:
        """Return the index where it has this status, else NaN."""
        return self._where(self.status == status, self.index)

    @property
    def greater_than(self) -> NDArray[np.float64]:
        """The bound, where no row failed and only a lower bound of the index is known, else NaN."""
        return self._where(self.status == Status.UPPER_BOUND_ONLY, self.lower)

    @property
    def less_than(self) -> NDArray[np.float64]:
        """The bound, where every row failed and only an upper bound of the index is known, else NaN."""
        every = (self.status == Status.UPPER_BOUND_ONLY) & ~np.isfinite(self.lower)
        return self._where(every, self.upper)

    @property
    def interval(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lower and upper bound where there is an estimate, else NaN."""
        shown = np.isfinite(self.known)
        return self._where(shown, self.lower), self._where(shown, self.upper)

    @property
    def absent(self) -> bool:
        """Whether there is nothing to draw at any stage."""
        return not np.isfinite(np.concatenate([self.known, self.greater_than, self.less_than])).any()


def all_series(tree: xr.DataTree) -> dict[str, list[Series]]:
    """Read what is known of every limit state, and of the system last, in each section.

    Returns
    -------
    dict
        Section to its series; those with nothing to draw are left out.
    """
    sections, states = names(tree, "section"), names(tree, "limit_state")
    order = ("section", "limit_state", "stage")
    index = values(tree, "reliability", "reliability_index", order)
    bounds = values(tree, "reliability", "reliability_index_bounds", ("bound", *order))
    status = values(tree, "reliability", "status", order)
    governing = values(tree, "reliability", "governing", order).astype(bool)
    system = values(tree, "reliability", "stage_reliability_index", ("section", "stage"))
    system_bounds = values(
        tree, "reliability", "stage_reliability_index_bounds", ("bound", "section", "stage")
    )
    system_status = values(tree, "reliability", "stage_status", ("section", "stage"))
    found: dict[str, list[Series]] = {}
    for i, section in enumerate(sections):
        one = [
            Series(name, index[i, k], bounds[0, i, k], bounds[1, i, k], status[i, k], governing[i, k])
            for k, name in enumerate(states)
        ]
        always = np.ones(len(system[i]), dtype=bool)
        one.append(
            Series(SYSTEM, system[i], system_bounds[0, i], system_bounds[1, i], system_status[i], always)
        )
        found[section] = [series for series in one if not series.absent]
    return found


def targets(tree: xr.DataTree, section: str) -> NDArray[np.float64]:
    """Return the target reliability index of one limit state at each stage of a section, NaN for none."""
    everywhere = values(tree, "reliability", "target_reliability_index", ("section", "stage"))
    found: NDArray[np.float64] = everywhere[names(tree, "section").index(section)]
    return found


def draw_series(axes: Axes, series: Series, mark: Mark, *, shift: float, prominent: bool) -> None:
    """Draw one series: a line through its estimates, their intervals, and a mark for each status.

    Filled marks are estimates, half-filled ones first-order values, hollow ones not to be trusted; an arrow
    up starts at a bound below which the index does not lie, an arrow down at one above which it does not.
    A stage where nothing applies has no mark.

    Parameters
    ----------
    axes
        To draw on; stages at 0, 1, 2, ...
    series
        What to draw.
    mark
        Its colour, marker and line.
    shift
        Along the stage axis, so that neighbours do not hide each other.
    prominent
        False draws it thin, behind the others.
    """
    at = np.arange(series.index.size) + shift
    system = series.name == SYSTEM
    depth = 4.0 if system else 3.0 if prominent else 1.5
    size = 9.0 if system else 5.0 if prominent else 3.5
    width = 2.2 if system else 1.2 if prominent else 0.7
    known = series.known
    axes.plot(
        at, known, color=mark.colour, linestyle=mark.dashes, linewidth=width, zorder=depth, label=series.name
    )
    lower, upper = series.interval
    has = np.isfinite(lower) & np.isfinite(upper)
    if has.any():
        axes.vlines(
            at[has],
            lower[has],
            upper[has],
            color=mark.colour,
            linewidth=1.0 if prominent else 0.6,
            zorder=depth,
            label=f"{series.name}: 95 % interval",
        )
    hollow = {Status.UNTRUSTED: "white"}
    for status in ESTIMATED:
        shown = series.under(status)
        if np.isfinite(shown).any():
            axes.plot(
                at,
                shown,
                linestyle="none",
                marker="s" if system and status is not Status.COMPUTED else mark.marker,
                markersize=size,
                color=mark.colour,
                markerfacecolor=hollow.get(status, mark.colour),
                markeredgecolor=mark.colour,
                markeredgewidth=2.2 if system else 1.0,
                fillstyle="left" if status is Status.FIRST_ORDER_ONLY else "full",
                zorder=depth + 0.1,
                label=f"{series.name}: {status.words}",
            )
    for bound, outline, words in (
        (series.greater_than, AT_LEAST, "greater than"),
        (series.less_than, AT_MOST, "less than"),
    ):
        if np.isfinite(bound).any():
            axes.plot(
                at,
                bound,
                linestyle="none",
                marker=outline,
                markersize=26 if prominent else 16,
                markerfacecolor="none",
                markeredgecolor=mark.colour,
                markeredgewidth=width,
                zorder=depth,
                label=f"{series.name}: {words}",
            )
