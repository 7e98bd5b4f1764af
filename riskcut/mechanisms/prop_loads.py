"""What one prop takes of the soil, the surcharge and the water, per metre of wall."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from riskcut.ground import effective_stress, pore_pressure, profile, reach, straight, water
from riskcut.ground.rows import every, some
from riskcut.ground.straight import Piece
from riskcut.mechanisms import apparent_pressure, edge_loads, heave_forms
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


Shares = tuple[Number, ...]
"""What each prop takes of one diagram, kN/m."""


def line_loads(
    block: Block, *, height: Number, share: Callable[[Diagram], Shares], choices: Choices
) -> tuple[LineLoads, ...]:
    """Return the loads of each prop per metre of wall, each row by its own kind of ground.

    Parameters
    ----------
    block : Block
        Its strata, water, surcharge and plan.
    height : float or ndarray
        Depth of the cut, m, above zero (NaN in impossible rows).
    share : callable
        From a pressure diagram to what each prop takes of it, kN/m.
    choices : Choices
        What the study chose of the clay diagrams.

    Returns
    -------
    tuple of LineLoads
        Before any model factor, and not yet kept from going below zero.
    """
    strata, surface, formation = block.strata, block.surface, block.formation
    sand = np.equal(profile.undrained_thickness(strata, upper=surface, lower=formation), 0.0)
    active = apparent_pressure.mean_active(strata, formation=formation)
    even = share(apparent_pressure.uniform(depth=height))
    pore = beside_the_cut(block)
    standing = water.pressure(head=block.water_table, elevation=surface) if pore is None else pore[0].at_upper
    steps: list[list[Step]] = [[] for _ in even]
    soil: Shares = (0.0,) * len(even)
    apart: Shares = soil
    if not every(sand):
        soil, steps = _clay(block, height, share, choices)
        # Total stress: only water that stands on the ground is left out, which presses evenly.
        apart = tuple(standing * part for part in even)
    if some(sand):
        stress, outside, of_water = _sand(block, height, pore)
        pressure = apparent_pressure.sand_pressure(
            active=active, effective_overburden=np.maximum(stress, 0.0)
        )
        inside = apparent_pressure.water_at_rest(
            depth=height, water_depth=np.subtract(surface, block.water_inside)
        )
        outer, inner = share(outside), share(inside)
        soil = tuple(_where(sand, pressure * part, clay) for part, clay in zip(even, soil, strict=True))
        apart = tuple(_where(sand, o - i, clay) for o, i, clay in zip(outer, inner, apart, strict=True))
        for of_prop in steps:
            of_prop += [
                *of_water,
                Step(
                    symbol="gamma' H", meaning="effective overburden at formation", unit="kPa", value=stress
                ),
                Step(symbol="p_sand", meaning="pressure of the sand diagram", unit="kPa", value=pressure),
            ]
    lateral = active * block.surcharge
    edge: Shares = (0.0,) * len(even)
    for load in block.edge_loads:
        shared = share(edge_loads.unit_diagram(load, depth=height))
        edge = tuple(total + load.pressure * part for total, part in zip(edge, shared, strict=True))
    last = (
        Step(
            symbol="K_a", meaning="active coefficient, mean over the height (clay 1)", unit="1", value=active
        ),
        Step(symbol="K_a q", meaning="lateral pressure of the surcharge", unit="kPa", value=lateral),
    )
    return tuple(
        LineLoads(
            soil=of_soil,
            surcharge=lateral * part + of_edge,
            water=of_water,
            steps=(*of_prop, *last, *_edge_step(block, of_edge)),
        )
        for of_soil, of_water, of_edge, part, of_prop in zip(soil, apart, edge, even, steps, strict=True)
    )


def beside_the_cut(block: Block) -> tuple[Piece, ...] | None:
    """Return the pore pressure outside over the height of the cut; None where water at rest under the table rules.

    The aquifer is read where the study has the pore pressure go to it; else the height is that of the free and
    the perched water.
    """
    if block.pore_pressure == "hydrostatic":
        if block.perched is None:
            return None
        block = replace(block, aquifer=None)
    return pore_pressure.outside(block, down_to=block.formation)


def _sand(
    block: Block, height: Number, pore: Sequence[Piece] | None
) -> tuple[Number, Diagram, tuple[Step, ...]]:
    """Return the effective overburden at formation, kPa, the diagram of the water outside, and its steps."""
    strata, surface, formation = block.strata, block.surface, block.formation
    if pore is None:
        stress = profile.effective_stress(strata, level=formation, water_table=block.water_table)
        depth = np.subtract(surface, block.water_table)
        return stress, apparent_pressure.water_at_rest(depth=height, water_depth=depth), ()
    layers = effective_stress.layers(strata, pore)
    stress = effective_stress.effective_at(layers, level=formation)
    at_formation = straight.value_at(pore, level=formation)
    return (
        stress,
        apparent_pressure.of_levels(pore, surface=surface),
        (
            Step(
                symbol="u_H",
                meaning="pore water pressure outside at formation",
                unit="kPa",
                value=at_formation,
            ),
        ),
    )


def _edge_step(block: Block, of_edge: Number) -> tuple[Step, ...]:
    if not block.edge_loads:
        return ()
    return (
        Step(
            symbol="F_e",
            meaning="the prop's share of loads beside the cut, in F_q",
            unit="kN/m",
            value=of_edge,
        ),
    )


def _clay(
    block: Block, height: Number, share: Callable[[Diagram], Shares], choices: Choices
) -> tuple[Shares, list[list[Step]]]:
    """Return each prop's share of the clay diagrams: stiff, soft, or the larger of the two loads."""
    overburden, strength = overburden_and_strength(block, choices)
    stiff = np.less_equal(overburden, 4.0 * strength)
    soft = np.greater_equal(overburden, 6.0 * strength)
    ratio = overburden / profile.positive(strength)
    common = [
        Step(symbol="gamma H", meaning="weight of the ground to formation", unit="kPa", value=overburden),
        Step(
            symbol="su", meaning="mean (or equivalent) strength over the height", unit="kPa", value=strength
        ),
        Step(symbol="N", meaning="gamma H / su", unit="1", value=ratio),
    ]
    # A diagram that no row asks for is not shared out: sharing is what a prop's evaluation costs.
    soft_loads: Shares | None = None
    stiff_loads: Shares | None = None
    if not every(stiff):
        henkel = _henkel(block, height, overburden, soft) if choices.m == 1.0 and some(soft) else 0.0
        pressure = apparent_pressure.soft_clay_pressure(
            overburden=overburden, strength=strength, m=choices.m, henkel=henkel
        )
        soft_loads = tuple(
            pressure * part for part in share(apparent_pressure.soft_to_firm_clay(depth=height))
        )
        common += [
            Step(symbol="Delta", meaning="Henkel term of an unstable base", unit="kPa", value=henkel),
            Step(symbol="p_soft", meaning="pressure of the soft diagram", unit="kPa", value=pressure),
        ]
    if not every(soft):
        pressure = apparent_pressure.stiff_clay_pressure(
            overburden=overburden, coefficient=choices.stiff_coefficient
        )
        stiff_loads = tuple(pressure * part for part in share(apparent_pressure.stiff_clay(depth=height)))
        common.append(
            Step(symbol="p_stiff", meaning="pressure of the stiff diagram", unit="kPa", value=pressure)
        )
    return _larger(stiff_loads, soft_loads, stiff, soft, common)


