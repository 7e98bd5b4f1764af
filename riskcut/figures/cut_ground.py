"""The ground and the water of a drawn section."""

from __future__ import annotations

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.path import Path as Outline

from riskcut.figures.cut_levels import Cut, Extent, Layer, State, visible_layers
from riskcut.figures.palette import INK, WATER, WATER_BODY
from riskcut.results.wording import in_words

UNDRAINED = (("#d9dcd6", "--"), ("#c3c9c4", "----"), ("#e6e6e0", "-"), ("#b3bbb8", "------"))
"""Tint and hatch of the undrained strata from the top down: level strokes, closer or wider."""
DRAINED = (("#f1e8d2", ".."), ("#e5d7b5", "...."), ("#f6f0e2", "."), ("#d9c9a3", "......"))
"""The same of the drained strata: dots."""
STROKES = "#8e9590"
AMBER, AMBER_EDGE = "#ebcb8b", "#a87414"
IN_PIPE = "#7fa6c6"

_TRIANGLE = [
    (-1.0, 1.7),
    (1.0, 1.7),
    (0.0, 0.0),
    (-1.0, 1.7),
    (-0.62, -0.5),
    (0.62, -0.5),
    (-0.3, -1.0),
    (0.3, -1.0),
]
_MOVES = [
    Outline.MOVETO,
    Outline.LINETO,
    Outline.LINETO,
    Outline.LINETO,
    Outline.MOVETO,
    Outline.LINETO,
    Outline.MOVETO,
    Outline.LINETO,
]
WATER_MARK = Outline(_TRIANGLE, _MOVES)
"""The sign for a water level: a triangle that stands on the level with its tip, two strokes below it."""


def looks(cut: Cut, extent: Extent) -> list[tuple[Layer, float, str, str]]:
    """Give each stratum in the drawing its end, its tint and its hatch."""
    found, used = [], {True: 0, False: 0}
    for layer, end in visible_layers(cut, extent):
        kinds = UNDRAINED if layer.undrained else DRAINED
        tint, hatch = kinds[used[layer.undrained] % len(kinds)]
        used[layer.undrained] += 1
        found.append((layer, end, tint, hatch))
    return found


def draw_ground(axes: Axes, cut: Cut, state: State, extent: Extent) -> None:
    """Draw the strata, and take the cut out of them."""
    for layer, end, tint, hatch in looks(cut, extent):
        top = min(layer.top, cut.surface)
        axes.add_patch(
            Rectangle(
                (-extent.side, end),
                extent.width,
                top - end,
                facecolor=tint,
                edgecolor=STROKES,
                hatch=hatch,
                linewidth=0.0,
                zorder=1,
                label=layer.name,
            )
        )
        if layer is cut.layers[0]:
            continue  # its top is the surface
        axes.hlines(layer.top, -extent.side, extent.side, color=INK, linewidth=0.7, zorder=1.2)
        if layer.top_bounds[1] > layer.top_bounds[0]:
            axes.hlines(
                layer.top_bounds,
                -extent.side,
                extent.side,
                color=INK,
                linewidth=0.6,
                zorder=1.2,
                linestyles=(0, (4, 3)),
                label=f"{layer.name}: 5 to 95 % of its top",
            )
    if state.formation < cut.surface:
        axes.add_patch(
            Rectangle(
                (-extent.half, state.formation),
                cut.width,
                extent.top - state.formation,
                facecolor="white",
                edgecolor="none",
                zorder=1.5,
                label="dug out",
            )
        )
        axes.vlines(
            (-extent.half, extent.half), state.formation, cut.surface, color=INK, linewidth=0.9, zorder=3
        )
    for left, right in ((-extent.side, -extent.half), (extent.half, extent.side)):
        axes.hlines(cut.surface, left, right, color=INK, linewidth=1.3, zorder=4, label="ground surface")
    axes.hlines(
        state.formation, -extent.half, extent.half, color=INK, linewidth=0.9, zorder=4, label="formation"
    )


def draw_formation_band(axes: Axes, state: State, extent: Extent) -> None:
    """Draw the 5 to 95 % band of the formation, where it is uncertain."""
    low, high = state.formation_bounds
    if high > low:
        axes.add_patch(
            Rectangle(
                (-extent.half, low),
                2 * extent.half,
                high - low,
                facecolor=AMBER,
                edgecolor=AMBER_EDGE,
                linewidth=0.5,
                zorder=3.5,
                label="formation: 5 to 95 %",
            )
        )


