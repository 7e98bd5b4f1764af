"""Weight against water from below, against published examples."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest
from scipy.optimize import brentq

from riskcut.mechanisms.plug_uplift import MECHANISM, uplift
from riskcut.study.block import Aquifer, Block, Stratum

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


SOLUTIONS = {"B2": flotation, "B7": burst_depth}


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
