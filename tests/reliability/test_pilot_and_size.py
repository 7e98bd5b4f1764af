"""The pilot and the size of a run."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reliability_cases import STANDARD, beyond, bits, component, margins, single
from scipy import stats

from riskcut.reliability.monte_carlo import ImpossibleRows, simulate
from riskcut.reliability.plan import margin_edges, pilot, rows_wanted
from riskcut.reliability.problem import Problem, Response
from riskcut.uncertainty.joint import Joint

MIXED = Problem(
    Joint([STANDARD]),
    (
        component(
            "stage",
            margins(
                lambda x: 2.0 - x[:, 0],
                lambda x: 9.0 - x[:, 0],
                lambda x: np.full(len(x), 40.0),
                lambda x: 3.5 - x[:, 0],
            ),
            columns=(0,),
            labels=("likely", "rare", "certain", "alternative"),
            governing=(True, True, True, False),
        ),
    ),
)


@pytest.fixture(scope="module")
def trial():
    return pilot(MIXED, seed=1)


def test_the_pilot_is_its_own_simulation(trial):
    assert bits(trial.tally) == bits(simulate(MIXED, seed=1, blocks=16, purpose="pilot"))
    assert trial.tally.rows == 131_072
    assert bits(pilot(MIXED, seed=1, workers=2, chunk_blocks=3)) == bits(trial)


def test_constant_margins_are_flagged_with_their_value(trial):
    assert trial.constant["stage"].tolist() == [False, False, True, False]
    np.testing.assert_array_equal(trial.value["stage"], [np.nan, np.nan, 40.0, np.nan])
    noisy = pilot(single(margins(lambda x: 1e3 + 1e-13 * x[:, 0])), seed=1, blocks=1)
    assert noisy.constant["one"].tolist() == [True]
    zero = pilot(single(margins(lambda x: np.zeros(len(x)))), seed=1, blocks=1)
    assert zero.constant["one"].tolist() == [True]
    assert zero.value["one"].tolist() == [0.0]
    varying = pilot(single(margins(lambda x: 1e3 + 1e-6 * x[:, 0])), seed=1, blocks=1)
    assert varying.constant["one"].tolist() == [False]


def test_the_edges_hold_the_run_and_split_it_at_zero(trial):
    run = simulate(MIXED, seed=1, blocks=8, purpose="figures", edges=trial.edges).components["stage"]
    for j in range(4):
        edges, counts = trial.edges["stage"][j], run.margin_counts[j]
        assert counts.sum() == run.rows
        assert counts[0] + counts[-1] <= 1e-5 * run.rows
        if j != 2:
            zero = int(np.flatnonzero(edges == 0.0)[0])
            assert counts[: zero + 1].sum() == run.failures[j]
        assert np.count_nonzero(counts) >= (1 if j == 2 else 30)


@settings(deadline=None, max_examples=100)
@given(
    mean=st.floats(-1e6, 1e6),
    sd=st.floats(1e-3, 1e4),
    below=st.floats(0.1, 30.0),
    above=st.floats(0.1, 30.0),
    bins=st.integers(2, 200),
)
def test_edges_cover_what_they_should(mean, sd, below, above, bins):
    low, high = mean - below * sd, mean + above * sd
    edges = margin_edges(low=low, high=high, mean=mean, sd=sd, bins=bins)
    assert edges.shape == (bins + 1,)
    assert np.all(np.diff(edges) > 0.0)
    slack = 1e-9 * (abs(mean) + sd)
    assert edges[0] <= max(low, mean - 6 * sd) + slack
    assert edges[-1] >= min(high, mean + 6 * sd) - slack
    # no wider than 6 spreads a side, a tenth more, or as far as zero, and one bin
    reach = max(12 * sd * 1.2, 12 * sd * 1.1 + 10 * sd) * bins / (bins - 1)
    assert edges[-1] - edges[0] <= reach * 1.001 + slack
    if edges[0] < 0.0 < edges[-1]:
        assert np.any(edges == 0.0)
    if abs(mean) <= 9.99 * sd:
        assert edges[0] <= 0.0 <= edges[-1]


@pytest.mark.parametrize("value", [0.0, 3.0, -250.0, 1e9])
def test_edges_of_a_constant(value):
    edges = margin_edges(low=value, high=value, mean=value, sd=0.0, bins=64)
    assert edges[10] < value < edges[-10]


def test_size_for_a_failing_limit_state(trial):
    k = int(trial.tally.components["stage"].failures[0])
    assert k > 1000
    p = (k + 0.5) / (131_072 + 1)
    rows = (1 - p) / (p * 0.01**2)
    plan = rows_wanted(trial, coefficient_of_variation=0.01)
    assert plan.blocks == math.ceil(rows / 8192)
    assert not plan.capped
    assert f"stage likely failed in {k:,} of 131,072 rows of the pilot" in plan.reason
    assert "coefficient of variation of 1 %" in plan.reason
    assert f"{plan.blocks * 8192:,} rows:" in plan.reason


def test_size_for_a_handful_of_failures():
    trial = pilot(single(beyond(3.9)), seed=1)
    k = int(trial.tally.components["one"].failures[0])
    assert 1 <= k <= 20
    p = (k + 0.5) / 131_073  # half a failure more, lest one lucky row decide the size
    plan = rows_wanted(trial, cap_blocks=100_000)
    assert plan.blocks == math.ceil((1 - p) / (p * 0.05**2) / 8192)


def test_size_for_a_target_that_a_zero_count_is_to_meet(trial):
    plan = rows_wanted(trial, target_probability={"stage": 3e-5}, coefficient_of_variation=0.05)
    rows = 3.0 / (0.1 * 3e-5)
    assert plan.blocks == math.ceil(rows / 8192)
    assert "stage rare never failed in 131,072 rows" in plan.reason
    # the promise: no failure in that many rows bounds the probability at a tenth of the target
    assert 1 - 0.05 ** (1 / (plan.blocks * 8192)) <= 0.1 * 3e-5
    assert rows_wanted(trial, target_probability={"stage": None}).blocks < plan.blocks


def test_cap_and_least(trial):
    plan = rows_wanted(trial, target_probability={"stage": 1e-6})
    assert (plan.blocks, plan.capped) == (512, True)
    assert "4,194,304 rows, the cap, where 30,000,000 are wanted: stage rare never failed" in plan.reason
    plan = rows_wanted(trial, least_blocks=20)
    assert (plan.blocks, plan.capped) == (20, False)
    assert plan.reason.startswith("163,840 rows, the least; no limit state asks for more")
    assert all(text.endswith(".") and "\n" not in text for text in (plan.reason,))


def test_neither_constants_nor_alternatives_ask_for_rows():
    problem = Problem(
        Joint([STANDARD]),
        (
            component(
                "stage",
                margins(lambda x: np.full(len(x), -1.0), lambda x: 4.0 - x[:, 0]),
                columns=(0,),
                labels=("certain", "alternative"),
                governing=(True, False),
            ),
        ),
    )
    plan = rows_wanted(pilot(problem, seed=1), target_probability={"stage": 1e-9})
    assert (plan.blocks, plan.capped) == (16, False)
    assert plan.reason == "131,072 rows, the least; no limit state asks for more."


def test_the_size_does_not_depend_on_the_run_or_the_workers(trial):
    other = pilot(MIXED, seed=1, workers=2)
    assert rows_wanted(other) == rows_wanted(trial)


def test_a_planned_run_has_the_spread_that_was_asked_for():
    beta = stats.norm.isf(0.0006)
    problem = single(beyond(beta))
    plan = rows_wanted(pilot(problem, seed=1), coefficient_of_variation=0.1, least_blocks=1)
    counts = [
        simulate(problem, seed=seed, blocks=plan.blocks, purpose="figures", detail_blocks=0)
        .unions["whole"]
        .failures
        for seed in range(60)
    ]
    spread = np.std(counts) / np.mean(counts)
    assert spread == pytest.approx(0.1, rel=0.35)
    assert np.mean(counts) / (plan.blocks * 8192) == pytest.approx(0.0006, rel=4 * 0.1 / math.sqrt(60))


def test_too_many_impossible_rows_stop_the_pilot():
    def respond(x, _which):
        return Response(margin=np.where(x > 2.0, np.nan, 1.0 - x))

    with pytest.raises(ImpossibleRows):
        pilot(single(respond), seed=1, blocks=2)


def test_refusals(trial):
    with pytest.raises(ValueError, match="coefficient of variation is above zero"):
        rows_wanted(trial, coefficient_of_variation=0.0)
    with pytest.raises(ValueError, match="least_blocks <= cap_blocks"):
        rows_wanted(trial, least_blocks=20, cap_blocks=10)
    with pytest.raises(ValueError, match="target probability lies between"):
        rows_wanted(trial, target_probability={"stage": 0.0})
    with pytest.raises(ValueError, match="bins is 2 or more"):
        pilot(MIXED, seed=1, bins=1)
    with pytest.raises(ValueError, match="margin gave no finite margin in 8,192 rows"):
        pilot(single(margins(lambda x: np.full(len(x), np.inf))), seed=1, blocks=1)


def test_a_plan_is_plain(trial):
    assert dataclasses.asdict(rows_wanted(trial)).keys() == {"blocks", "reason", "capped"}
