"""Figure: a vertical section of the cut at each stage, true to scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from riskcut.figures.choosing import names
from riskcut.figures.cut_ground import draw_formation_band, draw_ground, draw_water, ground_key
from riskcut.figures.cut_levels import Cut, Extent, State, extent_of, read_cut, visible_layers
from riskcut.figures.cut_works import (
    draw_base,
    draw_edge_loads,
    draw_props,
    draw_surcharge,
    draw_wall,
    works_key,
)
from riskcut.figures.labels import counted, level, listed, with_unit, wrapped
from riskcut.figures.palette import INK
from riskcut.figures.sheet import QUIET, TALLEST, Frame, Head, Key, lay_out, lowest_in_column
from riskcut.results.wording import in_words

NAME = "cut_section"
TITLE = "Section of the cut by stage, at the means"
NAMES = 1.15
"""Room for the names of the strata at the end of a row, inches."""
MOST_COLUMNS = 3
"""Narrower panels have no room for their headings."""
AROUND = 4.2
"""Height of all that stands about the panels, about, inches."""


def sheets(tree: xr.DataTree) -> list[list[str]]:
    """Return the section on each sheet; none where the results hold nothing to draw."""
    if "cut" not in tree.children:
        return []
    applies = tree["cut"].dataset["stage_applies"].any("stage").values
    return [[section] for section, there in zip(names(tree, "section"), applies, strict=True) if there]


def draw(tree: xr.DataTree, figure: Figure, sections: Sequence[str] | None = None) -> list[Axes]:
    """Draw the sheet of one section, one panel a stage, on an empty figure.

    Parameters
    ----------
    tree
        The results.
    figure
        Takes the size that the sheet needs.
    sections
        The one section shown; the first unless stated.

    Returns
    -------
    list of Axes
        One a stage that the section has, in order.
    """
    cut = _the_cut(tree, sections)
    extent = extent_of(cut)
    frame = _frame(cut, extent)
    heads = [_head(state, int(frame.panel_width / 0.082)) for state in cut.states]
    rows = ground_key(cut, extent) + works_key(cut)
    key = Key([handle for handle, _ in rows], [label for _, label in rows], columns=4)
    axes = lay_out(
        figure,
        tree,
        panels=len(cut.states),
        frame=frame.for_heads(heads),
        title=f"{TITLE}: {in_words(cut.section)}",
        caption=_in_words(cut),
        key=key,
    )
    inches_a_metre = frame.panel_width / extent.width
    room = _least_room(cut, extent) * inches_a_metre
    for number, (state, on) in enumerate(zip(cut.states, axes, strict=True)):
        _draw_panel(on, cut, state, extent, named=room > 0.13)
        heads[number].write(on)
        if number % frame.columns:
            on.set_ylabel("")
            on.set_yticklabels([])
        if not lowest_in_column(number, len(cut.states), frame.columns):
            on.set_xlabel("")
            on.set_xticklabels([])
        if number % frame.columns == frame.columns - 1 or number == len(cut.states) - 1:
            _name_strata(on, cut, extent, 0.135 / inches_a_metre)
    return axes


def panel(tree: xr.DataTree, axes: Axes, *, section: str, stage: str) -> Axes:
    """Draw one section at one stage on axes of your own.

    Parameters
    ----------
    tree
        The results.
    axes
        To draw on; their aspect becomes equal.
    section, stage
        Which.

    Raises
    ------
    ValueError
        The section does not have this stage.
    """
    cut = read_cut(tree, section)
    states = [state for state in cut.states if state.stage == stage]
    if not states:
        raise ValueError(f"section {section!r} has no stage {stage!r}")
    return _draw_panel(axes, cut, states[0], extent_of(cut), named=True)


def _draw_panel(axes: Axes, cut: Cut, state: State, extent: Extent, *, named: bool) -> Axes:
    axes.set_xlim(-extent.side, extent.side)
    axes.set_ylim(extent.bottom, extent.top)
    axes.set_aspect("equal", adjustable="box")
    draw_ground(axes, cut, state, extent)
    draw_formation_band(axes, state, extent)
    draw_water(axes, cut, state, extent)
    draw_base(axes, cut, state, extent)
    draw_wall(axes, cut, extent)
    draw_props(axes, cut, state, extent, named=named)
    draw_surcharge(axes, cut, state, extent)
    draw_edge_loads(axes, cut, state, extent)
    axes.xaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    axes.yaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 5, 10]))
    axes.set_xlabel(with_unit("from the middle of the cut", "m"))
    axes.set_ylabel(with_unit("level", "m"))
    return axes


def _the_cut(tree: xr.DataTree, sections: Sequence[str] | None) -> Cut:
    chosen = list(sections) if sections is not None else sheets(tree)[0]
    if len(chosen) != 1:
        raise ValueError(f"a sheet of sections shows one section, not {len(chosen)}")
    return read_cut(tree, chosen[0])


def _frame(cut: Cut, extent: Extent) -> Frame:
    """Choose as many panels a row as make them largest on a sheet of the shape of a page."""
    for columns in range(1, MOST_COLUMNS + 1):
        frame = Frame(
            columns=columns,
            panel_height=1.0,
            left=0.5,
            right=NAMES,
            across=0.16,
            down=0.55,
            above=0.42,
            below=0.5,
        )
        frame = replace(frame, panel_height=frame.panel_width * extent.height / extent.width)
        rows = -(-len(cut.states) // columns)
        if rows * frame.panel_height + (rows - 1) * frame.down < TALLEST - AROUND or columns >= len(
            cut.states
        ):
            break
    return frame


def _least_room(cut: Cut, extent: Extent) -> float:
    """Return the least height above a prop that its name can have, m."""
    levels = sorted(prop.level for prop in cut.props)
    gaps = [b - a for a, b in pairwise(levels)]
    return min(gaps, default=extent.height) - extent.prop_depth


def _head(state: State, characters: int) -> Head:
    """Return stage and phase, and under them the formation with its band."""
    phase = f" ({in_words(state.phase)})" if state.phase else ""
    low, high = state.formation_bounds
    band = f" ({level(low)} to {level(high)})" if high > low else ""
    title = wrapped(f"{in_words(state.stage)}{phase}", characters)
    return Head(title, f"formation {level(state.formation)} m{band}")


def _name_strata(axes: Axes, cut: Cut, extent: Extent, line: float) -> None:
    """Write the names of the strata beside a panel, pushed apart where layers are thin.

    ``line`` is the height of a line of text, in metres of the drawing.
    """
    layers = visible_layers(cut, extent)
    middles = [(min(layer.top, cut.surface) + end) / 2.0 for layer, end in layers]
    said = [wrapped(in_words(layer.name), 17) for layer, _ in layers]
    heights = [(name.count("\n") + 1.3) * line for name in said]
    for name, middle, at in zip(said, middles, spread(middles, heights), strict=True):
        axes.annotate(
            name,
            (extent.side, middle),
            xytext=(extent.side + 0.7 * line, at),
            fontsize=8,
            va="center",
            annotation_clip=False,
            color=INK,
            arrowprops={
                "arrowstyle": "-",
                "linewidth": 0.6,
                "color": QUIET,
                "relpos": (0.0, 0.5),
                "shrinkA": 0,
                "shrinkB": 0,
            },
        )


def spread(levels: Sequence[float], heights: Sequence[float]) -> list[float]:
    """Move labels of these heights (from the top down) apart: the first stays, none of the others goes up."""
    moved: list[float] = []
    for number, (wanted, height) in enumerate(zip(levels, heights, strict=True)):
        if number:
            wanted = min(wanted, moved[-1] - (heights[number - 1] + height) / 2.0)
        moved.append(wanted)
    return moved


def alternative_text(tree: xr.DataTree, sections: Sequence[str] | None = None) -> str:
    """Say what a sheet shows: ground, works and water of the section, and the formation of each stage.

    Parameters
    ----------
    tree
        The results.
    sections
        As for :func:`draw`.
    """
    return _in_words(_the_cut(tree, sections))


def _in_words(cut: Cut) -> str:
    layers = listed(
        [f"{in_words(layer.name)} ({layer.kind}) from {level(layer.top)} m" for layer in cut.layers]
    )
    parts = [
        f"Section: {in_words(cut.section)}, {cut.width:.4g} m wide, surface at {level(cut.surface)} m, "
        f"true to scale. Ground: {layers}."
    ]
    if cut.wall_toe is not None:
        parts.append(f"Wall {cut.wall_thickness:.3g} m thick to {level(cut.wall_toe)} m.")
    else:
        parts.append("No wall.")
    if cut.props:
        props = listed(
            [f"{in_words(prop.name)} ({in_words(prop.made)}) at {level(prop.level)} m" for prop in cut.props]
        )
        parts.append(f"Props: {props}, drawn at a nominal depth.")
    if cut.slab_thickness is not None:
        parts.append(f"Base slab {cut.slab_thickness:.3g} m.")
    if cut.piles is not None:
        parts.append(
            f"Tension piles {cut.piles.length:.3g} m long, {cut.piles.diameter:.3g} m across, "
            f"{cut.piles.spacing:.3g} m apart."
        )
    deepest = min(cut.states, key=lambda state: state.formation)
    stages = counted(len(cut.states), "stage")
    parts.append(
        f"{stages}; deepest formation {level(deepest.formation)} m, first at {in_words(deepest.stage)}."
    )
    parts.append(
        f"Water table outside {level(deepest.water_table)} m then, inside {level(deepest.water_inside)} m."
    )
    if deepest.head is not None:
        low, high = deepest.head_bounds
        parts.append(
            f"Head in {in_words(cut.aquifer or '')} {level(deepest.head)} m "
            f"(5 to 95 %: {level(low)} to {level(high)})."
        )
    return " ".join(parts)
