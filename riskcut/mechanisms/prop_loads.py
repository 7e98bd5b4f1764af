"""What one prop takes of the soil, the surcharge and the water, per metre of wall."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from riskcut.ground import profile, water
from riskcut.mechanisms import apparent_pressure, heave_forms
from riskcut.mechanisms.contract import Step
from riskcut.mechanisms.spans import Diagram
from riskcut.study.block import Block, Number


class Choices(NamedTuple):
    """What a study may choose of the clay diagrams."""

    stiff_coefficient: float
    m: float
    progressive_failure: float


class LineLoads(NamedTuple):
    """One prop's loads per metre of wall, kN/m, and the numbers on the way."""

    soil: Number
    surcharge: Number
    water: Number
    steps: tuple[Step, ...]


def line_loads(
    block: Block, *, height: Number, share: Callable[[Diagram], Number], choices: Choices
) -> LineLoads:
    """Return the loads of one prop per metre of wall, each row by its own kind of ground.

    Parameters
    ----------
    block : Block
        Its strata, water, surcharge and plan.
    height : float or ndarray
        Depth of the cut, m, above zero (NaN in impossible rows).
    share : callable
        From a pressure diagram to what the prop takes of it, kN/m.
    choices : Choices
        What the study chose of the clay diagrams.

    Returns
    -------
    LineLoads
        Before any model factor, and not yet kept from going below zero.
    """
    strata, surface, formation = block.strata, block.surface, block.formation
    sand = np.equal(profile.undrained_thickness(strata, upper=surface, lower=formation), 0.0)
    active = apparent_pressure.mean_active(strata, formation=formation)
    even = share(apparent_pressure.uniform(depth=height))
    standing = water.pressure(head=block.water_table, elevation=surface)
    steps: list[Step] = []
    soil: Number = 0.0
    apart: Number = 0.0
    if not np.all(sand):
        soil, steps = _clay(block, height, share, choices)
        # Total stress: only water that stands on the ground is left out, which presses evenly.
        apart = standing * even
    if np.any(sand):
        stress = profile.effective_stress(strata, level=formation, water_table=block.water_table)
        pressure = apparent_pressure.sand_pressure(active=active, effective_overburden=stress)
        outer, inner = (
            share(apparent_pressure.water_at_rest(depth=height, water_depth=np.subtract(surface, level)))
            for level in (block.water_table, block.water_inside)
        )
        soil = np.where(sand, pressure * even, soil)[()]
        apart = np.where(sand, outer - inner, apart)[()]
        steps += [
            Step(symbol="gamma' H", meaning="effective overburden at formation", unit="kPa", value=stress),
            Step(symbol="p_sand", meaning="pressure of the sand diagram", unit="kPa", value=pressure),
        ]
    lateral = active * block.surcharge
    steps += [
        Step(
            symbol="K_a", meaning="active coefficient, mean over the height (clay 1)", unit="1", value=active
        ),
        Step(symbol="K_a q", meaning="lateral pressure of the surcharge", unit="kPa", value=lateral),
    ]
    return LineLoads(soil=soil, surcharge=lateral * even, water=apart, steps=tuple(steps))


def _clay(
    block: Block, height: Number, share: Callable[[Diagram], Number], choices: Choices
) -> tuple[Number, list[Step]]:
    """Return one prop's share of the clay diagrams: stiff, soft, or the larger of the two loads."""
    overburden, strength = overburden_and_strength(block, choices)
    stiff = np.less_equal(overburden, 4.0 * strength)
    soft = np.greater_equal(overburden, 6.0 * strength)
    ratio = overburden / profile.positive(strength)
    steps = [
        Step(symbol="gamma H", meaning="weight of the ground to formation", unit="kPa", value=overburden),
        Step(
            symbol="su", meaning="mean (or equivalent) strength over the height", unit="kPa", value=strength
        ),
        Step(symbol="N", meaning="gamma H / su", unit="1", value=ratio),
    ]
    # A diagram that no row asks for is not shared out: sharing is what a prop's evaluation costs.
    soft_load: Number = 0.0
    stiff_load: Number = 0.0
    if not np.all(stiff):
        henkel = _henkel(block, height, overburden, soft) if choices.m == 1.0 and np.any(soft) else 0.0
        pressure = apparent_pressure.soft_clay_pressure(
            overburden=overburden, strength=strength, m=choices.m, henkel=henkel
        )
        soft_load = pressure * share(apparent_pressure.soft_to_firm_clay(depth=height))
        steps += [
            Step(symbol="Delta", meaning="Henkel term of an unstable base", unit="kPa", value=henkel),
            Step(symbol="p_soft", meaning="pressure of the soft diagram", unit="kPa", value=pressure),
            Step(symbol="F_soft", meaning="share of the soft diagram", unit="kN/m", value=soft_load),
        ]
    if not np.all(soft):
        pressure = apparent_pressure.stiff_clay_pressure(
            overburden=overburden, coefficient=choices.stiff_coefficient
        )
        stiff_load = pressure * share(apparent_pressure.stiff_clay(depth=height))
        steps += [
            Step(symbol="p_stiff", meaning="pressure of the stiff diagram", unit="kPa", value=pressure),
            Step(symbol="F_stiff", meaning="share of the stiff diagram", unit="kN/m", value=stiff_load),
        ]
    between = np.maximum(soft_load, stiff_load)
    load: Number = np.where(stiff, stiff_load, np.where(soft, soft_load, between))[()]
    return load, steps


def _henkel(block: Block, height: Number, overburden: Number, soft: profile.Rows) -> Number:
    """Return the Henkel term in the rows that are soft, 0 in the others, kPa."""
    clay = np.maximum(profile.undrained_depth(block.strata, level=block.formation), 0.0)
    reach = heave_forms.failing_breadth(width=block.width, clay_thickness=clay)
    below = profile.strength_integral(block.strata, upper=block.formation, lower=block.formation - reach)
    term = apparent_pressure.henkel_term(
        overburden=overburden, depth=height, failure_depth=reach, strength_integral_below=below
    )
    kept: Number = np.where(soft, term, 0.0)[()]
    return kept


def overburden_and_strength(block: Block, choices: Choices) -> tuple[Number, Number]:
    """Return gamma H and the strength that stands for the ground over the height of the cut, kPa."""
    overburden = profile.total_stress(block.strata, upper=block.surface, lower=block.formation)
    strength = apparent_pressure.equivalent_strength(
        block.strata,
        formation=block.formation,
        water_table=block.water_table,
        progressive_failure=choices.progressive_failure,
    )
    return overburden, strength
