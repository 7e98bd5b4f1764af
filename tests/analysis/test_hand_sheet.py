"""The hand-calculation sheet: followed number by number with independent arithmetic, from the printed inputs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small_studies import DEMO

from riskcut.analysis.running import Settings, analyse
from riskcut.mechanisms import catalogue
from riskcut.results import hand, reading, writing
from riskcut.results.errors import ResultsError
from riskcut.results.status import Status
from riskcut.study.reading import read_study


@pytest.fixture(scope="module")
def tree():
    settings = Settings(seed=1, pilot_blocks=1, cap_blocks=2, base_rows=16, scrambles=2)
    return analyse(read_study(DEMO), settings)


def sheet(tree, stage: str, limit_state: str) -> dict[str, float]:
    found = hand.steps(tree, section="whole_cut", stage=stage, limit_state=limit_state)
    return {step.symbol: step.value for step in found}


def close(found: float, wanted: float) -> None:
    assert found == pytest.approx(wanted, rel=5e-6)


def test_uplift_with_piles_and_slab_can_be_followed(tree):
    n = sheet(tree, "in_service", "plug_uplift/plug")
    top, formation = n["strata.sand.top"], n["formation"]
    close(n["u"], 9.81 * (n["aquifer.head"] - top))
    close(n["W_p"], n["strata.soft_clay.unit_weight"] * (formation - top))
    close(n["W_s"], n["slab.unit_weight"] * n["slab.thickness"])
    stress = max(n["W_p"] + n["W_s"] - n["u"], 0.0)
    close(n["sigma'"], stress)
    # Shaft below the underside: beta times the stress that grows with the submerged weight of the sand.
    length = n["piles.length"] - (formation - top)
    submerged = n["strata.sand.unit_weight"] - 9.81
    around = math.pi * n["piles.diameter"]
    shaft = around * n["piles.shaft_ratio"] * (stress * length + submerged * length**2 / 2)
    close(n["R_b"], shaft)
    pile = min(shaft * n["model_factors.plug_uplift.plug"], n["piles.steel_resistance"])
    area = n["piles.spacing_along"] * n["piles.spacing_across"]
    close(n["R"], n["W_p"] + n["W_s"] + pile / area)
    close(n["S"], n["u"])


def test_heave_of_a_wide_cut_can_be_followed(tree):
    n = sheet(tree, "dig_4", "base_heave/wide_cut")
    crust = n["strata.crust.top"] - n["strata.soft_clay.top"]
    clay = n["strata.soft_clay.top"] - n["formation"]
    close(n["H"], crust + clay)
    weight = n["strata.crust.unit_weight"] * crust + n["strata.soft_clay.unit_weight"] * clay
    close(n["gamma H"], weight)
    close(n["S"], weight + n["surcharge"])
    close(n["T"], n["formation"] - n["strata.sand.top"])
    close(n["B_1"], min(n["width"] / math.sqrt(2), n["T"]))
    su, k = n["strata.soft_clay.su_at_top"], n["strata.soft_clay.su_per_metre"]
    close(n["su_b"], su + k * (clay + n["B_1"] / 2))
    close(n["su_u H"], n["strata.crust.su_at_top"] * crust + (su + k * clay / 2) * clay)
    close(n["R"], n["theta"] * (5.7 * n["su_b"] + n["su_u H"] / n["B_1"]))


def test_the_load_of_the_middle_prop_can_be_followed(tree):
    n = sheet(tree, "dig_4", "prop_overload/middle")
    surface, height = n["strata.crust.top"], n["H"]
    close(height, surface - n["formation"])
    crust = surface - n["strata.soft_clay.top"]
    clay = height - crust
    su, k = n["strata.soft_clay.su_at_top"], n["strata.soft_clay.su_per_metre"]
    close(n["su"], (n["strata.crust.su_at_top"] * crust + (su + k * clay / 2) * clay) / height)
    close(n["N"], n["gamma H"] / n["su"])
    close(n["p_soft"], max(n["gamma H"] - 4 * n["su"], 0.3 * n["gamma H"]))
    close(n["p_stiff"], 0.3 * n["gamma H"])
    depth = [surface - n[f"props.{name}.level"] for name in ("upper", "middle", "lower")]

    def of_middle(knees: list[float], pressures: list[float]) -> float:
        """Hinges at the middle and lower prop: the spans above and below bring their shares to the middle one."""
        z = np.linspace(0, height, 264_001)
        p = np.interp(z, knees, pressures)

        def share(low: float, high: float, near: float, far: float) -> float:
            inside = (z >= low) & (z <= high)
            return float(np.trapezoid(p[inside] * (z[inside] - far) / (near - far), z[inside]))

        return share(0, depth[1], depth[1], depth[0]) + share(depth[1], depth[2], depth[1], depth[2])

    soft = of_middle([0, height / 4, height], [0, n["p_soft"], n["p_soft"]])
    stiff = of_middle([0, height / 4, 0.75 * height, height], [0, n["p_stiff"], n["p_stiff"], 0])
    assert n["F_soft"] == pytest.approx(soft, rel=1e-4)
    assert n["F_stiff"] == pytest.approx(stiff, rel=1e-4)
    assert 4 < n["N"] < 6
    close(n["F_s"], max(n["F_soft"], n["F_stiff"]))
    assert n["F_q"] == pytest.approx(of_middle([0, height], [n["surcharge"]] * 2), rel=1e-4)
    warmth = n["props.middle.restraint"] * n["props.middle.thermal_expansion"] * n["temperature_rise"]
    close(n["dN"], warmth * n["props.middle.modulus"] * n["props.middle.area"])
    close(n["S"], n["s"] * n["theta"] * (n["F_s"] + n["F_q"]) + n["dN"])
    close(n["R"], n["props.middle.resistance"])


def test_every_limit_state_has_a_sheet_that_ends_in_its_resistance_and_action(tree):
    group = tree["reliability"].dataset
    for estimate in reading.estimates(tree):
        at = {"section": estimate.section, "stage": estimate.stage, "limit_state": estimate.limit_state}
        *_, resistance, action = hand.steps(tree, **at)
        assert (resistance.symbol, action.symbol) == ("R", "S")
        assert resistance.value == float(group["resistance_at_means"].sel(at))
        assert action.value == float(group["action_at_means"].sel(at))


def test_resistance_is_action_at_every_design_point(tree):
    group = tree["design_point"].dataset
    compared = 0
    for estimate in reading.estimates(tree):
        at = {"section": estimate.section, "stage": estimate.stage, "limit_state": estimate.limit_state}
        point = group.sel(at)
        *_, resistance, action = hand.steps(tree, **at)
        if int(point["design_points"]) == 0:
            assert math.isnan(resistance.at_design_point)
            assert math.isnan(action.at_design_point)
            continue
        gap = abs(resistance.at_design_point - action.at_design_point)
        beta = float(point["first_order_reliability_index"])
        assert float(point["design_residual_allowed"]) == pytest.approx(1e-5 * max(1.0, abs(beta)))
        if int(point["design_status"]) == Status.COMPUTED:
            compared += 1
            assert gap < 1e-4 * abs(action.at_design_point)
            assert float(point["design_residual"]) <= float(point["design_residual_allowed"])
    assert compared > 40


def test_the_inputs_at_the_design_point_are_those_of_the_design_point(tree):
    at = {"section": "whole_cut", "stage": "dig_4", "limit_state": "plug_uplift/plug"}
    n = {step.symbol: step.at_design_point for step in hand.steps(tree, **at)}
    value = tree["design_point"]["design_value"].sel(at)
    formation = float(value.sel(variable="stages.dig_4.dig_to"))
    unit_weight = float(value.sel(variable="ground.strata.soft_clay.unit_weight"))
    top = float(value.sel(variable="ground.strata.sand.top"))
    close(n["formation"], formation)
    close(n["strata.sand.top"], top)
    # Followed there as at the means: the weight of the plug against the water under it.
    close(n["R"], unit_weight * (formation - top))
    close(n["S"], 9.81 * (n["aquifer.head"] - top))
    assert n["width"] == sheet(tree, "dig_4", "plug_uplift/plug")["width"]


def test_the_text_has_both_columns_the_gap_and_the_range_of_use(tree):
    text = hand.sheet(tree, section="whole_cut", stage="dig_4", limit_state="plug_uplift/plug")
    assert "means  design point" in text
    assert "R and S differ by" in text.replace("\n  ", " ")
    assert "the search allows" in text.replace("\n  ", " ")
    assert "Range of use:" in text
    for limit in catalogue()["plug_uplift"].range_of_use:
        assert limit in text.replace("\n    ", " ")
    for source in catalogue()["plug_uplift"].sources:
        assert source in text.replace("\n  ", " ")
    assert "Left at the means:" in text
    assert "Left at the design point:" in text


def test_what_has_no_design_point_says_why(tree):
    reasons = tree["design_point"]["design_reason"]
    told = 0
    for estimate in reading.estimates(tree):
        at = {"section": estimate.section, "stage": estimate.stage, "limit_state": estimate.limit_state}
        if int(tree["design_point"]["design_points"].sel(at)) == 0:
            text = hand.sheet(tree, **at).replace("\n  ", " ")
            assert str(reasons.sel(at).item()).rstrip(".") in text
            assert "design point" not in text.partition("R/S")[0].replace("No numbers at a design point", "")
            told += 1
    assert told > 0


def test_the_limits_that_are_left_are_those_of_the_mechanism(tree):
    group = tree["hand"].dataset
    for estimate in reading.estimates(tree):
        at = {"section": estimate.section, "stage": estimate.stage, "limit_state": estimate.limit_state}
        share = float(tree["reliability"]["share_outside_range"].sel(at))
        left = str(group["range_left_at_means"].sel(at).item())
        if share == 0.0:
            assert left == ""
        elif left:
            assert left.splitlines()[0] in str(tree["reliability"]["outside_range"].sel(at).item())


def test_the_text_says_the_formula_the_sources_and_no_nan(tree, tmp_path):
    writing.write(tree, tmp_path / "a.nc")
    text = hand.sheet(
        writing.read(tmp_path / "a.nc"), section="whole_cut", stage="dig_4", limit_state="plug_uplift/plug"
    )
    assert "W_p" in text
    assert "EN 1997-1" in text
    assert "factor of safety 1.11" in text
    assert "competent engineer" in text
    assert "nan" not in text.lower().split()


def test_a_gumbel_maximum_says_that_it_was_carried(tree):
    found = hand.steps(tree, section="whole_cut", stage="in_service", limit_state="plug_uplift/plug")
    head = next(step for step in found if step.symbol == "aquifer.head")
    scale = 0.24 * math.sqrt(6) / math.pi
    close(head.value, 1.31 + scale * math.log(50))
    assert "maximum over 50 periods" in head.meaning


def test_a_limit_state_that_does_not_apply_has_none(tree):
    with pytest.raises(ResultsError, match="does not apply in whole_cut at in_service"):
        hand.sheet(tree, section="whole_cut", stage="in_service", limit_state="base_heave/bearing")
    with pytest.raises(ResultsError, match="no stage"):
        hand.sheet(tree, section="whole_cut", stage="dig_9", limit_state="base_heave/bearing")
