"""The numbers of each limit state, at the means and at its design point, as a checker would write them: ``hand``."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.limit_states import LimitState
from riskcut.analysis.parts import BoundBlock
from riskcut.mechanisms.contract import Outcome
from riskcut.reliability.assessment import Assessment
from riskcut.reliability.standard_space import StandardSpace
from riskcut.results.status import Status
from riskcut.results.vocabulary import blank
from riskcut.study.block import Block
from riskcut.study.columns import Reading

UNITS: Final = {
    **dict.fromkeys(("width", "length", "formation", "water_table", "water_inside", "water_under_slab"), "m"),
    **dict.fromkeys(("top", "head", "toe", "thickness", "level", "spacing", "distance", "diameter"), "m"),
    **dict.fromkeys(("spacing_along", "spacing_across"), "m"),
    **dict.fromkeys(("su_at_top", "cohesion", "surcharge", "fill", "pressure", "modulus"), "kPa"),
    **dict.fromkeys(("resistance", "steel_resistance"), "kN"),
    **dict.fromkeys(("adhesion", "shaft_ratio", "restraint", "heave_relief"), "1"),
    "su_per_metre": "kPa/m",
    "unit_weight": "kN/m3",
    "friction_angle": "deg",
    "temperature_rise": "degC",
    "area": "m2",
    **dict.fromkeys(("drawdown", "reaches"), "m"),
    **dict.fromkeys(("capacity", "inflow"), "m3/h"),
    **dict.fromkeys(("response_time", "recovery_time"), "h"),
    **dict.fromkeys(("friction_ratio", "runoff"), "1"),
    "bending_resistance": "kN m/m",
    "consolidation": "m2/year",
    "permeability": "m/s",
    "rain": "mm/h",
    "thermal_expansion": "1/degC",
}
"""Unit of each number of a block, by its field."""

_WHERE: Final = ("section", "stage", "limit_state")


@dataclass(frozen=True, slots=True)
class Line:
    """One number of one limit state; NaN where it is not defined."""

    state: tuple[str, str, str]
    """Section, stage, limit state."""
    symbol: str
    meaning: str
    unit: str
    at_means: float
    at_design_point: float
    design_status: Status


@dataclass(frozen=True, slots=True)
class Instance:
    """A limit state with every number at one value: at the means, or at a design point."""

    block: Block
    outcome: Outcome

    @property
    def left(self) -> str:
        """The limits of the range of use that are left, a line each."""
        return "\n".join(limit for limit, left in self.outcome.outside.items() if np.any(left))


def hand(bound: Bound, assessment: Assessment, coords: dict[str, list[Any]]) -> dict[str, Any]:
    """Return the group ``hand``: an entry a step, in the order of the blocks, their limit states and the steps.

    In each limit state the numbers of the block come first, certain ones too; then the mechanism's own steps; then
    resistance and action effect. Each at the means and, where there is one, at the nearest design point.
    """
    lines: list[Line] = []
    sizes = {name: len(labels) for name, labels in coords.items()}
    left = {
        name: blank("hand", name, sizes) for name in ("range_left_at_means", "range_left_at_design_point")
    }
    places = {component.name: place for place, component in enumerate(bound.problem.components)}
    mechanisms = {state.label: state.mechanism for block in bound.blocks for state in block.applying}
    for block in bound.blocks:
        in_design = _at_design_points(bound, assessment, block, places)
        for state in block.applying:
            at_means = Instance(block.at_means, block.outcome_at_means(state))
            point, status = in_design.get(state.label, (None, Status.NOT_APPLICABLE))
            lines.extend(_lines(bound, block, state, at_means, point, status))
            at = (*block.key[:2], state.label)
            place = tuple(coords[dim].index(name) for dim, name in zip(_WHERE, at, strict=True))
            left["range_left_at_means"][place] = at_means.left
            left["range_left_at_design_point"][place] = point.left if point is not None else ""
    values = np.array([line.at_means for line in lines], dtype=np.float64)
    at_design_points = np.array([line.at_design_point for line in lines], dtype=np.float64)
    known = [mechanisms.get(label) for label in bound.labels]
    return {
        **{f"step_{name}": [line.state[i] for line in lines] for i, name in enumerate(_WHERE)},
        **{f"step_{name}": [getattr(line, name) for line in lines] for name in ("symbol", "meaning", "unit")},
        "step_value": values,
        "step_defined": ~np.isnan(values),
        "step_design_status": np.array([line.design_status for line in lines], dtype=np.int8),
        "step_value_at_design_point": at_design_points,
        "step_defined_at_design_point": ~np.isnan(at_design_points),
        "formula": [one.formula if one else "" for one in known],
        "sources": ["\n".join(one.sources) if one else "" for one in known],
        "range_of_use": ["\n".join(one.range_of_use) if one else "" for one in known],
        **left,
    }


def _at_design_points(
    bound: Bound, assessment: Assessment, block: BoundBlock, places: Mapping[str, int]
) -> dict[str, tuple[Instance, Status]]:
    """Return the limit states of a block that have a design point, at the nearest, by name."""
    found = {}
    for part in bound.parts[block.key]:
        place = places[part.name]
        space = StandardSpace(bound.problem, [place])
        for i, state in enumerate(part.states):
            search = assessment.searches.get((place, i))
            if search is None or not search.points:
                continue
            values = space.values(search.points[0].u[np.newaxis, :], 0)[0]
            columns = dict(zip(block.template.columns, map(float, values), strict=True))
            filled = block.template.fill(columns)
            status = Status.COMPUTED if search.converged else Status.UNTRUSTED
            found[state.label] = Instance(filled, state.mechanism.outcome(filled, state.member.name)), status
    return found


def _lines(
    bound: Bound,
    block: BoundBlock,
    state: LimitState,
    at_means: Instance,
    point: Instance | None,
    status: Status,
) -> Iterator[Line]:
    """Yield the lines of one limit state: its inputs, the mechanism's steps, resistance and action effect."""
    at = (block.template.section, block.template.stage, state.label)
    one = _column(bound, block, state, at_means)
    other = _column(bound, block, state, point) if point is not None else {}
    # A step that only one of the two has, where the formula turned another way, is undefined in the other.
    *before, resistance, action = one
    for key in (*before, *(key for key in other if key not in one), resistance, action):
        meaning, unit, value = one.get(key) or (*other[key][:2], np.nan)
        there = other[key][2] if key in other else np.nan
        yield Line(at, key[0], meaning, unit, value, there, status)


