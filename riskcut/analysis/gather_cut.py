"""What the drawn section shows: the cut at each stage, at the means, with quantiles where uncertain."""

from __future__ import annotations

from typing import Any

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.parts import BoundBlock
from riskcut.results.vocabulary import blank
from riskcut.study.block import Block
from riskcut.uncertainty.marginals import Marginal

DRAWN_QUANTILES = (0.05, 0.95)


def cut(bound: Bound, coords: dict[str, list[Any]]) -> dict[str, Any]:
    """Return the group ``cut``."""
    sizes = {name: len(labels) for name, labels in coords.items()} | {"bound": 2}
    arrays = _Arrays(sizes)
    for own in bound.compiled.file.sections:
        place, cut_in_plan = coords["section"].index(own.name), own.study.works.cut
        if cut_in_plan.start is not None and cut_in_plan.end is not None:
            arrays["has_chainage"][place] = 1
            arrays["chainage_start"][place] = cut_in_plan.start.value
            arrays["chainage_end"][place] = cut_in_plan.end.value
    for block in bound.blocks:
        section = coords["section"].index(block.template.section)
        stage = coords["stage"].index(block.template.stage)
        _ground(arrays, bound, block, section, coords)
        _works(arrays, block.at_means, section, coords)
        _stage(arrays, bound, block, (section, stage), coords)
    return arrays.made


class _Arrays:
    """The group's arrays, each made blank when it is first written to."""

    def __init__(self, sizes: dict[str, int]) -> None:
        self._sizes = sizes
        self.made: dict[str, Any] = {}
        from riskcut.results.names import TABLE

        for name in TABLE["cut"]:
            self.made[name] = blank("cut", name, sizes)

    def __getitem__(self, name: str) -> Any:
        return self.made[name]


def _ground(
    arrays: _Arrays, bound: Bound, block: BoundBlock, section: int, coords: dict[str, list[Any]]
) -> None:
    arrays["ground_surface"][section] = block.at_means.surface
    arrays["cut_width"][section] = block.at_means.width
    for layer, pattern in zip(block.at_means.strata, block.template.pattern.strata, strict=True):
        at = (section, coords["stratum"].index(layer.name))
        arrays["has_stratum"][at] = 1
        arrays["stratum_top"][at] = layer.top
        arrays["stratum_top_bounds"][at] = _quantiles(bound, pattern.top)
        arrays["stratum_kind"][at] = "undrained" if layer.undrained else "drained"
    if block.at_means.aquifer is not None:
        arrays["has_aquifer"][section] = 1
        arrays["aquifer_stratum"][section] = block.at_means.aquifer.stratum


def _works(arrays: _Arrays, block: Block, section: int, coords: dict[str, list[Any]]) -> None:
    if block.wall is not None:
        arrays["has_wall"][section] = 1
        arrays["wall_toe"][section] = block.wall.toe
        arrays["wall_thickness"][section] = block.wall.thickness
    for prop in block.props:
        at = (section, coords["prop"].index(prop.name))
        arrays["has_prop"][at] = 1
        arrays["prop_level"][at] = prop.level
        arrays["prop_made"][at] = prop.made
    if block.slab is not None:
        arrays["has_slab"][section] = 1
        arrays["slab_thickness"][section] = block.slab.thickness
    if block.piles is not None:
        arrays["has_piles"][section] = 1
        arrays["pile_length"][section] = block.piles.length
        arrays["pile_diameter"][section] = block.piles.diameter
        arrays["pile_spacing"][section] = block.piles.spacing_across
        arrays["pile_head"][section] = block.piles.head


def _stage(
    arrays: _Arrays, bound: Bound, block: BoundBlock, at: tuple[int, int], coords: dict[str, list[Any]]
) -> None:
    means, pattern = block.at_means, block.template.pattern
    arrays["stage_applies"][at] = 1
    arrays["formation"][at] = means.formation
    arrays["formation_bounds"][at] = _quantiles(bound, pattern.formation)
    arrays["water_table"][at] = means.water_table
    arrays["water_inside"][at] = means.water_inside
    arrays["surcharge"][at] = means.surcharge
    for load in means.edge_loads:
        of_load = (*at, coords["edge_load"].index(load.name))
        arrays["edge_load_stands"][of_load] = 1
        arrays["edge_pressure"][of_load] = load.pressure
        arrays["edge_distance"][of_load] = load.distance
        arrays["edge_width"][of_load] = load.width
    if means.aquifer is not None:
        arrays["aquifer_head"][at] = means.aquifer.head
        arrays["aquifer_head_bounds"][at] = _quantiles(bound, pattern.aquifer.head)
    for prop in means.props:
        arrays["prop_standing"][(*at, coords["prop"].index(prop.name))] = 1
    arrays["slab_cast"][at] = means.slab is not None
    arrays["piles_installed"][at] = means.piles is not None


def _quantiles(bound: Bound, reading: Any) -> tuple[float, float]:
    """Return the 5 and 95 % quantiles of a reading: of a draw exactly, of a sum of draws by 65,536 of them.

    The sum's are for a band in a drawing: its points are the fixed lattice of the golden ratios, so that
    they never depend on the seed.
    """
    terms = reading.terms
    if not terms:
        return reading.constant, reading.constant
    of: list[Marginal] = [bound.marginals[column] for column, _ in terms]
    p = np.array(DRAWN_QUANTILES)
    if len(terms) == 1:
        low, high = reading.constant + terms[0][1] * of[0].quantile(p if terms[0][1] > 0 else 1 - p)
        return float(low), float(high)
    rows = np.arange(1, 65_537)
    ratio = _root(len(terms))
    total = np.full(rows.size, reading.constant)
    for i, ((_, factor), marginal) in enumerate(zip(terms, of, strict=True)):
        total += factor * marginal.quantile((0.5 + rows * ratio ** -(i + 1.0)) % 1.0 * (1 - 1e-12) + 5e-13)
    low, high = np.quantile(total, p)
    return float(low), float(high)


def _root(dims: int) -> float:
    """Return the root above 1 of x**(d+1) = x + 1: the ratio of the lattice in d dims."""
    x = 1.5
    for _ in range(60):
        x = (1.0 + x) ** (1.0 / (dims + 1))
    return x
