"""Latin hypercubes and scrambled Sobol' points: their evenness, their gain, their interval, and its refusal."""

from __future__ import annotations

import numpy as np
import pytest
from reliability_cases import bits
from scipy import stats
from scipy.stats import qmc
from simulator_cases import (
    ALWAYS,
    FOUR_BRANCH,
    NEVER,
    UNKNOWN,
    close,
    counted,
    coverage,
    exponentials,
    four_branches,
    hundred_dimensions,
    impossible_above,
    linear,
    nothing_uncertain,
    two_sided,
)

from riskcut.reliability.spread_points import (
    hypercube,
    latin_hypercube,
    sobol,
    sobol_points,
)
from riskcut.reliability.streams import BLOCK_ROWS, generator, standard_normal

BOTH = pytest.mark.parametrize("simulate", [latin_hypercube, sobol_points])


def draws(index=0):
    return generator(seed=1, purpose="test", index=index)


@pytest.mark.parametrize("rows", [1, 1000, 20_000])
def test_a_hypercube_has_one_point_a_cell(rows):
    blocks = list(hypercube(draws(), rows, 3))
    assert [len(block) for block in blocks[:-1]] == [BLOCK_ROWS] * (len(blocks) - 1)
    u = np.concatenate(blocks)
    cells = np.sort(np.floor(u * rows), axis=0)
    np.testing.assert_array_equal(cells, np.tile(np.arange(rows)[:, np.newaxis], 3))


def test_columns_of_a_hypercube_are_shuffled_apart():
    u = np.concatenate(list(hypercube(draws(), 4096, 4)))
    assert np.abs(np.corrcoef(u.T) - np.eye(4)).max() < 5.0 / 64.0


def test_blocks_of_sobol_points_are_one_long_run_and_any_block_can_be_forwarded_to():
    blocks = list(sobol(draws(), 4 * BLOCK_ROWS, 5))
    whole = qmc.Sobol(5, scramble=True, rng=draws()).random(4 * BLOCK_ROWS)
    np.testing.assert_array_equal(np.concatenate(blocks), whole)
    engine = qmc.Sobol(5, scramble=True, rng=draws())
    engine.fast_forward(2 * BLOCK_ROWS)
    np.testing.assert_array_equal(engine.random(BLOCK_ROWS), blocks[2])


def test_every_replicate_is_scrambled_anew():
    first = next(sobol(draws(0), 64, 2))
    assert not np.array_equal(first, next(sobol(draws(1), 64, 2)))


@BOTH
@pytest.mark.parametrize("probability", [0.7, 1e-2, 1e-3])
def test_linear_margin(simulate, probability):
    answer = simulate(linear(probability, 3), seed=1)
    assert answer.trusted
    assert close(answer, probability)
    assert answer.standard_error < 0.05 * probability


@BOTH
@pytest.mark.parametrize("seed", [1, 2])
def test_four_branches(simulate, seed):
    assert close(simulate(four_branches(), seed=seed), FOUR_BRANCH)


@BOTH
def test_two_sided_and_a_hundred_exponentials(simulate):
    failing, exact = two_sided(2.5, 2)
    assert close(simulate(failing, seed=1), exact)
    assert close(simulate(exponentials(0.05, 100), seed=1, rows=2048, pilot_blocks=1), 0.05)


@BOTH
def test_spread_is_below_that_of_random_rows_for_an_additive_margin(simulate):
    # Twenty terms: random rows have p (1 - p)/n; the main effects are what evenness removes
    failing = linear(0.3, 20)
    answers = [simulate(failing, seed=seed, rows=1024, pilot_blocks=1) for seed in range(10)]
    variance = np.mean([answer.standard_error**2 for answer in answers])
    random = 0.3 * 0.7 / (16 * 1024)
    assert variance < 0.6 * random


@BOTH
def test_one_dimension_is_all_but_exact(simulate):
    answer = simulate(linear(1e-2, 1), seed=1, rows=8192)
    assert answer.failure_probability == pytest.approx(0.01, abs=1.0 / 8192)
    assert answer.bounds[0] <= 0.01 <= answer.bounds[1]
    assert answer.bounds[1] - answer.bounds[0] < 2.0 / 8192


@BOTH
def test_equal_counts_leave_a_part_of_one_row(simulate):
    # 2^-6 of a scramble or of a hypercube of 4,096 is 64 rows exactly, whatever the shuffle
    answer = simulate(linear(2.0**-6, 1), seed=1, rows=4096)
    assert answer.failure_probability == 2.0**-6
    assert answer.standard_error == 0.0
    half = (1.0 - 0.05 ** (1.0 / 16)) / 4096
    np.testing.assert_allclose(answer.bounds, [2.0**-6 - half, 2.0**-6 + half], rtol=1e-9)


