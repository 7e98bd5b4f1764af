"""Subset simulation against exact probabilities, its interval against its true spread, and odd margins.

Seeds are 1, 2, ... or 0 to 199; none is chosen.
"""

from __future__ import annotations

import numpy as np
import pytest
from reliability_cases import bits, single
from scipy import stats
from simulator_cases import (
    ALWAYS,
    CONSTANT,
    FOUR_BRANCH,
    HUNDRED_DIMENSIONS,
    NEVER,
    STAIRS,
    STEP,
    UNKNOWN,
    close,
    counted,
    coverage,
    exponentials,
    failure,
    four_branches,
    hundred_dimensions,
    impossible_above,
    linear,
    nothing_uncertain,
    parabola,
    sphere,
    two_sided,
)

from riskcut.reliability.answer import Failing
from riskcut.reliability.problem import Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.subset import subset_simulation


@pytest.mark.parametrize("probability", [1e-2, 1e-3, 1e-5, 1e-7])
@pytest.mark.parametrize("dimension", [1, 20])
def test_linear_margin(probability, dimension):
    answer = subset_simulation(linear(probability, dimension), seed=1)
    assert answer.trusted
    assert close(answer, probability)
    assert answer.standard_error < 0.15 * probability
    assert answer.bounds[0] < answer.failure_probability < answer.bounds[1]


@pytest.mark.parametrize("case", [sphere(6.0, 10), parabola(3.5, 0.2, 5), two_sided(4.0, 3)])
def test_round_bent_and_two_sided(case):
    failing, exact = case
    answer = subset_simulation(failing, seed=1)
    assert answer.trusted
    assert close(answer, exact)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_four_branches(seed):
    assert close(subset_simulation(four_branches(), seed=seed), FOUR_BRANCH)


def test_a_hundred_dimensions_without_a_drift():
    """Seeds 1 to 6. Chains whose step follows the spread of each score end 12 % too high here."""
    failing = hundred_dimensions()
    answers = [subset_simulation(failing, seed=seed) for seed in range(1, 7)]
    assert all(answer.trusted and close(answer, HUNDRED_DIMENSIONS) for answer in answers)
    mean = np.mean([answer.failure_probability for answer in answers])
    assert mean == pytest.approx(HUNDRED_DIMENSIONS, rel=0.07)


@pytest.mark.parametrize("probability", [1e-2, 1e-5])
def test_sum_of_a_hundred_exponentials(probability):
    answer = subset_simulation(exponentials(probability, 100), seed=1, cap_rows=1000)
    assert close(answer, probability)


def test_interval_and_spread_over_fixed_seeds():
    failing = linear(1e-3, 2)
    covered, high, ratio, bias = coverage(
        lambda seed: subset_simulation(failing, seed=seed, replicates=8, pilot_rows=500, cap_rows=500),
        1e-3,
        range(200),
    )
    assert covered >= 0.90
    assert high >= 0.95
    assert 0.85 <= ratio <= 1.15
    assert abs(bias) < 4.0


def test_asks_for_rows_by_the_pilot_and_keeps_the_cap():
    failing = linear(1e-5, 3)
    coarse = subset_simulation(failing, seed=1, coefficient_of_variation=0.2)
    fine = subset_simulation(failing, seed=1, coefficient_of_variation=0.05, cap_rows=4000)
    assert fine.rows > 3 * coarse.rows
    assert "10 replicates of 4,000 rows a level" in fine.reason


def test_against_an_independent_library():
    import openturns as ot

    ot.RandomGenerator.SetSeed(1)
    vector = ot.RandomVector(
        ot.CompositeRandomVector(
            ot.SymbolicFunction(["a", "b"], ["3.5 + 0.15 * b^2 - a + 0.2 * a * b"]),
            ot.RandomVector(ot.Normal(2)),
        )
    )
    theirs = ot.SubsetSampling(ot.ThresholdEvent(vector, ot.Less(), 0.0))
    theirs.setMaximumOuterSampling(400)
    theirs.setBlockSize(10)
    values = []
    for _ in range(12):
        theirs.run()
        values.append(theirs.getResult().getProbabilityEstimate())
    mine = subset_simulation(
        failure(lambda x: 3.5 + 0.15 * x[:, 1] ** 2 - x[:, 0] + 0.2 * x[:, 0] * x[:, 1], 2), seed=1
    )
    apart = mine.failure_probability - np.mean(values)
    assert abs(apart) < 4.0 * np.hypot(mine.standard_error, np.std(values, ddof=1) / np.sqrt(len(values)))


@pytest.mark.parametrize("workers", [2, 5])
def test_same_bits_for_any_number_of_workers(workers):
    failing = linear(1e-4, 4)
    one = subset_simulation(failing, seed=3)
    assert bits(one) == bits(subset_simulation(failing, seed=3, workers=workers))
    assert bits(one) != bits(subset_simulation(failing, seed=4))


