"""The shape of a study file: what may be written, where, in which unit.

Each class is one mapping of the file. ``drawn`` says how the numbers of a mapping vary unless the
writer states otherwise: one draw for all (``constant``), one a stage or season (``per_stage``), one a
section (``per_section``). Rules that tie several entries together are in :mod:`riskcut.study.rules`.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from riskcut.study.fields import (
    Beta,
    Between,
    Choice,
    Correlation,
    Count,
    Name,
    Names,
    Probability,
    Rate,
    TargetPeriod,
    Text,
    Years,
    Yes,
)
from riskcut.study.measures import (
    Angle,
    Area,
    Chainage,
    Cohesion,
    Consolidation,
    Expansion,
    Flow,
    Force,
    Hours,
    Length,
    Level,
    Lowering,
    Modulus,
    Moment,
    Permeability,
    Pressure,
    Rain,
    Ratio,
    Share,
    Strength,
    StrengthGrowth,
    Temperature,
    UnitWeight,
)
from riskcut.study.quantity import Quantity, Varies
from riskcut.study.uncertain import is_number


class Entry(BaseModel):
    """A mapping of the study file."""

    model_config = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True, frozen=True)
    drawn: ClassVar[Varies] = "constant"
    drawn_once: ClassVar[tuple[str, ...]] = ()
    """Fields that are one draw all the same."""

    @classmethod
    def varies(cls, name: str) -> Varies:
        """Return how a field varies unless the writer states otherwise."""
        return "constant" if name in cls.drawn_once else cls.drawn


def _certain(number: float, unit: str) -> Quantity:
    """Return the certain quantity that stands where the writer gave none."""
    return Quantity(kind="certain", value=number, unit=unit)


class Target(Entry):
    """The reliability that a limit state must reach."""

    beta: Beta | None = Field(default=None, description="Target reliability index.")
    consequence_class: Literal["CC1", "CC2", "CC3"] | None = Field(
        default=None, description="Takes the target of EN 1990 Table B2 for the stated period."
    )
    period: TargetPeriod | None = Field(default=None, description="Period that the target refers to.")
    source: Text = Field(default="", description="Who asks for it.")


class Targets(Entry):
    """Targets by phase; a stage may state its own."""

    temporary: Target | None = None
    permanent: Target | None = None


class UndrainedStrength(Entry):
    """Undrained shear strength that may grow with depth."""

    drawn: ClassVar[Varies] = "per_section"
    at_top: Strength = Field(description="Undrained shear strength at the top of the layer.")
    per_metre: StrengthGrowth = Field(
        default=_certain(0.0, "kPa/m"), description="Its growth with depth below the top of the layer."
    )


def strength(given: Any) -> Any:
    """Read a strength given as one number as a strength that does not grow with depth."""
    return {"at_top": given} if is_number(given) or not isinstance(given, dict | UndrainedStrength) else given


class LongTermStrength(Entry):
    """Drained strength of an undrained layer, for when it has had time to swell."""

    drawn: ClassVar[Varies] = "per_section"
    friction_angle: Angle = Field(description="Effective angle of friction in the long term.")
    cohesion: Cohesion = Field(
        default=_certain(0.0, "kPa"), description="Effective cohesion in the long term."
    )


class Stratum(Entry):
    """One layer of ground, from its top to the top of the next."""

    drawn: ClassVar[Varies] = "per_section"
    top: Level = Field(description="Level of the layer's top; of the first: the ground surface.")
    unit_weight: UnitWeight = Field(description="Total (bulk) unit weight.")
    su: Annotated[UndrainedStrength, BeforeValidator(strength)] | None = Field(
        default=None, description="Undrained shear strength: the layer is read as undrained."
    )
    friction_angle: Angle | None = Field(
        default=None, description="Effective angle of friction: the layer is read as drained."
    )
    cohesion: Cohesion = Field(
        default=_certain(0.0, "kPa"), description="Effective cohesion of a drained layer."
    )
    long_term: LongTermStrength | None = Field(
        default=None, description="Drained strength of an undrained layer, if it stands open long enough."
    )
    consolidation: Consolidation | None = Field(
        default=None, description="Coefficient of consolidation (swelling) of an undrained layer."
    )
    permeability: Permeability | None = Field(default=None, description="Coefficient of permeability.")
    note: Text = Field(default="", description="What a reader should know of the layer.")


class Ground(Entry):
    """The ground, from the surface down."""

    strata: dict[str, Stratum] = Field(min_length=1, description="The layers by name, from the surface down.")


class AquiferEntry(Entry):
    """A confined aquifer below the cut."""

    drawn: ClassVar[Varies] = "per_stage"
    stratum: Name = Field(description="The stratum that holds it.")
    head: Level = Field(description="Its natural piezometric level, before any drawdown.")


class PerchedEntry(Entry):
    """Water that stands on a layer above the groundwater proper."""

    drawn: ClassVar[Varies] = "per_stage"
    level: Level = Field(description="Level of the perched water.")
    on: Name = Field(description="The stratum on which it stands; below its top the table rules.")


class ReliefWells(Entry):
    """The pumped wells that lower the aquifer's head in the stages that state a drawdown."""

    drawn: ClassVar[Varies] = "per_stage"
    drawn_once: ClassVar[tuple[str, ...]] = ("recovery_time",)
    installed: Count = Field(description="Number of wells.")
    needed: Count = Field(description="How many have to work for the drawdown that a stage states.")
    failure_rate: Rate | None = Field(default=None, description="How often one well or its pump fails.")
    repair: Years | None = Field(
        default=None, description="Until a well that failed works again, such as 3 days."
    )
    common_failure_rate: Rate | None = Field(
        default=None, description="How often all fail at once: power, header main, control."
    )
    response_time: Hours | None = Field(
        default=None, description="From a loss of all wells until they work again, or the base is weighted."
    )
    recovery_time: Hours | None = Field(
        default=None,
        description="In which the aquifer's head makes up 63 % of its drawdown once all wells stand still.",
    )
    basis: Literal["measured", "published", "judgement"] = Field(description="What the rates rest on.")
    source: Text = Field(description="Where the rates come from, in words.")
    note: Text = Field(default="", description="What a reader should know of the wells.")


