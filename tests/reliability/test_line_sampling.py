"""Line sampling against exact probabilities: few rows for a rare failure, and silence about nothing."""

from __future__ import annotations

import numpy as np
import pytest
from reliability_cases import bits
from scipy import stats
from simulator_cases import (
    ALWAYS,
    CONSTANT,
    FOUR_BRANCH,
    NEVER,
    STAIRS,
    STEP,
    UNKNOWN,
    close,
    counted,
    coverage,
    failure,
    four_branches,
    hundred_dimensions,
    impossible_above,
    linear,
    nothing_uncertain,
    parabola,
    two_sided,
)

from riskcut.reliability.line_sampling import line_sampling


def axis(dimension):
    return np.eye(dimension)[0]


@pytest.mark.parametrize("probability", [0.7, 1e-2, 1e-4, 1e-7, 1e-12])
@pytest.mark.parametrize("dimension", [1, 6])
def test_linear_margin_along_its_normal_is_exact(probability, dimension):
    answer = line_sampling(linear(probability, dimension), np.ones(dimension), seed=1)
    assert answer.trusted
    assert answer.failure_probability == pytest.approx(probability, rel=1e-6)
    assert answer.bounds[0] <= probability <= answer.bounds[1]


@pytest.mark.parametrize("probability", [1e-2, 1e-4, 1e-7])
def test_linear_margin_along_a_direction_that_is_off(probability):
    off = np.ones(8) + 0.3 * np.sin(np.arange(8))
    answer = line_sampling(linear(probability, 8), off, seed=1)
    assert answer.trusted
    assert answer.standard_error > 0.01 * probability
    assert close(answer, probability)


@pytest.mark.parametrize("curvature", [0.1, -0.05])
def test_two_thousand_rows_for_five_per_cent_of_one_in_a_million(curvature):
    """The true spread over seeds 0 to 199, rows of the pilot included."""
    failing, exact = parabola(4.6, curvature, 8)
    rows = []

    def run(seed):
        answer = line_sampling(failing, axis(8), seed=seed)
        rows.append(answer.rows)
        return answer

    covered, high, ratio, bias = coverage(run, exact, range(200))
    spread = ratio * np.sqrt(np.mean([run(seed).standard_error ** 2 for seed in range(200)])) / exact
    assert exact < 1e-5
    assert np.mean(rows) < 2000
    assert spread < 0.055
    assert covered >= 0.90
    assert high >= 0.95
    assert 0.85 <= ratio <= 1.15
    assert abs(bias) < 4.0


def test_an_oblique_direction_covers_too():
    off = np.ones(8) + 0.3 * np.sin(np.arange(8))
    failing = linear(1e-6, 8)
    covered, high, ratio, bias = coverage(
        lambda seed: line_sampling(failing, off, seed=seed), 1e-6, range(200)
    )
    assert covered >= 0.90
    assert high >= 0.95
    assert 0.85 <= ratio <= 1.15
    assert abs(bias) < 4.0


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_roots_on_every_line(seed):
    failing, exact = two_sided(4.0, 3)
    answer = line_sampling(failing, axis(3), seed=seed)
    assert answer.failure_probability == pytest.approx(exact, rel=1e-4)
    assert answer.bounds[0] <= exact <= answer.bounds[1]


def test_failure_between_two_roots():
    failing = failure(lambda x: np.abs(x[:, 0] - 3.5) - 0.75, 2)
    answer = line_sampling(failing, axis(2), seed=1)
    assert answer.failure_probability == pytest.approx(stats.norm.sf(2.75) - stats.norm.sf(4.25), rel=2e-4)


