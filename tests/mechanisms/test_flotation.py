"""Flotation: slab, walls and piles by hand, the water under the slab, and where it is no question."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.mechanisms.flotation import MECHANISM, NOT_FLOODED
from riskcut.mechanisms.tension_piles import group_uplift
from riskcut.study.block import Aquifer, Block, Piles, Slab, Wall

Maker = Callable[..., Block]

SLAB = Slab(thickness=1.5, unit_weight=24.0, fill=10.0)
WEIGHT = 1.5 * 24.0 + 10.0
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
AREA, PERIMETER = 14.0, math.pi * 0.75


def finished(make_block: Maker, **changes) -> Block:
    """Return the plain 9 m cut with its slab cast, no aquifer."""
    return make_block(slab=SLAB, aquifer=None, **changes)


def evaluate(block: Block):
    return MECHANISM.outcome(block, "structure")


def steps(block: Block) -> dict[str, float]:
    return {step.symbol: step.value for step in evaluate(block).steps}


def test_slab_against_the_water_under_it(make_block: Maker) -> None:
    outcome = evaluate(finished(make_block))
    assert outcome.action == pytest.approx(9.81 * 8.0)
    assert outcome.resistance == pytest.approx(WEIGHT)
    drained = evaluate(finished(make_block, water_under_slab=-6.0))
    assert drained.action == pytest.approx(9.81 * 3.0)
    assert drained.resistance == outcome.resistance
    assert evaluate(finished(make_block, water_under_slab=-9.5)).action == 0.0


def test_water_in_the_works_stands_on_the_slab(make_block: Maker) -> None:
    assert evaluate(finished(make_block, water_inside=-8.0)).resistance == pytest.approx(WEIGHT)
    assert evaluate(finished(make_block, water_inside=-5.5)).resistance == pytest.approx(WEIGHT + 2.0 * 9.81)


def test_walls_hang_on_the_slab_only_where_it_carries_them(make_block: Maker) -> None:
    """8 by 40 m, walls 0.8 thick from the surface to -16, water at -1: the water lifts their toe as well."""
    carries = replace(SLAB, carries_walls=True)
    block = replace(finished(make_block), slab=carries)
    walls = (24.0 * 16.0 - 9.81 * 15.0) * 0.8 * 2.0 * 48.0 / 320.0
    assert steps(block)["W_wall"] == pytest.approx(walls, rel=1e-12)
    assert evaluate(block).resistance == pytest.approx(WEIGHT + walls, rel=1e-12)
    assert "W_wall" not in steps(finished(make_block))
    assert evaluate(replace(block, wall=None)).resistance == pytest.approx(WEIGHT)
    higher = replace(block, wall=Wall(toe=-16.0, thickness=0.8, top=1.0, unit_weight=25.0))
    walls = (25.0 * 17.0 - 9.81 * 15.0) * 0.8 * 2.0 * 48.0 / 320.0
    assert evaluate(higher).resistance == pytest.approx(WEIGHT + walls, rel=1e-12)


def test_the_toe_feels_the_highest_water_that_reaches_it(make_block: Maker) -> None:
    carries = replace(SLAB, carries_walls=True)
    block = replace(finished(make_block), slab=carries, water_under_slab=-4.0)
    assert steps(block)["u_b"] == pytest.approx(9.81 * 15.0), "the free water outside still stands at -1"
    assert steps(replace(block, water_under_slab=0.5))["u_b"] == pytest.approx(9.81 * 16.5)
    over = Aquifer(stratum="sand", head=3.0)
    assert steps(replace(block, aquifer=over))["u_b"] == pytest.approx(9.81 * 15.0), "the toe is in clay"
    deep = replace(block, aquifer=over, wall=Wall(toe=-21.0, thickness=0.8))
    assert steps(deep)["u_b"] == pytest.approx(9.81 * 24.0)
    drawn_down = replace(deep, aquifer=Aquifer(stratum="sand", head=-15.0))
    assert steps(drawn_down)["u_b"] == pytest.approx(9.81 * 20.0), "the wells may stop"
    light = replace(block, wall=Wall(toe=-16.0, thickness=0.8, top=-12.0))
    assert steps(light)["W_wall"] == 0.0, "walls lighter than the water they stand in do not pull"


def clay_and_sand(theta: float = 1.0) -> tuple[float, float]:
    """Return shaft of one pile with the toe at -27, and the submerged weight of the ground over that length."""
    clay = 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 8.0 * 60.0)
    over = 3.0 * (17.0 - 9.81) + 8.0 * (19.0 - 9.81)
    sand = 0.3 * (7.0 * over + 0.5 * 49.0 * (20.0 - 9.81))
    return theta * PERIMETER * (clay + sand), over + 7.0 * (20.0 - 9.81)


def test_piles_by_hand(make_block: Maker) -> None:
    """11 m of clay and 7 m of sand below the slab; on the sides of the block nothing above the wall's toe."""
    block = finished(make_block, piles=PILES)
    shaft, weight = clay_and_sand()
    sides = 2.0 * 48.0 / 320.0 * 4.0 * 60.0
    found = steps(block)
    assert found["R_s"] == pytest.approx(shaft, rel=1e-12)
    assert found["W_b"] == pytest.approx(weight, rel=1e-12)
    assert found["T_b"] == pytest.approx(sides, rel=1e-12)
    assert shaft / AREA < weight + sides
    assert evaluate(block).resistance == pytest.approx(WEIGHT + shaft / AREA, rel=1e-12)
    factored = replace(block, model_factors={"flotation/structure": 0.7})
    assert evaluate(factored).resistance == pytest.approx(WEIGHT + 0.7 * shaft / AREA, rel=1e-12)
    assert evaluate(factored).action == evaluate(block).action
    open_cut = steps(replace(block, wall=None))
    assert open_cut["T_b"] == pytest.approx(2.0 * 48.0 / 320.0 * 2.0 * clay_shear(), rel=1e-12)


