"""Figure: which inputs decide the margin of each limit state, as Sobol' indices."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from riskcut.figures.choosing import Place, values
from riskcut.figures.labels import with_unit, wrapped
from riskcut.figures.multiples import head_of, pages_of, places_of, say_why_empty, where
from riskcut.figures.palette import HUES, INK
from riskcut.figures.sheet import Frame, Key, lay_out
from riskcut.results.estimate import Influence
from riskcut.results.reading import influences
from riskcut.results.status import Status
from riskcut.results.wording import limit_state_label

NAME = "sobol_bars"
TITLE = "What decides each margin: Sobol' indices at its worst stage"
MOST_PANELS = 8
COLUMNS = 2
MOST_BARS = 6
HEIGHT = 1.9
"""Of a panel, inches; its vertical axis is in inches, so that a label of many lines gets its room."""
LABEL_LINE = 0.128
MOST_MEMBERS = 3
"""Members of a dependent group that are named."""
LEAST = 0.02
"""Inputs whose total order lies below this are left out and counted."""
TOTAL, FIRST = HUES[5], HUES[0]
_L = ("section", "stage", "limit_state")


def sheets(tree: xr.DataTree) -> list[list[str]]:
    """Return the limit states on each sheet, the worst first; none where there are no sensitivities."""
    return pages_of(tree, "sensitivity", MOST_PANELS, COLUMNS)


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
        columns=columns, panel_height=HEIGHT, left=2.05, across=2.2, down=0.9, above=0.42, below=0.5
    )
    heads = [head_of(tree, place, 44) for place in places]
    handles: list[Artist] = [
        Patch(facecolor=FIRST),
        Patch(facecolor=TOTAL, edgecolor="white", hatch="////"),
        Line2D([], [], color=INK, linewidth=1.0),
    ]
    words = ["first order: alone", "total order: with its interactions", "95 % interval"]
    axes = lay_out(
        figure,
        tree,
        panels=len(places),
        frame=frame.for_heads(heads),
        title=TITLE,
        caption=alternative_text(tree, limit_states),
        key=Key(handles, words),
    )
    for place, head, on in zip(places, heads, axes, strict=True):
        _draw_panel(tree, on, place)
        head.write(on, inset=2.0 / frame.panel_width)
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
    shown, rest = deciding(tree, place)
    if not shown:
        say_why_empty(axes, f"No indices here: {_refusal(tree, place)}.", characters=34)
        return axes
    axes.grid(axis="x")
    depths = np.array([_depth(one) for one in shown])
    middle = np.cumsum(depths) - depths / 2
    for offset, colour, hatch, label, found in (
        (-0.06, FIRST, None, "first order", [(one.first, one.first_bounds) for one in shown]),
        (0.06, TOTAL, "////", "total order", [(one.total, one.total_bounds) for one in shown]),
    ):
        at = middle + offset
        axes.barh(
            at,
            [value for value, _ in found],
            height=0.105,
            color=colour,
            hatch=hatch,
            edgecolor="white",
            linewidth=0.0,
            zorder=2,
            label=label,
        )
        axes.hlines(
            at,
            [low for _, (low, _) in found],
            [high for _, (_, high) in found],
            color=INK,
            linewidth=1.0,
            zorder=3,
            label=f"{label}: 95 % interval",
        )
    axes.set_yticks(middle, [label_of(one) for one in shown], fontsize=7.5, linespacing=1.2)
    axes.tick_params(axis="y", length=0)
    low = min(0.0, *(bound for one in shown for bound in (one.first_bounds[0], one.total_bounds[0])))
    high = max(1.0, *(bound for one in shown for bound in (one.first_bounds[1], one.total_bounds[1])))
    axes.set_xlim(low - 0.02 * (low < 0), high + 0.02)
    axes.set_ylim(max(float(depths.sum()), HEIGHT), 0.0)
    axes.set_xlabel(with_unit("share of the variance of the margin", "1"))
    if rest:
        axes.text(
            0.99,
            0.03,
            _others(rest),
            transform=axes.transAxes,
            ha="right",
            va="bottom",
            fontsize=7.5,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
            zorder=4,
        )
    return axes


def deciding(tree: xr.DataTree, place: Place) -> tuple[list[Influence], list[Influence]]:
    """Return the inputs that matter to a margin, the greatest first, and those left out."""
    found = influences(tree, place.section_name, place.stage_name, place.limit_state_name)
    matter = [one for one in found if one.total >= LEAST][:MOST_BARS] or found[:1]
    while len(matter) > 1 and sum(map(_depth, matter)) > HEIGHT:
        matter.pop()
    return matter, found[len(matter) :]


def label_of(one: Influence) -> str:
    """Return the address of an input over a few lines, or those of a group of dependent inputs."""
    if len(one.variables) == 1:
        return wrapped(one.variables[0], 31)
    named = [wrapped(name, 31) for name in one.variables[:MOST_MEMBERS]]
    left = len(one.variables) - MOST_MEMBERS
    return "\n".join(["dependent, as one:", *named, *([f"and {left} more"] if left > 0 else [])])


def _depth(one: Influence) -> float:
    """Room that the bars of an input and its label need, inches."""
    return max(0.28, (label_of(one).count("\n") + 1) * LABEL_LINE + 0.05)


def _others(rest: Sequence[Influence]) -> str:
    greatest = max(one.total for one in rest)
    limit = f"below {LEAST:g}" if greatest < LEAST else f"at most {greatest:.2f}"
    each = "each " if len(rest) > 1 else ""
    return f"{len(rest)} more, {each}{limit} (total order)"


def _refusal(tree: xr.DataTree, place: Place) -> str:
    status = Status(int(values(tree, "sensitivity", "sensitivity_status", _L)[place.at]))
    return str(values(tree, "sensitivity", "sensitivity_reason", _L)[place.at]) or status.words


def alternative_text(tree: xr.DataTree, limit_states: Sequence[str] | None = None) -> str:
    """Say what a sheet shows: the greatest indices of each limit state, with their intervals.

    Parameters
    ----------
    tree
        The results.
    limit_states
        As for :func:`draw`.
    """
    limit_states = list(limit_states) if limit_states is not None else sheets(tree)[0]
    said = []
    for place in places_of(tree, limit_states):
        shown, _ = deciding(tree, place)
        name = f"{limit_state_label(place.limit_state_name)} ({where(tree, place)})"
        if not shown:
            said.append(f"{name} no indices, {_refusal(tree, place)}")
            continue
        greatest = shown[0]
        total = _with_bounds(greatest.total, greatest.total_bounds)
        first = _with_bounds(greatest.first, greatest.first_bounds)
        said.append(f"{name} {' with '.join(greatest.variables)}, total {total}, first {first}")
    return f"Sobol' indices of the margin, total and first order; the greatest of each: {'; '.join(said)}."


def _with_bounds(index: float, bounds: tuple[float, float]) -> str:
    return f"{index:.2f} ({bounds[0]:.2f} to {bounds[1]:.2f})"
