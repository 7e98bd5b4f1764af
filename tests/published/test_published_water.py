"""Weight against water from below, and water that flows in, against published examples."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from scipy.optimize import brentq

from riskcut.ground import inflow, seepage
from riskcut.mechanisms import catalogue
from riskcut.mechanisms.plug_uplift import MECHANISM, uplift
from riskcut.study.block import Aquifer, Block, Slab, Stratum, Wall

GROUP = "water"


def flotation(inputs: Mapping[str, Any]) -> dict[str, Any]:
    width, concrete = inputs["width"], inputs["concrete"]
    walls = 2.0 * inputs["wall_thickness"] * inputs["depth"] * concrete
    floor = inputs["floor_thickness"] * inputs["slab_width"] * concrete
    base = inputs["base_thickness"] * inputs["slab_width"] * concrete
    weight = walls + floor + base + inputs["superstructure"]
    resistance, action = uplift(head=0.0, underside=-inputs["depth"], plug=0.0, slab=weight / width)
    uplift_design = inputs["factor_destabilising"] * action * width
    weight_design = inputs["factor_stabilising"] * resistance * width
    return {
        "pressure": action,
        "uplift": action * width,
        "walls": walls,
        "floor": floor,
        "base": base,
        "weight": resistance * width,
        "uplift_design": uplift_design,
        "weight_design": weight_design,
        "utilisation_percent": 100.0 * uplift_design / weight_design,
    }


def burst_depth(inputs: Mapping[str, Any]) -> dict[str, Any]:
    def margin(depth: float) -> float:
        resistance, action = uplift(
            head=inputs["head_above_sand"],
            underside=0.0,
            plug=inputs["unit_weight"] * (inputs["clay"] - depth),
            unit_weight_of_water=inputs["water"],
        )
        return float(resistance - action)

    return {"depth": brentq(margin, 0.0, inputs["clay"], xtol=1e-12)}


def three_layers(inputs: Mapping[str, Any]) -> dict[str, Any]:
    ends = [0.0, *(-sum(inputs["thickness"][: i + 1]) for i in range(3))]
    strata = tuple(
        Stratum(name=f"layer_{i}", top=ends[i], unit_weight=19.0, friction_angle=30.0, permeability=k)
        for i, k in enumerate(inputs["permeability"])
    )
    hindrance = inflow.hindrance(strata, upper=0.0, lower=ends[-1])
    higher, lower = (inflow.discharge_potential(strata, base=ends[-1], level=h) for h in (9.0, 8.0))
    return {
        "across": inflow.through_layers(head=9.0, hindrance=hindrance, area=1.0),
        "along": (higher - lower) / 9.0,
    }


def round_one_wall(inputs: Mapping[str, Any]) -> dict[str, Any]:
    shape = {"outside": inputs["embedment"], "inside": inputs["embedment"], "thickness": inputs["thickness"]}
    forms = seepage.into_a_cut(**shape, half_width=math.inf)
    flow = inflow.round_a_wall(
        permeability=1.0, head=1.0, form_outside=forms.form_outside, form_inside=forms.form_inside
    )
    return {"flow": flow}


def round_floor(inputs: Mapping[str, Any]) -> dict[str, Any]:
    diameter = inputs["diameter"]
    flow = inflow.through_the_floor(permeability=1.0, radius=0.5 * diameter, drawdown=1.0)
    return {"intake_over_diameter": flow / diameter}


SOLUTIONS = {"B2": flotation, "B7": burst_depth, "I1": three_layers, "I2": round_one_wall, "I3": round_floor}


def test_published(case: dict[str, Any], compare: Callable[..., None]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"]))


def test_the_burst_depth_holds_through_a_whole_block() -> None:
    """Example 9.2 as a block: only ratios matter, so its feet and its weights scale to 9.81."""
    weight = 120.0 * 9.81 / 62.4

    def margin(depth: float) -> float:
        block = Block(
            section="example",
            stage="dig",
            width=30.0,
            length=60.0,
            strata=(
                Stratum(name="clay", top=20.0, unit_weight=weight, su_at_top=50.0),
                Stratum(name="sand", top=0.0, unit_weight=19.0, friction_angle=35.0),
            ),
            formation=20.0 - depth,
            dug=True,
            water_table=12.0,
            water_inside=20.0 - depth,
            surcharge=0.0,
            temperature_rise=0.0,
            aquifer=Aquifer(stratum="sand", head=12.0),
        )
        outcome = MECHANISM.outcome(block, "plug")
        return float(outcome.resistance - outcome.action)

    assert brentq(margin, 1.0, 19.0, xtol=1e-12) == pytest.approx(13.76, abs=0.005)


def test_the_basement_floats_by_as_much_through_a_whole_block() -> None:
    """B2 as a block: 17.2 m between the walls, whose toes are lifted by their own water; 958 against 795 kN/m."""
    block = Block(
        section="basement",
        stage="finished",
        width=17.2,
        length=1e9,
        strata=(Stratum(name="clay", top=0.0, unit_weight=19.0, su_at_top=50.0),),
        formation=-4.5,
        dug=True,
        water_table=0.0,
        water_inside=-4.5,
        surcharge=0.0,
        temperature_rise=0.0,
        wall=Wall(toe=-4.5, thickness=0.40, unit_weight=25.0),
        slab=Slab(
            thickness=0.50 * 17.5 / 17.2,
            unit_weight=25.0,
            fill=(109.375 + 540.0) / 17.2,
            carries_walls=True,
        ),
    )
    outcome = catalogue()["flotation"].outcome(block, "structure")
    assert 17.2 * (outcome.resistance - outcome.action) == pytest.approx(958.0 - 795.0, abs=1.0)
