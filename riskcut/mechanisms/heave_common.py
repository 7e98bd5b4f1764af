"""What the forms of undrained base heave share in one block: the load, the clay below formation, its strength."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import profile, reach, water
from riskcut.mechanisms import edge_loads, heave_forms, reading
from riskcut.mechanisms.contract import Step
from riskcut.study.block import Block, Number, Stratum, Wall

TOE_BELOW: Final = "embedded_wall, circle: the wall's toe lies below formation"
TOE_IN_CLAY: Final = "embedded_wall, circle: the wall's toe lies in undrained ground"
EVEN: Final = "all forms but circle: the strength over B_1 (B_t) stays within 50 % of its mean"


class Form(NamedTuple):
    """One form of the event in a block, impossible rows not yet marked."""

    resistance: Number
    action: Number
    outside: dict[str, profile.Rows]
    steps: tuple[Step, ...]


class Common(NamedTuple):
    """What the forms share."""

    depth: Number
    """Of the cut, m."""
    ground: Number
    """Load at formation level without the edge loads, kPa."""
    action: Number
    """Load at formation level with the edge loads that stand on the failing block, kPa."""
    clay: Number
    """Undrained soil below formation, m."""
    breadth: Number
    """Of the failing block, m."""
    strength: Number
    """Mean over the breadth below formation, kPa."""
    uneven: profile.Rows
    """Rows in which the strength there strays too far from that mean."""
    side: Number
    """Strength integrated over the height of the cut, kN/m."""
    impossible: profile.Rows
    load_steps: tuple[Step, ...]
    """Of the load without what hangs on the breadth."""
    edge: Number
    """Edge loads as a uniform surcharge on the failing block, kPa."""


def common(block: Block) -> Common:
    """Return what the forms share, and the rows of which they say nothing."""
    strata, surface, formation = block.strata, block.surface, block.formation
    depth = surface - formation
    overburden = profile.total_stress(strata, upper=surface, lower=formation)
    outside_water = water.pressure(head=block.water_table, elevation=surface)
    inside_water = water.pressure(head=block.water_inside, elevation=formation)
    clay = reach.undrained_depth(strata, level=formation)
    none_left = np.less_equal(clay, 0.0)
    # Any breadth will do where no clay is left: those rows are marked below.
    failing = heave_forms.failing_breadth(width=block.width, clay_thickness=clay)
    breadth = np.where(none_left, 1.0, failing)[()]
    edge = edge_loads.on_failing_ground(block.edge_loads, breadth=breadth, length=block.length)
    ground = heave_forms.base_load(
        overburden=overburden,
        surcharge=block.surcharge,
        standing_outside=outside_water,
        standing_inside=inside_water,
    )
    below = formation - breadth
    strength = profile.mean_strength(strata, upper=formation, lower=below)
    steps = (
        Step(symbol="H", meaning="depth of the cut", unit="m", value=depth),
        Step(symbol="gamma H", meaning="weight of the ground to formation", unit="kPa", value=overburden),
        Step(symbol="u_o", meaning="water standing on the surface outside", unit="kPa", value=outside_water),
        Step(symbol="u_i", meaning="water standing on the formation inside", unit="kPa", value=inside_water),
    )
    return Common(
        depth=depth,
        ground=ground,
        action=ground + edge,
        clay=clay,
        breadth=breadth,
        strength=strength,
        uneven=strays(strata, upper=formation, lower=below, mean=strength),
        side=profile.strength_integral(strata, upper=surface, lower=formation),
        impossible=reading.impossible_ground(block) | none_left,
        load_steps=steps,
        edge=edge,
    )


def strays(strata: Sequence[Stratum], *, upper: Number, lower: Number, mean: Number) -> profile.Rows:
    """Tell the rows in which the undrained strength between two levels strays over 50 % from its mean somewhere.

    Notes
    -----
    Beyond that the mean is no guide, and soft clay over stiff fails on its own, at less. Skempton, A. W. (1951),
    The bearing capacity of clays, Building Research Congress, London, 1, 180-189 (recalled).
    """
    rows: profile.Rows = False
    for part in profile.slices(strata, upper=upper, lower=lower):
        stratum = part.stratum
        if stratum.su_at_top is None:
            continue
        first = stratum.su_at_top + stratum.su_per_metre * np.subtract(stratum.top, part.top)
        last = first + stratum.su_per_metre * part.thickness
        away = np.maximum(np.abs(first - mean), np.abs(last - mean))
        rows = rows | (np.greater(part.thickness, 0.0) & np.greater(away, 0.5 * mean))
    return rows


def load_steps(block: Block, shared: Common, *, edge: Number, action: Number) -> tuple[Step, ...]:
    """Return the steps up to the load at formation level, with edge loads as a form counts them."""
    surcharge = Step(
        symbol="q", meaning="surcharge, edge loads in it", unit="kPa", value=block.surcharge + edge
    )
    load = Step(symbol="S", meaning="load at formation level", unit="kPa", value=action)
    return (*shared.load_steps, surcharge, load)


def block_steps(block: Block, shared: Common) -> tuple[Step, ...]:
    """Return the steps up to the strength below formation, of the forms with a failing block."""
    return (
        *load_steps(block, shared, edge=shared.edge, action=shared.action),
        Step(symbol="T", meaning="undrained soil below formation", unit="m", value=shared.clay),
        Step(
            symbol="B_1",
            meaning="breadth of the failing block, min(B/sqrt 2, T)",
            unit="m",
            value=shared.breadth,
        ),
        Step(
            symbol="su_b",
            meaning="mean strength over B_1 below formation",
            unit="kPa",
            value=shared.strength,
        ),
    )


def toe_reason(block: Block) -> str | None:
    """Return why no failure about the wall's toe is a question at the means, None where it is one."""
    if block.wall is None:
        return "there is no wall (works.wall)"
    toe = float(block.wall.toe)
    if toe >= float(block.formation):
        return "the wall's toe does not lie below formation"
    if float(reach.undrained_depth(block.strata, level=toe)) > 0.0:
        return None
    drained = [s.name for s in block.strata if not s.undrained and float(s.top) >= toe]
    return f"the wall's toe lies in or on {drained[-1]}, which is read drained: the clay ends above it"


def toe_limits(block: Block, wall: Wall) -> dict[str, profile.Rows]:
    """Return the rows outside the range of use for the sake of the wall's toe."""
    return {
        TOE_BELOW: np.greater_equal(wall.toe, block.formation),
        TOE_IN_CLAY: np.less_equal(reach.undrained_depth(block.strata, level=wall.toe), 0.0),
    }


def lowest_prop(block: Block) -> Number:
    """Return the level of the lowest prop that stands, m."""
    level: Number = np.inf
    for prop in block.props:
        level = np.minimum(level, prop.level)
    return level
