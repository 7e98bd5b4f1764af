"""The nearest design point: exact cases, an independent library, invariances, and what the search costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import openturns as ot
import pytest
from form_cases import linear, space_of, space_on, unit
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from riskcut.reliability.design_points import Limits, find
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform

FIRST = replace(Limits(), attempts=0)


@settings(deadline=None, max_examples=40)
@given(
    direction=st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=8),
    beta=st.floats(-8.0, 8.0),
    scale=st.floats(1e-6, 1e9),
)
def test_linear_margins_are_exact(direction, beta, scale):
    assume(np.linalg.norm(direction) > 0.1)
    alpha = unit(direction)
    search = find(space_of(lambda x: scale * linear(alpha, beta)(x), len(alpha)), 0, 0)
    assert search.converged
    assert len(search.points) == 1
    point = search.points[0]
    assert point.kind == "point"
    assert point.beta == pytest.approx(beta, abs=1e-8)
    np.testing.assert_allclose(point.alpha, alpha, atol=1e-8)
    np.testing.assert_allclose(point.u, beta * alpha, atol=2e-5 * max(1.0, abs(beta)))
    assert point.importance.sum() == pytest.approx(1.0)
    assert point.gradient_norm == pytest.approx(scale, rel=1e-8)
    assert point.first_order_probability == pytest.approx(stats.norm.sf(beta), rel=1e-6)


def test_correlated_lognormals_of_a_product_are_exact():
    """ln(R) - ln(S) is normal whatever the correlation of the scores."""
    r, s, rho = Lognormal(mean=200.0, sd=40.0), Lognormal(mean=90.0, sd=27.0), 0.4
    joint = Joint([r, s], correlation=np.array([[1.0, rho], [rho, 1.0]]))
    for function in (lambda x: x[:, 0] - x[:, 1], lambda x: x[:, 0] / x[:, 1] - 1.0):
        beta = (r.log_mean - s.log_mean) / np.sqrt(
            r.log_sd**2 + s.log_sd**2 - 2.0 * rho * r.log_sd * s.log_sd
        )
        assert find(space_on(joint, function), 0, 0).points[0].beta == pytest.approx(beta, abs=1e-6)


def reserve(x):
    return x[:, 0] * x[:, 1] - x[:, 2] * x[:, 3] - 2.0 * x[:, 4]


@pytest.mark.parametrize("seed", range(6))
def test_against_an_independent_library(seed):
    draw = np.random.default_rng(seed)
    means = draw.uniform([8.0, 0.8, 2.0, 0.8, 0.1], [12.0, 1.2, 3.0, 1.2, 0.3])
    sds = means * draw.uniform(0.05, 0.35, 5)
    correlation = np.eye(5)
    correlation[0, 2] = correlation[2, 0] = draw.uniform(-0.6, 0.6)
    joint = Joint([Lognormal(mean=m, sd=s) for m, s in zip(means, sds, strict=True)], correlation=correlation)
    ours = find(space_on(joint, reserve), 0, 0, limits=replace(Limits(), angle=1e-5)).points[0]

    theirs = [ot.LogNormalMuSigma(m, s).getDistribution() for m, s in zip(means, sds, strict=True)]
    copula = ot.NormalCopula(ot.CorrelationMatrix(5, correlation.ravel().tolist()))
    vector = ot.RandomVector(ot.JointDistribution(theirs, copula))
    function = ot.SymbolicFunction(["a", "b", "c", "d", "e"], ["a * b - c * d - 2 * e"])
    event = ot.ThresholdEvent(ot.CompositeRandomVector(function, vector), ot.Less(), 0.0)
    solver = ot.SQP()
    solver.setMaximumAbsoluteError(1e-8)
    solver.setMaximumConstraintError(1e-8)
    solver.setStartingPoint(means)
    form = ot.FORM(solver, event)
    form.run()
    result = form.getResult()
    assert ours.beta == pytest.approx(result.getGeneralisedReliabilityIndex(), abs=1e-5)
    np.testing.assert_allclose(
        space_on(joint, reserve).values(ours.u[None, :], 0)[0],
        result.getPhysicalSpaceDesignPoint(),
        rtol=1e-3,
    )


@settings(deadline=None, max_examples=25)
@given(exponent=st.floats(-6.0, 9.0), bend=st.floats(-0.15, 0.3), beta=st.floats(-4.0, 5.0))
def test_scaling_the_margin_changes_nothing(exponent, bend, beta):
    assume(abs(beta) > 0.05)

    def margin(x):
        return beta - x[:, 0] + bend * (x[:, 1] + 0.5) ** 2 - 0.1 * x[:, 2]

    plain = find(space_of(margin, 3), 0, 0)
    scaled = find(space_of(lambda x: 10.0**exponent * margin(x), 3), 0, 0)
    assert len(plain.points) == len(scaled.points)
    assert scaled.rows == plain.rows
    for one, other in zip(plain.points, scaled.points, strict=True):
        np.testing.assert_allclose(other.u, one.u, atol=1e-4)
        assert other.beta == pytest.approx(one.beta, abs=1e-6)
        assert other.gradient_norm == pytest.approx(10.0**exponent * one.gradient_norm, rel=1e-4)


@pytest.mark.parametrize(("bend", "beta"), [(0.5, 2.0), (-0.15, 3.0), (2.0, 4.0), (0.05, -2.0)])
def test_paraboloids_in_any_direction(bend, beta):
    """beta - v_1 + bend |rest|^2/2, rotated: the vertex is the nearest point where 1 + beta bend > 0."""
    rotation = stats.special_ortho_group.rvs(5, random_state=3)

    def margin(x):
        v = x @ rotation
        return beta - v[:, 0] + 0.5 * bend * (v[:, 1:] ** 2).sum(axis=1)

    point = find(space_of(margin, 5), 0, 0).points[0]
    assert point.beta == pytest.approx(beta, abs=1e-5)
    np.testing.assert_allclose(point.alpha, rotation[:, 0], atol=3e-3)


def test_the_index_of_a_vanishing_margin_is_zero():
    point = find(space_of(lambda x: -x[:, 0] - 0.5 * x[:, 1], 2), 0, 0).points[0]
    assert point.beta == 0.0
    np.testing.assert_allclose(point.alpha, unit([1.0, 0.5]), atol=1e-8)


def test_central_differences_find_the_same():
    def margin(x):
        return np.exp(1.0 - 0.3 * x[:, 0]) - np.exp(0.4 * x[:, 1] - 0.5)

    one, other = (
        find(space_of(margin, 2), 0, 0, limits=replace(FIRST, central=c, angle=1e-7)).points[0]
        for c in (False, True)
    )
    assert other.beta == pytest.approx(1.5 / 0.5, abs=1e-9)
    assert one.beta == pytest.approx(other.beta, abs=1e-8)


def smooth_margins():
    lognormals = [
        Lognormal(mean=m, sd=v * m) for m, v in ((120.0, 0.1), (120.0, 0.1), (50.0, 0.3), (40.0, 0.3))
    ]
    yield Joint(lognormals), lambda x: 2.0 * x[:, 0] + 2.0 * x[:, 1] - 3.0 * x[:, 2] - 3.0 * x[:, 3]
    mixed = [
        Lognormal(mean=30.0, sd=7.5),
        Normal(mean=18.0, sd=0.9),
        Gumbel(mean=2.0, sd=0.5),
        Uniform(low=0.8, high=1.2),
    ]
    yield Joint(mixed), lambda x: x[:, 3] * 5.7 * x[:, 0] - 4.0 * x[:, 1] - 15.0 * x[:, 2]
    yield Joint(mixed), lambda x: x[:, 1] * x[:, 3] - 5.0 * x[:, 2]
    yield (
        Joint([Normal(mean=0.0, sd=1.0)] * 9),
        lambda x: 4.0 - x.sum(axis=1) / 3.0 + 0.1 * (x[:, 0] - x[:, 1]) ** 2,
    )


@pytest.mark.parametrize(("joint", "margin"), list(smooth_margins()))
def test_a_smooth_margin_costs_eight_gradients_and_ten_calls(joint, margin):
    space = space_on(joint, margin)
    search = find(space, 0, 0, limits=FIRST)
    assert search.converged
    assert search.rows <= 8 * (joint.columns + 1)
    assert search.calls <= 10
    spent = space.ledger
    assert (search.rows, search.calls, search.margin_evaluations) == (
        spent.rows,
        spent.calls,
        spent.margin_evaluations,
    )
    every = find(space, 0, 0)
    assert every.rows <= 5 * 8 * (joint.columns + 1)
    assert every.points[0].beta == pytest.approx(search.points[0].beta, abs=1e-9)


def test_variables_without_influence_cost_two_rows_each_at_most():
    def margin(x):
        return 3.0 - x[:, 0] - 0.2 * x[:, 1] ** 2 + 0.3 * x[:, 2]

    few, many = find(space_of(margin, 3), 0, 0, limits=FIRST), find(space_of(margin, 60), 0, 0, limits=FIRST)
    assert many.points[0].beta == pytest.approx(few.points[0].beta, abs=1e-7)
    assert many.rows <= few.rows + 2 * 57
    assert not many.points[0].alpha[3:].any()


def test_a_variable_that_wakes_late_is_not_missed():
    """The second variable has an influence only where the first has gone beyond 2: by the exact nearest point."""

    def margin(x):
        return 3.0 - x[:, 0] - np.maximum(x[:, 0] - 2.0, 0.0) * x[:, 1]

    point = find(space_of(margin, 5), 0, 0).points[0]
    a = np.linspace(2.0, 3.0, 400001)[1:]
    exact = np.sqrt(a**2 + ((3.0 - a) / (a - 2.0)) ** 2).min()
    assert point.beta == pytest.approx(exact, abs=1e-5)
    assert point.u[1] > 0.1


def test_starts_are_used_and_checked():
    space = space_of(linear(unit([1.0, 1.0]), 3.0), 2)
    again = find(space, 0, 0, starts=[find(space, 0, 0).points[0].u], limits=FIRST)
    assert again.converged
    assert again.calls == 2
    with pytest.raises(ValueError, match="2 coordinates"):
        find(space, 0, 0, starts=[[1.0]])