def test_counts_what_it_cost():
    failing, seen = counted(lambda x: 3.0 - x[:, 0], 3)
    answer = subset_simulation(failing, seed=1, workers=2)
    ledger = failing.space.ledger
    assert answer.rows == answer.margin_evaluations == ledger.rows == ledger.margin_evaluations == sum(seen)
    assert answer.calls == ledger.calls == len(seen)


def test_likely_failure_is_counted():
    answer = subset_simulation(linear(0.7, 3), seed=1)
    assert answer.rows == 11_000
    assert close(answer, 0.7)
    assert answer.standard_error == pytest.approx(np.sqrt(0.7 * 0.3 / 10_000), rel=0.05)


def test_flat_margins():
    step = subset_simulation(STEP, seed=1)
    assert step.bounds[0] <= stats.norm.sf(3.0) <= step.bounds[1]
    stairs = subset_simulation(STAIRS, seed=1)
    assert stairs.trusted
    assert close(stairs, stats.norm.sf(4.0))


def test_a_step_too_rare_to_be_met_is_bounded_only():
    answer = subset_simulation(failure(lambda x: np.where(x[:, 0] > 5.0, -1.0, 1.0), 2), seed=1)
    assert answer.failure_probability == 0.0
    assert answer.bounds[1] == pytest.approx(1.0 - 0.05 ** (1.0 / 10_000))
    assert not answer.trusted
    assert "no failure was met" in answer.reason


def test_never_and_always():
    never = subset_simulation(NEVER, seed=1)
    assert never.failure_probability == never.bounds[0] == 0.0
    assert 0.0 < never.bounds[1] < 1e-6
    assert not never.trusted
    constant = subset_simulation(CONSTANT, seed=1)
    assert constant.failure_probability == 0.0
    assert constant.bounds[1] > 1e-4
    always = subset_simulation(ALWAYS, seed=1)
    assert always.failure_probability == 1.0
    assert always.bounds[0] == pytest.approx(0.05 ** (1.0 / 10_000))
    assert always.trusted


def test_impossible_rows_are_counted_and_never_safe():
    failing, exact, lost = impossible_above(3.0, 3.8)
    answer = subset_simulation(failing, seed=1)
    possible_and_failing = exact * (1.0 - lost)
    assert answer.impossible > 0
    assert answer.trusted
    assert close(answer, exact)
    assert answer.bounds[0] < possible_and_failing < possible_and_failing + lost < answer.bounds[1]

    failing, exact, lost = impossible_above(4.5, 3.0)
    rare = subset_simulation(failing, seed=1)
    assert not rare.trusted
    assert rare.bounds[0] <= exact
    assert rare.bounds[1] >= lost * 0.8

    nothing = subset_simulation(UNKNOWN, seed=1)
    assert np.isnan(nothing.failure_probability)
    assert nothing.bounds.tolist() == [0.0, 1.0]
    assert nothing.impossible == 10_000
    assert not nothing.trusted
    assert "100 % of the rows are impossible" in nothing.reason


@pytest.mark.parametrize(("value", "probability"), [(1.0, 0.0), (-1.0, 1.0), (np.nan, np.nan)])
def test_nothing_uncertain(value, probability):
    answer = subset_simulation(nothing_uncertain(value), seed=1)
    np.testing.assert_equal(answer.failure_probability, probability)
    assert answer.rows == 1
    assert answer.trusted == (not np.isnan(value))


def test_the_worst_of_what_governs():
    table = np.array([[1.0, -1.0, 3.0], [1.0, np.nan, 3.0], [-1.0, np.nan, 3.0], [1.0, 2.0, np.nan]])

    def respond(_x, which):
        return Response(margin=table[:, which])

    space = StandardSpace(single(respond, 1, labels=("a", "b", "c"), governing=(True, True, False)))
    np.testing.assert_equal(Failing.of_union(space).margins(np.zeros((4, 1))), [-1.0, np.nan, -1.0, 1.0])
    np.testing.assert_equal(
        Failing.of_limit_state(space, 0, 2).margins(np.zeros((4, 1))), [3.0, 3.0, 3.0, np.nan]
    )
    with pytest.raises(ValueError, match="at least one limit state"):
        Failing.of_union(StandardSpace(single(respond, 1, labels=("a", "b", "c"), governing=(False,) * 3)))


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"replicates": 2}, "replicates is 3 or more"),
        ({"share": 0.7}, "share that a level hands on"),
        ({"coefficient_of_variation": 0.0}, "coefficient of variation is above zero"),
        ({"pilot_rows": 50}, "100 <= pilot_rows"),
        ({"workers": 0}, "workers is 1 or more"),
    ],
)
def test_arguments_that_make_no_sense(wrong, message):
    with pytest.raises(ValueError, match=message):
        subset_simulation(linear(1e-2, 2), seed=1, **wrong)
