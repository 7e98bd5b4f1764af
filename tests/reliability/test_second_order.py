"""Curvatures of surfaces whose curvatures are known, and second-order formulae against integrals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from form_cases import space_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats
from scipy.special import log_ndtr, ndtr

from riskcut.reliability.design_points import find
from riskcut.reliability.second_order import breitung, curvatures, improved_breitung, tvedt

FORMULAE = (breitung, improved_breitung, tvedt)


def integral(beta, kappa):
    """P(beta - v + kappa w^2/2 < 0) by quadrature over w, relative to Phi(-beta)."""

    def density(w):
        return math.exp(log_ndtr(-(beta + 0.5 * kappa * w * w)) - log_ndtr(-beta) - 0.5 * w * w)

    value, _ = integrate.quad(density, 0.0, 12.0, epsabs=0.0, epsrel=1e-12, limit=400)
    return float(ndtr(-beta)) * 2.0 * value / math.sqrt(2.0 * math.pi)


@pytest.mark.parametrize("beta", [1.5, 4.0, -2.0])
def test_curvatures_of_a_paraboloid_in_any_direction(beta):
    kappas = np.array([-0.12, 0.0, 0.2, 0.35])
    rotation = stats.special_ortho_group.rvs(5, random_state=5)

    def margin(x):
        v = x @ rotation
        return 40.0 * (beta - v[:, 0] + 0.5 * (v[:, 1:] ** 2) @ kappas)

    space = space_of(margin, 5)
    point = find(space, 0, 0).points[0]
    before = space.ledger.calls
    np.testing.assert_allclose(curvatures(space, 0, 0, point), kappas, atol=5e-3)
    assert space.ledger.calls == before + 1


@pytest.mark.parametrize("radius", [3.0, 5.0])
def test_curvatures_of_a_sphere(radius):
    """Safe inside a sphere about the origin: every curvature is -1/radius; far outside one, towards it, +1/radius."""
    space = space_of(lambda x: radius**2 - (x**2).sum(axis=1), 4)
    point = find(space, 0, 0).points[0]
    np.testing.assert_allclose(curvatures(space, 0, 0, point), -1.0 / radius, rtol=1e-4)
    aside = np.array([radius + 2.0, 0.0, 0.0, 0.0])
    space = space_of(lambda x: ((x - aside) ** 2).sum(axis=1) - radius**2, 4)
    point = find(space, 0, 0).points[0]
    assert point.beta == pytest.approx(2.0, abs=1e-6)
    np.testing.assert_allclose(curvatures(space, 0, 0, point), 1.0 / radius, rtol=1e-3)


def test_variables_without_influence_have_no_curvature_and_no_rows():
    space = space_of(lambda x: 3.0 - x[:, 0] - x[:, 2] + 0.1 * (x[:, 0] - x[:, 2]) ** 2, 30)
    point = find(space, 0, 0).points[0]
    before = space.ledger.rows
    found = curvatures(space, 0, 0, point)
    assert space.ledger.rows - before == 3
    assert found.shape == (29,)
    # along (1, -1)/sqrt(2) the second derivative is 0.4, over the slope of sqrt(2)
    assert found[-1] == pytest.approx(0.4 / math.sqrt(2.0), rel=1e-4)
    assert not found[:-1].any()


def test_a_kink_has_no_curvature():
    space = space_of(lambda x: np.max([3.0 - x[:, 0], 2.0 - x[:, 1]], axis=0), 3)
    found = curvatures(space, 0, 0, find(space, 0, 0).points[0])
    assert np.isnan(found).all()
    for formula in FORMULAE:
        refused = formula(3.0, found)
        assert math.isnan(refused.failure_probability)
        assert "not a finite number" in refused.reason


@settings(deadline=None, max_examples=40)
@given(beta=st.floats(0.0, 8.0), share=st.floats(-0.95, 5.0))
def test_the_paraboloid_against_quadrature(beta, share):
    kappa = share / max(beta, 1.0)
    assert tvedt(beta, [kappa]).failure_probability == pytest.approx(integral(beta, kappa), rel=1e-8)


@pytest.mark.parametrize("beta", [0.5, 2.0, 6.0])
def test_the_paraboloid_of_two_equal_curvatures_is_closed(beta):
    """Half the sum of two squares is exponential: Phi(-beta) - exp(1/(2 k^2) + beta/k) Phi(-beta - 1/k)."""
    kappa = 0.3
    last = math.exp(0.5 / kappa**2 + beta / kappa + log_ndtr(-beta - 1.0 / kappa))
    assert tvedt(beta, [kappa, kappa]).failure_probability == pytest.approx(
        float(ndtr(-beta)) - last, rel=1e-10
    )


@pytest.mark.parametrize("formula", FORMULAE)
def test_no_curvature_is_first_order(formula):
    for beta in (-3.0, 0.0, 2.5, 8.0):
        answer = formula(beta, [0.0, 0.0])
        assert answer.failure_probability == pytest.approx(float(ndtr(-beta)), rel=1e-9)
        assert answer.reliability_index == pytest.approx(beta, abs=1e-9)
        assert answer.reason == ""


def test_the_formulae_meet_at_large_indices():
    for beta in (6.0, 12.0, 24.0):
        shares = np.array([0.5, -0.3, 0.2]) / beta
        exact = tvedt(beta, shares).failure_probability
        assert breitung(beta, shares).failure_probability == pytest.approx(exact, rel=8.0 / beta**2)
        assert improved_breitung(beta, shares).failure_probability == pytest.approx(exact, rel=4.0 / beta**2)


@pytest.mark.parametrize("formula", FORMULAE)
def test_where_the_origin_fails_the_complement_is_meant(formula):
    """Turning the margin over turns beta and the curvatures, and failure into safety."""
    kappas = np.array([0.1, -0.15])
    one, other = formula(2.0, kappas), formula(-2.0, -kappas)
    assert one.failure_probability + other.failure_probability == pytest.approx(1.0, abs=1e-14)
    assert one.reliability_index == pytest.approx(-other.reliability_index)


@pytest.mark.parametrize(
    ("formula", "beta", "kappa"), [(breitung, 4.0, -0.25), (improved_breitung, 4.0, -0.24)]
)
def test_outside_its_domain_a_formula_refuses(formula, beta, kappa):
    answer = formula(beta, [0.1, kappa])
    assert math.isnan(answer.failure_probability)
    assert math.isnan(answer.reliability_index)
    assert "not the nearest" in answer.reason
    # as does the other side of an origin that fails
    assert math.isnan(formula(-beta, [-kappa]).failure_probability)
    # the paraboloid itself has a probability all the same
    assert tvedt(beta, [kappa]).failure_probability == pytest.approx(integral(beta, kappa), rel=1e-8)


def test_second_order_of_a_curved_margin_is_near_the_exact_probability():
    """2.5 - (a + b)/sqrt(2) + (a - b)^2/10: a paraboloid, Pf 4.207306e-3 (verified by quadrature)."""
    space = space_of(lambda x: 2.5 - (x[:, 0] + x[:, 1]) * math.sqrt(0.5) + 0.1 * (x[:, 0] - x[:, 1]) ** 2, 2)
    point = find(space, 0, 0).points[0]
    kappas = curvatures(space, 0, 0, point)
    assert tvedt(point.beta, kappas).failure_probability == pytest.approx(4.207306e-3, rel=1e-4)
    assert improved_breitung(point.beta, kappas).failure_probability == pytest.approx(4.207306e-3, rel=0.02)
