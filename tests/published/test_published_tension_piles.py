"""Tension piles against published inputs and formulae."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from riskcut.ground import profile
from riskcut.mechanisms.flotation import MECHANISM
from riskcut.mechanisms.tension_piles import group_uplift, shaft_friction
from riskcut.study.block import Block, Piles, Slab, Stratum

GROUP = "tension_piles"


def pile_in_sand(inputs: Mapping[str, Any]) -> dict[str, Any]:
    formation, ratio = -inputs["formation"], math.tan(math.radians(inputs["friction_angle"]))
    piles = Piles(
        diameter=inputs["diameter"],
        length=inputs["length"],
        head=formation,
        spacing_along=inputs["spacing"],
        spacing_across=inputs["spacing"],
        adhesion=0.0,
        shaft_ratio=inputs["earth_pressure"] * ratio,
        steel_resistance=1e6,
    )
    sand = Stratum(
        name="sand", top=0.0, unit_weight=inputs["unit_weight"], friction_angle=inputs["friction_angle"]
    )
    block = Block(
        section="example",
        stage="slab",
        width=20.0,
        length=200.0,
        strata=(sand,),
        formation=formation,
        dug=True,
        water_table=0.0,
        water_inside=formation,
        surcharge=0.0,
        temperature_rise=0.0,
        slab=Slab(thickness=0.5, unit_weight=25.0),
        piles=piles,
    )
    at_top, at_middle = (
        profile.effective_stress(block.strata, level=level, water_table=0.0)
        for level in (formation, formation - 0.5 * inputs["length"])
    )
    before = shaft_friction(
        block, piles, upper=formation, lower=formation - inputs["length"], stress_at_upper=at_top
    )
    steps = {step.symbol: step.value for step in MECHANISM.outcome(block, "structure").steps}
    return {
        "mean_stress_before": at_middle,
        "shaft_friction_before": inputs["earth_pressure"] * ratio * at_middle,
        "pile_before": before,
        "pile_after": steps["R_s"],
    }


def group(inputs: Mapping[str, Any]) -> dict[str, Any]:
    sides = 2.0 * inputs["depth"] * (inputs["breadth"] + inputs["length"]) * inputs["strength"]
    weight = inputs["unit_weight"] * inputs["breadth"] * inputs["length"] * inputs["depth"]
    one = inputs["shaft"] + inputs["pile_weight"]
    return {
        "one_by_one": group_uplift(
            count=inputs["count"], one_pile=one, cap=inputs["cap"], sides=1e9, block=0.0
        ),
        "sides": sides,
        "weight": weight,
        "group": group_uplift(
            count=inputs["count"], one_pile=one, cap=inputs["cap"], sides=sides, block=weight
        ),
    }


SOLUTIONS = {"BH-7.4c": pile_in_sand, "UFC-single": group, "UFC-block": group}


def test_published(case: dict[str, Any], compare: Callable[..., None]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"]))


def test_the_block_of_a_cut_is_the_manuals_over_its_plan() -> None:
    """2 Z (B + L) su and the weight of the block in kN, over B L, are what the mechanism finds in kPa."""
    width, length, depth, strength, weight = 6.0, 10.0, 14.0, 25.0, 18.0
    block = Block(
        section="example",
        stage="slab",
        width=width,
        length=length,
        strata=(Stratum(name="clay", top=0.0, unit_weight=weight, su_at_top=strength),),
        formation=-8.0,
        dug=True,
        water_table=0.0,
        water_inside=-8.0,
        surcharge=0.0,
        temperature_rise=0.0,
        slab=Slab(thickness=1.0, unit_weight=24.0),
        piles=Piles(
            diameter=0.6,
            length=depth,
            head=-8.0,
            spacing_along=1.0,
            spacing_across=1.0,
            adhesion=1.0,
            shaft_ratio=0.3,
            steel_resistance=1e6,
        ),
    )
    in_kn = group_uplift(
        count=width * length,
        one_pile=math.pi * 0.6 * depth * strength,
        sides=2.0 * depth * (width + length) * strength,
        block=(weight - 9.81) * width * length * depth,
    )
    steps = {step.symbol: step.value for step in MECHANISM.outcome(block, "structure").steps}
    assert steps["R_p"] == pytest.approx(in_kn / (width * length), rel=1e-12)
    assert steps["R_p"] < math.pi * 0.6 * depth * strength
