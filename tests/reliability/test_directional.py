"""Directional simulation against exact probabilities, several roots on a ray, and odd margins."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
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
    impossible_above,
    linear,
    nothing_uncertain,
    parabola,
    sphere,
    two_sided,
)

from riskcut.reliability.directional import directional_simulation
from riskcut.reliability.rays import chances


@pytest.mark.parametrize("probability", [1e-2, 1e-4, 1e-7])
@pytest.mark.parametrize("dimension", [1, 2, 4])
def test_linear_margin(probability, dimension):
    answer = directional_simulation(linear(probability, dimension), seed=1)
    assert answer.trusted
    assert close(answer, probability)
    assert answer.standard_error < 0.1 * probability


@pytest.mark.parametrize("dimension", [2, 10, 20])
def test_outside_a_sphere_every_direction_is_exact(dimension):
    failing, exact = sphere(7.0, dimension)
    answer = directional_simulation(failing, seed=1)
    assert answer.failure_probability == pytest.approx(exact, rel=1e-4)
    assert answer.bounds[0] <= exact <= answer.bounds[1]
    assert answer.bounds[1] < 1.001 * exact


def test_inside_a_sphere_failure_is_likely():
    answer = directional_simulation(failure(lambda x: np.sqrt(np.square(x).sum(axis=1)) - 3.0, 3), seed=1)
    assert answer.failure_probability == pytest.approx(stats.chi2.cdf(9.0, 3), rel=1e-4)


def test_two_roots_on_every_ray():
    shell = failure(lambda x: np.abs(np.sqrt(np.square(x).sum(axis=1)) - 4.0) - 0.5, 3)
    exact = stats.chi2.sf(3.5**2, 3) - stats.chi2.sf(4.5**2, 3)
    answer = directional_simulation(shell, seed=1)
    assert answer.failure_probability == pytest.approx(exact, rel=2e-4)
    assert answer.bounds[0] <= exact <= answer.bounds[1]


@pytest.mark.parametrize("case", [parabola(3.5, 0.2, 5), two_sided(4.0, 3)])
def test_bent_and_two_sided(case):
    failing, exact = case
    answer = directional_simulation(failing, seed=1)
    assert answer.trusted
    assert close(answer, exact)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_four_branches(seed):
    answer = directional_simulation(four_branches(), seed=seed)
    assert answer.trusted
    assert close(answer, FOUR_BRANCH)


@pytest.mark.parametrize(("probability", "dimension"), [(1e-6, 2), (1e-3, 6)])
def test_interval_and_spread_over_fixed_seeds(probability, dimension):
    failing = linear(probability, dimension)
    covered, high, ratio, bias = coverage(
        lambda seed: directional_simulation(failing, seed=seed, coefficient_of_variation=0.1),
        probability,
        range(200),
    )
    assert covered >= 0.90
    assert high >= 0.95
    assert 0.85 <= ratio <= 1.15
    assert abs(bias) < 4.0


def test_against_an_independent_library():
    import openturns as ot

    ot.RandomGenerator.SetSeed(1)
    function = ot.SymbolicFunction(["a", "b", "c"], ["3.5 + 0.15 * b^2 - a + 0.2 * a * c"])
    vector = ot.CompositeRandomVector(function, ot.RandomVector(ot.Normal(3)))
    theirs = ot.DirectionalSampling(ot.ThresholdEvent(vector, ot.Less(), 0.0))
    theirs.setMaximumOuterSampling(4000)
    theirs.setMaximumCoefficientOfVariation(0.0)
    theirs.run()
    result = theirs.getResult()
    mine = directional_simulation(
        failure(lambda x: 3.5 + 0.15 * x[:, 1] ** 2 - x[:, 0] + 0.2 * x[:, 0] * x[:, 2], 3), seed=1
    )
    apart = mine.failure_probability - result.getProbabilityEstimate()
    assert abs(apart) < 4.0 * np.hypot(mine.standard_error, result.getStandardDeviation())


@settings(deadline=None, max_examples=60)
@given(
    roots=st.lists(st.floats(0.05, 6.9), min_size=0, max_size=4, unique=True).map(sorted),
    falls=st.booleans(),
    steep=st.floats(1e-6, 1e6),
)
def test_stretches_of_one_ray(roots, falls, steep):
    """A polynomial with known roots, apart enough to be told apart: the tail of every stretch is summed."""
    roots = [root for place, root in enumerate(roots) if place == 0 or root - roots[place - 1] > 0.25]

    def along(position, ray):
        assert not ray.any()
        value = np.full(len(position), steep if falls else -steep)
        for root in roots:
            value = value * (root - position)
        return value

    def tail(x):
        return stats.norm.sf(x - 3.0)

    p = chances(along, np.linspace(0.0, 7.0, 71), tail, 1)
    ends = [1.0, *(tail(root) for root in roots), 0.0]
    failing = [not falls if place % 2 == 0 else falls for place in range(len(ends) - 1)]
    exact = sum(ends[place] - ends[place + 1] for place, fails in enumerate(failing) if fails)
    assert p[0, 0] == pytest.approx(exact, rel=1e-4, abs=1e-4)
    assert p[1, 0] == 0.0


@pytest.mark.parametrize(
    ("margin", "root", "most"),
    [
        (lambda x: np.exp(4.0) - np.exp(x), 4.0, 8),
        (lambda x: 1.0 - (x / 4.6) ** 9, 4.6, 10),
        (lambda x: np.where(x > 4.1, -1e-9, 1e9), 4.1, 70),
        (lambda x: np.where(x > 4.9, -1e9, 1e-9), 4.9, 70),
        (lambda x: np.where(x > 4.3, np.nan, 1.0), 4.3, 16),
        (lambda x: np.where(x > 4.3, -np.inf, 1.0), 4.3, 16),
    ],
)
def test_a_root_costs_few_rows(margin, root, most):
    rows = []

    def along(position, _ray):
        rows.append(len(position))
        return margin(position)

    p = chances(along, np.array([0.0, 3.0, 5.0]), stats.norm.sf, 1)
    assert p.sum() == pytest.approx(stats.norm.sf(root), rel=1e-3)
    assert len(rows) - 1 <= most


def test_impossible_stretches_are_kept_apart():
    def along(position, _ray):
        return np.where(position > 5.0, np.nan, 2.3 - position)

    p = chances(along, np.arange(0.0, 8.0), stats.norm.sf, 1)
    assert p[0, 0] == pytest.approx(stats.norm.sf(2.3) - stats.norm.sf(5.0), rel=1e-4)
    assert p[1, 0] == pytest.approx(stats.norm.sf(5.0), rel=1e-3)


@pytest.mark.parametrize("workers", [2, 5])
def test_same_bits_for_any_number_of_workers(workers):
    failing = four_branches()
    one = directional_simulation(failing, seed=3)
    assert bits(one) == bits(directional_simulation(failing, seed=3, workers=workers))
    assert bits(one) != bits(directional_simulation(failing, seed=4))


def test_counts_what_it_cost():
    failing, seen = counted(lambda x: 3.0 - x[:, 0], 3)
    answer = directional_simulation(failing, seed=1, workers=2)
    ledger = failing.space.ledger
    assert answer.rows == answer.margin_evaluations == ledger.rows == ledger.margin_evaluations == sum(seen)
    assert answer.calls == ledger.calls == len(seen)


def test_likely_failure():
    answer = directional_simulation(linear(0.7, 3), seed=1)
    assert answer.trusted
    assert close(answer, 0.7)


def test_flat_margins():
    assert close(directional_simulation(STEP, seed=1), stats.norm.sf(3.0))
    assert close(directional_simulation(STAIRS, seed=1), stats.norm.sf(4.0))


def test_few_directions_that_matter_are_not_trusted():
    answer = directional_simulation(linear(1e-6, 20), seed=1, cap_directions=512)
    assert not answer.trusted


def test_never_and_always():
    for never in (NEVER, CONSTANT):
        answer = directional_simulation(never, seed=1)
        assert answer.failure_probability == answer.bounds[0] == 0.0
        assert answer.bounds[1] == pytest.approx(1.0 - 0.05 ** (1.0 / 512))
        assert not answer.trusted
        assert "no failure was met" in answer.reason
    always = directional_simulation(ALWAYS, seed=1)
    assert always.failure_probability == always.bounds[1] == 1.0
    assert always.bounds[0] == pytest.approx(0.05 ** (1.0 / 512))


def test_impossible_rows_are_counted_and_never_safe():
    failing, exact, lost = impossible_above(3.0, 3.8)
    answer = directional_simulation(failing, seed=1, coefficient_of_variation=0.03)
    assert answer.impossible > 0
    assert close(answer, exact)
    assert answer.bounds[0] < exact * (1.0 - lost) < exact + lost < answer.bounds[1]
    nothing = directional_simulation(UNKNOWN, seed=1)
    assert np.isnan(nothing.failure_probability)
    assert nothing.bounds.tolist() == [0.0, 1.0]
    assert not nothing.trusted
    assert nothing.impossible > 0


@pytest.mark.parametrize(("value", "probability"), [(1.0, 0.0), (-1.0, 1.0), (np.nan, np.nan)])
def test_nothing_uncertain(value, probability):
    answer = directional_simulation(nothing_uncertain(value), seed=1)
    np.testing.assert_equal(answer.failure_probability, probability)
    assert answer.rows == 1


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"coefficient_of_variation": -0.1}, "coefficient of variation is above zero"),
        ({"least_directions": 1}, "2 <= least_directions"),
        ({"workers": 0}, "workers is 1 or more"),
    ],
)
def test_arguments_that_make_no_sense(wrong, message):
    with pytest.raises(ValueError, match=message):
        directional_simulation(linear(1e-2, 2), seed=1, **wrong)
