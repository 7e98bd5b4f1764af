"""Importance samples of problems with exact answers: single limit states, unions, parallel systems."""

from __future__ import annotations

import numpy as np
import pytest
from importance_cases import (
    design_points,
    equicorrelated,
    planes,
    random_directions,
    space_of,
    union_of_equicorrelated,
    within,
)
from reliability_cases import component, margins
from scipy import stats

from riskcut.reliability.failure_events import AllOf, AnyOf
from riskcut.reliability.importance import sample, stratified
from riskcut.reliability.mixture import Centre
from riskcut.reliability.problem import Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Lognormal, Normal

PROBABILITIES = np.array([0.3, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9])


def run(space, centres, **kwargs):
    arguments = {"blocks": 4, "seed": 1, "purpose": "test"} | kwargs
    return sample(space, centres=centres, **arguments)


def test_probabilities_from_three_tenths_to_a_thousand_millionth_from_the_same_rows():
    alphas, betas = random_directions(10, 8), stats.norm.isf(PROBABILITIES)
    tally = run(planes(alphas, betas), design_points(alphas, betas))
    estimate = tally.estimate()
    for e, exact in enumerate(PROBABILITIES):
        assert within(estimate, e, exact, 3.5)
        assert estimate.bounds[e, 0] < estimate.failure_probability[e] < estimate.bounds[e, 1]
    assert np.all(estimate.coefficient_of_variation < 0.12)
    assert tally.doubts() == ((),) * 10
    # they truly come from one sample: what the ledger counts
    assert tally.rows == 4 * 8192


@pytest.mark.parametrize("rho", [0.3, 0.9])
def test_union_of_equicorrelated_limit_states(rho):
    betas = np.array([2.5, 3.0, 3.0, 3.5, 4.0])
    alphas = equicorrelated(5, rho)
    tally = run(
        planes(alphas, betas), design_points(alphas, betas), systems={"any": [(0, k) for k in range(5)]}
    )
    assert within(tally.estimate(), tally.place("any"), union_of_equicorrelated(betas, rho))


@pytest.mark.parametrize("beta", [3.0, 4.5])
def test_union_of_many_independent_limit_states(beta):
    alphas, betas = np.eye(20), np.full(20, beta)
    tally = run(
        planes(alphas, betas), design_points(alphas, betas), systems={"any": [(0, k) for k in range(20)]}
    )
    exact = -np.expm1(20 * np.log1p(-stats.norm.sf(beta)))
    assert within(tally.estimate(), tally.place("any"), exact)
    assert tally.estimate().coefficient_of_variation[-1] < 0.03


def test_fully_dependent_limit_states_fail_together():
    alphas, betas = np.tile([0.6, 0.8], (3, 1)), np.array([3.0, 3.5, 4.0])
    states = ((0, 0), (0, 1), (0, 2))
    systems = {"any": AnyOf(states), "all": AllOf(states), "two": AllOf(states[1:])}
    tally = run(planes(alphas, betas), design_points(alphas, betas), systems=systems)
    p = tally.estimate().failure_probability
    # the same rows, so to the last bit
    assert p[tally.place("any")] == p[0]
    assert p[tally.place("all")] == p[tally.place("two")] == p[2]


@pytest.mark.parametrize("rho", [-0.5, 0.0, 0.6])
def test_parallel_system_of_two_limit_states_by_the_bivariate_normal(rho):
    beta = 2.5
    alphas = np.array([[1.0, 0.0], [rho, np.sqrt(1.0 - rho * rho)]])
    joint = beta * (alphas[0] + alphas[1]) / (1.0 + rho)
    centres = [*design_points(alphas, [beta, beta]), Centre(joint, (0, 0), 1e-5)]
    states = ((0, 0), (0, 1))
    tally = run(planes(alphas, [beta, beta]), centres, systems={"all": AllOf(states), "any": AnyOf(states)})
    both = stats.multivariate_normal([0.0, 0.0], [[1.0, rho], [rho, 1.0]]).cdf([-beta, -beta])
    estimate = tally.estimate()
    assert within(estimate, tally.place("all"), both)
    assert within(estimate, tally.place("any"), 2.0 * stats.norm.sf(beta) - both)
    p = estimate.failure_probability
    assert p[2] + p[3] == pytest.approx(p[0] + p[1], rel=1e-12)


def test_series_of_parallel_systems():
    betas = np.array([2.0, 2.0, 2.5, 2.5])
    pairs = [np.array([2.0, 2.0, 0.0, 0.0]), np.array([0.0, 0.0, 2.5, 2.5])]
    centres = [*design_points(np.eye(4), betas), *(Centre(u, (0, 0), 0.0) for u in pairs)]
    system = AnyOf((AllOf(((0, 0), (0, 1))), AllOf(((0, 2), (0, 3)))))
    tally = run(planes(np.eye(4), betas), centres, systems={"mixed": system})
    p = stats.norm.sf(betas)
    assert within(tally.estimate(), tally.place("mixed"), p[0] * p[1] + p[2] * p[3] - np.prod(p))


