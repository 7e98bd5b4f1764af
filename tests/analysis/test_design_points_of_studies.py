"""Design points of studies: on the limit surface by independent arithmetic, and told in words."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small_studies import PLUG

from riskcut.results import reading
from riskcut.results.status import Status

CHANGES = (
    ("unit_weight: 18", "unit_weight: {mean: 18, sd: 0.3}"),
    ("dig_to: -10", "dig_to: {mean: -10, sd: 0.1}"),
)


@pytest.fixture
def at(run):
    tree = run(PLUG, *CHANGES, cap_blocks=4)
    section = reading.labels(tree, "section")[0]
    return tree, tree["design_point"].dataset.sel(
        section=section, stage="dig_1", limit_state="plug_uplift/plug"
    )


def test_the_margin_is_zero_at_the_design_point(at):
    tree, point = at
    assert int(point["design_status"]) == Status.COMPUTED
    value = dict(zip(reading.labels(tree, "variable"), point["design_value"].values, strict=True))
    unit_weight = value["ground.strata.clay.unit_weight"]
    head, formation = value["water.aquifer.head"], value["stages.dig_1.dig_to"]
    top = float(tree["cut"]["stratum_top"].sel(stratum="sand").item())
    assert unit_weight * (formation - top) == pytest.approx(9.81 * (head - top), rel=1e-4)


def test_importance_is_shared_out(at):
    _, point = at
    there = point["design_variable_status"].values == Status.COMPUTED
    shares = point["importance_factor"].values
    assert np.nansum(shares[there]) == pytest.approx(1.0, abs=1e-9)
    assert np.isnan(shares[~there]).all()


def test_the_first_order_index_is_close_to_that_of_the_estimate(at):
    tree, point = at
    found = reading.estimates(tree, limit_state="plug_uplift/plug")[0]
    assert float(point["first_order_reliability_index"]) == pytest.approx(found.reliability_index, abs=0.15)
    assert float(point["second_order_reliability_index"]) == pytest.approx(found.reliability_index, abs=0.1)


def test_the_likeliest_way_to_fail_is_told(at):
    tree, _ = at
    found = reading.estimates(tree, limit_state="plug_uplift/plug")[0]
    likeliest = reading.likeliest_failure(tree, found)
    assert [one.importance for one in likeliest] == sorted(
        (one.importance for one in likeliest), reverse=True
    )
    text = str(tree.attrs["summary"])
    assert "The likeliest way to fail" in text
    assert likeliest[0].variable in text.partition("The likeliest way to fail")[2]
    assert not math.isnan(likeliest[0].value)


def test_what_the_index_owes_to_a_mean(at, run):
    tree, point = at
    value = dict(zip(reading.labels(tree, "variable"), point["index_per_mean"].values, strict=True))
    raised = run(PLUG, *CHANGES, ("head: {mean: -2, sd: 0.5}", "head: {mean: -1.9, sd: 0.5}"), cap_blocks=2)
    section = reading.labels(raised, "section")[0]
    where = {"section": section, "stage": "dig_1", "limit_state": "plug_uplift/plug"}
    change = float(raised["design_point"]["first_order_reliability_index"].sel(where)) - float(
        point["first_order_reliability_index"]
    )
    # A tenth of a metre is a fifth of the head's standard deviation.
    assert change == pytest.approx(value["water.aquifer.head"] * 0.2, rel=0.03)
    assert change < 0


def test_first_order_bounds_of_a_stage_hold_its_system(at):
    tree, _ = at
    section = reading.labels(tree, "section")[0]
    stage = {"section": section, "stage": "dig_1"}
    lower, upper = tree["design_point"]["stage_first_order_interval"].sel(stage).values
    found = float(tree["reliability"]["stage_failure_probability"].sel(stage))
    assert lower <= upper
    assert 0.8 * lower <= found <= 1.2 * upper
