"""Which ways ground water finds into the dry cut of a block, and how much comes along each.

Geometry decides, row by row: round the wall's toe where permeable ground reaches from the formation past it; up
through the plug over a confined aquifer where it does not; in a cut without a wall in through the sides, and
through the floor where the permeable ground below it has no base. A wall and undrained ground let nothing through.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import inflow, profile, reach, seepage
from riskcut.mechanisms import aquifers
from riskcut.mechanisms.contract import Step
from riskcut.study.block import Aquifer, Block, Number, Wall

HOUR: Final = 3600.0
CLOSEST: Final = 0.999
"""Highest ratio of embedment to permeable ground below the formation: the gap under the toe never closes."""

KNOWN: Final = "every stratum on the water's way into the cut states its permeability"
COMPACT: Final = "without a wall: the cut is at most five times as long as wide (equivalent radius)"
UNBROKEN: Final = "no defect carries the aquifer's pressure up to the formation"


class Way(NamedTuple):
    """One way into the cut."""

    flow: Number
    """m3/h."""
    unknown: profile.Rows
    """Rows in which a stratum on this way states no permeability."""
    steps: tuple[Step, ...]
    name: str
    """In words."""


def ways(block: Block) -> list[Way]:
    """Return the ways into the cut of a block, those without flow included."""
    found: list[Way] = []
    under: profile.Rows = False
    if block.wall is None:
        found.append(_through_the_sides(block))
    else:
        under = aquifers.passes_the_toe(block, block.wall)
        if np.any(under):
            found.append(_under_the_wall(block, block.wall, under))
    if block.aquifer is not None:
        found.append(_through_the_plug(block, block.aquifer, under))
    return found


def names_without_permeability(block: Block) -> tuple[str, ...]:
    """Return the strata on the water's way, at the means, of which no permeability is stated."""
    return tuple(dict.fromkeys(name for way in _spans(block) for name in way))


def _spans(block: Block) -> Iterator[list[str]]:
    """Yield for each way, at the means, the strata on it without a permeability."""
    formation = float(block.formation)
    under = False
    if block.wall is None:
        upper, lower = _side_levels(block)
        yield _unknown_names(block, upper=float(upper), lower=float(lower), undrained=False)
    elif under := bool(aquifers.passes_the_toe(block, block.wall)):
        _, upper, lower, _ = _round_the_toe(block, block.wall)
        yield _unknown_names(block, upper=float(upper), lower=float(lower), undrained=False)
    if block.aquifer is not None and not under:
        top = float(aquifers.stratum_top(block, block.aquifer))
        yield _unknown_names(block, upper=formation, lower=top, undrained=True)


def _unknown_names(block: Block, *, upper: float, lower: float, undrained: bool) -> list[str]:
    parts = profile.slices(block.strata, upper=upper, lower=lower)
    return [
        p.stratum.name for p in parts if p.stratum.undrained is undrained and p.stratum.permeability is None
    ]


def _unknown(block: Block, *, upper: Number, lower: Number, undrained: bool) -> profile.Rows:
    """Tell the rows in which ground of one kind between two levels states no permeability."""
    thickness = profile.weighted_thickness(
        block.strata,
        upper=upper,
        lower=lower,
        weight=lambda s: float(s.undrained is undrained and s.permeability is None),
    )
    rows: profile.Rows = np.greater(thickness, 0.0)
    return rows


def _mean_permeability(block: Block, *, upper: Number, lower: Number) -> Number:
    """Return the mean over the drained ground between two levels, by thickness, m/s; 0 where there is none."""
    carried = profile.weighted_thickness(
        block.strata,
        upper=upper,
        lower=lower,
        weight=lambda s: 0.0 if s.undrained or s.permeability is None else s.permeability,
    )
    ground = profile.weighted_thickness(
        block.strata,
        upper=upper,
        lower=lower,
        weight=lambda s: float(not s.undrained and s.permeability is not None),
    )
    return carried / np.where(np.greater(ground, 0.0), ground, np.inf)[()]


class _Round(NamedTuple):
    """The flow round a wall's toe."""

    level: Number
    """Of the water that drives it, m."""
    upper: Number
    """Level from which down the ground carries it, m."""
    lower: Number
    """Level down to which the ground's permeability counts, m."""
    forms: seepage.CutFlow


def _round_the_toe(block: Block, wall: Wall) -> _Round:
    level = aquifers.level_outside(block, wall)
    embedment = np.maximum(np.subtract(block.formation, wall.toe), 1e-9)
    entry = np.minimum(level, reach.drained_top(block.strata, level=block.formation))
    outside = np.maximum(np.subtract(entry, wall.toe), embedment)
    below = reach.drained_depth(block.strata, level=block.formation)
    half_width = np.multiply(0.5, block.width)
    forms = seepage.into_a_cut(
        outside=outside,
        inside=embedment,
        thickness=np.maximum(below, embedment / CLOSEST),
        half_width=half_width,
        felt=seepage.felt_by_flow(outside=outside, half_width=half_width),
    )
    # Most flows close to the wall: what lies further down tells the mean of the permeability nothing.
    close = seepage.FELT * outside - np.subtract(outside, embedment)
    lower = np.subtract(block.formation, np.minimum(forms.thickness, close))
    return _Round(level, np.maximum(entry, block.formation), lower, forms)