class Sumps(Entry):
    """The pumps that keep the cut dry while it is open (temporary stages): inflow of groundwater, and rain."""

    drawn_once: ClassVar[tuple[str, ...]] = ("capacity", "runoff")
    drawn: ClassVar[Varies] = "per_stage"
    pumps: Count = Field(description="Number of pumps, standby included.")
    capacity: Flow = Field(description="Of one pump, at the lift of the finished dig.")
    inflow: Flow | None = Field(
        default=None,
        description="Of groundwater, as measured or by another calculation; without it: from permeability.",
    )
    runoff: Share = Field(
        default=_certain(1.0, "1"), description="Share of the rain on the plan area that reaches the sumps."
    )
    failure_rate: Rate | None = Field(default=None, description="How often one pump fails.")
    repair: Years | None = Field(default=None, description="Until a pump that failed works again.")
    common_failure_rate: Rate | None = Field(
        default=None, description="How often all fail at once for longer than the cut takes to flood."
    )
    basis: Literal["measured", "published", "judgement"] = Field(description="What the rates rest on.")
    source: Text = Field(description="Where the rates come from, in words.")
    note: Text = Field(default="", description="What a reader should know of the pumps.")


class Water(Entry):
    """Groundwater outside and below the cut, and what is pumped."""

    drawn: ClassVar[Varies] = "per_stage"
    table: Level = Field(description="Level of the free water outside the cut.")
    perched: PerchedEntry | None = None
    pore_pressure: Literal["hydrostatic", "to_aquifer"] = Field(
        default="hydrostatic",
        description="Of the ground between table and aquifer: hydrostatic from the table, or changing evenly "
        "to the aquifer's (under-drained, or artesian).",
    )
    aquifer: AquiferEntry | None = None
    relief_wells: ReliefWells | None = None
    sumps: Sumps | None = None
    rain: Rain | None = Field(default=None, description="Intensity of the rain on the plan area of the cut.")


class EdgeLoadEntry(Entry):
    """A load of plant or stores on the surface beside the cut: a strip along the wall, or a patch."""

    drawn: ClassVar[Varies] = "per_stage"
    pressure: Pressure = Field(description="On the load's own area.")
    distance: Lowering = Field(description="From the wall's face to the near edge of the load.")
    width: Length = Field(description="Across the wall.")
    length: Length | None = Field(
        default=None, description="Along the wall, of a patch; without it: a strip without end."
    )
    note: Text = Field(default="", description="What a reader should know of the load.")


