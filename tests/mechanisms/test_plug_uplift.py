"""Plug uplift: weights, water, slab and piles by hand, and rows in which no plug is left."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.mechanisms import catalogue
from riskcut.mechanisms.plug_uplift import MECHANISM, NO_BLOCK, PLUG_LEFT, TIGHT
from riskcut.mechanisms.tension_piles import pile_tension
from riskcut.study.block import Aquifer, Block, Piles, Slab, Stratum, Wall, WellLoss

Maker = Callable[..., Block]

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


def evaluate(block: Block):
    return MECHANISM.outcome(block, "plug")


def steps_of(block: Block) -> dict[str, float]:
    return {step.symbol: step.value for step in evaluate(block).steps}


def test_weight_against_water_by_hand(make_block: Maker) -> None:
    outcome = evaluate(make_block())
    assert outcome.resistance == pytest.approx(3.0 * 17.0 + 8.0 * 19.0)
    assert outcome.action == pytest.approx(9.81 * 18.0)
    wet = evaluate(make_block(water_inside=-7.0))
    assert wet.resistance == pytest.approx(outcome.resistance + 2.0 * 9.81)
    assert evaluate(make_block(aquifer=Aquifer(stratum="sand", head=-25.0))).action == 0.0


def test_a_slab_weighs_and_takes_the_place_of_water(make_block: Maker) -> None:
    slab = Slab(thickness=1.5, unit_weight=24.0)
    dry = evaluate(make_block()).resistance
    assert evaluate(make_block(slab=slab)).resistance == pytest.approx(dry + 36.0)
    assert evaluate(make_block(slab=slab, water_inside=-8.0)).resistance == pytest.approx(dry + 36.0)
    assert evaluate(make_block(slab=slab, water_inside=-7.0)).resistance == pytest.approx(
        dry + 36.0 + 0.5 * 9.81
    )


def test_piles_by_hand(make_block: Maker) -> None:
    """Toe at -27: 11 m of shaft in the plug (3 m of soft, 8 m of firm), 7 m in the sand below it."""
    block = make_block(piles=PILES)
    perimeter, area = math.pi * 0.75, 14.0
    weight, pressure = 203.0, 9.81 * 18.0
    stress = weight - pressure
    below = perimeter * 0.3 * (stress * 7.0 + 0.5 * (20.0 - 9.81) * 49.0)
    within = perimeter * 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 8.0 * 60.0)
    steps = steps_of(block)
    assert steps["R_b"] == pytest.approx(below, rel=1e-12)
    assert steps["R_i"] == pytest.approx(within, rel=1e-12)
    assert below < within
    assert evaluate(block).resistance == pytest.approx(weight + below / area, rel=1e-12)
    factored = replace(block, model_factors={"plug_uplift/plug": 0.7})
    assert evaluate(factored).resistance == pytest.approx(weight + 0.7 * below / area, rel=1e-12)
    assert evaluate(factored).action == evaluate(block).action


def test_steel_and_the_shaft_inside_the_plug_limit_a_pile(make_block: Maker) -> None:
    weak = replace(PILES, steel_resistance=140.0)
    factored = {"plug_uplift/plug": 2.0}
    limited = evaluate(make_block(piles=weak, model_factors=factored)).resistance
    assert limited == pytest.approx(203.0 + 10.0), "the factor is not on steel"
    loose = make_block(piles=replace(PILES, length=60.0))
    slab = Slab(thickness=1.0, unit_weight=24.0)
    assert steps_of(loose)["R_p"] == pytest.approx(steps_of(loose)["R_i"] / 14.0)
    cast = steps_of(replace(loose, slab=slab))
    assert "R_i" not in cast
    assert cast["R_p"] == pytest.approx(cast["R_b"] / 14.0)
    assert pile_tension(shaft_below=100.0, shaft_within=60.0, steel=80.0, model_factor=1.5) == 80.0
    assert pile_tension(shaft_below=100.0, shaft_within=60.0, steel=80.0) == 60.0
    assert pile_tension(shaft_below=100.0, shaft_within=None, steel=180.0) == 100.0


def test_shaft_above_the_finished_formation_never_counts(make_block: Maker) -> None:
    """At an earlier stage the ground reaches above the pile's head: only the pile's own length holds."""
    early = make_block(piles=PILES, formation=-5.0, water_inside=-5.0)
    assert steps_of(early)["R_i"] == pytest.approx(steps_of(make_block(piles=PILES))["R_i"])
    over_dug = make_block(piles=PILES, formation=-10.0, water_inside=-10.0)
    assert steps_of(over_dug)["R_i"] < steps_of(early)["R_i"]


def test_piles_that_end_in_the_plug_hold_nothing(make_block: Maker) -> None:
    assert evaluate(make_block(piles=replace(PILES, length=10.0))).resistance == pytest.approx(203.0)


def test_a_finished_formation_inside_the_aquifer_starts_the_shaft_there(make_block: Maker) -> None:
    """Formation -22 of the last stage, 2 m into the sand: at this stage 1 m of shaft less is not counted."""
    deep = make_block(piles=replace(PILES, head=-22.0, length=5.0))
    stress = 203.0 - 9.81 * 18.0
    gain = 20.0 - 9.81
    expected = math.pi * 0.75 * 0.3 * (stress * 5.0 + 0.5 * gain * (49.0 - 4.0))
    assert steps_of(deep)["R_b"] == pytest.approx(expected, rel=1e-12)
    assert steps_of(deep)["R_i"] == 0.0


def test_no_stress_is_left_where_the_water_lifts_the_plug(make_block: Maker) -> None:
    high = make_block(piles=PILES, aquifer=Aquifer(stratum="sand", head=8.0))
    steps = steps_of(high)
    assert steps["sigma'"] == 0.0
    assert steps["R_b"] == pytest.approx(math.pi * 0.75 * 0.3 * 0.5 * (20.0 - 9.81) * 49.0, rel=1e-12)


def test_rows_dug_into_the_aquifer_are_judged_at_formation(make_block: Maker) -> None:
    """No plug: the row fails as soon as the head stands above the water inside, and is never NaN."""
    soft, firm, sand = make_block().strata
    strata = (soft, replace(firm, top=-6.0), replace(sand, top=np.full(4, -7.0)))
    block = make_block(
        strata=strata,
        aquifer=Aquifer(stratum="sand", head=np.array([-2.0, -8.0, -9.5, -5.0])),
        water_inside=np.array([-9.0, -9.0, -9.0, -4.0]),
    )
    outcome = evaluate(block)
    np.testing.assert_allclose(outcome.resistance, [0.0, 0.0, 0.0, 5.0 * 9.81])
    np.testing.assert_allclose(outcome.action, [7.0 * 9.81, 9.81, 0.0, 4.0 * 9.81])
    np.testing.assert_array_equal(outcome.resistance < outcome.action, [True, True, False, False])
    np.testing.assert_array_equal(outcome.outside[PLUG_LEFT], [True] * 4)
    means = make_block(strata=(soft, replace(firm, top=-6.0), replace(sand, top=-7.0)), wall=None)
    member, _ = MECHANISM.members(means)
    assert member.not_applicable is None
    assert member.note == "at the means the cut is dug into the aquifer: no plug is left under it"


def test_the_margin_is_continuous_where_the_plug_vanishes(make_block: Maker) -> None:
    soft, firm, sand = make_block().strata
    top = np.array([-9.0 - 1e-9, -9.0, -9.0 + 1e-9])
    outcome = evaluate(make_block(strata=(soft, replace(firm, top=-6.0), replace(sand, top=top))))
    np.testing.assert_allclose(outcome.resistance - outcome.action, -7.0 * 9.81, atol=1e-6)


def test_a_leaky_plug_and_a_block_of_piles_are_out_of_range(make_block: Maker) -> None:
    soft, firm, sand = make_block().strata
    seam = replace(sand, name="seam", top=np.array([-15.0, -5.0]))
    layers = (soft, seam, replace(firm, top=np.array([-16.0, -6.0])), sand)
    outcome = evaluate(make_block(strata=layers, piles=PILES))
    np.testing.assert_array_equal(outcome.outside[TIGHT], [True, False])
    np.testing.assert_array_equal(outcome.outside[NO_BLOCK], [False, False])
    dense = replace(PILES, spacing_along=1.5, spacing_across=1.5, shaft_ratio=0.6)
    # Under a plug with weight to spare: friction above the submerged weight of 7 m of sand.
    assert evaluate(make_block(piles=dense)).outside[NO_BLOCK]


def test_reasons_not_to_apply(make_block: Maker) -> None:
    dry, _ = MECHANISM.members(make_block(aquifer=None))
    assert dry.not_applicable == "no confined aquifer is stated under this section"
    early, _ = MECHANISM.members(make_block(dug=False))
    assert early.not_applicable == "nothing has been dug yet: the ground over the aquifer is as it was found"
    with pytest.raises(ValueError, match="no member 'plug' in this block"):
        evaluate(make_block(aquifer=None))
    with pytest.raises(ValueError, match="stratum 'chalk', which section 'north' lacks"):
        evaluate(make_block(aquifer=Aquifer(stratum="chalk", head=0.0)))


def test_permanent_load_on_the_slab_holds_the_plug_down(make_block):
    slab = Slab(thickness=1.5, unit_weight=24.0, fill=10.0)
    bare = MECHANISM.outcome(make_block(slab=replace(slab, fill=0.0)), "plug").resistance
    assert MECHANISM.outcome(make_block(slab=slab), "plug").resistance == pytest.approx(bare + 10.0)


def test_a_cut_that_reaches_the_aquifer_is_judged_by_others(make_block: Maker) -> None:
    soft, firm, sand = make_block().strata
    reached = make_block(strata=(soft, replace(firm, top=-6.0), replace(sand, top=-7.0)))
    walled = replace(reached, wall=Wall(toe=-14.0, thickness=0.8))
    member, _ = MECHANISM.members(walled)
    assert member.not_applicable == (
        "the cut is dug into the aquifer, inside a deeper wall: hydraulic heave judges it"
    )
    heave = catalogue()["hydraulic_heave"].members(walled)
    assert [one.not_applicable for one in heave] == [None] * 3
    cast = replace(walled, slab=Slab(thickness=1.2, unit_weight=24.0))
    member, _ = MECHANISM.members(cast)
    assert member.not_applicable == "the slab lies in the aquifer, without a plug: flotation judges it"
    (floating,) = catalogue()["flotation"].members(cast)
    assert floating.not_applicable is None
    tight = Stratum(name="deep_clay", top=-13.0, unit_weight=20.0, su_at_top=90.0)
    closed = replace(walled, strata=(*walled.strata, tight))
    member, _ = MECHANISM.members(closed)
    assert member.not_applicable is None


def test_slab_and_standing_water_press_on_the_ground_round_the_piles(make_block: Maker) -> None:
    """What lies on the plug is carried down to its underside: 7 m of shaft in the sand below feel it."""
    bare = steps_of(make_block(piles=PILES))["R_b"]
    per_kpa = math.pi * 0.75 * 0.3 * 7.0
    wet = steps_of(make_block(piles=PILES, water_inside=-7.0))
    assert wet["R_b"] - bare == pytest.approx(per_kpa * 2.0 * 9.81, rel=1e-12)
    slab = Slab(thickness=1.5, unit_weight=24.0, fill=10.0)
    cast = steps_of(make_block(piles=PILES, slab=slab, water_inside=-7.0))
    assert cast["R_b"] - bare == pytest.approx(per_kpa * (46.0 + 0.5 * 9.81), rel=1e-12)
    assert cast["sigma'"] == pytest.approx(203.0 + 46.0 + 0.5 * 9.81 - 9.81 * 18.0, rel=1e-12)


def test_piles_that_end_in_the_plug_have_their_own_length_in_it(make_block: Maker) -> None:
    short = steps_of(make_block(piles=replace(PILES, length=10.0)))
    assert short["R_i"] == pytest.approx(
        math.pi * 0.75 * 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 7.0 * 60.0), rel=1e-12
    )
    assert short["R_b"] == 0.0


def test_the_block_of_ground_round_the_piles_by_hand(make_block: Maker) -> None:
    """7 m of sand of 10.19 kN/m3 under the plug: 71.33 kPa; piles that hold a little less, and a little more."""
    steel = 7.0 * (20.0 - 9.81) * 14.0
    strong = replace(PILES, shaft_ratio=2.0, steel_resistance=np.array([0.999, 1.001]) * steel)
    outcome = evaluate(make_block(piles=strong, slab=Slab(thickness=1.0, unit_weight=24.0)))
    np.testing.assert_array_equal(outcome.outside[NO_BLOCK], [False, True])


def test_what_the_wells_lose_of_the_drawdown_lifts_the_plug(make_block: Maker) -> None:
    """Half of 4 m is lost at once; of all of it 63 % where the answer comes after one recovery time."""
    half = Aquifer(stratum="sand", head=-6.0, loss=WellLoss(drawdown=4.0, share=0.5))
    assert evaluate(make_block(aquifer=half)).action == pytest.approx(9.81 * 16.0)
    late = WellLoss(drawdown=4.0, share=0.5, response_time=3.0, recovery_time=3.0)
    slow = evaluate(make_block(aquifer=replace(half, loss=late))).action
    assert slow == pytest.approx(9.81 * (14.0 + 2.0 * (1.0 - math.exp(-1.0))))


def test_a_plug_of_no_thickness_is_none(make_block: Maker) -> None:
    soft, firm, sand = make_block().strata
    strata = (soft, replace(firm, top=-6.0), replace(sand, top=-9.0))
    member, _ = MECHANISM.members(make_block(strata=strata, wall=None))
    assert member.note == "at the means the cut is dug into the aquifer: no plug is left under it"
    slab = Slab(thickness=1.0, unit_weight=24.0)
    member, _ = MECHANISM.members(make_block(strata=strata, slab=slab))
    assert member.not_applicable == "the slab lies in the aquifer, without a plug: flotation judges it"
