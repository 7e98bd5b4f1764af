"""First failure at a stage, and failure given that the earlier ones stood, through whole studies known exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm
from small_studies import PLUG

from riskcut.analysis.gather_systems import NEVER_STOOD
from riskcut.results.status import Status

TWO = ("dig_1: {dig_to: -10}", "dig_1: {dig_to: -10}\n  dig_2: {dig_to: -10.02}")


def pf(mean: float, formation: float = -10.0) -> float:
    return float(norm.sf(18.0 * (formation + 20.0) / 9.81 - 20.0, mean, 0.5))


def of(tree, name: str) -> list[float]:
    return tree["reliability"][name].sel(section="whole_cut").values.tolist()


@pytest.mark.parametrize("method", ["auto", "plain"])
def test_stages_with_heads_of_their_own(run, method):
    tree = run(PLUG, TWO, ("mean: -2,", "mean: -2.4,"), method=method)
    p, q = pf(-2.4), pf(-2.4, -10.02)
    first, error = of(tree, "first_failure_probability"), 4 * math.sqrt(p / int(tree["reliability"]["rows"]))
    assert first[0] == pytest.approx(p, abs=error)
    assert first[1] == pytest.approx(q * (1 - p), abs=error)
    given = of(tree, "conditional_failure_probability")
    assert given[0] == pytest.approx(first[0], rel=1e-12)
    assert given[1] == pytest.approx(first[1] / (1 - first[0]), rel=1e-12)
    assert sum(first) == pytest.approx(of(tree, "section_failure_probability"), rel=1e-9)


def test_stages_of_one_season_share_their_head(run):
    season = (
        "dig_1: {dig_to: -10}",
        "dig_1: {dig_to: -10, season: dry}\n  dig_2: {dig_to: -10.02, season: dry}",
    )
    tree = run(PLUG, season, ("mean: -2,", "mean: -2.4,"))
    p, q = pf(-2.4), pf(-2.4, -10.02)
    error = 4 * math.sqrt(p / int(tree["reliability"]["rows"]))
    first, marginal = of(tree, "first_failure_probability"), of(tree, "stage_failure_probability")
    assert first == pytest.approx([p, q - p], abs=error)
    assert marginal == pytest.approx([p, q], abs=error)
    assert of(tree, "conditional_failure_probability")[1] == pytest.approx((q - p) / (1 - p), abs=error)


def test_over_events_they_still_add_up(run):
    stages = (
        "dig_1: {dig_to: -10}",
        "dig_1: {dig_to: -10, lasts: 1 month, water: {drawdown: 1.2}}\n  dig_2: {dig_to: -10.02, lasts: 1 month}",
    )
    event = (
        "\ntitle:",
        "\nevents: {lost: {stages: [dig_1, dig_2], water: {drawdown: 0}, probability: 0.02, basis: judgement, "
        "source: ours}}\ntitle:",
    )
    tree = run(PLUG, stages, ("mean: -2,", "mean: -1.2,"), event)
    stage = [0.98 * pf(-2.4, z) + 0.02 * pf(-1.2, z) for z in (-10.0, -10.02)]
    first, rows = of(tree, "first_failure_probability"), int(tree["reliability"]["rows"])
    error = 0.02**2 + 4 * (math.sqrt(stage[0] / rows) + 0.02 * math.sqrt(0.25 / rows))
    assert first == pytest.approx([stage[0], stage[1] * (1 - stage[0])], abs=error)
    assert sum(first) == pytest.approx(of(tree, "section_failure_probability"), rel=1e-9)


@pytest.mark.parametrize("method", ["auto", "plain"])
@pytest.mark.parametrize("head", ["2", "{mean: 2, sd: 0.1}"])
def test_nothing_is_conditional_on_what_never_stood(run, method, head):
    """The first stage fails in every row, with a head that is certain or nearly so: no number, and the reason."""
    tree = run(PLUG, TWO, ("head: {mean: -2, sd: 0.5}", f"head: {head}"), method=method)
    group = tree["reliability"].sel(section="whole_cut")
    assert group["conditional_status"].values[1] == Status.NOT_APPLICABLE
    assert str(group["conditional_reason"].values[1]) == NEVER_STOOD
    assert np.isnan(of(tree, "conditional_failure_probability")[1])
    assert group["first_failure_status"].values[1] == Status.UPPER_BOUND_ONLY
    assert group["first_failure_probability_bounds"].values[1][1] < 1e-3


def test_stages_that_likely_fail(run):
    """Where the first stage likely fails, the second is told of what is left: bounds about the exact value."""
    tree = run(PLUG, TWO, ("mean: -2,", "mean: -1.5,"))
    p, q = pf(-1.5), pf(-1.5, -10.02)
    exact, bounds = [p, q * (1 - p)], of(tree, "first_failure_probability_bounds")
    assert all(low < value < high for value, (low, high) in zip(exact, bounds, strict=True))
    low, high = of(tree, "conditional_failure_probability_bounds")[1]
    assert low < q < high
    assert sum(of(tree, "first_failure_probability")) == pytest.approx(
        of(tree, "section_failure_probability"), rel=1e-9
    )
