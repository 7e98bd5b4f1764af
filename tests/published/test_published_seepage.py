"""Seepage into a cut against published examples."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from riskcut.ground.fragment import fragment
from riskcut.ground.prism_head import mean_share
from riskcut.ground.seepage import exit_gradient_deep, exit_gradient_layer
from riskcut.mechanisms.heave_prism import exit_balance, prism_effective, prism_total

GROUP = "seepage"
WATER = 9.81


def both_forms(inputs: Mapping[str, Any]) -> dict[str, Any]:
    depth = inputs["embedment"]
    head, weight = inputs["gradient"] * depth, inputs["unit_weight"] * depth
    held, lifted = prism_effective(excess_head=head, submerged_weight=weight - WATER * depth)
    total, pressure = prism_total(excess_head=head, total_weight=weight, depth_of_water=depth)
    np.testing.assert_allclose(held - lifted, total - pressure, rtol=1e-12)
    up, down = inputs["factor_destabilising"], inputs["factor_stabilising"]
    return {
        "seepage_force": lifted,
        "submerged_weight": held,
        "pore_pressure": pressure,
        "total_stress": total,
        "pore_pressure_design": up * pressure,
        "total_stress_design": down * total,
        "seepage_force_design": up * lifted,
        "submerged_weight_design": down * held,
        "utilisation_total_percent": 100.0 * up * pressure / (down * total),
        "utilisation_effective_percent": 100.0 * up * lifted / (down * held),
    }


def prism(inputs: Mapping[str, Any]) -> dict[str, Any]:
    held, lifted = prism_effective(
        excess_head=inputs["chart_factor"] * inputs["head_loss"],
        submerged_weight=(inputs["unit_weight"] - inputs["water"]) * inputs["embedment"],
        unit_weight_of_water=inputs["water"],
    )
    return {"factor_of_safety": held / lifted}


def exit_by_chart(inputs: Mapping[str, Any]) -> dict[str, Any]:
    depth = inputs["embedment"]
    gradient = inputs["chart_factor"] * inputs["head_loss"] / depth
    held, lifted = exit_balance(
        gradient=gradient, embedment=depth, submerged_weight=inputs["critical_gradient"] * WATER * depth
    )
    return {"gradient": gradient, "factor_of_safety": held / lifted}


def upward_flow(inputs: Mapping[str, Any]) -> dict[str, Any]:
    depths = np.array(inputs["depths"])
    submerged = (inputs["specific_gravity"] - 1.0) * WATER / (1.0 + inputs["void_ratio"])
    held, lifted = prism_effective(
        excess_head=inputs["gradient"] * depths, submerged_weight=submerged * depths
    )
    return {"seepage_force": (lifted / depths)[0], "effective_stress": held - lifted}


def single_wall(inputs: Mapping[str, Any]) -> dict[str, Any]:
    ratios = np.array(inputs["depth_over_thickness"])
    return {
        "gradients": exit_gradient_layer(head_loss=1.0, embedment=ratios, thickness=1.0) * ratios,
        "half_way_form_factor": fragment(embedment=0.5, thickness=1.0).form_factor,
        "deep": exit_gradient_deep(head_loss=1.0, embedment=1.0),
    }


def mean_over_the_prism(inputs: Mapping[str, Any]) -> dict[str, Any]:
    ratios, table = np.array(inputs["depth_over_thickness"]), np.array(inputs["table"])
    ours = 0.5 * mean_share(embedment=ratios, thickness=1.0, half_width=1e6)
    departure = 100.0 * np.abs(ours / table - 1.0)
    return {"outside": np.count_nonzero(departure > inputs["within_percent"])}


def before_it_lifts(inputs: Mapping[str, Any]) -> dict[str, Any]:
    held, lifted = exit_balance(
        gradient=np.array(inputs["gradients"]),
        embedment=1.0,
        submerged_weight=inputs["critical_gradient"] * WATER,
    )
    return {"factors_of_safety": held / lifted}


SOLUTIONS = {
    "B4": both_forms,
    "B8": prism,
    "B9": exit_by_chart,
    "B11": upward_flow,
    "B12": single_wall,
    "C0": mean_over_the_prism,
    "B13": before_it_lifts,
}


def test_published(case: dict[str, Any], compare: Callable[..., None]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"]))