def _larger(
    stiff_loads: Shares | None,
    soft_loads: Shares | None,
    stiff: profile.Rows,
    soft: profile.Rows,
    common: list[Step],
) -> tuple[Shares, list[list[Step]]]:
    """Return, prop by prop, the load of the diagram that a row's N asks for, and the larger between the two."""
    count = len(stiff_loads or soft_loads or ())
    loads, steps = [], []
    for index in range(count):
        of_prop = list(common)
        if soft_loads is not None:
            of_soft = soft_loads[index]
            of_prop.append(
                Step(symbol="F_soft", meaning="share of the soft diagram", unit="kN/m", value=of_soft)
            )
        if stiff_loads is not None:
            of_stiff = stiff_loads[index]
            of_prop.append(
                Step(symbol="F_stiff", meaning="share of the stiff diagram", unit="kN/m", value=of_stiff)
            )
        if soft_loads is None:
            load = of_stiff
        elif stiff_loads is None:
            load = of_soft
        else:
            load = _where(stiff, of_stiff, _where(soft, of_soft, np.maximum(of_soft, of_stiff)))
        loads.append(load)
        steps.append(of_prop)
    return tuple(loads), steps


def _where(rows: profile.Rows, yes: Number, no: Number) -> Number:
    chosen: Number = np.where(rows, yes, no)[()]
    return chosen


def _henkel(block: Block, height: Number, overburden: Number, soft: profile.Rows) -> Number:
    """Return the Henkel term in the rows that are soft, 0 in the others, kPa."""
    clay = np.maximum(reach.undrained_depth(block.strata, level=block.formation), 0.0)
    breadth = heave_forms.failing_breadth(width=block.width, clay_thickness=clay)
    below = profile.strength_integral(block.strata, upper=block.formation, lower=block.formation - breadth)
    term = apparent_pressure.henkel_term(
        overburden=overburden, depth=height, failure_depth=breadth, strength_integral_below=below
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
        pore_pressure=beside_the_cut(block),
    )
    return overburden, strength