class Loads(Entry):
    """Variable actions; a stage may change them from there on."""

    drawn: ClassVar[Varies] = "per_stage"
    surcharge: Pressure | None = Field(default=None, description="Uniform, on the surface beside the cut.")
    temperature_rise: Temperature | None = Field(
        default=None, description="Of the props, above their temperature when installed."
    )
    edge: dict[str, EdgeLoadEntry] | None = Field(
        default=None, description="Loads of plant and stores beside the cut, by name; {} takes them away."
    )


class Cut(Entry):
    """The cut in plan."""

    width: Length = Field(description="The shorter side in plan.")
    length: Length = Field(description="The longer side in plan.")
    start: Chainage | None = Field(
        default=None, description="Chainage of the section's start, along a long cut."
    )
    end: Chainage | None = Field(default=None, description="Chainage of its end.")


class WallEntry(Entry):
    """The wall around the cut."""

    toe: Level = Field(description="Level of the wall's toe.")
    thickness: Length = Field(description="Thickness of the wall.")
    top: Level | None = Field(default=None, description="Level of its top; without it: the ground surface.")
    unit_weight: UnitWeight = Field(default=_certain(24.0, "kN/m3"), description="Of the wall.")
    adhesion: Share | None = Field(
        default=None,
        description="Adhesion over undrained shear strength on the wall's faces; without it: not counted.",
    )
    friction_ratio: Ratio | None = Field(
        default=None,
        description="Friction over vertical effective stress on the wall's faces, drained layers; without it: "
        "not counted.",
    )
    bending_resistance: Moment | None = Field(
        default=None, description="Per metre of wall; without it: not counted."
    )


class PropEntry(Entry):
    """One level of props."""

    level: Level = Field(description="Level of the props' axis.")
    spacing: Length = Field(description="Centre to centre along the wall.")
    made: Literal["in_situ", "precast", "steel"] = Field(description="How the prop is made.")
    resistance: Force = Field(description="Axial resistance of one prop.")
    area: Area | None = Field(
        default=None, description="Cross-section of one prop; with modulus: load from temperature."
    )
    modulus: Modulus | None = Field(default=None, description="Young's modulus of the prop.")
    thermal_expansion: Expansion = Field(default=_certain(1.2e-5, "1/degC"), description="Per degree C.")
    restraint: Share = Field(
        default=_certain(1.0, "1"), description="Degree of restraint of the ends against thermal movement."
    )
    note: Text = Field(default="", description="What a reader should know of the props.")


class SlabEntry(Entry):
    """The base slab; its underside is the finished formation."""

    thickness: Length = Field(description="Thickness of the slab.")
    unit_weight: UnitWeight = Field(description="Of the slab.")
    fill: Pressure = Field(
        default=_certain(0.0, "kPa"), description="Permanent load on the slab, per plan area of the cut."
    )
    heave_relief: Share | None = Field(
        default=None,
        description="Share of the vertical stress relieved at formation that returns on the slab as heave "
        "pressure in the long term.",
    )
    carries_walls: Yes = Field(
        default=False, description="Whether the connection lets the slab lift the walls with it."
    )


class PilesEntry(Entry):
    """Tension piles on a grid below the finished formation."""

    diameter: Length = Field(description="Diameter of the shaft.")
    length: Length = Field(description="Below the finished formation.")
    spacing_along: Length = Field(description="Centre to centre, along the cut.")
    spacing_across: Length = Field(description="Centre to centre, across the cut.")
    adhesion: Share = Field(
        description="Shaft adhesion over undrained shear strength (alpha), undrained layers."
    )
    shaft_ratio: Ratio = Field(
        description="Shaft friction over vertical effective stress (beta), drained layers."
    )
    steel_resistance: Force = Field(description="Tension resistance of one pile's steel.")


class Works(Entry):
    """What is built."""

    cut: Cut
    wall: WallEntry | None = None
    props: dict[str, PropEntry] = Field(default_factory=dict, description="The levels of props, by name.")
    slab: SlabEntry | None = None
    tension_piles: PilesEntry | None = None