def _column(
    bound: Bound, block: BoundBlock, state: LimitState, instance: Instance
) -> dict[tuple[str, int], tuple[str, str, float]]:
    """Return meaning, unit and value of every number, R and S last, by symbol and how often that was met before."""
    met: Counter[str] = Counter()
    found = {}
    for symbol, meaning, unit, value in _numbers_of(bound, block, state, instance):
        found[symbol, met[symbol]] = (meaning, unit, value)
        met[symbol] += 1
    return found


def _numbers_of(
    bound: Bound, block: BoundBlock, state: LimitState, instance: Instance
) -> Iterator[tuple[str, str, str, float]]:
    yield from _numbers(bound, block.template.pattern, instance.block, "")
    factors = instance.block.model_factors
    if state.label in factors:
        name = f"model_factors.{state.label.replace('/', '.')}"
        reading = block.template.pattern.model_factors[state.label]
        yield name, _meaning(bound, reading), "1", float(factors[state.label])
    outcome = instance.outcome
    meaning = {step.symbol: step.meaning for step in outcome.steps}
    for step in outcome.steps:
        if step.symbol not in ("R", "S"):
            yield step.symbol, step.meaning, step.unit, float(step.value)
    unit = state.mechanism.unit
    yield "R", meaning.get("R", "resistance"), unit, float(outcome.resistance)
    yield "S", meaning.get("S", "action effect"), unit, float(outcome.action)


def _numbers(bound: Bound, pattern: Any, filled: Any, path: str) -> Iterator[tuple[str, str, str, float]]:
    """Yield every number of a block at the means: its place in the block, what it is, its unit, its value."""
    if isinstance(pattern, Reading):
        name = path.rpartition(".")[2]
        yield path, _meaning(bound, pattern), UNITS[name], float(filled)
    elif isinstance(pattern, tuple):
        for one, other in zip(pattern, filled, strict=True):
            yield from _numbers(bound, one, other, f"{path}.{one.name}")
    elif dataclasses.is_dataclass(pattern) and not isinstance(pattern, type):
        for field in dataclasses.fields(pattern):
            if field.name != "model_factors":
                below = f"{path}.{field.name}" if path else field.name
                yield from _numbers(bound, getattr(pattern, field.name), getattr(filled, field.name), below)


def _meaning(bound: Bound, reading: Reading) -> str:
    """Say where a number comes from: stated, the mean of an uncertain input, or of its maximum over periods."""
    columns = [bound.compiled.columns[index] for index, _ in reading.terms]
    if not columns:
        return "stated"
    named = ", ".join(dict.fromkeys(column.address for column in columns))
    longest = max(column.periods for column in columns)
    carried = f" of the maximum over {longest:g} periods" if longest > 1.0 else ""
    return f"mean{carried}: {named}"
