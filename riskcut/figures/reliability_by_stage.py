"""Figure: the reliability index of each limit state at each stage, against the target of the stage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.typing import FillStyleType, MarkerType
from numpy.typing import NDArray

from riskcut.figures.choosing import in_pages, names, worst_places
from riskcut.figures.labels import with_unit, wrapped
from riskcut.figures.palette import GREY, INK, PALE, SHORT, TARGET, Mark, mark
from riskcut.figures.reliability_words import describe
from riskcut.figures.series import (
    AT_LEAST_IN_KEY,
    AT_MOST_IN_KEY,
    HIGHEST,
    SYSTEM,
    Series,
    all_series,
    draw_series,
    targets,
)
from riskcut.figures.sheet import Frame, Key, lay_out, lowest_in_column
from riskcut.results.status import Status
from riskcut.results.wording import in_words, limit_state_label

NAME = "reliability_by_stage"
TITLE = "Reliability index by stage"
MOST_PANELS = 8
LOWEST = -20.0
"""Of the shading below a target: out of sight below any index that occurs."""
MOST_NAMED = 8
"""Limit states with a mark of their own on a sheet; the others are drawn in grey and counted."""


def sheets(tree: xr.DataTree) -> list[list[str]]:
    """Return the sections on each sheet."""
    return in_pages(names(tree, "section"), MOST_PANELS, columns=2)


def draw(tree: xr.DataTree, figure: Figure, sections: Sequence[str] | None = None) -> list[Axes]:
    """Draw a sheet, one panel a section, on an empty figure.

    Parameters
    ----------
    tree
        The results.
    figure
        Takes the size that the sheet needs.
    sections
        The sections shown; those of the first sheet unless stated.

    Returns
    -------
    list of Axes
        One a section, in order.
    """
    sections = list(sections) if sections is not None else sheets(tree)[0]
    everything = all_series(tree)
    named = _named(tree, sections)
    stages = names(tree, "stage")
    columns = min(len(sections), 2)
    frame, slanted = _frame(columns, stages)
    axes = lay_out(
        figure,
        tree,
        panels=len(sections),
        frame=frame,
        title=TITLE if len(sections) > 1 else f"{TITLE}, {in_words(sections[0])}",
        caption=alternative_text(tree, sections),
        key=_key(tree, sections, named, everything),
    )
    limits = _limits(tree, everything)
    for number, (section, on) in enumerate(zip(sections, axes, strict=True)):
        _draw_panel(tree, on, section, named, everything[section])
        on.set_ylim(*limits)
        if len(sections) > 1:
            on.set_title(wrapped(in_words(section), 60), loc="left", y=1.0)
        if number % columns:
            on.set_ylabel("")
        if not lowest_in_column(number, len(sections), columns):
            on.set_xticklabels([])
            on.set_xlabel("")
        elif slanted:
            on.set_xticks(
                range(len(stages)),
                _stage_names(stages),
                rotation=35,
                ha="right",
                rotation_mode="anchor",
            )
    return axes


def panel(tree: xr.DataTree, axes: Axes, *, section: str) -> Axes:
    """Draw one section on axes of your own: limit states and system by stage, and the target.

    Parameters
    ----------
    tree
        The results.
    axes
        To draw on.
    section
        Which section.
    """
    return _draw_panel(tree, axes, section, _named(tree, [section]), all_series(tree)[section])


def _draw_panel(
    tree: xr.DataTree, axes: Axes, section: str, named: Sequence[str], found: Sequence[Series]
) -> Axes:
    marks = _marks(tree)
    stages = names(tree, "stage")
    shifts = dict(zip(named, _beside_the_middle(len(named)), strict=True))
    for series in found:
        if series.name == SYSTEM:
            draw_series(axes, series, Mark(INK, "_", "-"), shift=0.0, prominent=True)
        elif series.name in shifts:
            draw_series(axes, series, marks[series.name], shift=shifts[series.name], prominent=True)
        else:
            draw_series(axes, series, Mark(PALE, "o", "-"), shift=0.0, prominent=False)
    _draw_target(axes, targets(tree, section))
    axes.set_xlim(-0.5, len(stages) - 0.5)
    axes.set_xticks(range(len(stages)), _stage_names(stages))
    axes.set_xlabel("stage, in the order of building")
    units = str(tree["reliability"].dataset["reliability_index"].attrs["units"])
    axes.set_ylabel(with_unit("reliability index", units))
    axes.grid(axis="y")
    return axes


def _named(tree: xr.DataTree, sections: Sequence[str]) -> list[str]:
    """Choose the limit states that get a mark of their own: the worst in these sections, worst first."""
    return [place.limit_state_name for place in worst_places(tree, sections)[:MOST_NAMED]]


def _marks(tree: xr.DataTree) -> dict[str, Mark]:
    """Give each limit state one mark on all sheets, counted from the worst, so that the worst differ most."""
    ranked = [place.limit_state_name for place in worst_places(tree)]
    rest = [name for name in names(tree, "limit_state") if name not in ranked]
    return {name: mark(number) for number, name in enumerate([*ranked, *rest])}


def _beside_the_middle(count: int) -> list[float]:
    """Spread series over the width of a stage, leaving its middle to the system."""
    slots = count + count % 2
    reach = min(0.3, 0.05 * slots)
    return [float(at) for at in np.linspace(-reach, reach, slots)[:count]] if slots else []


def _stage_names(stages: Sequence[str]) -> list[str]:
    """Write the stages for the axis, on lines of at most 16 characters."""
    return [wrapped(in_words(stage), 16) for stage in stages]


def _frame(columns: int, stages: Sequence[str]) -> tuple[Frame, bool]:
    """Return the room about the panels, and whether the names of the stages have to lean to fit."""
    labels = _stage_names(stages)
    longest = max(len(line) for label in labels for line in label.split("\n"))
    lines = max(label.count("\n") for label in labels) + 1
    wide = columns == 1
    upright = Frame(
        columns=columns,
        panel_height=4.6 if wide else 1.95,
        left=0.5,
        across=0.35,
        down=0.36,
        above=0.05 if wide else 0.25,
        below=0.37 + 0.13 * lines,
    )
    if longest * 0.083 < upright.panel_width / len(stages):
        return upright, False
    return replace(upright, below=0.4 + 0.037 * longest + 0.11 * lines), True


def _draw_target(axes: Axes, target: NDArray[np.float64]) -> None:
    known = ~np.isnan(target)
    if not known.any():
        return
    edges = np.arange(target.size + 1) - 0.5
    axes.stairs(target, edges, baseline=None, color=TARGET, linewidth=1.6, zorder=3.5, label="target")
    for stage in np.flatnonzero(known):
        axes.fill_between(
            [stage - 0.5, stage + 0.5],
            float(target[stage]),
            LOWEST,
            color=SHORT,
            linewidth=0,
            zorder=0.4,
            label="short of the target",
        )


def _limits(tree: xr.DataTree, everything: Mapping[str, Sequence[Series]]) -> tuple[float, float]:
    """One range of the index for all sections of the study, so that sheets and panels compare."""
    found = [targets(tree, section) for section in everything]
    for series in (one for several in everything.values() for one in several):
        found += [series.known, series.greater_than, series.less_than, *series.interval]
    numbers = np.concatenate(found)
    numbers = numbers[np.isfinite(numbers)]
    if not numbers.size:
        return 0.0, 5.0
    low, high = float(numbers.min()), float(numbers.max())
    room = max(0.4, 0.1 * (min(high, HIGHEST) - low))  # for the arrows that start at a bound
    if high > HIGHEST >= low + 1.0:
        return low - room, HIGHEST + 0.1
    return low - room, high + room


def _key(
    tree: xr.DataTree,
    sections: Sequence[str],
    named: Sequence[str],
    everything: Mapping[str, Sequence[Series]],
) -> Key:
    marks = _marks(tree)
    shown = [series for section in sections for series in everything[section]]
    rows: list[tuple[Artist, str]] = []
    for name in named:
        m = marks[name]
        rows.append(
            (Line2D([], [], color=m.colour, marker=m.marker, linestyle=m.dashes), limit_state_label(name))
        )
    others = {series.name for series in shown} - {*named, SYSTEM}
    if others:
        governing = {series.name for series in shown if series.governing.any()}
        kinds = ["less critical"] if others & governing else []
        kinds += ["not governing"] if others - governing else []
        words = f"{len(others)} more, {' or '.join(kinds)}"
        rows.append((Line2D([], [], color=PALE, marker="o", markersize=3.5, linewidth=0.9), words))
    rows.append((Line2D([], [], color=INK, linewidth=2.2), SYSTEM))
    if any(np.isfinite(targets(tree, section)).any() for section in sections):
        rows.append((Line2D([], [], color=TARGET, linewidth=1.6), "target of one limit state"))
        rows.append((Patch(facecolor=SHORT), "short of the target"))
    rows += _status_rows(shown)
    return Key([handle for handle, _ in rows], [label for _, label in rows], columns=3)


def _status_rows(shown: Sequence[Series]) -> list[tuple[Artist, str]]:
    """Explain those marks of a status that occur on the sheet."""

    def bare(marker: MarkerType, size: float, face: str, fill: FillStyleType = "full") -> Line2D:
        return Line2D(
            [],
            [],
            linestyle="none",
            marker=marker,
            markersize=size,
            markerfacecolor=face,
            markeredgecolor=GREY,
            color=GREY,
            fillstyle=fill,
        )

    def occurs(numbers: NDArray[np.float64]) -> bool:
        return bool(np.isfinite(numbers).any())

    rows: list[tuple[Artist, str]] = []
    if any(occurs(s.interval[0]) for s in shown):
        rows.append((bare("|", 9, GREY), "95 % interval"))
    if any(occurs(s.greater_than) for s in shown):
        rows.append((bare(AT_LEAST_IN_KEY, 11, "none"), "greater than: no row failed (95 %)"))
    if any(occurs(s.less_than) for s in shown):
        rows.append((bare(AT_MOST_IN_KEY, 11, "none"), "less than: every row failed (95 %)"))
    if any(occurs(s.under(Status.UNTRUSTED)) for s in shown):
        rows.append((bare("o", 5, "white"), "hollow: not to be trusted"))
    if any(occurs(s.under(Status.FIRST_ORDER_ONLY)) for s in shown):
        rows.append((bare("o", 5, GREY, "left"), "half filled: first order only"))
    return rows


def alternative_text(tree: xr.DataTree, sections: Sequence[str] | None = None) -> str:
    """Say what a sheet shows: the lowest of each section, what falls short of its target, and how sure it is.

    Parameters
    ----------
    tree
        The results.
    sections
        As for :func:`draw`.
    """
    return describe(tree, list(sections) if sections is not None else sheets(tree)[0])
