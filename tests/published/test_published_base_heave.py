"""Base heave against published examples, case records and identities."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest

from riskcut.ground import earth_pressure
from riskcut.mechanisms import heave_forms
from riskcut.mechanisms.base_heave import MECHANISM

GROUP = "base_heave"


def finite_cut(inputs: Mapping[str, Any], clay_cut: Callable[..., Any]) -> dict[str, Any]:
    outcome = MECHANISM.outcome(clay_cut(**inputs), "finite_cut")
    steps = {step.symbol: step.value for step in outcome.steps}
    terms = {"breadth": steps["B_1"], "length": inputs["length"]}
    return {
        "breadth": steps["B_1"],
        "breadth_along": steps["B''"],
        "bearing_term": heave_forms.finite_cut_resistance(
            strength_below=steps["su_b"], side_shear=0.0, **terms
        ),
        "shear_term": heave_forms.finite_cut_resistance(
            strength_below=0.0, side_shear=steps["su_u H"], **terms
        ),
        "load": outcome.action,
        "factor_of_safety": outcome.resistance / outcome.action,
    }


def wide_limit(inputs: Mapping[str, Any], clay_cut: Callable[..., Any]) -> dict[str, Any]:
    block = clay_cut(**inputs)
    safety = {}
    for member in ("wide_cut", "bearing"):
        outcome = MECHANISM.outcome(block, member)
        safety[member] = outcome.resistance / outcome.action
    return {**safety, "ratio": safety["wide_cut"] / safety["bearing"]}


def skempton(inputs: Mapping[str, Any], _: Callable[..., Any]) -> dict[str, Any]:
    depth = np.array(inputs["depth_over_width"])
    strip = heave_forms.bearing_factor(depth=depth, width=1.0, length=np.inf)
    square = heave_forms.bearing_factor(depth=depth, width=1.0, length=1.0)
    departure = np.concatenate([strip / np.array(inputs["strip"]), square / np.array(inputs["square"])]) - 1.0
    return {
        "lowest_departure_percent": 100.0 * departure.min(),
        "highest_departure_percent": 100.0 * departure.max(),
        "deepest_strip": strip[-1],
        "deepest_square": square[-1],
    }


def case_records(inputs: Mapping[str, Any], _: Callable[..., Any]) -> dict[str, Any]:
    of = {key: np.array(value) for key, value in inputs.items()}
    load = heave_forms.base_load(overburden=of["unit_weight"] * of["depth"], surcharge=of["surcharge"])
    charted = heave_forms.bearing_resistance(strength_below=of["strength"], factor_nc=of["chart_factor"])
    safety = charted / load
    by_formula = heave_forms.bearing_factor(depth=of["depth"], width=of["width"], length=of["length"])
    # The formula keeps the physical check (within its departure from the chart): all near failure.
    np.testing.assert_allclose(by_formula, of["chart_factor"], rtol=0.08)
    assert np.all(np.abs(by_formula * of["strength"] / load - 1.0) < 0.25)
    return {
        "factors_of_safety": safety,
        "mean": safety.mean(),
        "cov": safety.std(ddof=1) / safety.mean(),
        "inverse_mean": (1.0 / safety).mean(),
        "inverse_cov": (1.0 / safety).std(ddof=1) / (1.0 / safety).mean(),
    }


def vertical_cut(inputs: Mapping[str, Any], _: Callable[..., Any]) -> dict[str, Any]:
    return {"height": earth_pressure.critical_height(**inputs)}


SOLUTIONS = {
    "A1": finite_cut,
    "A1-thick": finite_cut,
    "A2": wide_limit,
    "A3": skempton,
    "A5": case_records,
    "A7": vertical_cut,
}


def test_published(case: dict[str, Any], compare: Callable[..., None], clay_cut: Callable[..., Any]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"], clay_cut))


def test_a_wrong_last_digit_is_seen(compare: Callable[..., None]) -> None:
    case = {"id": "x", "expected": {"value": "2.861"}}
    compare(case, {"value": 2.8606})
    with pytest.raises(AssertionError, match=r"published 2\.861"):
        compare(case, {"value": 2.8600})
    with pytest.raises(AssertionError, match="every published number"):
        compare(case, {})
