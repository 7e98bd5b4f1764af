"""The numbers of each limit state at the means, in the order a checker would write them: the group ``hand``."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any, Final

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.limit_states import LimitState
from riskcut.analysis.parts import BoundBlock
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

Row = tuple[str, str, str, str, str, str, float]


def hand(bound: Bound) -> dict[str, Any]:
    """Return the group ``hand``: an entry a step, in the order of the blocks, their limit states and the steps.

    In each limit state the numbers of the block come first, certain ones too; then the mechanism's own steps; then
    resistance and action effect.
    """
    rows = [row for block in bound.blocks for row in _of_block(bound, block)]
    names = ("section", "stage", "limit_state", "symbol", "meaning", "unit")
    values = np.array([row[6] for row in rows], dtype=np.float64)
    mechanisms = {state.label: state.mechanism for block in bound.blocks for state in block.applying}
    labels = bound.labels
    return {
        **{f"step_{name}": [row[i] for row in rows] for i, name in enumerate(names)},
        "step_value": values,
        "step_defined": ~np.isnan(values),
        "formula": [mechanisms[label].formula if label in mechanisms else "" for label in labels],
        "sources": ["\n".join(mechanisms[label].sources) if label in mechanisms else "" for label in labels],
    }


def _of_block(bound: Bound, block: BoundBlock) -> Iterator[Row]:
    numbers = list(_numbers(bound, block.template.pattern, block.at_means, ""))
    for state in block.applying:
        at = (block.template.section, block.template.stage, state.label)
        for name, meaning, unit, value in numbers:
            yield (*at, name, meaning, unit, value)
        if state.label in block.at_means.model_factors:
            factor = float(block.at_means.model_factors[state.label])
            yield (
                *at,
                f"model_factors.{state.label.replace('/', '.')}",
                "mean of an uncertain input",
                "1",
                factor,
            )
        yield from _steps(at, block, state)


def _steps(at: tuple[str, str, str], block: BoundBlock, state: LimitState) -> Iterator[Row]:
    """Yield the mechanism's steps, resistance and action effect last."""
    outcome = block.outcome_at_means(state)
    meaning = {step.symbol: step.meaning for step in outcome.steps}
    for step in outcome.steps:
        if step.symbol not in ("R", "S"):
            yield (*at, step.symbol, step.meaning, step.unit, float(step.value))
    unit = state.mechanism.unit
    yield (*at, "R", meaning.get("R", "resistance"), unit, float(outcome.resistance))
    yield (*at, "S", meaning.get("S", "action effect"), unit, float(outcome.action))


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