def clay_shear() -> float:
    """Return the strength over the 11 m of clay below the slab, halved as the adhesion of the piles is."""
    return 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 8.0 * 60.0)


def test_steel_and_the_block_limit_the_piles(make_block: Maker) -> None:
    steel = finished(make_block, piles=replace(PILES, steel_resistance=300.0))
    assert evaluate(steel).resistance == pytest.approx(WEIGHT + 300.0 / AREA)
    strong = replace(steel, model_factors={"flotation/structure": 3.0})
    assert evaluate(strong).resistance == evaluate(steel).resistance, "no factor on steel"
    dense = finished(make_block, piles=replace(PILES, spacing_along=1.2, spacing_across=1.2))
    _, weight = clay_and_sand()
    sides = 2.0 * 48.0 / 320.0 * 4.0 * 60.0
    assert evaluate(dense).resistance == pytest.approx(WEIGHT + weight + sides, rel=1e-12)
    halved = replace(dense, model_factors={"flotation/structure": 0.8})
    assert evaluate(halved).resistance == pytest.approx(WEIGHT + weight + 0.8 * sides, rel=1e-12)
    assert group_uplift(count=2.0, one_pile=10.0, sides=3.0, block=16.0) == 19.0
    assert group_uplift(count=2.0, one_pile=10.0, sides=3.0, block=18.0, cap=0.5) == 20.5


def test_an_aquifer_at_rest_with_the_water_changes_nothing(make_block: Maker) -> None:
    """Only what its head stands above the water under the slab is taken off the stress around the piles."""
    block = finished(make_block, piles=PILES)
    for head in (-30.0, -5.0, -1.0):
        same = replace(block, aquifer=Aquifer(stratum="sand", head=head))
        assert evaluate(same).resistance == pytest.approx(evaluate(block).resistance, rel=1e-12)
    high = replace(block, aquifer=Aquifer(stratum="sand", head=2.0))
    lost = PERIMETER * 0.3 * 7.0 * 3.0 * 9.81 / AREA
    assert evaluate(high).resistance == pytest.approx(evaluate(block).resistance - lost, rel=1e-12)
    assert steps(high)["W_b"] == pytest.approx(steps(block)["W_b"] - 3.0 * 9.81, rel=1e-12)
    artesian = steps(replace(block, aquifer=Aquifer(stratum="sand", head=60.0)))
    clay_only = PERIMETER * (clay_shear() + 0.3 * 0.5 * 49.0 * (20.0 - 9.81))
    assert artesian["R_s"] == pytest.approx(clay_only, rel=1e-12), "no stress below zero"
    assert artesian["W_b"] == 0.0


def test_shaft_above_the_finished_formation_never_counts(make_block: Maker) -> None:
    shaft, _ = clay_and_sand()
    under_dug = finished(make_block, piles=PILES, formation=-8.0, water_inside=-8.0)
    extra = PERIMETER * 0.3 * 7.0 * (17.0 - 9.81)
    assert steps(under_dug)["R_s"] == pytest.approx(shaft + extra, rel=1e-12), "a metre more of ground weighs"
    over_dug = finished(make_block, piles=PILES, formation=-10.0, water_inside=-10.0)
    assert steps(over_dug)["R_s"] < shaft - PERIMETER * 0.5 * 38.5


@pytest.mark.parametrize("carries", [True, False])
def test_higher_water_is_never_safer_without_an_aquifer(make_block: Maker, carries: bool) -> None:
    levels = np.linspace(-12.0, 4.0, 33)
    block = finished(make_block, piles=PILES)
    block = replace(block, slab=replace(SLAB, carries_walls=carries))
    for changed in (replace(block, water_table=levels), replace(block, water_under_slab=levels)):
        outcome = evaluate(changed)
        margin = np.broadcast_to(outcome.resistance, 33) - outcome.action
        assert np.all(np.diff(margin) <= 1e-9)
        assert margin[-1] < margin[0] - 50.0


