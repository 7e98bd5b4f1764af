"""Figure: how far each limit state is from failing, as the distribution of its margin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from riskcut.figures.choosing import Place, values
from riskcut.figures.labels import counted, with_unit
from riskcut.figures.multiples import head_of, pages_of, places_of, say_why_empty, where
from riskcut.figures.palette import BAND, INK, SHORT, TARGET
from riskcut.figures.sheet import Frame, Key, lay_out
from riskcut.results.reading import estimate
from riskcut.results.status import Status
from riskcut.results.wording import limit_state_label, quantity

NAME = "margin_distributions"
TITLE = "Margin of each governing limit state at its worst stage"
MOST_PANELS = 12
COLUMNS = 3
HATCHING = "#e0bfb5"
_L = ("section", "stage", "limit_state")


def sheets(tree: xr.DataTree) -> list[list[str]]:
    """Return the limit states on each sheet, the worst first; none where the results have no margins."""
    return pages_of(tree, "margins", MOST_PANELS, COLUMNS)


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
        panel_height=(3.0, 2.2, 1.5)[columns - 1],
        left=0.45,
        across=0.5,
        down=0.98,
        above=0.42,
        below=0.5,
    )
    heads = [head_of(tree, place, 33 if columns == 3 else 54) for place in places]
    handles: list[Artist] = [
        Patch(facecolor=BAND, edgecolor=INK, linewidth=0.6),
        Patch(facecolor=TARGET, edgecolor=INK, linewidth=0.6),
        Patch(facecolor=SHORT, edgecolor=HATCHING, hatch="////", linewidth=0.0),
        Line2D([], [], color=TARGET, linewidth=1.4),
    ]
    words = [
        "rows that stand, by their margin",
        "rows that fail",
        "failing side: margin below zero",
        "limit state: resistance equals action",
    ]
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
    unit = str(tree["reliability"].dataset["response_unit"].values[place.limit_state])
    if Status(int(values(tree, "margins", "margin_status", _L)[place.at])) is Status.NOT_APPLICABLE:
        say_why_empty(axes, "no distribution was kept for this limit state", characters=30)
        return axes
    edges, shares = histogram(tree, place)
    low, high = min(float(edges[0]), 0.0), max(float(edges[-1]), 0.0)
    room = 0.06 * (high - low)
    low, high = low - room, high + room
    axes.axvspan(
        low,
        0.0,
        facecolor=SHORT,
        edgecolor=HATCHING,
        hatch="////",
        linewidth=0.0,
        zorder=0.3,
        label="failing side",
    )
    axes.stairs(shares, edges, fill=True, facecolor=BAND, zorder=1.5)
    axes.stairs(shares, edges, color=INK, linewidth=0.7, zorder=2, label="rows")
    below = int(np.searchsorted(edges, 0.0))
    if below:  # a bin that holds zero is cut there
        ends = np.append(edges[:below], min(0.0, float(edges[-1])))[: shares.size + 1]
        axes.stairs(
            shares[: ends.size - 1], ends, fill=True, facecolor=TARGET, zorder=1.8, label="failing rows"
        )
    axes.axvline(0.0, color=TARGET, linewidth=1.4, zorder=3, label="margin of zero")
    axes.set_xlim(low, high)
    axes.set_ylim(0.0, 1.3 * float(shares.max()))
    said = estimate(tree, place.section_name, place.stage_name, place.limit_state_name).probability_text
    axes.text(
        0.985,
        0.97,
        f"fails: {said}",
        transform=axes.transAxes,
        ha="right",
        va="top",
        fontsize=8,
        zorder=5,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
    )
    axes.set_xlabel(with_unit("margin: resistance less action", unit))
    axes.set_ylabel("share of rows in a bin (%)")
    axes.locator_params(axis="both", nbins=5)
    return axes


def histogram(tree: xr.DataTree, place: Place) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the edges of the bins that hold rows, and the share of all rows in each, %.

    The share is of all rows, so that rows beyond the outermost edges are missing from the picture and not
    spread over it.
    """
    rows = float(tree["reliability"].dataset["rows"].item())
    counts = np.asarray(
        values(tree, "margins", "margin_count", (*_L, "margin_bin"))[place.at], dtype=np.float64
    )
    edges = np.asarray(values(tree, "margins", "margin_edge", (*_L, "margin_edge_index"))[place.at])
    beyond = counts.size - (edges.size - 1)
    if beyond == 2:  # first and last bin gather what lies outside the edges
        counts = counts[1:-1]
    held = np.flatnonzero(counts)
    if not held.size:
        return edges, 100.0 * counts / rows
    first, last = int(held[0]), int(held[-1])
    return edges[first : last + 2], 100.0 * counts[first : last + 1] / rows


def alternative_text(tree: xr.DataTree, limit_states: Sequence[str] | None = None) -> str:
    """Say what a sheet shows: the share of rows that fail and the margin at the means of each limit state.

    Parameters
    ----------
    tree
        The results.
    limit_states
        As for :func:`draw`.
    """
    limit_states = list(limit_states) if limit_states is not None else sheets(tree)[0]
    group = tree["reliability"].dataset
    said = []
    for place in places_of(tree, limit_states):
        found = estimate(tree, place.section_name, place.stage_name, place.limit_state_name)
        resistance, action = (
            float(values(tree, "reliability", f"{side}_at_means", _L)[place.at])
            for side in ("resistance", "action")
        )
        margin = quantity(resistance - action, str(group["response_unit"].values[place.limit_state]))
        said.append(
            f"{limit_state_label(place.limit_state_name)} ({where(tree, place)}) "
            f"fails {found.probability_text}, margin at the means {margin}"
        )
    return (
        f"Distribution of the margin of {counted(len(said), 'limit state')}, worst first: {'; '.join(said)}."
    )