def test_a_direction_away_from_failure_is_only_another_sign():
    answer = line_sampling(linear(1e-3, 3), -np.ones(3), seed=1)
    assert answer.failure_probability == pytest.approx(1e-3, rel=1e-4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_mode_square_to_the_direction_is_not_passed_over(seed):
    answer = line_sampling(four_branches(), [1.0, 1.0], seed=seed)
    assert not answer.trusted
    assert "sideways" in answer.reason
    # two of the four branches, and they alone: what makes it wrong is why it is not trusted
    assert answer.failure_probability < FOUR_BRANCH


def test_a_hundred_dimensions_along_the_first():
    answer = line_sampling(hundred_dimensions(), axis(100), seed=1)
    assert answer.bounds[0] <= 3.769436e-4 <= answer.bounds[1]


@pytest.mark.parametrize("workers", [2, 5])
def test_same_bits_for_any_number_of_workers(workers):
    failing, _ = parabola(4.0, 0.2, 5)
    one = line_sampling(failing, axis(5), seed=3)
    assert bits(one) == bits(line_sampling(failing, 2.0 * axis(5), seed=3, workers=workers))
    assert bits(one) != bits(line_sampling(failing, axis(5), seed=4))


def test_counts_what_it_cost():
    failing, seen = counted(lambda x: 3.0 + 0.1 * x[:, 1] ** 2 - x[:, 0], 3)
    answer = line_sampling(failing, axis(3), seed=1, workers=2)
    ledger = failing.space.ledger
    assert answer.rows == answer.margin_evaluations == ledger.rows == ledger.margin_evaluations == sum(seen)
    assert answer.calls == ledger.calls == len(seen)


def test_flat_margins():
    assert close(line_sampling(STEP, [1.0, 0.2], seed=1), stats.norm.sf(3.0))
    assert close(line_sampling(STAIRS, [1.0, 0.2], seed=1), stats.norm.sf(4.0))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_margin_that_jumps_to_all_but_zero(seed):
    # a secant from the safe side seems to arrive at once, anywhere beyond the jump: the pilot finds it out
    jump = failure(lambda x: np.where(x[:, 0] - x[:, 1] > 4.3, -1e-4, 1.0), 2)
    answer = line_sampling(jump, axis(2), seed=seed)
    assert "end to end" in answer.reason
    assert close(answer, stats.norm.sf(4.3 / np.sqrt(2.0)))


def test_never_and_always():
    for never in (NEVER, CONSTANT):
        answer = line_sampling(never, axis(2), seed=1)
        assert answer.failure_probability == answer.bounds[0] == 0.0
        assert answer.bounds[1] == pytest.approx(1.0 - 0.05 ** (1.0 / 256))
        assert not answer.trusted
        assert "no failure was met" in answer.reason
    always = line_sampling(ALWAYS, axis(2), seed=1)
    assert always.failure_probability == always.bounds[1] == 1.0
    assert always.bounds[0] == pytest.approx(0.05 ** (1.0 / 256))


def test_impossible_rows_are_counted_and_never_safe():
    failing, exact, lost = impossible_above(3.0, 1.5)
    answer = line_sampling(failing, axis(2), seed=1)
    assert answer.impossible > 0
    assert not answer.trusted
    assert answer.bounds[0] < exact * (1.0 - lost) < lost < answer.bounds[1]
    nothing = line_sampling(UNKNOWN, axis(2), seed=1)
    assert np.isnan(nothing.failure_probability)
    assert nothing.bounds.tolist() == [0.0, 1.0]
    assert not nothing.trusted


@pytest.mark.parametrize(("value", "probability"), [(1.0, 0.0), (-1.0, 1.0), (np.nan, np.nan)])
def test_nothing_uncertain(value, probability):
    answer = line_sampling(nothing_uncertain(value), [], seed=1)
    np.testing.assert_equal(answer.failure_probability, probability)


@pytest.mark.parametrize(
    ("direction", "wrong", "message"),
    [
        ([1.0], {}, "direction of 2 scores"),
        ([0.0, 0.0], {}, "longer than zero"),
        ([np.nan, 0.0], {}, "longer than zero"),
        ([1.0, 0.0], {"coefficient_of_variation": 0.0}, "coefficient of variation is above zero"),
        ([1.0, 0.0], {"least_lines": 1}, "2 <= least_lines"),
        ([1.0, 0.0], {"workers": 0}, "workers is 1 or more"),
    ],
)
def test_arguments_that_make_no_sense(direction, wrong, message):
    with pytest.raises(ValueError, match=message):
        line_sampling(linear(1e-2, 2), direction, seed=1, **wrong)
