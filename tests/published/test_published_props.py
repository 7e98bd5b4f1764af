"""Prop loads against published examples and identities."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest

from riskcut.ground import earth_pressure
from riskcut.mechanisms import apparent_pressure
from riskcut.mechanisms.prop_overload import MECHANISM, thermal_load
from riskcut.mechanisms.spans import Piece, line_loads

GROUP = "props"


def overhang(inputs: Mapping[str, Any], clay_cut: Callable[..., Any], **options: float) -> dict[str, Any]:
    block = clay_cut(
        depth=inputs["depth"],
        unit_weight=inputs["unit_weight"],
        strength=inputs["strength"],
        props=tuple(inputs["props"]),
        spacing=inputs["spacing"],
        options={"prop_overload": {"lowest_span": "overhang", **options}},
    )
    return {prop.name: MECHANISM.outcome(block, prop.name) for prop in block.props}


def stiff(inputs: Mapping[str, Any], clay_cut: Callable[..., Any]) -> dict[str, Any]:
    outcomes = overhang(inputs, clay_cut, stiff_coefficient=inputs["stiff_coefficient"])
    steps = {step.symbol: step.value for step in outcomes["prop_1"].steps}
    pressure, depth = steps["p_stiff"], inputs["depth"]
    first, hinge, last = inputs["props"]
    above = (Piece(0.0, 0.25 * depth, 0.0, pressure), Piece(0.25 * depth, hinge, pressure, pressure))
    below = (Piece(hinge, 0.75 * depth, pressure, pressure), Piece(0.75 * depth, depth, pressure, 0.0))
    alone = {"base": depth, "lowest_span": "overhang"}
    return {
        "stability_number": steps["N"],
        "pressure": pressure,
        "upper": line_loads(above, props=(first, hinge), **alone)[0],
        "middle_from_above": line_loads(above, props=(first, hinge), **alone)[1],
        "middle_from_below": line_loads(below, props=(hinge, last), **alone)[0],
        "lower": line_loads(below, props=(hinge, last), **alone)[1],
        "prop_loads": [outcome.action for outcome in outcomes.values()],
    }


def soft(inputs: Mapping[str, Any], clay_cut: Callable[..., Any]) -> dict[str, Any]:
    outcomes = overhang(inputs, clay_cut)
    by_prop = [{step.symbol: step.value for step in outcome.steps} for outcome in outcomes.values()]
    return {
        "stability_number": by_prop[0]["N"],
        "pressure": by_prop[0]["p_soft"],
        "prop_loads": [inputs["spacing"] * steps["F_soft"] for steps in by_prop],
    }


def sand_total(inputs: Mapping[str, Any], _: Callable[..., Any]) -> dict[str, Any]:
    depth, active = inputs["depth"], earth_pressure.rankine_active(friction_angle=inputs["friction_angle"])
    overburden = inputs["unit_weight"] * depth
    pressure = apparent_pressure.sand_pressure(active=active, effective_overburden=overburden)
    shares = line_loads(
        apparent_pressure.uniform(depth=depth), props=inputs["props"], base=depth, lowest_span="to_formation"
    )
    total = pressure * sum(shares)
    rankine = np.tan(np.radians(45.0 - 0.5 * inputs["friction_angle"])) ** 2
    return {
        "ratio_to_triangle": total / (0.5 * rankine * overburden * depth),
        "ratio_to_formula": total / (0.65 * rankine * overburden * depth),
    }


def temperature(inputs: Mapping[str, Any], _: Callable[..., Any]) -> dict[str, Any]:
    steel = {"expansion": inputs["expansion"], "modulus": inputs["modulus"], "area": 1.0}
    warm = [
        thermal_load(restraint=k, temperature_rise=inputs["rise"], **steel) / 1e3 for k in inputs["restraint"]
    ]
    cool = thermal_load(restraint=1.0, temperature_rise=-inputs["rise"], **steel) / 1e3
    return {"stress": warm, "stress_cooling": cool}


SOLUTIONS = {"C1": stiff, "C3": soft, "C6": sand_total, "L1": temperature}


def test_published(case: dict[str, Any], compare: Callable[..., None], clay_cut: Callable[..., Any]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"], clay_cut))


@pytest.mark.parametrize(
    ("strength", "diagram"),
    [(7 * 17.5 / 3.99, "stiff"), (30.0, "larger"), (7 * 17.5 / 5.99, "larger"), (7 * 17.5 / 6.01, "soft")],
)
def test_between_4_and_6_the_larger_load_counts_prop_by_prop(
    clay_cut: Callable[..., Any], strength: float, diagram: str
) -> None:
    """Check C6: gamma H/su up to 4 stiff, from 6 soft, between them the larger (C3, at 4.08, is there)."""
    inputs = {
        "depth": 7.0,
        "unit_weight": 17.5,
        "strength": strength,
        "props": [1.0, 3.0, 6.0],
        "spacing": 3.0,
    }
    raised = []
    for outcome in overhang(inputs, clay_cut).values():
        steps = {step.symbol: step.value for step in outcome.steps}
        loads = {"soft": steps.get("F_soft", np.nan), "stiff": steps.get("F_stiff", np.nan)}
        loads["larger"] = max(loads.values())
        assert outcome.action == pytest.approx(3.0 * loads[diagram], rel=1e-12)
        raised.append(loads["stiff"] > loads["soft"])
    if strength == 30.0:
        assert raised == [False, True, False], "at the middle prop of C3 the stiff diagram gives more"