class StageWater(Entry):
    """Water levels that this stage changes, from there on."""

    drawn: ClassVar[Varies] = "per_stage"
    drawn_once: ClassVar[tuple[str, ...]] = ("drawdown",)
    """The same wells in the same ground lower the head in every stage by the same."""

    table: Level | None = Field(default=None, description="Level of the free water outside the cut.")
    inside: Level | None = Field(
        default=None, description="Level of the water inside the cut; without it: kept dry."
    )
    drawdown: Lowering | None = Field(
        default=None,
        description="By which wells lower the aquifer's head below its natural level; 0: wells off.",
    )
    aquifer_reaches: Level | None = Field(
        default=None,
        description="Level up to which a defect (a sand window, an open borehole, a leaking joint) carries "
        "the aquifer's pressure.",
    )
    rain: Rain | None = Field(default=None, description="Intensity of the rain on the plan area of the cut.")
    under_slab: Level | None = Field(
        default=None,
        description="Level to which the water under the slab stands; without it: that of the table.",
    )


class Stage(Entry):
    """One stage of the works, as it stands when its own work is done.

    Within a stage the order of work is: dig, install, cast, remove.
    """

    phase: Literal["temporary", "permanent"] = Field(
        default="temporary", description="Whose target it must reach: works under way, or finished."
    )
    dig_to: Level | None = Field(default=None, description="Level that the cut is dug to.")
    overdig: Lowering | None = Field(
        default=None, description="By which the dig goes below dig_to: seen by every mechanism."
    )
    install: Names = Field(default_factory=list, description="Props, or tension_piles.")
    remove: Names = Field(default_factory=list, description="Props.")
    cast: Literal["slab"] | None = Field(default=None, description="The base slab.")
    water: StageWater = Field(default_factory=lambda: StageWater())
    loads: Loads = Field(default_factory=lambda: Loads())
    lasts: Years | None = Field(default=None, description="How long it lasts, such as 2 months.")
    season: Name | None = Field(
        default=None,
        description="Stages of one season share one draw of each quantity that varies per stage.",
    )
    target: Target | None = Field(default=None, description="Its own target, else that of its phase.")
    note: Text = Field(default="", description="What a reader should know of the stage.")


class Event(Entry):
    """Something that may happen during a stage and changes its water: loss of wells, of pumps."""

    stages: Names = Field(min_length=1, description="The stages during which it may happen.")
    water: StageWater = Field(description="What it changes, while the stage lasts.")
    rate: Rate | None = Field(
        default=None, description="How often it happens; the stage's length makes it a probability."
    )
    probability: Probability | None = Field(default=None, description="Of happening during a stage.")
    basis: Literal["measured", "published", "judgement"] = Field(description="What its chance rests on.")
    source: Text = Field(description="Where its chance comes from, in words.")
    note: Text = Field(default="", description="What a reader should know of the event.")


class Dependence(Entry):
    """Gaussian dependence between two uncertain numbers."""

    between: Between = Field(description="Addresses of the two.")
    correlation: Correlation | None = Field(default=None, description="Correlation of the values.")
    rank_correlation: Correlation | None = Field(
        default=None, description="Spearman's correlation of the ranks."
    )
    source: Text = Field(default="", description="Where the correlation comes from, in words.")


class Study(Entry):
    """A study, or one section of it with what the section changes laid over."""

    title: Text = Field(description="Name of the works, over every table and figure.")
    note: Text = Field(default="", description="What a reader should know of the study.")
    targets: Targets = Field(default_factory=lambda: Targets())
    ground: Ground
    water: Water
    loads: Loads = Field(default_factory=lambda: Loads())
    works: Works
    stages: dict[str, Stage] = Field(
        min_length=1, description="The stages by name, in the order of the works."
    )
    events: dict[str, Event] = Field(
        default_factory=dict, description="What may happen: scenarios beside the works as planned."
    )
    models: dict[str, dict[str, Choice]] = Field(
        default_factory=dict, description="Choices of method, by mechanism."
    )
    model_factors: dict[str, dict[str, Ratio]] = Field(
        default_factory=dict, description="Model factors that replace a mechanism's own: mechanism, member."
    )
    dependence: list[Dependence] = Field(
        default_factory=list, description="Pairs of uncertain numbers that go together."
    )
