"""Figure: how the plain simulation settled as rows were added, and the estimate that it is held against."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullLocator
from numpy.typing import NDArray

from riskcut.figures.choosing import Place, values
from riskcut.figures.labels import counted, decade, short_probability, thousands, with_unit
from riskcut.figures.multiples import head_of, pages_of, places_of, say_why_empty, where
from riskcut.figures.palette import BAND, HUES, TARGET
from riskcut.figures.series import AT_MOST, AT_MOST_IN_KEY
from riskcut.figures.sheet import Frame, Key, lay_out
from riskcut.results.estimate import Estimate
from riskcut.results.reading import estimate
from riskcut.results.status import Status
from riskcut.results.wording import limit_state_label

NAME = "convergence"
TITLE = "Convergence of the plain simulation at the worst stage, beside the estimate"
MOST_PANELS = 12
COLUMNS = 3
LINE, FINAL = HUES[0], HUES[1]
FINAL_DASHES = (0, (5, 1.5))
PLAIN = "plain simulation"
"""As the results name it."""
_L = ("section", "stage", "limit_state")


def sheets(tree: xr.DataTree) -> list[list[str]]:
    """Return the limit states on each sheet, the worst first; none where the results have no such record."""
    return pages_of(tree, "convergence", MOST_PANELS, COLUMNS)


def draw(tree: xr.DataTree, figure: Figure, limit_states: Sequence[str] | None = None) -> list[Axes]:
    """Draw a sheet, one panel a limit state, on an empty figure.

    Parameters
    ----------
    tree
        The results.
    figure
        Takes the size that the sheet needs.
    limit_states
        Those shown; those of the first sheet unless stated.

    Returns
    -------
    list of Axes
        One a limit state, in order.
    """
    limit_states = list(limit_states) if limit_states is not None else sheets(tree)[0]
    places = places_of(tree, limit_states)
    columns = min(COLUMNS, len(places))
    frame = Frame(
        columns=columns,
        panel_height=(3.0, 2.2, 1.6)[columns - 1],
        left=0.55,
        across=0.6,
        down=0.95,
        above=0.42,
        below=0.5,
    )
    heads = [head_of(tree, place, 33 if columns == 3 else 54) for place in places]
    handles: list[Artist] = [
        Line2D([], [], color=LINE, marker="o", markersize=3.5),
        Patch(facecolor=BAND),
        Line2D(
            [],
            [],
            linestyle="none",
            marker=AT_MOST_IN_KEY,
            markersize=11,
            markerfacecolor="none",
            markeredgecolor=LINE,
        ),
        Line2D([], [], color=TARGET, linewidth=1.4),
    ]
    words = [
        "plain simulation",
        "its 95 % interval",
        "less than: no row failed yet (95 %)",
        "target of one limit state",
    ]
    if any(apart(tree, place) is not None for place in places):
        handles.append(Line2D([], [], color=FINAL, linewidth=1.8, linestyle=FINAL_DASHES))
        words.append("estimate by aimed rows or first order, dotted its 95 % interval")
    axes = lay_out(
        figure,
        tree,
        panels=len(places),
        frame=frame.for_heads(heads),
        title=TITLE,
        caption=alternative_text(tree, limit_states),
        key=Key(handles, words, columns=4),
    )
    for number, (place, head, on) in enumerate(zip(places, heads, axes, strict=True)):
        _draw_panel(tree, on, place)
        head.write(on)
        if number % columns:
            on.set_ylabel("")
    return axes


def panel(tree: xr.DataTree, axes: Axes, *, limit_state: str) -> Axes:
    """Draw one limit state at its worst block on axes of your own.

    Parameters
    ----------
    tree
        The results.
    axes
        To draw on.
    limit_state
        Which.
    """
    return _draw_panel(tree, axes, places_of(tree, [limit_state])[0])


def _draw_panel(tree: xr.DataTree, axes: Axes, place: Place) -> Axes:
    rows, estimates, lower, upper = record(tree, place)
    if not np.isfinite(upper).any():
        say_why_empty(axes, "no record was kept for this limit state", characters=30)
        return axes
    seen = estimates > 0
    target = target_probability(tree, place)
    final = apart(tree, place)
    # Of a value of first order simulation bounds one side alone: that is no interval of it.
    interval = () if final is None or final.status is Status.FIRST_ORDER_ONLY else final.bounds
    beside = [] if final is None else [final.failure_probability, *interval]
    drawn = np.concatenate([lower[seen], upper, estimates[seen], [target], beside])
    drawn = drawn[np.isfinite(drawn) & (drawn > 0)]
    low, high = (
        10.0 ** math.floor(math.log10(drawn.min()) - 0.15),
        10.0 ** math.ceil(math.log10(drawn.max()) + 0.05),
    )
    axes.fill_between(
        rows,
        np.where(seen, np.maximum(lower, low / 10), np.nan),
        np.where(seen, upper, np.nan),
        color=BAND,
        linewidth=0,
        zorder=1.5,
        label="95 % interval",
    )
    axes.plot(
        rows,
        np.where(seen, estimates, np.nan),
        color=LINE,
        marker="o",
        markersize=3.5,
        zorder=3,
        label="estimate",
    )
    if not seen.all():
        axes.plot(
            rows[~seen],
            upper[~seen],
            linestyle="none",
            marker=AT_MOST,
            markersize=20,
            zorder=3,
            markerfacecolor="none",
            markeredgecolor=LINE,
            label="less than",
        )
    if final is not None:
        axes.axhline(
            final.failure_probability,
            color=FINAL,
            linewidth=1.8,
            linestyle=FINAL_DASHES,
            zorder=2.6,
            label="estimate of the run",
        )
        for bound in interval:
            if bound > 0:
                axes.axhline(bound, color=FINAL, linewidth=0.9, linestyle=":", zorder=2.6)
    if math.isfinite(target):
        axes.axhline(target, color=TARGET, linewidth=1.4, zorder=2.5, label="target")
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_ylim(low, min(high, 1.0))
    axes.set_xlim(rows[0] / 1.3, rows[-1] * 1.3)
    axes.xaxis.set_major_locator(FixedLocator(list(_few(rows))))
    axes.xaxis.set_major_formatter(FuncFormatter(thousands))
    axes.yaxis.set_major_locator(LogLocator(numticks=6))
    axes.yaxis.set_major_formatter(FuncFormatter(decade))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_minor_locator(NullLocator())
    axes.grid(axis="y")
    axes.set_xlabel(with_unit("rows drawn", "thousands"))
    axes.set_ylabel(with_unit("probability of failure", "1"))
    return axes


def record(
    tree: xr.DataTree, place: Place
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return rows drawn, estimate, lower and upper bound of one limit state in one block."""
    dims = (*_L, "sample_size")
    bounds = values(tree, "convergence", "convergence_failure_probability_bounds", (*dims, "bound"))[place.at]
    return (
        np.asarray(tree.coords["sample_size"].values, dtype=np.float64),
        values(tree, "convergence", "convergence_failure_probability", dims)[place.at],
        bounds[:, 0],
        bounds[:, 1],
    )