@pytest.mark.parametrize("b", [2.0, 4.0, 5.5])
def test_two_sided_limit_state_with_both_its_design_points(b):
    space = space_of(margins(lambda x: b - np.abs(x[:, 0])), 2)
    p = float(stats.norm.sf(b))
    centres = [Centre(np.array([side * b, 0.0]), (0, 0), p) for side in (-1.0, 1.0)]
    tally = run(space, centres)
    assert within(tally.estimate(), 0, 2.0 * p)
    assert tally.first_order[0] == pytest.approx(2.0 * p)
    assert tally.doubts() == ((),)


def test_correlated_drivers_and_other_marginals():
    """Normal capacity less two correlated normal loads; lognormals multiplied; columns that share a driver."""
    rho = 0.7
    correlation = np.eye(5)
    correlation[0, 1] = correlation[1, 0] = rho
    correlation[2, 3] = correlation[3, 2] = -0.4
    joint = Joint(
        [
            Normal(mean=3.0, sd=1.0),
            Normal(mean=2.0, sd=0.5),
            Lognormal(mean=5.0, sd=1.0),
            Lognormal(mean=2.0, sd=0.3),
            Normal(mean=15.0, sd=0.8),
        ],
        correlation=correlation,
    )
    log_sd = np.sqrt(np.log1p(np.array([1.0 / 5.0, 0.3 / 2.0]) ** 2))
    log_mean = np.log([5.0, 2.0]) - 0.5 * log_sd**2
    problem = Problem(
        joint,
        (
            component("sum", margins(lambda x: x[:, 2] - x[:, 0] - x[:, 1]), columns=(0, 1, 4)),
            component("product", margins(lambda x: 25.0 - x[:, 0] * x[:, 1]), columns=(2, 3)),
        ),
    )
    space = StandardSpace(problem)
    # linear in the correlated scores z: margin = a - b.z, so beta = a/|L'b| at u = beta L'b/|L'b|
    factor = np.linalg.cholesky(correlation)
    linear = [
        (10.0, np.array([1.0, 0.5, 0.0, 0.0, -0.8])),
        (np.log(25.0) - log_mean.sum(), np.array([0.0, 0.0, log_sd[0], log_sd[1], 0.0])),
    ]
    centres, exact = [], []
    for place, (a, b) in enumerate(linear):
        slope = factor.T @ b
        beta = a / np.linalg.norm(slope)
        centres.append(Centre(beta * slope / np.linalg.norm(slope), (place, 0), float(stats.norm.sf(beta))))
        exact.append(stats.norm.sf(beta))
    tally = run(space, centres, systems={"any": [(0, 0), (1, 0)]})
    estimate = tally.estimate()
    assert 1e-10 < min(exact) < max(exact) < 1e-4
    for e in range(2):
        assert within(estimate, e, exact[e])
    assert within(estimate, 2, 1.0 - (1.0 - exact[0]) * (1.0 - exact[1]))
    assert space.ledger.rows == tally.rows  # both components read the same ones
    assert space.ledger.margin_evaluations == 2 * tally.rows


@pytest.mark.parametrize("p", [0.7, 0.97])
def test_above_one_half_the_complement_is_estimated(p):
    beta = stats.norm.isf(p)
    others = [Centre(np.array([0.0, 4.0]), (0, 1), float(stats.norm.sf(4.0)))]
    space = planes(np.eye(2), [beta, 4.0])
    found = []
    for seed in range(20):
        straight = run(space, others, seed=seed, blocks=1).estimate()
        turned = run(space, others, seed=seed, blocks=1, turned=[(0, 0)]).estimate()
        assert 0.0 <= turned.bounds[0, 0] < turned.failure_probability[0] < turned.bounds[0, 1] <= 1.0
        assert turned.standard_error[0] < straight.standard_error[0]
        assert turned.failure_probability[1] == straight.failure_probability[1]
        found.append(turned.failure_probability[0])
    assert abs(np.mean(found) - p) < 3.0 * np.std(found, ddof=1) / np.sqrt(20)


def test_a_few_light_rows_do_not_hide_what_was_not_found():
    """Pf 0.9999, so the complement is rare and has no centre; the rows about another one find its far edge."""
    p = 0.9999
    space = planes(np.eye(2), [stats.norm.isf(p), 4.0])
    other = Centre(np.array([0.0, 4.0]), (0, 1), float(stats.norm.sf(4.0)))
    held = 0
    for seed in range(20):
        tally = run(space, [other], seed=seed, turned=[(0, 0)], blocks=1)
        bounds = tally.estimate().bounds[0]
        held += bounds[0] <= p <= bounds[1]
        assert tally.doubts()[0]
    assert held >= 18


