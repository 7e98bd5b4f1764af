"""The works of a drawn section: wall, props, slab, tension piles, and the surcharge beside the cut."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.path import Path as Outline

from riskcut.figures.cut_levels import Cut, Extent, Pile, State
from riskcut.figures.palette import INK
from riskcut.results.wording import in_words

CONCRETE = "#9a9d9c"
PILE = "#c9cbc9"
MADE = {
    "in_situ": (CONCRETE, "prop, in situ concrete"),
    "precast": ("#ffffff", "prop, precast concrete"),
    "steel": ("#26313a", "prop, steel"),
}
"""Fill and words of a prop by how it is made: grey, white and nearly black."""
LOAD = "#7a3b2e"
_TIP = Outline([(0.0, 0.0), (-0.5, 1.1), (0.5, 1.1), (0.0, 0.0)])
"""Head of an arrow down that ends where it stands."""


def draw_wall(axes: Axes, cut: Cut, extent: Extent) -> None:
    """Draw the wall on both sides, from the surface to its toe."""
    if cut.wall_toe is None:
        return
    for left in (-extent.outer, extent.half):
        axes.add_patch(
            Rectangle(
                (left, cut.wall_toe),
                cut.wall_thickness,
                cut.surface - cut.wall_toe,
                facecolor=CONCRETE,
                edgecolor=INK,
                linewidth=0.8,
                zorder=5,
                label="wall",
            )
        )


def draw_props(axes: Axes, cut: Cut, state: State, extent: Extent, *, named: bool) -> None:
    """Draw the props that stand at this stage, with their names where there is room."""
    depth = extent.prop_depth
    for prop in cut.props:
        if prop.name not in state.standing:
            continue
        fill, _ = MADE[prop.made]
        thin = 0.6 if prop.made == "steel" else 1.0
        axes.add_patch(
            Rectangle(
                (-extent.half, prop.level - thin * depth / 2),
                cut.width,
                thin * depth,
                facecolor=fill,
                edgecolor=INK,
                linewidth=0.8,
                zorder=5.5,
                label=f"prop {prop.name}: {prop.made}",
            )
        )
        if prop.made == "precast":  # the joints at its ends, which tell it from a cast one
            joint = min(0.04 * cut.width, 1.0)
            axes.vlines(
                (-extent.half + joint, extent.half - joint),
                prop.level - depth / 2,
                prop.level + depth / 2,
                color=INK,
                linewidth=0.8,
                zorder=5.6,
            )
        if named:
            axes.annotate(
                in_words(prop.name),
                (0.0, prop.level + depth / 2),
                xytext=(0, 1),
                fontsize=7.5,
                ha="center",
                textcoords="offset points",
                va="bottom",
                zorder=7,
            )


def draw_base(axes: Axes, cut: Cut, state: State, extent: Extent) -> None:
    """Draw the piles and the slab, once they are there; the slab's underside is the formation."""
    if state.piles_installed and cut.piles is not None:
        for x in pile_positions(cut.piles, cut.width):
            axes.add_patch(
                Rectangle(
                    (x - cut.piles.diameter / 2, cut.piles.head - cut.piles.length),
                    cut.piles.diameter,
                    cut.piles.length,
                    facecolor=PILE,
                    edgecolor=INK,
                    linewidth=0.6,
                    zorder=3,
                    label="tension pile",
                )
            )
    if state.slab_cast and cut.slab_thickness is not None:
        axes.add_patch(
            Rectangle(
                (-extent.half, state.formation),
                cut.width,
                cut.slab_thickness,
                facecolor=CONCRETE,
                edgecolor=INK,
                linewidth=0.8,
                zorder=5.2,
                label="base slab",
            )
        )


def pile_positions(piles: Pile, width: float) -> list[float]:
    """Place the piles across the cut at their spacing, about the middle, none in the wall."""
    count = max(1, math.floor((width - piles.diameter) / piles.spacing + 1e-9) + 1)
    if count > 1 and width - (count - 1) * piles.spacing < piles.spacing / 2:
        count -= 1
    return [(number - (count - 1) / 2.0) * piles.spacing for number in range(count)]


def draw_surcharge(axes: Axes, cut: Cut, state: State, extent: Extent) -> None:
    """Draw the surcharge as arrows onto the surface beside the cut, with its size."""
    if not state.surcharge > 0:
        return
    base = max(cut.surface, state.water_table)
    top = base + extent.arrow
    beside = extent.side - extent.outer
    for sign in (-1.0, 1.0):
        at = sign * np.linspace(extent.outer + 0.08 * beside, extent.side - 0.04 * beside, 6)
        axes.vlines(at, base, top, color=LOAD, linewidth=0.7, zorder=4.5)
        axes.plot(
            at,
            np.full(at.size, base),
            marker=_TIP,
            markersize=7,
            color=LOAD,
            linestyle="none",
            zorder=4.6,
            markeredgewidth=0,
            label="surcharge",
        )
        axes.hlines(top, at.min(), at.max(), color=LOAD, linewidth=0.7, zorder=4.5)
    axes.annotate(
        f"{state.surcharge:.3g} kPa",
        (extent.side - beside / 2, top),
        xytext=(0, 1.5),
        fontsize=7.5,
        textcoords="offset points",
        ha="center",
        va="bottom",
        color=LOAD,
        zorder=7,
    )


def draw_edge_loads(axes: Axes, cut: Cut, state: State, extent: Extent) -> None:
    """Draw each load of plant or stores as a block on the surface to the right of the cut, with its size."""
    base = max(cut.surface, state.water_table)
    for load in state.edge_loads:
        near = extent.outer + load.distance
        far = min(near + load.width, extent.side)
        if near >= extent.side:
            continue
        axes.add_patch(
            Rectangle(
                (near, base),
                far - near,
                0.55 * extent.arrow,
                facecolor=LOAD,
                alpha=0.35,
                edgecolor=LOAD,
                linewidth=0.8,
                zorder=4.7,
                label="edge load",
            )
        )
        axes.annotate(
            f"{in_words(load.name)}\n{load.pressure:.3g} kPa",
            (0.5 * (near + far), base),
            xytext=(0, -3),
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8},
            fontsize=7,
            textcoords="offset points",
            ha="center",
            va="top",
            color=LOAD,
            zorder=7,
        )


def works_key(cut: Cut) -> list[tuple[Artist, str]]:
    """Explain the works that are drawn at some stage of this section."""

    def patch(fill: str) -> Patch:
        return Patch(facecolor=fill, edgecolor=INK, linewidth=0.8)

    rows: list[tuple[Artist, str]] = []
    solid = ["wall"] if cut.wall_toe is not None else []
    solid += ["base slab"] if any(state.slab_cast for state in cut.states) else []
    if solid:
        rows.append((patch(CONCRETE), ", ".join(solid)))
    standing = {name for state in cut.states for name in state.standing}
    made = {prop.made for prop in cut.props if prop.name in standing}
    rows += [(patch(fill), words) for kind, (fill, words) in MADE.items() if kind in made]
    if any(state.piles_installed for state in cut.states):
        rows.append((patch(PILE), "tension pile"))
    if any(state.surcharge > 0 for state in cut.states):
        rows.append((Line2D([], [], color=LOAD, linewidth=0.7, marker="v", markersize=4), "surcharge"))
    if any(state.edge_loads for state in cut.states):
        rows.append((Patch(facecolor=LOAD, alpha=0.35, edgecolor=LOAD), "load of plant or stores"))
    return rows
