"""Flooding of the sumps: each way of the water by hand, rain, pumps, what governs, and the reasons not to apply."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.ground import seepage
from riskcut.mechanisms import catalogue, ground_inflow
from riskcut.mechanisms.sump_flooding import DRAINED_BY_PUMPS, MECHANISM
from riskcut.study.block import Aquifer, Block, Slab, Stratum, Sumps, Wall

Maker = Callable[..., Block]

SUMPS = Sumps(running=2, capacity=30.0)
SAND = Stratum(name="sand", top=0.0, unit_weight=19.0, friction_angle=34.0, permeability=2e-5)
CLAY = Stratum(name="clay", top=-30.0, unit_weight=19.0, su_at_top=60.0)


def outcome(block: Block):
    return MECHANISM.outcome(block, "pumps")


def steps(block: Block) -> dict[str, float]:
    return {step.symbol: float(step.value) for step in outcome(block).steps}


def member(block: Block):
    (found,) = MECHANISM.members(block)
    return found


def in_clay(make_block: Maker, *permeabilities: float | None, **changes) -> Block:
    """Return the plain cut, 8 by 40 m: 3 m of soft and 8 m of firm clay over the aquifer at -20."""
    strata = make_block().strata
    known = tuple(replace(s, permeability=k) for s, k in zip(strata, permeabilities, strict=False))
    return make_block(**{"sumps": SUMPS, "strata": (*known, *strata[len(known) :]), **changes})


def in_sand(make_block: Maker, **changes) -> Block:
    """Return an 8 by 40 m cut in 30 m of sand on clay, 8 m below the water."""
    return make_block(**{"sumps": SUMPS, "strata": (SAND, CLAY), "aquifer": None, **changes})


def test_rain_and_pumps_by_hand(make_block: Maker) -> None:
    """25 mm/h on 320 m2, of which 0.9 arrive: 7.2 m3/h."""
    sumps = replace(SUMPS, inflow=40.0, runoff=0.9)
    found = outcome(make_block(sumps=sumps, rain=25.0))
    assert found.resistance == 60.0
    assert found.action == pytest.approx(40.0 + 7.2)
    assert outcome(make_block(sumps=replace(sumps, running=0))).resistance == 0.0


def test_the_model_factor_is_on_predicted_ground_water_alone(make_block: Maker) -> None:
    factor = {"sump_flooding/pumps": 2.0}
    stated = make_block(sumps=replace(SUMPS, inflow=40.0), rain=25.0)
    assert outcome(replace(stated, model_factors=factor)).action == outcome(stated).action
    predicted = in_sand(make_block, rain=25.0)
    ground = outcome(replace(predicted, rain=0.0)).action
    assert outcome(replace(predicted, model_factors=factor)).action == pytest.approx(2.0 * ground + 8.0)


def test_round_the_walls_toe_by_fragments(make_block: Maker) -> None:
    """Outside 15 m of wall below the water, inside 7 m, 21 m of sand below the formation, half width 4 m."""
    found = steps(in_sand(make_block))
    flow = seepage.into_a_cut(outside=15.0, inside=7.0, thickness=21.0, half_width=4.0)
    each = 2e-5 * 8.0 / (flow.form_outside + flow.form_inside)
    assert found["Q_w"] == pytest.approx(3600.0 * 96.0 * each, rel=1e-12)
    assert member(in_sand(make_block)).note.startswith("ground water round the wall's toe; floods the works")
    wet = steps(in_sand(make_block, water_inside=-5.0))
    assert wet["Q_w"] == pytest.approx(0.5 * found["Q_w"], rel=1e-12)
    assert steps(in_sand(make_block, water_table=-9.5))["Q_w"] == 0.0


def test_round_the_toe_in_deep_ground(make_block: Maker) -> None:
    """The flow feels six times the 15 m outside, the mean of the permeability two and a half times."""
    sand = replace(SAND, permeability=2e-5)
    block = in_sand(make_block, strata=(sand,), width=40.0, length=90.0)
    forms = seepage.into_a_cut(outside=15.0, inside=7.0, thickness=82.0, half_width=20.0, felt=6.0)
    each = 2e-5 * 8.0 / (forms.form_outside + forms.form_inside)
    assert steps(block)["Q_w"] == pytest.approx(3600.0 * 260.0 * each, rel=1e-12)
    shallow = in_sand(make_block, strata=(sand, replace(CLAY, top=-38.5)), width=40.0, length=90.0)
    assert steps(block)["Q_w"] > 1.2 * steps(shallow)["Q_w"]
    fine = replace(SAND, name="fine", top=-30.0, permeability=1e-6)
    layered = steps(replace(block, strata=(sand, fine)))
    assert layered["k"] == pytest.approx((29.0 * 2e-5 + 8.5 * 1e-6) / 37.5, rel=1e-12)


def test_layers_round_the_toe_count_by_their_thickness(make_block: Maker) -> None:
    fine = replace(SAND, name="fine", top=-13.0, permeability=1e-6)
    found = steps(in_sand(make_block, strata=(SAND, fine, CLAY)))
    depth = seepage.into_a_cut(outside=15.0, inside=7.0, thickness=21.0, half_width=4.0).thickness
    assert found["k"] == pytest.approx((12.0 * 2e-5 + (depth - 4.0) * 1e-6) / (8.0 + depth), rel=1e-12)


def test_up_through_the_plug_by_darcy(make_block: Maker) -> None:
    """7 m of head over the formation through 3 m at 1e-8 and 8 m at 4e-9 m/s: 2.3e9 s, 320 m2."""
    block = in_clay(make_block, 1e-8, 4e-9)
    found = steps(block)
    assert found["Q_p"] == pytest.approx(3600.0 * 320.0 * 7.0 / 2.3e9, rel=1e-12)
    assert found["Q_g"] == found["Q_p"]
    assert member(block).note.startswith("ground water up through the plug; ")
    lost = replace(block, aquifer=Aquifer(stratum="sand", head=-10.0))
    assert steps(lost)["Q_p"] == 0.0
    assert member(lost).note.startswith("no ground water finds a way in: rain alone")
    seam = replace(block, aquifer=Aquifer(stratum="sand", head=-2.0, reaches=-14.0))
    assert steps(seam)["Q_p"] == found["Q_p"], "a defect is a place; the plug is as thick everywhere else"


def test_open_sides_by_dupuit(make_block: Maker) -> None:
    """No wall, clay 4 m below the formation: H 12 m, h 4 m over the clay."""
    block = in_sand(make_block, wall=None, strata=(SAND, replace(CLAY, top=-13.0)))
    radius = math.sqrt(320.0 / math.pi)
    reach = 3000.0 * 8.0 * math.sqrt(2e-5)
    dupuit = math.pi * 2e-5 * (12.0**2 - 4.0**2) / math.log((radius + reach) / radius)
    assert steps(block)["Q_s"] == pytest.approx(3600.0 * dupuit, rel=1e-9)
    assert member(block).note.startswith("ground water through sides and floor; ")


def test_deep_ground_comes_in_through_sides_and_floor(make_block: Maker) -> None:
    block = in_sand(make_block, wall=None, strata=(SAND,))
    radius = math.sqrt(320.0 / math.pi)
    spread = math.log1p(3000.0 * 8.0 * math.sqrt(2e-5) / radius)
    expected = math.pi * 2e-5 * 64.0 / spread + 4.0 * 2e-5 * radius * 8.0
    assert steps(block)["Q_s"] == pytest.approx(3600.0 * expected, rel=1e-9)
    bases = np.linspace(-9.5, -60.0, 60)
    rows = outcome(in_sand(make_block, wall=None, strata=(SAND, replace(CLAY, top=bases)))).action
    assert np.all(np.diff(rows) >= -1e-9), "the deeper the base, the more comes in"
    assert rows[-1] == pytest.approx(3600.0 * expected, rel=1e-9)


def test_sides_in_sand_over_a_plug_are_added_to_what_the_plug_lets_through(make_block: Maker) -> None:
    """Fill to -4 over clay, the cut at -9 without a wall: the fill drains over the clay, the aquifer seeps."""
    fill = replace(SAND, name="fill")
    clay = replace(CLAY, top=-4.0, permeability=1e-8)
    deep = replace(SAND, name="sand", top=-20.0)
    block = make_block(sumps=SUMPS, wall=None, strata=(fill, clay, deep))
    found = steps(block)
    radius = math.sqrt(320.0 / math.pi)
    spread = math.log1p(3000.0 * 8.0 * math.sqrt(2e-5) / radius)
    assert found["Q_s"] == pytest.approx(3600.0 * math.pi * 2e-5 * 9.0 / spread, rel=1e-9)
    assert found["Q_p"] == pytest.approx(3600.0 * 320.0 * 7.0 * 1e-8 / 11.0, rel=1e-12)
    assert found["S"] == pytest.approx(found["Q_s"] + found["Q_p"], rel=1e-12)


def test_a_wall_into_clay_and_a_slab_keep_ground_water_out(make_block: Maker) -> None:
    cut_off = in_sand(make_block, strata=(SAND, replace(CLAY, top=-13.0)), rain=10.0)
    slab = in_sand(make_block, slab=Slab(thickness=1.0, unit_weight=24.0), rain=10.0)
    for block, note in ((cut_off, "no ground water finds a way in"), (slab, "the slab closes the formation")):
        assert outcome(block).action == pytest.approx(3.2)
        assert member(block).note.startswith(f"{note}: rain alone; ")


def test_the_aquifer_drives_the_flow_round_a_toe_in_it(make_block: Maker) -> None:
    clay = replace(CLAY, top=0.0)
    sand = replace(SAND, top=-7.0)
    block = make_block(sumps=SUMPS, strata=(clay, sand), aquifer=Aquifer(stratum="sand", head=-3.0))
    assert steps(block)["h"] == pytest.approx(6.0)
    assert steps(block)["Q_p"] == 0.0


def test_rows_choose_their_own_way(make_block: Maker) -> None:
    """Clay that ends above the toe in one row lets water through it alone; deeper clay lets it round the toe."""
    firm = Stratum(
        name="firm", top=np.array([-12.0, -18.0]), unit_weight=19.0, su_at_top=60.0, permeability=1e-9
    )
    deep = replace(SAND, name="sand", top=-24.0)
    block = make_block(sumps=SUMPS, strata=(replace(SAND, name="fill"), firm, deep))
    ways = {step.symbol: step.value for step in outcome(block).steps}
    np.testing.assert_array_equal(ways["Q_w"] > 0.0, [False, True])
    np.testing.assert_array_equal(ways["Q_p"] > 0.0, [True, False])


def test_unknown_permeabilities_are_named_and_told_by_row(make_block: Maker) -> None:
    assert member(in_clay(make_block)).not_applicable == (
        "neither the inflow (water.sumps.inflow) nor the permeability of the ground is stated "
        "(ground.strata.soft.permeability, ground.strata.firm.permeability)"
    )
    assert "(ground.strata.firm.permeability)" in (member(in_clay(make_block, 1e-8)).not_applicable or "")
    assert member(in_clay(make_block, 1e-8, 1e-9)).not_applicable is None
    unknown = replace(SAND, permeability=None)
    for wall in (None, Wall(toe=-16.0, thickness=0.8)):
        reason = member(in_sand(make_block, strata=(unknown, CLAY), wall=wall)).not_applicable or ""
        assert reason.endswith("is stated (ground.strata.sand.permeability)")
    stated = replace(SUMPS, inflow=np.array([4.0, 5.0]))
    assert member(make_block(sumps=replace(stated, inflow=4.5))).not_applicable is None
    np.testing.assert_allclose(outcome(make_block(sumps=stated)).action, [4.0, 5.0])
    seam = Stratum(name="seam", top=np.array([-22.0, -26.0]), unit_weight=19.0, su_at_top=60.0)
    block = in_clay(make_block, 1e-8, 1e-9)
    assert block.aquifer is not None
    soft, firm, sand = block.strata
    rows = replace(block, strata=(soft, firm, seam, replace(sand, top=-26.0)))
    np.testing.assert_array_equal(outcome(rows).outside[ground_inflow.KNOWN], [True, False])


def test_what_is_shown_and_what_counts(make_block: Maker) -> None:
    block = in_sand(make_block)
    assert not member(block).governing
    assert member(block).note.endswith(
        "floods the works (and steadies the base): shown beside, does not enter the system"
    )
    counted = member(replace(block, options={"sump_flooding": {"counts": "enters_the_system"}}))
    assert counted.governing
    assert counted.note.endswith("counts as a failure of the works, as the study says")


def test_reasons_not_to_apply(make_block: Maker) -> None:
    assert member(make_block()).not_applicable == "no sumps are stated (water.sumps)"
    assert member(make_block(sumps=SUMPS, dug=False)).not_applicable == "nothing has been dug yet"
    finished = member(make_block(sumps=SUMPS, permanent=True)).not_applicable
    assert finished == "the finished works keep dry by drains and pumps of their own, which the study lacks"
    opened = Aquifer(stratum="sand", head=-2.0, reaches=-9.0)
    assert member(in_clay(make_block, 1e-8, 1e-9, aquifer=opened)).not_applicable == (
        "what a defect lets into the cut is not predicted: state the inflow (water.sumps.inflow)"
    )
    with pytest.raises(ValueError, match="no member 'pumps' in this block"):
        outcome(make_block())


def test_impossible_rows_are_never_safe_and_a_full_cut_is_told(make_block: Maker) -> None:
    formation = np.array([-9.0, 0.0, 0.2, -17.0])
    rows = outcome(in_sand(make_block, formation=formation, water_inside=formation))
    np.testing.assert_array_equal(np.isnan(rows.resistance), [False, True, True, True])
    full = outcome(in_sand(make_block, water_inside=np.array([-9.0, 0.0])))
    np.testing.assert_array_equal(full.outside[DRAINED_BY_PUMPS], [False, True])


def test_no_other_mechanism_reads_pumps_and_rain() -> None:
    readers = [name for name, one in catalogue().items() if not {"sumps", "rain"} <= one.unaffected_by]
    assert readers == ["sump_flooding"]


def test_long_open_cuts_are_told(make_block: Maker) -> None:
    rows = in_sand(make_block, wall=None, length=np.array([40.0, 40.1]))
    np.testing.assert_array_equal(outcome(rows).outside[ground_inflow.COMPACT], [False, True])
    assert ground_inflow.COMPACT not in outcome(in_sand(make_block)).outside