def test_always_and_never_failing():
    space = space_of(
        margins(lambda x: np.full(len(x), -1.0), lambda x: np.full(len(x), 1.0), lambda x: 3.0 - x[:, 0]),
        1,
        labels=("always", "never", "some"),
    )
    centre = Centre(np.array([3.0]), (0, 2), float(stats.norm.sf(3.0)))
    systems = {"any": [(0, 0), (0, 2)], "all": AllOf(((0, 1), (0, 2)))}
    tally = run(space, [centre], turned=[(0, 0), "any"], systems=systems)
    estimate = tally.estimate()
    nominal = tally.nominal_rows
    for name, exact in (((0, 0), 1.0), ((0, 1), 0.0), ("any", 1.0), ("all", 0.0)):
        e = tally.place(name)
        assert estimate.failure_probability[e] == exact
        edge = 0.05 ** (1.0 / nominal)
        expected = [edge, 1.0] if exact else [0.0, 1.0 - edge]
        np.testing.assert_allclose(estimate.bounds[e], expected)
        assert tally.effective[e] == tally.largest_share[e] == 0.0
        assert "only a bound is known" in tally.doubts()[e][0]
    assert within(estimate, 2, stats.norm.sf(3.0))


def test_impossible_rows_are_read_both_ways():
    """g = 3 - u1, but no answer where u2 > 2: neither safe nor failed."""

    def respond(x, which):
        margin = np.stack([3.0 - x[:, 0], 3.0 + 0.0 * x[:, 1]]).T
        margin[x[:, 1] > 2.0] = np.nan
        return Response(margin=margin[:, list(which)])

    space = space_of(respond, 2, labels=("some", "never"))
    centre = Centre(np.array([3.0, 0.0]), (0, 0), float(stats.norm.sf(3.0)))
    tally = run(space, [centre], systems={"any": [(0, 0), (0, 1)]})
    estimate, p, lost = tally.estimate(), stats.norm.sf(3.0), stats.norm.sf(2.0)
    for e in (0, 2):
        # given that there is an answer, as far as it matters: p; of all rows p (1 - lost) fail and lost have none
        assert within(estimate, e, p)
        assert estimate.bounds[e, 0] <= p * (1.0 - lost)
        assert estimate.bounds[e, 1] >= lost + p * (1.0 - lost)
        assert estimate.bounds[e, 1] == pytest.approx(lost + p, rel=0.15)
        assert "Impossible rows" in " ".join(tally.doubts()[e])
    assert tally.impossible_probability[0] == pytest.approx(lost, rel=0.15)
    # nothing failed, yet some rows have no answer: not a zero count
    assert estimate.failure_probability[1] == 0.0
    assert estimate.bounds[1, 1] > 0.8 * lost
    # and turned over: bounds that mirror
    turned = run(space, [centre], turned=[(0, 1)]).estimate()
    assert turned.failure_probability[1] == pytest.approx(0.0, abs=0.05)
    assert turned.bounds[1, 1] > 0.8 * lost


def test_nothing_but_impossible_rows():
    space = space_of(margins(lambda x: np.full(len(x), np.nan)), 1)
    tally = run(space, [], blocks=1, rows_per_block=100)
    estimate = tally.estimate()
    assert np.isnan(estimate.failure_probability[0])
    np.testing.assert_array_equal(estimate.bounds[0], [0.0, 1.0])


def test_without_centres_it_is_plain_sampling():
    space = planes([[1.0]], [1.0])
    tally = run(space, [])
    estimate = tally.estimate()
    k, n = tally.failing[0], tally.rows
    assert estimate.failure_probability[0] == pytest.approx(k / n)
    assert tally.effective[0] == pytest.approx(k)
    assert estimate.standard_error[0] == pytest.approx(np.sqrt(k / n * (1 - k / n) / n), rel=1e-3)


def test_which_and_where_events_stand():
    alphas, betas = np.eye(3), np.array([2.0, 2.5, 3.0])
    space = planes(alphas, betas)
    centres = design_points(alphas, betas)
    tally = run(space, centres, which={0: [2, 0]}, systems={"any": [(0, 0), (0, 2)]})
    assert tally.limit_states == ((0, 2), (0, 0))
    assert [tally.place((0, 2)), tally.place((0, 0)), tally.place("any")] == [0, 1, 2]
    assert within(tally.estimate(), 0, stats.norm.sf(3.0))
    assert space.ledger.margin_evaluations == 2 * tally.rows
    with pytest.raises(ValueError, match="not sampled"):
        run(space, centres, which={0: [2]}, systems={"any": [(0, 0)]})
    with pytest.raises(ValueError, match="to be turned"):
        run(space, centres, which={0: [2]}, turned=[(0, 0)])
    with pytest.raises(ValueError, match="1 or more"):
        run(space, centres, blocks=0)


def test_stratified_variance_by_hand():
    # parts of 3, 2 and 1 rows; values 1 2 0 | 4 0 | 3
    values, part, counts = np.array([1.0, 2.0, 4.0, 3.0]), np.array([0, 0, 1, 2]), np.array([3, 2, 1])
    mean, variance = stratified(values, part, counts)
    assert mean == pytest.approx(10.0 / 6.0)
    assert variance == pytest.approx(
        (3 * np.var([1, 2, 0], ddof=1) + 2 * np.var([4, 0], ddof=1) + 9.0) / 36.0
    )