def apart(tree: xr.DataTree, place: Place) -> Estimate | None:
    """Return the estimate where another method than plain simulation alone made it, else None."""
    found = estimate(tree, place.section_name, place.stage_name, place.limit_state_name)
    if found.estimated_by in ("", PLAIN) or not found.failure_probability > 0:
        return None
    return found


def target_probability(tree: xr.DataTree, place: Place) -> float:
    """Return the probability that the target index of a block stands for, Phi(-beta); NaN for no target."""
    target = values(tree, "reliability", "target_reliability_index", ("section", "stage"))
    return 0.5 * math.erfc(float(target[place.section, place.stage]) / math.sqrt(2.0))


def _few(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Choose ticks among the sizes recorded, a factor of about four or more apart, with the last."""
    chosen = [rows[-1]]
    for size in rows[-2::-1]:
        if chosen[-1] / size > 3.5:
            chosen.append(size)
    return np.array(chosen[::-1])


def alternative_text(tree: xr.DataTree, limit_states: Sequence[str] | None = None) -> str:
    """Say what a sheet shows: where each probability ended, with its interval, beside its target.

    Parameters
    ----------
    tree
        The results.
    limit_states
        As for :func:`draw`.
    """
    limit_states = list(limit_states) if limit_states is not None else sheets(tree)[0]
    sizes = tree.coords["sample_size"].values
    said = []
    for place in places_of(tree, limit_states):
        found = estimate(tree, place.section_name, place.stage_name, place.limit_state_name)
        target = target_probability(tree, place)
        beside = f", target {short_probability(target)}" if math.isfinite(target) else ", no target"
        name = f"{limit_state_label(place.limit_state_name)} ({where(tree, place)})"
        said.append(f"{name} {found.probability_text}{beside}")
    return (
        f"Probability of failure of {counted(len(said), 'limit state')} as plain simulation counts it, with its 95 % "
        f"interval, against the rows drawn, {int(sizes[0]):,} to {int(sizes[-1]):,}, beside the estimate of the run: "
        f"{'; '.join(said)}."
    )
