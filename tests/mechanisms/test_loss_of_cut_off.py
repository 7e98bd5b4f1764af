"""A defect that carries the aquifer's pressure through what should keep it out, in every mechanism that reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.mechanisms import aquifers, catalogue, ground_inflow
from riskcut.mechanisms.hydraulic_heave import DRAINED_OUTSIDE
from riskcut.mechanisms.plug_uplift import PLUG_LEFT
from riskcut.study.block import Aquifer, Block, Piles, Slab, Sumps, Wall

Maker = Callable[..., Block]
GAMMA = 9.81
SLAB = Slab(thickness=1.5, unit_weight=24.0, fill=10.0, heave_relief=0.3, carries_walls=True)
PILES = Piles(
    diameter=0.75,
    length=18.0,
    head=-9.0,
    spacing_along=3.5,
    spacing_across=4.0,
    adhesion=0.5,
    shaft_ratio=0.3,
    steel_resistance=1e5,
)


def defect(reaches, head=1.5) -> Aquifer:
    return Aquifer(stratum="sand", head=head, reaches=reaches)


def outcome(mechanism: str, block: Block, member: str):
    return catalogue()[mechanism].outcome(block, member)


def steps(mechanism: str, block: Block, member: str) -> dict[str, float]:
    return {step.symbol: step.value for step in outcome(mechanism, block, member).steps}


def steps_of_rows(mechanism: str, block: Block, member: str) -> dict[str, np.ndarray]:
    return {step.symbol: np.asarray(step.value) for step in outcome(mechanism, block, member).steps}


def test_the_plug_ends_where_the_defect_does(make_block: Maker) -> None:
    """The sand lies at -20; a window to -15 leaves 3 m of soft clay and 3 m of firm."""
    found = outcome("plug_uplift", make_block(aquifer=defect(-15.0)), "plug")
    assert found.resistance == pytest.approx(3.0 * 17.0 + 3.0 * 19.0)
    assert found.action == pytest.approx(GAMMA * 16.5)
    below = outcome("plug_uplift", make_block(aquifer=defect(-25.0)), "plug")
    whole = outcome("plug_uplift", make_block(aquifer=defect(None)), "plug")
    assert (below.resistance, below.action) == (whole.resistance, whole.action), (
        "below the sand's top it is nothing"
    )


def test_a_defect_is_never_safer_without_piles(make_block: Maker) -> None:
    levels = np.linspace(-24.0, -4.0, 81)
    found = outcome("plug_uplift", make_block(aquifer=defect(levels)), "plug")
    assert np.all(np.diff(found.resistance - found.action) <= 1e-9)
    np.testing.assert_array_equal(found.outside[PLUG_LEFT], levels >= -9.0)


@pytest.mark.parametrize("reaches", [-9.0, -6.0])
def test_in_an_open_cut_a_defect_to_the_formation_is_a_boil(make_block: Maker, reaches: float) -> None:
    """Only the water that stands in the cut holds it; a defect acts no higher than the formation."""
    block = make_block(aquifer=defect(reaches))
    member, walled = catalogue()["plug_uplift"].members(block)
    assert member.not_applicable is None
    assert member.note == "a defect carries the aquifer's pressure up to the formation: a boil"
    assert walled.not_applicable == "no part of a plug lies inside the walls"
    found = outcome("plug_uplift", block, "plug")
    assert found.resistance == 0.0
    assert found.action == pytest.approx(GAMMA * 10.5)
    filled = outcome("plug_uplift", replace(block, water_inside=1.5), "plug")
    assert filled.resistance == pytest.approx(filled.action), "flooded to the aquifer's head it stands"


@pytest.mark.parametrize("under_slab", [None, -8.0])
def test_under_a_slab_a_defect_is_flotation_on_the_aquifers_head(make_block: Maker, under_slab) -> None:
    """The drain under the slab was planned without the defect."""
    block = make_block(aquifer=defect(-9.0), slab=SLAB, permanent=True, water_under_slab=under_slab)
    plug, _ = catalogue()["plug_uplift"].members(block)
    assert (
        plug.not_applicable == "a defect carries the aquifer's pressure up to the slab: flotation judges it"
    )
    for mechanism, member in (("flotation", "structure"), ("long_term_heave", "slab")):
        (there,) = catalogue()[mechanism].members(block)
        assert there.not_applicable is None
        assert outcome(mechanism, block, member).action == pytest.approx(GAMMA * 10.5)
        lower = replace(block, aquifer=defect(-9.1))
        planned = -1.0 if under_slab is None else under_slab
        assert outcome(mechanism, lower, member).action == pytest.approx(
            max(GAMMA * (planned + 9.0), 0.3 * 153.0 * (mechanism == "long_term_heave"))
        )
    drawn_down = replace(block, aquifer=defect(-9.0, head=-20.0))
    planned = -1.0 if under_slab is None else under_slab
    assert outcome("flotation", drawn_down, "structure").action == pytest.approx(GAMMA * (planned + 9.0))


def test_the_walls_toe_and_the_piles_feel_the_defect(make_block: Maker) -> None:
    """Toe at -16 in clay: reached by a defect to -14, which also takes stress off the piles below it."""
    block = make_block(aquifer=defect(None), slab=SLAB, piles=PILES)
    broken = replace(block, aquifer=defect(-14.0))
    assert steps("flotation", block, "structure")["u_b"] == pytest.approx(GAMMA * 15.0)
    assert steps("flotation", broken, "structure")["u_b"] == pytest.approx(GAMMA * 17.5)
    short = replace(PILES, length=9.0)
    apart, within = (steps("flotation", replace(b, piles=short), "structure")["W_b"] for b in (block, broken))
    assert apart - within == pytest.approx(GAMMA * 2.5), "the block of piles ends in clay, above the sand"


def test_hydraulic_heave_feels_the_aquifer_where_a_defect_reaches_the_toe(make_block: Maker) -> None:
    _, firm, sand = make_block().strata
    fill = replace(sand, name="fill", top=0.0)
    block = make_block(
        strata=(fill, replace(firm, top=-17.0), replace(sand, top=-22.0)),
        aquifer=Aquifer(stratum="sand", head=3.0),
        wall=Wall(toe=-14.0, thickness=0.8),
    )
    assert steps("hydraulic_heave", block, "prism_effective")["h_o"] == block.water_table
    broken = replace(block, aquifer=defect(-13.0, head=3.0))
    assert steps("hydraulic_heave", broken, "prism_effective")["h_o"] == 3.0


@pytest.mark.parametrize("pore_pressure", ["hydrostatic", "to_aquifer"])
def test_a_defect_never_keeps_the_free_water_out(make_block: Maker, pore_pressure) -> None:
    """The aquifer is drawn down below the free water: a defect at the toe takes nothing off what drives the flow."""
    _, firm, sand = make_block().strata
    fill = replace(sand, name="fill", top=0.0)
    block = make_block(
        strata=(fill, replace(firm, top=-17.0), replace(sand, top=-22.0)),
        aquifer=defect(np.array([-30.0, -13.0]), head=-6.0),
        wall=Wall(toe=-14.0, thickness=0.8),
        pore_pressure=pore_pressure,
    )
    found = outcome("hydraulic_heave", block, "prism_effective")
    level = steps_of_rows("hydraulic_heave", block, "prism_effective")["h_o"]
    np.testing.assert_allclose(np.broadcast_to(level, 2), block.water_table)
    whole, broken = np.broadcast_to(found.action, 2)
    assert broken == whole > 0.0


def test_rows_are_told_apart(make_block: Maker) -> None:
    rows = make_block(aquifer=defect(np.array([-30.0, -12.0, -9.0, -5.0])))
    assert rows.aquifer is not None
    np.testing.assert_array_equal(aquifers.aquifer_top(rows, rows.aquifer), [-20.0, -12.0, -9.0, -5.0])
    np.testing.assert_array_equal(aquifers.open_to_the_cut(rows, rows.aquifer), [False, False, True, True])
    np.testing.assert_array_equal(
        aquifers.pressed(rows, rows.aquifer, level=-9.0), [False, False, True, True]
    )
    np.testing.assert_allclose(aquifers.head_at(rows, level=-12.0, otherwise=-1.0), [-1.0, 1.5, 1.5, 1.5])


def test_clay_outside_goes_unsaid_only_where_the_aquifer_drives_the_flow(make_block: Maker) -> None:
    """A crust over the sand that the free water stands in: told, unless the defect brings the higher head."""
    _, firm, sand = make_block().strata
    strata = (
        replace(firm, name="crust", top=0.0),
        replace(sand, name="seam", top=-5.0),
        replace(firm, top=-17.0),
    )
    block = make_block(
        strata=(*strata, replace(sand, top=-22.0)),
        aquifer=defect(-13.0, head=np.array([-6.0, 3.0])),
        wall=Wall(toe=-14.0, thickness=0.8),
    )
    told = outcome("hydraulic_heave", block, "prism_effective").outside[DRAINED_OUTSIDE]
    np.testing.assert_array_equal(told, [True, False])


def test_inflow_feels_the_aquifer_where_a_defect_reaches_the_toe(make_block: Maker) -> None:
    _, firm, sand = make_block().strata
    fill = replace(sand, name="fill", top=0.0, permeability=1e-5)
    block = make_block(
        strata=(fill, replace(firm, top=-17.0), replace(sand, top=-22.0)),
        aquifer=defect(-13.0, head=np.array([-6.0, 3.0])),
        wall=Wall(toe=-14.0, thickness=0.8),
        sumps=Sumps(running=1, capacity=10.0),
    )
    np.testing.assert_allclose(steps_of_rows("sump_flooding", block, "pumps")["h"], [8.0, 12.0])


def test_a_defect_that_opens_the_cut_is_told_with_the_inflow(make_block: Maker) -> None:
    strata = tuple(replace(s, permeability=1e-8) for s in make_block().strata)
    rows = make_block(
        strata=strata, aquifer=defect(np.array([-12.0, -9.0])), sumps=Sumps(running=1, capacity=10.0)
    )
    told = outcome("sump_flooding", rows, "pumps").outside[ground_inflow.UNBROKEN]
    np.testing.assert_array_equal(told, [False, True])
