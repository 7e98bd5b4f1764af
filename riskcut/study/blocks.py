"""From a section's stages to its blocks: what stands at each stage, and which column each number reads."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from riskcut.study import block as record
from riskcut.study.block import Block
from riskcut.study.columns import ColumnTable, Reading
from riskcut.study.errors import Path
from riskcut.study.events import AS_PLANNED, of_stage
from riskcut.study.quantity import Quantity
from riskcut.study.reading import Section
from riskcut.study.schema import EdgeLoadEntry, Entry, Loads, PropEntry, Stage, StageWater, Study, Water
from riskcut.study.standby import SUMPS, WELLS, Standstill, share_lost, states_of_stages
from riskcut.study.targets import index_of
from riskcut.study.template import Template, fill, readings
from riskcut.study.variation import season_lengths

__all__ = ["FactorsOf", "SectionCompiler", "Template"]


@dataclass(slots=True)
class _State:
    """What the stages so far have left behind."""

    dug: bool = False
    formation: tuple[Path, Quantity] | None = None
    table: tuple[Path, Quantity] | None = None
    overdig: tuple[Path, Quantity] | None = None
    inside: tuple[Path, Quantity] | None = None
    under_slab: tuple[Path, Quantity] | None = None
    drawdown: tuple[Path, Quantity] | None = None
    aquifer_reaches: tuple[Path, Quantity] | None = None
    rain: tuple[Path, Quantity] | None = None
    surcharge: tuple[Path, Quantity] | None = None
    temperature_rise: tuple[Path, Quantity] | None = None
    edge: tuple[Path, dict[str, EdgeLoadEntry]] | None = None
    standing: dict[str, bool] = field(default_factory=dict)
    """Prop to whether anything has loaded it since it was installed."""
    open_for: float | None = 0.0
    """Years since the dig reached its formation; None where a stage since then states no length."""
    cast: bool = False
    piles: bool = False
    wells_out: Standstill | None = None
    pumps_out: Standstill | None = None


FactorsOf = Callable[[Block], Mapping[str, tuple[str, Quantity]]]
"""From a block at the means: the mechanism's own factor of each limit state that applies and has one, and the name
(of the limit state, or of what several share) that it goes by."""


class SectionCompiler:
    """Compiles one section: its numbers to readings of the column table, its stages to templates."""

    def __init__(self, section: Section, table: ColumnTable, factors_of: FactorsOf) -> None:
        """Take the section, the table to fill, and what tells the model factors that a block reads."""
        self.section = section
        self.study: Study = section.study
        self.table = table
        self.factors_of = factors_of
        self._lasting = season_lengths(self.study.stages)
        self._standing = states_of_stages(self.study)

    def templates(self) -> list[Template]:
        """Return the section's blocks, in the order of its stages."""
        state = _State()
        templates = []
        for name, stage in self.study.stages.items():
            self._advance(state, name, stage)
            scenarios = list(self._scenarios(state, name))
            planned = 1.0 - sum(chance for _, chance, _ in scenarios)
            for scenario, chance, changed in ((AS_PLANNED, planned, state), *scenarios):
                templates.append(self._template(changed, name, scenario, chance))
        return templates

    def _scenarios(self, state: _State, name: str) -> Iterator[tuple[str, float, _State]]:
        """Yield what may happen in a stage beside what is planned: its events, wells or pumps that stand still."""
        for event, chance in of_stage(self.study, name).items():
            changed = dataclasses.replace(state)
            self._change(changed, ("events", event, "water"), self.study.events[event].water)
            yield event, chance, changed
        of_wells, of_pumps = self._standing[name]
        for out in of_wells:
            yield out.name, out.probability, dataclasses.replace(state, wells_out=out)
        for out in of_pumps:
            yield out.name, out.probability, dataclasses.replace(state, pumps_out=out)

    def _template(self, state: _State, name: str, scenario: str, share: float) -> Template:
        stage = self.study.stages[name]
        pattern = self._with_factors(self._pattern(state, name, stage))
        return Template(
            section=self.section.name,
            stage=name,
            phase=stage.phase,
            target=index_of(stage.target or getattr(self.study.targets, stage.phase)),
            pattern=pattern,
            columns=tuple(sorted(readings(pattern))),
            scenario=scenario,
            share=share,
        )

    def _advance(self, state: _State, name: str, stage: Stage) -> None:
        """Carry the state over one stage's work: dig, install, cast, remove, in this order."""
        path: Path = ("stages", name)
        if stage.dig_to is not None:
            state.formation, state.dug = ((*path, "dig_to"), stage.dig_to), True
            state.overdig = _given((*path, "overdig"), stage.overdig)
            state.standing = dict.fromkeys(state.standing, True)
            state.open_for = 0.0
        if state.open_for is not None:
            state.open_for = None if stage.lasts is None else state.open_for + stage.lasts
        for item in stage.install:
            if item == "tension_piles":
                state.piles = True
            else:
                state.standing[item] = False
        state.cast = state.cast or stage.cast is not None
        for prop in stage.remove:
            del state.standing[prop]
        if stage.remove:
            state.standing = dict.fromkeys(state.standing, True)
        self._change(state, (*path, "water"), stage.water)
        self._change(state, (*path, "loads"), stage.loads)

    @staticmethod
    def _change(state: _State, path: Path, mapping: StageWater | Loads) -> None:
        """Change what a mapping states, and leave the rest as it is."""
        for name in type(mapping).model_fields:
            changed = getattr(mapping, name)
            if changed is not None:
                setattr(state, name, ((*path, name), changed))

    def _pattern(self, state: _State, name: str, stage: Stage) -> Any:
        """Return the block of one stage, its numbers as readings."""
        season = stage.season or name

        def read(at: tuple[Path, Quantity], owner: type[Entry]) -> Any:
            return self._read(at[0], at[1], owner.drawn, season)

        cut = self.study.works.cut
        strata = self._strata()
        formation = read(state.formation, Stage) if state.formation is not None else strata[0].top
        if state.overdig is not None:
            formation += -read(state.overdig, Stage)
        water, loads = self.study.water, self.study.loads
        nothing: Any = Reading(0.0)
        outside = state.table or (("water", "table"), water.table)
        surcharge = state.surcharge or _given(("loads", "surcharge"), loads.surcharge)
        rain = state.rain or _given(("water", "rain"), water.rain)
        rise = state.temperature_rise or _given(("loads", "temperature_rise"), loads.temperature_rise)
        return Block(
            section=self.section.name,
            stage=name,
            width=self._of(("works", "cut", "width"), cut.width),
            length=self._of(("works", "cut", "length"), cut.length),
            strata=strata,
            formation=formation,
            dug=state.dug,
            water_table=read(outside, StageWater if state.table else type(water)),
            water_inside=read(state.inside, StageWater) if state.inside else formation,
            surcharge=read(surcharge, Loads) if surcharge else nothing,
            temperature_rise=read(rise, Loads) if rise else nothing,
            edge_loads=self._edge_loads(state, season),
            water_under_slab=read(state.under_slab, StageWater) if state.under_slab else None,
            permanent=stage.phase == "permanent",
            open_for=state.open_for,
            pore_pressure=water.pore_pressure,
            perched=self._perched(season),
            rain=read(rain, Water) if rain else nothing,
            sumps=self._sumps(state, season) if stage.phase == "temporary" else None,
            aquifer=self._aquifer(state, season),
            wall=self._wall(),
            props=self._props(state),
            slab=self._slab() if state.cast else None,
            piles=self._piles() if state.piles else None,
            options=self.study.models,
        )

    def _with_factors(self, pattern: Any) -> Any:
        """Return the block with the model factors that its limit states read."""
        at_means: Block = fill(pattern, self.table.means())
        factors = {key: self._factor(key, *own) for key, own in self.factors_of(at_means).items()}
        return dataclasses.replace(pattern, model_factors=factors)

    def _read(self, path: Path, quantity: Quantity, drawn: str, season: str) -> Reading:
        periods = self._lasting[season] / quantity.period if quantity.period and season else 1.0
        return self.table.read(
            quantity,
            address=self.section.address(path),
            family=".".join(map(str, path)),
            section=self.section.name,
            stage=season,
            drawn=drawn,
            periods=periods,
        )

    def _of(self, path: Path, quantity: Quantity, drawn: str = "constant") -> Any:
        """Return the reading of a number that no stage changes."""
        return self._read(path, quantity, drawn, "")

    def _strata(self) -> Any:
        strata = []
        for name, layer in self.study.ground.strata.items():
            path: Path = ("ground", "strata", name)
            drawn = type(layer).drawn
            undrained: dict[str, Any] = {}
            if layer.su is not None:
                undrained["su_at_top"] = self._of((*path, "su", "at_top"), layer.su.at_top, drawn)
                undrained["su_per_metre"] = self._of((*path, "su", "per_metre"), layer.su.per_metre, drawn)
                if layer.long_term is not None:
                    names = ("friction_angle", "cohesion")
                    numbers = self._entry((*path, "long_term"), layer.long_term, *names)
                    undrained["long_term"] = record.LongTerm(**numbers)
            else:
                assert layer.friction_angle is not None
                undrained["friction_angle"] = self._of((*path, "friction_angle"), layer.friction_angle, drawn)
                undrained["cohesion"] = self._of((*path, "cohesion"), layer.cohesion, drawn)
            strata.append(
                record.Stratum(
                    name=name,
                    top=self._of((*path, "top"), layer.top, drawn),
                    unit_weight=self._of((*path, "unit_weight"), layer.unit_weight, drawn),
                    **self._entry(path, layer, "consolidation", "permeability"),
                    **undrained,
                )
            )
        return tuple(strata)

    def _aquifer(self, state: _State, season: str) -> Any:
        aquifer = self.study.water.aquifer
        if aquifer is None:
            return None
        head = self._read(("water", "aquifer", "head"), aquifer.head, type(aquifer).drawn, season)
        if state.drawdown is not None:
            head += -self._read(*state.drawdown, StageWater.varies("drawdown"), season)
        reaches = loss = None
        if state.wells_out is not None:
            loss = self._well_loss(state, state.wells_out, season)
        if state.aquifer_reaches is not None:
            reaches = self._read(*state.aquifer_reaches, StageWater.drawn, season)
        return record.Aquifer(stratum=aquifer.stratum, head=head, loss=loss, reaches=reaches)  # type: ignore[arg-type]

    def _well_loss(self, state: _State, out: Standstill, season: str) -> Any:
        """Return what of the drawdown is lost; of wells that failed together, until they work again."""
        wells = self.study.water.relief_wells
        assert wells is not None
        assert state.drawdown is not None
        times: dict[str, Any] = {}
        if out.at_once:
            times = {
                key: self._read((*WELLS, key), value, wells.varies(key), season)
                for key in ("response_time", "recovery_time")
                if (value := getattr(wells, key)) is not None
            }
        drawdown: Any = self._read(*state.drawdown, StageWater.varies("drawdown"), season)
        return record.WellLoss(drawdown=drawdown, share=share_lost(wells, out), **times)

    def _perched(self, season: str) -> Any:
        perched = self.study.water.perched
        if perched is None:
            return None
        level = self._read(("water", "perched", "level"), perched.level, perched.drawn, season)
        return record.Perched(level=level, on=perched.on)  # type: ignore[arg-type]

    def _sumps(self, state: _State, season: str) -> Any:
        sumps = self.study.water.sumps
        if sumps is None:
            return None
        numbers = {
            name: self._read((*SUMPS, name), value, sumps.varies(name), season)
            for name in ("capacity", "runoff", "inflow")
            if (value := getattr(sumps, name)) is not None
        }
        out = state.pumps_out.out if state.pumps_out else 0
        return record.Sumps(running=sumps.pumps - out, **numbers)  # type: ignore[arg-type]

    def _entry(self, path: Path, entry: Entry, *names: str) -> dict[str, Any]:
        """Return the readings of several numbers of one mapping."""
        values = {name: getattr(entry, name) for name in names}
        return {
            name: self._of((*path, name), value, type(entry).drawn) if value is not None else None
            for name, value in values.items()
        }

    def _wall(self) -> Any:
        wall = self.study.works.wall
        names = ("toe", "thickness", "top", "unit_weight", "adhesion", "friction_ratio", "bending_resistance")
        return record.Wall(**self._entry(("works", "wall"), wall, *names)) if wall else None

    def _slab(self) -> Any:
        slab = self.study.works.slab
        assert slab is not None
        names = ("thickness", "unit_weight", "fill", "heave_relief")
        return record.Slab(**self._entry(("works", "slab"), slab, *names), carries_walls=slab.carries_walls)

    def _edge_loads(self, state: _State, season: str) -> Any:
        path, loads = state.edge or (("loads", "edge"), self.study.loads.edge or {})
        return tuple(
            record.EdgeLoad(name=name, **self._edge_load((*path, name), load, season))
            for name, load in loads.items()
        )

    def _edge_load(self, path: Path, load: EdgeLoadEntry, season: str) -> dict[str, Any]:
        names = ("pressure", "distance", "width", "length")
        values = {name: getattr(load, name) for name in names}
        return {
            name: None if value is None else self._read((*path, name), value, load.drawn, season)
            for name, value in values.items()
        }

    def _props(self, state: _State) -> Any:
        props = self.study.works.props
        standing = sorted(state.standing, key=lambda name: -props[name].level.value)
        return tuple(self._prop(name, props[name], loaded=state.standing[name]) for name in standing)

    def _prop(self, name: str, prop: PropEntry, *, loaded: bool) -> Any:
        numbers = self._entry(
            ("works", "props", name),
            prop,
            *("level", "spacing", "resistance", "area", "modulus", "thermal_expansion", "restraint"),
        )
        return record.Prop(name=name, made=prop.made, loaded=loaded, **numbers)

    def _piles(self) -> Any:
        piles = self.study.works.tension_piles
        assert piles is not None
        numbers = self._entry(
            ("works", "tension_piles"),
            piles,
            *("diameter", "length", "spacing_along", "spacing_across"),
            *("adhesion", "shaft_ratio", "steel_resistance"),
        )
        last = [(name, stage.dig_to) for name, stage in self.study.stages.items() if stage.dig_to is not None]
        head = self._of(("stages", last[-1][0], "dig_to"), last[-1][1])
        return record.Piles(head=head, **numbers)

    def _factor(self, limit_state: str, name: str, default: Quantity) -> Any:
        """Return the reading of a model factor: the study's own, else what the mechanism has under a name."""
        stated = self.study.model_factors
        for called in (limit_state, name):
            quantity, member = called.split("/")
            if (own := stated.get(quantity, {}).get(member)) is not None:
                return self._of(("model_factors", quantity, member), own)
        return self._of(("model_factors", *name.split("/")), default)


def _given(path: Path, quantity: Quantity | None) -> tuple[Path, Quantity] | None:
    return None if quantity is None else (path, quantity)
