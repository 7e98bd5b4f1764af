"""What is drawn of one section: its levels and lengths, read from the tree once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from riskcut.figures.choosing import names


@dataclass(frozen=True, slots=True)
class Layer:
    """One stratum, with the 5 and 95 % quantiles of its top; its bottom is the next one's top."""

    name: str
    top: float
    top_bounds: tuple[float, float]
    undrained: bool

    @property
    def kind(self) -> str:
        """The word for how it is read."""
        return "undrained" if self.undrained else "drained"


@dataclass(frozen=True, slots=True)
class PropRow:
    """One level of props."""

    name: str
    level: float
    made: str


@dataclass(frozen=True, slots=True)
class EdgeLoad:
    """A load of plant or stores beside the cut."""

    name: str
    pressure: float
    distance: float
    width: float


@dataclass(frozen=True, slots=True)
class State:
    """The section at one stage."""

    stage: str
    phase: str
    formation: float
    formation_bounds: tuple[float, float]
    water_table: float
    water_inside: float
    head: float | None
    head_bounds: tuple[float, float]
    surcharge: float
    edge_loads: tuple[EdgeLoad, ...]
    standing: tuple[str, ...]
    slab_cast: bool
    piles_installed: bool


@dataclass(frozen=True, slots=True)
class Pile:
    """The tension piles."""

    head: float
    length: float
    diameter: float
    spacing: float


@dataclass(frozen=True, slots=True)
class Cut:
    """A section of the cut and its stages; levels and lengths in m, the surcharge in kPa."""

    section: str
    surface: float
    width: float
    layers: tuple[Layer, ...]
    wall_toe: float | None
    wall_thickness: float
    props: tuple[PropRow, ...]
    slab_thickness: float | None
    piles: Pile | None
    aquifer: str | None
    states: tuple[State, ...]


def read_cut(tree: xr.DataTree, section: str) -> Cut:
    """Read one section.

    Parameters
    ----------
    tree
        The results, with their group ``cut``.
    section
        Which; a stage that it does not have is left out.
    """
    group = tree["cut"].to_dataset().isel(section=names(tree, "section").index(section))
    arrays: dict[str, NDArray[Any]] = {str(name): np.asarray(group[name].values) for name in group.data_vars}
    phases = tree["reliability"].dataset["phase"].isel(section=names(tree, "section").index(section)).values

    def has(flag: str) -> bool:
        return bool(arrays[flag])

    layers = tuple(
        Layer(
            name,
            float(arrays["stratum_top"][i]),
            _pair(arrays["stratum_top_bounds"][i]),
            str(arrays["stratum_kind"][i]) == "undrained",
        )
        for i, name in enumerate(names(tree, "stratum"))
        if arrays["has_stratum"][i]
    )
    props = tuple(
        PropRow(name, float(arrays["prop_level"][i]), str(arrays["prop_made"][i]))
        for i, name in enumerate(names(tree, "prop"))
        if arrays["has_prop"][i]
    )
    piles = None
    if has("has_piles"):
        piles = Pile(*(float(arrays[f"pile_{what}"]) for what in ("head", "length", "diameter", "spacing")))
    states = tuple(
        State(
            stage=stage,
            phase=str(phases[j]),
            formation=float(arrays["formation"][j]),
            formation_bounds=_pair(arrays["formation_bounds"][j]),
            water_table=float(arrays["water_table"][j]),
            water_inside=float(arrays["water_inside"][j]),
            head=float(arrays["aquifer_head"][j]) if has("has_aquifer") else None,
            head_bounds=_pair(arrays["aquifer_head_bounds"][j]),
            surcharge=float(arrays["surcharge"][j]),
            edge_loads=tuple(
                EdgeLoad(
                    name, *(float(arrays[f"edge_{what}"][j, i]) for what in ("pressure", "distance", "width"))
                )
                for i, name in enumerate(names(tree, "edge_load"))
                if arrays["edge_load_stands"][j, i]
            ),
            standing=tuple(
                name
                for i, name in enumerate(names(tree, "prop"))
                if arrays["has_prop"][i] and arrays["prop_standing"][j, i]
            ),
            slab_cast=has("has_slab") and bool(arrays["slab_cast"][j]),
            piles_installed=has("has_piles") and bool(arrays["piles_installed"][j]),
        )
        for j, stage in enumerate(names(tree, "stage"))
        if arrays["stage_applies"][j]
    )
    return Cut(
        section=section,
        surface=float(arrays["ground_surface"]),
        width=float(arrays["cut_width"]),
        layers=layers,
        wall_toe=float(arrays["wall_toe"]) if has("has_wall") else None,
        wall_thickness=float(arrays["wall_thickness"]) if has("has_wall") else 0.0,
        props=props,
        slab_thickness=float(arrays["slab_thickness"]) if has("has_slab") else None,
        piles=piles,
        aquifer=str(arrays["aquifer_stratum"]) if has("has_aquifer") else None,
        states=states,
    )


def _pair(bounds: NDArray[Any]) -> tuple[float, float]:
    return float(bounds[0]), float(bounds[1])


@dataclass(frozen=True, slots=True)
class Extent:
    """What every panel of a section shows, m: the cut, the ground beside it, and what lies below."""

    half: float
    """Half the width of the cut."""
    outer: float
    """From the middle of the cut to the back of the wall."""
    side: float
    """From the middle of the cut to the edge of the drawing."""
    bottom: float
    top: float

    @property
    def width(self) -> float:
        """Of the drawing."""
        return 2.0 * self.side

    @property
    def height(self) -> float:
        """Of the drawing."""
        return self.top - self.bottom

    @property
    def arrow(self) -> float:
        """Length of an arrow of the surcharge."""
        return 0.055 * self.height

    @property
    def prop_depth(self) -> float:
        """Depth at which props are drawn; the results hold none."""
        return max(0.02 * self.height, 0.5)


def extent_of(cut: Cut) -> Extent:
    """Choose what is shown of a section, the same at every stage so that stages compare.

    Down to the works, the aquifer, and those strata that begin within a depth of the dig (or half the width
    of the cut) below the works; strata that begin deeper are not drawn.
    """
    deepest = min(state.formation_bounds[0] for state in cut.states)
    works = [deepest]
    if cut.wall_toe is not None:
        works.append(cut.wall_toe)
    if cut.piles is not None:
        works.append(cut.piles.head - cut.piles.length)
    reach = min(works) - max(cut.surface - deepest, cut.width / 2.0)
    lowest = works + [
        layer.top_bounds[0] for layer in cut.layers if layer.top > reach or layer.name == cut.aquifer
    ]
    highest = [cut.surface] + [state.water_table for state in cut.states]
    highest += [state.head_bounds[1] for state in cut.states if state.head is not None]
    depth = max(max(highest) - min(lowest), 0.25 * cut.width)
    half = cut.width / 2.0
    outer = half + cut.wall_thickness
    beside = min(max(0.38 * depth, 0.25 * cut.width), 0.6 * depth)
    bottom = min(max(highest) - depth, min(lowest)) - 0.1 * depth
    return Extent(half, outer, outer + beside, bottom, max(highest) + 0.12 * depth)


def visible_layers(cut: Cut, extent: Extent) -> list[tuple[Layer, float]]:
    """Return the strata that reach into the drawing, each with the level where it ends there."""
    ends = [layer.top for layer in cut.layers[1:]] + [extent.bottom]
    return [
        (layer, max(end, extent.bottom))
        for layer, end in zip(cut.layers, ends, strict=True)
        if layer.top > extent.bottom
    ]