@BOTH
def test_interval_and_spread_over_fixed_seeds(simulate):
    failing = linear(1e-2, 3)
    covered, high, ratio, bias = coverage(
        lambda seed: simulate(failing, seed=seed, rows=8192, pilot_blocks=1), 1e-2, range(200)
    )
    assert covered >= 0.90
    assert high >= 0.95
    assert 0.85 <= ratio <= 1.15
    assert abs(bias) < 4.0


@BOTH
def test_too_few_failures_are_refused_an_interval(simulate):
    answer = simulate(linear(1e-4, 3), seed=1, rows=65_536)
    assert not answer.trusted
    assert answer.rows == 4 * BLOCK_ROWS
    assert "may expect some" in answer.reason
    assert answer.bounds[0] <= 1e-4 <= answer.bounds[1]
    rare = simulate(hundred_dimensions(), seed=1, rows=1024)
    assert not rare.trusted
    assert rare.bounds[0] <= 3.769436e-4 <= rare.bounds[1]


@BOTH
@pytest.mark.parametrize("workers", [2, 5])
def test_same_bits_for_any_number_of_workers(simulate, workers):
    failing = linear(1e-2, 3)
    one = simulate(failing, seed=3, rows=16_384)
    assert bits(one) == bits(simulate(failing, seed=3, rows=16_384, workers=workers))
    assert bits(one) != bits(simulate(failing, seed=4, rows=16_384))


@BOTH
def test_counts_what_it_cost(simulate):
    failing, seen = counted(lambda x: 2.0 - x[:, 0], 3)
    answer = simulate(failing, seed=1, workers=2)
    ledger = failing.space.ledger
    assert answer.rows == answer.margin_evaluations == ledger.rows == ledger.margin_evaluations == sum(seen)
    assert answer.calls == ledger.calls == len(seen)
    assert max(seen) <= BLOCK_ROWS


@BOTH
def test_never_and_always(simulate):
    rows = 4 * BLOCK_ROWS
    never = simulate(NEVER, seed=1)
    assert never.failure_probability == never.bounds[0] == 0.0
    assert never.bounds[1] == pytest.approx(1.0 - 0.05 ** (1.0 / rows))
    assert not never.trusted
    always = simulate(ALWAYS, seed=1)
    assert always.failure_probability == always.bounds[1] == 1.0
    assert always.bounds[0] == pytest.approx(0.05 ** (1.0 / rows))
    assert "rows that do not fail" in always.reason


@BOTH
def test_impossible_rows_are_counted_and_never_safe(simulate):
    failing, exact, lost = impossible_above(2.0, 3.0)
    answer = simulate(failing, seed=1, rows=16_384)
    assert answer.trusted
    assert answer.impossible == pytest.approx(16 * 16_384 * lost * (1.0 - exact), rel=0.3)
    assert close(answer, exact)
    assert answer.bounds[0] < exact * (1.0 - lost)
    assert answer.bounds[1] > exact + lost * (1.0 - exact)
    nothing = simulate(UNKNOWN, seed=1)
    assert np.isnan(nothing.failure_probability)
    assert nothing.bounds.tolist() == [0.0, 1.0]
    assert not nothing.trusted


@BOTH
@pytest.mark.parametrize(("value", "probability"), [(1.0, 0.0), (-1.0, 1.0), (np.nan, np.nan)])
def test_nothing_uncertain(simulate, value, probability):
    answer = simulate(nothing_uncertain(value), seed=1)
    np.testing.assert_equal(answer.failure_probability, probability)
    assert answer.rows == 1


@BOTH
@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"replicates": 2}, "replicates is 3 or more"),
        ({"coefficient_of_variation": 0.0}, "coefficient of variation is above zero"),
        ({"pilot_blocks": 0}, "pilot_blocks is 1 or more"),
        ({"workers": 0}, "workers is 1 or more"),
    ],
)
def test_arguments_that_make_no_sense(simulate, wrong, message):
    with pytest.raises(ValueError, match=message):
        simulate(linear(1e-2, 2), seed=1, **wrong)


def test_a_scramble_is_a_power_of_two():
    with pytest.raises(ValueError, match="power of 2, not 3,000"):
        sobol_points(linear(1e-2, 2), seed=1, rows=3000)


def test_scores_stay_finite_on_the_faces_of_the_cube():
    block = np.array([[0.0, 1.0], [0.25, 0.5]])
    scores = standard_normal(block)
    np.testing.assert_allclose(scores[1], stats.norm.ppf([0.25, 0.5]), atol=1e-15)
    assert scores[0, 0] == -scores[0, 1]
    assert -7.0 < scores[0, 0] < -6.0