def _under_the_wall(block: Block, wall: Wall, under: profile.Rows) -> Way:
    level, upper, lower, flow = _round_the_toe(block, wall)
    permeability = _mean_permeability(block, upper=upper, lower=lower)
    head = np.maximum(np.subtract(level, block.water_inside), 0.0)
    each = HOUR * inflow.round_a_wall(
        permeability=permeability,
        head=head,
        form_outside=flow.form_outside,
        form_inside=flow.form_inside,
    )
    around = 2.0 * np.add(block.width, block.length)
    whole = np.where(under, around * each, 0.0)[()]
    steps = (
        Step(symbol="h", meaning="head between the water outside and inside", unit="m", value=head),
        Step(symbol="k", meaning="mean permeability of the ground", unit="m/s", value=permeability),
        Step(symbol="Phi_o", meaning="form factor of the ground outside", unit="1", value=flow.form_outside),
        Step(symbol="Phi_i", meaning="form factor of the ground inside", unit="1", value=flow.form_inside),
        Step(symbol="Q_w", meaning="flow round the wall's toe", unit="m3/h", value=whole),
    )
    unknown = under & _unknown(block, upper=upper, lower=lower, undrained=False)
    return Way(whole, unknown, steps, "round the wall's toe")


def _through_the_plug(block: Block, aquifer: Aquifer, under: profile.Rows) -> Way:
    top = np.minimum(aquifers.stratum_top(block, aquifer), block.formation)
    hindrance = inflow.hindrance(block.strata, upper=block.formation, lower=top)
    head = np.maximum(np.subtract(aquifer.level, block.water_inside), 0.0)
    whole = HOUR * inflow.through_layers(
        head=head,
        hindrance=np.where(np.greater(hindrance, 0.0), hindrance, np.inf)[()],
        area=np.multiply(block.width, block.length),
    )
    tight = profile.undrained_thickness(block.strata, upper=block.formation, lower=top)
    crosses = np.greater(tight, 0.0) & np.logical_not(under)
    flow = np.where(crosses, whole, 0.0)[()]
    steps = (
        Step(symbol="h_p", meaning="head between the aquifer and the water inside", unit="m", value=head),
        Step(symbol="c", meaning="thickness over permeability of the plug", unit="s", value=hindrance),
        Step(symbol="Q_p", meaning="flow up through the plug", unit="m3/h", value=flow),
    )
    unknown = crosses & _unknown(block, upper=block.formation, lower=top, undrained=True)
    return Way(flow, unknown, steps, "up through the plug")


def _side_levels(block: Block) -> tuple[Number, Number]:
    """Return the level of the water outside, and that of the base of the ground counted, m."""
    level = aquifers.head_at(block, level=block.formation, otherwise=block.water_table)
    depth = np.clip(reach.drained_depth(block.strata, level=block.formation), 0.0, inflow.DEEP)
    return level, np.subtract(block.formation, depth)


def _through_the_sides(block: Block) -> Way:
    """Return the lesser of two estimates: sides down to the base; sides down to the formation and a floor."""
    formation = block.formation
    level, base = _side_levels(block)
    drawdown = np.maximum(np.subtract(level, block.water_inside), 0.0)
    radius = inflow.equivalent_radius(width=block.width, length=block.length)
    # What lies deeper than the cut is wide tells the mean nothing that the flow would feel.
    felt = np.maximum(base, np.subtract(formation, 2.0 * radius))
    permeability = _mean_permeability(block, upper=level, lower=felt)
    spread = inflow.influence(drawdown=drawdown, permeability=permeability)
    sides = [
        inflow.through_the_sides(
            outside=inflow.discharge_potential(block.strata, base=end, level=level),
            inside=inflow.discharge_potential(block.strata, base=end, level=block.water_inside),
            radius=radius,
            reach=spread,
        )
        for end in (base, formation)
    ]
    floor = inflow.through_the_floor(
        permeability=_mean_permeability(block, upper=formation, lower=felt), radius=radius, drawdown=drawdown
    )
    flow = HOUR * np.minimum(sides[0], sides[1] + floor)
    steps = (
        Step(symbol="s", meaning="drawdown in the cut", unit="m", value=drawdown),
        Step(symbol="k", meaning="mean permeability of the ground", unit="m/s", value=permeability),
        Step(symbol="r", meaning="equivalent radius of the cut", unit="m", value=radius),
        Step(symbol="R_s", meaning="reach of the drawdown beyond it", unit="m", value=spread),
        Step(symbol="Q_f", meaning="flow up from ground without a base", unit="m3/h", value=HOUR * floor),
        Step(symbol="Q_s", meaning="flow through sides and floor", unit="m3/h", value=flow),
    )
    unknown = _unknown(block, upper=level, lower=felt, undrained=False)
    return Way(flow, unknown, steps, "through sides and floor")