def test_a_flood_over_the_wall_is_out_of_range(make_block: Maker) -> None:
    levels = np.array([-1.0, 0.5, 1.5])
    np.testing.assert_array_equal(
        evaluate(finished(make_block, water_table=levels)).outside[NOT_FLOODED], [False, True, True]
    )
    walled = finished(make_block, water_table=levels, wall=Wall(toe=-16.0, thickness=0.8, top=1.0))
    np.testing.assert_array_equal(evaluate(walled).outside[NOT_FLOODED], [False, False, True])


def test_impossible_rows_are_never_safe(make_block: Maker) -> None:
    formation = np.array([-9.0, 0.0, 0.2])
    outcome = evaluate(finished(make_block, formation=formation, water_inside=formation, piles=PILES))
    np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True, True])
    soft, firm, sand = make_block().strata
    crossed = (soft, replace(firm, top=np.array([-12.0, -21.0])), sand)
    outcome = evaluate(finished(make_block, strata=crossed, piles=PILES))
    np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True])


def test_reasons_not_to_apply(make_block: Maker) -> None:
    (early,) = MECHANISM.members(finished(make_block, dug=False))
    assert early.not_applicable == "nothing has been dug yet"
    (open_cut,) = MECHANISM.members(make_block())
    assert open_cut.not_applicable == "the base slab is not cast yet: there is nothing to float"
    (there,) = MECHANISM.members(finished(make_block))
    assert there.not_applicable is None
    with pytest.raises(ValueError, match="no member 'structure' in this block"):
        evaluate(make_block())


def test_a_slab_in_the_aquifer_floats_on_the_aquifers_head(make_block: Maker) -> None:
    block = make_block()
    over = 1.7
    assert block.aquifer is not None
    lifted = replace(
        block,
        strata=(*block.strata[:-1], replace(block.strata[-1], top=block.formation + 0.5)),
        aquifer=replace(block.aquifer, head=block.water_table + over),
        slab=Slab(thickness=1.2, unit_weight=24.0),
    )
    above = MECHANISM.outcome(lifted, "structure").action
    assert above == pytest.approx(9.81 * (block.water_table + over - block.formation))
    drained = replace(lifted, water_under_slab=block.formation + 0.3)
    assert MECHANISM.outcome(drained, "structure").action == pytest.approx(9.81 * 0.3)


def test_water_drained_below_the_slab_leaves_what_the_ground_weighs(make_block: Maker) -> None:
    """Drained to -12: no more of the aquifer's head is taken off than what stands over the slab's underside."""
    block = finished(make_block, piles=PILES)
    head = replace(block, aquifer=Aquifer(stratum="sand", head=-7.0))
    for pore in ("hydrostatic", "to_aquifer"):
        both = replace(head, pore_pressure=pore)
        low = evaluate(replace(both, water_under_slab=-12.0)).resistance
        assert low == pytest.approx(evaluate(replace(both, water_under_slab=-9.0)).resistance, rel=1e-12)
    lost = PERIMETER * 0.3 * 7.0 * 2.0 * 9.81 / AREA
    at_rest = evaluate(replace(block, water_under_slab=-12.0)).resistance
    assert evaluate(replace(head, water_under_slab=-12.0)).resistance == pytest.approx(
        at_rest - lost, rel=1e-12
    )


def test_piles_of_a_slab_in_the_aquifer_start_at_the_slab(make_block: Maker) -> None:
    """Sand from -6, the slab at -9 in it: 18 m of shaft from no stress on, under the aquifer's head and any lower."""
    soft, firm, sand = make_block().strata
    strata = (soft, replace(firm, top=-4.0), replace(sand, top=-6.0))
    block = make_block(strata=strata, slab=SLAB, piles=PILES, aquifer=Aquifer(stratum="sand", head=-2.0))
    shaft = PERIMETER * 0.3 * 0.5 * 18.0**2 * (20.0 - 9.81)
    assert steps(block)["R_s"] == pytest.approx(shaft, rel=1e-12)
    assert steps(block)["W_b"] == pytest.approx(18.0 * (20.0 - 9.81), rel=1e-12)


def test_ground_over_the_heads_of_the_piles_is_no_part_of_their_block(make_block: Maker) -> None:
    """Under-dug by a metre: the block is what lies between the piles' heads and toes, at rest or to the aquifer."""
    block = finished(make_block, piles=PILES, formation=-8.0, water_inside=-8.0)
    _, weight = clay_and_sand()
    head = replace(block, aquifer=Aquifer(stratum="sand", head=-1.0), pore_pressure="to_aquifer")
    for under_dug in (block, head):
        assert steps(under_dug)["W_b"] == pytest.approx(weight, rel=1e-12)