def draw_water(axes: Axes, cut: Cut, state: State, extent: Extent) -> None:
    """Draw the water outside and inside, and the head in the aquifer as the level in a standpipe."""
    outside = ((-extent.side, -extent.outer), (extent.outer, extent.side))
    for left, right in outside:
        if state.water_table > cut.surface:
            axes.add_patch(
                Rectangle(
                    (left, cut.surface),
                    right - left,
                    state.water_table - cut.surface,
                    facecolor=WATER_BODY,
                    linewidth=0.0,
                    zorder=1.4,
                    label="water above the surface",
                )
            )
        axes.hlines(state.water_table, left, right, color=WATER, linewidth=1.0, zorder=3, label="water table")
    _mark(axes, extent.side - 0.28 * (extent.side - extent.outer), state.water_table, "water table")
    if state.water_inside > state.formation:
        axes.add_patch(
            Rectangle(
                (-extent.half, state.formation),
                2 * extent.half,
                state.water_inside - state.formation,
                facecolor=WATER_BODY,
                linewidth=0.0,
                zorder=1.6,
                label="water inside: body",
            )
        )
        axes.hlines(state.water_inside, -extent.half, extent.half, color=WATER, linewidth=1.0, zorder=3)
    covered = state.slab_cast and state.water_inside < state.formation + (cut.slab_thickness or 0.0)
    if state.formation < cut.surface and not covered:
        _mark(axes, 0.66 * extent.half, state.water_inside, "water inside")
    if state.head is not None:
        _draw_standpipe(axes, cut, state, extent)


def _mark(axes: Axes, x: float, level: float, label: str) -> None:
    axes.plot(
        [x],
        [level],
        marker=WATER_MARK,
        markersize=9,
        markerfacecolor="white",
        markeredgecolor=WATER,
        markeredgewidth=0.9,
        linestyle="none",
        zorder=6,
        label=label,
    )


def _draw_standpipe(axes: Axes, cut: Cut, state: State, extent: Extent) -> None:
    head = state.head if state.head is not None else float("nan")
    x = -extent.outer - 0.55 * (extent.side - extent.outer)
    w = 0.008 * extent.width
    tops = {layer.name: layer.top for layer in cut.layers}
    tip = (tops.get(cut.aquifer or "", extent.bottom) + extent.bottom) / 2.0
    pipe_top = max(cut.surface, state.head_bounds[1], head) + 0.35 * extent.arrow
    axes.add_patch(
        Rectangle(
            (x - w / 2, tip),
            w,
            pipe_top - tip,
            facecolor="white",
            edgecolor=INK,
            linewidth=0.7,
            zorder=4,
            label="standpipe",
        )
    )
    axes.add_patch(
        Rectangle(
            (x - w / 2, tip),
            w,
            head - tip,
            facecolor=IN_PIPE,
            edgecolor=INK,
            linewidth=0.5,
            zorder=4.2,
            label="aquifer head",
        )
    )
    low, high = state.head_bounds
    if high > low:
        axes.add_patch(
            Rectangle(
                (x - 2.4 * w, low),
                4.8 * w,
                high - low,
                facecolor=WATER,
                alpha=0.35,
                linewidth=0.0,
                zorder=4.1,
                label="aquifer head: 5 to 95 %",
            )
        )
    axes.hlines(head, x - 3.4 * w, x + 3.4 * w, color=WATER, linewidth=1.3, zorder=4.4)
    axes.hlines(
        head,
        x + 3.4 * w,
        extent.half,
        color=WATER,
        linewidth=0.8,
        linestyles=(0, (1, 2.5)),
        zorder=2.5,
        label="aquifer head: level",
    )


def ground_key(cut: Cut, extent: Extent) -> list[tuple[Artist, str]]:
    """Explain the strata and the water that this section has."""
    rows: list[tuple[Artist, str]] = [
        (
            Patch(facecolor=tint, edgecolor=STROKES, hatch=hatch, linewidth=0.0),
            f"{in_words(layer.name)}, {layer.kind}",
        )
        for layer, _, tint, hatch in looks(cut, extent)
    ]
    if any(layer.top_bounds[1] > layer.top_bounds[0] for layer, _ in visible_layers(cut, extent)[1:]):
        rows.append((Line2D([], [], color=INK, linewidth=0.6, linestyle=(0, (4, 3))), "stratum, 5 and 95 %"))
    rows.append(
        (
            Line2D(
                [],
                [],
                color=WATER,
                linewidth=1.0,
                marker=WATER_MARK,
                markersize=8,
                markerfacecolor="white",
                markeredgewidth=0.8,
            ),
            "free water",
        )
    )
    if cut.aquifer is not None:
        rows.append(
            (
                Patch(facecolor=IN_PIPE, edgecolor=INK, linewidth=0.5),
                f"head in {in_words(cut.aquifer)} (standpipe)",
            )
        )
        rows.append((Patch(facecolor=WATER, alpha=0.35), "head, 5 to 95 %"))
    if any(state.formation_bounds[1] > state.formation_bounds[0] for state in cut.states):
        rows.append((Patch(facecolor=AMBER, edgecolor=AMBER_EDGE, linewidth=0.5), "formation, 5 to 95 %"))
    return rows
