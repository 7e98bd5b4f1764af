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

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Number = float | NDArray[np.float64]
"""A float, or one value a row."""
Rows = bool | NDArray[np.bool_]
"""A truth, or one a row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LongTerm:
    """Drained strength of a layer that is read undrained, for when it has had time to swell."""

    friction_angle: Number
    """Effective angle of friction, degrees."""
    cohesion: Number = 0.0
    """Effective cohesion, kPa."""


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
    long_term: LongTerm | None = None
    """Of an undrained layer: its strength once drained; None: not stated."""
    consolidation: Number | None = None
    """Coefficient of consolidation (swelling), m2/year; None: not stated."""
    permeability: Number | None = None
    """m/s; None: not stated."""

    @property
    def undrained(self) -> bool:
        """Whether the layer is read by its undrained strength."""
        return self.su_at_top is not None


class Strata(tuple[Stratum, ...]):
    """The strata of one filled block from the surface down, with what has been worked out of them so far.

    The mechanisms of a block ask for the same parts of the same ground (:mod:`riskcut.ground.once`). What they find
    lives no longer than the block, that is for one set of rows.
    """

    found: dict[Hashable, Any]

    def __new__(cls, strata: tuple[Stratum, ...]) -> Strata:
        """Return the strata with nothing worked out yet."""
        made = super().__new__(cls, strata)
        made.found = {}
        return made


@dataclass(frozen=True, slots=True, kw_only=True)
class WellLoss:
    """Relief wells that stand still: what of the drawdown is lost when they work again."""

    drawdown: Number
    """With the wells as planned, m."""
    share: float
    """Of the drawdown that those which stand still had kept, 0 to 1."""
    response_time: Number | None = None
    """Until they work again, h; None: not in time."""
    recovery_time: Number | None = None
    """In which the head makes up 63 % of what it will, h; None: at once."""

    @property
    def rise(self) -> Number:
        """Rise of the aquifer's head until the wells work again, m."""
        if self.response_time is None or self.recovery_time is None:
            return self.share * self.drawdown
        rise: Number = -self.share * self.drawdown * np.expm1(-self.response_time / self.recovery_time)
        return rise


@dataclass(frozen=True, slots=True, kw_only=True)
class Aquifer:
    """A confined aquifer: the named stratum, under a piezometric head that is a level."""

    stratum: str
    head: Number
    """Piezometric level in the aquifer with all wells as planned, drawdown already taken off, m."""
    loss: WellLoss | None = None
    """Of relief wells; None: they work as planned, or there are none."""
    reaches: Number | None = None
    """Level up to which a defect of the ground or of the cut-off carries the aquifer's pressure, m; None: none."""

    @property
    def level(self) -> Number:
        """Piezometric level that acts, with what is lost of the drawdown, m."""
        return self.head if self.loss is None else self.head + self.loss.rise


@dataclass(frozen=True, slots=True, kw_only=True)
class Perched:
    """Water that stands on a stratum, above the groundwater proper."""

    level: Number
    on: str
    """Name of the stratum on whose top it stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sumps:
    """The pumps that keep the cut dry."""

    running: int
    """Pumps that run."""
    capacity: Number
    """Of one pump, m3/h."""
    runoff: Number = 1.0
    """Share of the rain on the plan area that reaches the sumps."""
    inflow: Number | None = None
    """Of groundwater, m3/h, as stated; None: from the permeability of the ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """The retaining wall around the cut."""

    toe: Number
    thickness: Number
    top: Number | None = None
    """Level of the wall's top; None: the ground surface."""
    unit_weight: Number = 24.0
    adhesion: Number | None = None
    """Adhesion over undrained shear strength on its faces, undrained layers; None: not counted."""
    friction_ratio: Number | None = None
    """Friction over vertical effective stress on its faces, drained layers; None: not counted."""
    bending_resistance: Number | None = None
    """Per metre of wall, kN m/m; None: not counted."""


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
    open_for: float | None = None
    """Years for which the formation has lain open by the end of the stage; None: not stated."""
    pore_pressure: Literal["hydrostatic", "to_aquifer"] = "hydrostatic"
    """Of the ground between the free water and the aquifer: hydrostatic, or changing evenly to the aquifer's."""
    perched: Perched | None = None
    rain: Number = 0.0
    """Intensity of the rain on the plan area of the cut, mm/h."""
    sumps: Sumps | None = None
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
