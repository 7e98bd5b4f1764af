"""The record of one section at one stage that every mechanism reads.

A *block* is one section of the cut at one stage of the works. The compiled study fills one
:class:`Block` per block: with floats (at the means) or with one-dimensional arrays of equal length
(one entry a sampled row). A quantity that is certain stays a float, so every formula must broadcast.
Nothing here knows whether a number is uncertain.

All levels are in metres above the site datum, positive upwards; forces in kN, lengths in m, stresses
and pressures in kPa, unit weights in kN/m3, angles in degrees, temperature changes in degrees C.
Which entries exist (strata, props, slab, piles) is the same for every row of a block.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Number = float | NDArray[np.float64]
"""A float, or one value a row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """One layer of ground. Undrained where ``su_at_top`` is given, drained where ``friction_angle`` is."""

    name: str
    top: Number
    """Level of the top of the layer; its bottom is the top of the next, the last one has none."""
    unit_weight: Number
    """Total (bulk) unit weight, kN/m3."""
    su_at_top: Number | None = None
    """Undrained shear strength at the top of the layer, kPa."""
    su_per_metre: Number = 0.0
    """Growth of the undrained shear strength with depth below the layer's top, kPa/m."""
    friction_angle: Number | None = None
    """Effective angle of friction, degrees."""
    cohesion: Number = 0.0
    """Effective cohesion, kPa."""

    @property
    def undrained(self) -> bool:
        """Whether the layer is read by its undrained strength."""
        return self.su_at_top is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aquifer:
    """A confined aquifer: the named stratum, under a piezometric head that is a level."""

    stratum: str
    head: Number
    """Piezometric level in the aquifer at this stage, drawdown already taken off, m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """The retaining wall around the cut."""

    toe: Number
    thickness: Number
    top: Number | None = None
    """Level of the wall's top; None: the ground surface."""
    unit_weight: Number = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Prop:
    """One level of props that stands at this stage."""

    name: str
    level: Number
    spacing: Number
    """Centre to centre along the wall, m."""
    resistance: Number
    """Axial resistance of one prop, kN."""
    made: Literal["in_situ", "precast", "steel"]
    loaded: bool
    """Whether the cut was deepened, or another prop removed, since the prop was installed."""
    area: Number | None = None
    """Cross-section of one prop, m2; with ``modulus`` it makes the load from temperature."""
    modulus: Number | None = None
    """Young's modulus, kPa."""
    thermal_expansion: Number = 1.2e-5
    """Per degree C."""
    restraint: Number = 1.0
    """Degree of restraint of the prop's ends against thermal movement, 0 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slab:
    """The base slab, once cast: its underside is the formation."""

    thickness: Number
    unit_weight: Number
    fill: Number = 0.0
    """Permanent load on the slab (fill, structure above), per plan area, kPa."""
    heave_relief: Number | None = None
    """Share of the vertical stress relieved at formation that comes back on the slab as heave pressure in
    the long term; None: not stated."""
    carries_walls: bool = False
    """Whether the connection of slab and walls lets the slab lift the walls with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeLoad:
    """A load on the surface beside the cut: a strip along the wall, or a patch."""

    name: str
    pressure: Number
    """kPa on its own area."""
    distance: Number
    """From the wall's face to the near edge of the load, m."""
    width: Number
    """Across the wall, m."""
    length: Number | None = None
    """Along the wall, m; None: a strip without end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piles:
    """Tension piles below the formation, on a grid over the plan, once installed."""

    diameter: Number
    length: Number
    """Below the formation of the finished dig, m."""
    head: Number
    """Level of the piles' head: the finished formation, m."""
    spacing_along: Number
    spacing_across: Number
    adhesion: Number
    """Shaft adhesion over undrained shear strength (alpha) in undrained layers."""
    shaft_ratio: Number
    """Shaft friction over vertical effective stress (beta) in drained layers."""
    steel_resistance: Number
    """Tension resistance of one pile's steel, kN."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One section at one stage, as a mechanism sees it."""

    section: str
    stage: str
    width: Number
    """The shorter side of the cut in plan, m."""
    length: Number
    """The longer side of the cut in plan, m."""
    strata: tuple[Stratum, ...]
    """From the surface down; the top of the first is the ground surface."""
    formation: Number
    """Level that the cut is dug to at this stage, m."""
    dug: bool
    """Whether any dig has been made by this stage."""
    water_table: Number
    """Level of the free water outside the cut, m."""
    water_inside: Number
    """Level of the free water inside the cut, m; not below ``formation`` (kept dry: equal to it)."""
    surcharge: Number
    """Uniform, on the surface beside the cut, kPa."""
    temperature_rise: Number
    """Of the props above their temperature when installed, degrees C."""
    water_under_slab: Number | None = None
    """Level to which the water under the slab stands, m; None: that of the free water outside."""
    edge_loads: tuple[EdgeLoad, ...] = ()
    """Loads of plant and stores beside the cut at this stage, apart from ``surcharge``."""
    permanent: bool = False
    """Whether the stage is of the finished works."""
    aquifer: Aquifer | None = None
    wall: Wall | None = None
    props: tuple[Prop, ...] = ()
    """Those that stand at this stage, from the top down."""
    slab: Slab | None = None
    piles: Piles | None = None
    model_factors: Mapping[str, Number] = field(default_factory=dict)
    """Keyed by limit state, ``mechanism/member``."""
    options: Mapping[str, Mapping[str, str | float]] = field(default_factory=dict)
    """Choices of method by mechanism, from the study's ``models``; only what the study states."""

    @property
    def surface(self) -> Number:
        """Ground surface, m."""
        return self.strata[0].top
