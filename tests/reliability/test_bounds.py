"""The bivariate normal in far tails, and Ditlevsen's bounds about exact unions."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats
from scipy.special import log_ndtr, ndtr

from riskcut.reliability.bounds import MOST_COMPONENTS, bivariate, ditlevsen


def polar(h, k, rho):
    """P(X > h, Y > k) for h, k > 0 by the integral in polar angles about the origin (recalled: Craig's form)."""
    root = math.sqrt((1.0 - rho) * (1.0 + rho))
    total = []
    for x, y in ((h, k), (k, h)):
        start = (y - rho * x) / root

        shift = 0.5 * max(start, 0.0) ** 2

        def density(w, x=x, shift=shift):
            return math.exp(-0.5 * w * w + shift) * x / (x * x + w * w)

        edges = [
            start,
            *(e for e in (0.0,) if e > start),
            max(start, 0.0) + 0.5,
            max(start, 0.0) + 2.0,
            max(start, 0.0) + 9.0,
        ]
        value = sum(
            integrate.quad(density, low, high, epsabs=0.0, epsrel=5e-14, limit=200)[0]
            for low, high in pairwise(edges)
        )
        total.append(value * math.exp(-0.5 * x * x - shift) / (2.0 * math.pi))
    return sum(total)


CORRELATIONS = [-0.95, -0.6, -0.2, 1e-6, 0.3, 0.8, 0.99, 0.9999]


@pytest.mark.parametrize("rho", CORRELATIONS)
@pytest.mark.parametrize(("a", "b"), [(1.0, 1.0), (2.0, 4.5), (5.0, 5.0), (3.0, 8.0), (7.0, 7.1)])
def test_far_tails_to_twelve_digits(a, b, rho):
    exact = polar(a, b, rho)
    if exact > 1e-300:
        assert bivariate(-a, -b, rho) == pytest.approx(exact, rel=1e-12, abs=0.0)
    else:
        assert bivariate(-a, -b, rho) < 1e-299


@pytest.mark.parametrize("rho", [-0.9, -0.3, 0.0, 0.5, 0.95])
def test_against_an_independent_integral(rho):
    normal = stats.multivariate_normal([0.0, 0.0], [[1.0, rho], [rho, 1.0]])
    for a, b in ((0.5, -1.0), (2.0, 1.0), (-1.5, -0.5)):
        assert bivariate(a, b, rho) == pytest.approx(float(normal.cdf([a, b])), abs=1e-8)


@settings(deadline=None, max_examples=80)
@given(a=st.floats(-9.0, 9.0), b=st.floats(-9.0, 9.0), rho=st.floats(-0.999999, 0.999999))
def test_identities(a, b, rho):
    both = bivariate(a, b, rho)
    assert both == bivariate(b, a, rho)
    assert 0.0 <= both <= float(min(ndtr(a), ndtr(b))) * (1.0 + 1e-13)
    # whatever the second is: with its mirror image, all of the first
    assert both + bivariate(a, -b, -rho) == pytest.approx(float(ndtr(a)), rel=1e-12, abs=0.0)


def test_closed_forms():
    for rho in (-0.999, -0.5, 0.0, 0.25, 0.9999):
        assert bivariate(0.0, 0.0, rho) == pytest.approx(0.25 + math.asin(rho) / (2.0 * math.pi), rel=1e-12)
    assert bivariate(-5.0, -6.0, 0.0) == pytest.approx(float(ndtr(-5.0) * ndtr(-6.0)), rel=1e-14)
    assert bivariate(-3.0, -4.0, 1.0) == pytest.approx(float(ndtr(-4.0)), rel=1e-14)
    assert bivariate(-3.0, -4.0, -1.0) == 0.0
    assert bivariate(2.0, -1.0, -1.0) == pytest.approx(float(ndtr(-1.0) - ndtr(-2.0)), rel=1e-12)
    assert bivariate(2.0, 1.0, -1.0) == pytest.approx(float(ndtr(2.0) - ndtr(-1.0)), rel=1e-12)
    assert bivariate(math.inf, -2.0, 0.4) == pytest.approx(float(ndtr(-2.0)))
    assert bivariate(-math.inf, 2.0, 0.4) == 0.0


def test_close_to_full_correlation_it_is_continuous():
    for rho, limit in ((1.0 - 1e-12, float(ndtr(-4.0))), (-1.0 + 1e-15, 0.0)):
        assert bivariate(-3.0, -4.0, rho) == pytest.approx(limit, rel=1e-6, abs=1e-300)


@pytest.mark.parametrize(("a", "rho"), [(0.0, 1.1), (math.nan, 0.5), (0.0, math.nan)])
def test_nonsense_is_refused(a, rho):
    with pytest.raises(ValueError, match="between -1 and 1"):
        bivariate(a, 0.0, rho)


def equally_tied(betas, rho):
    """P(any of n fails), scores equally correlated: one integral over what they share."""
    betas = np.asarray(betas)

    def all_safe(t):
        return math.exp(
            -0.5 * t * t + float(log_ndtr((betas + math.sqrt(rho) * t) / math.sqrt(1.0 - rho)).sum())
        )

    value, _ = integrate.quad(all_safe, -10.0, 10.0, epsabs=1e-14, epsrel=1e-12, limit=300)
    return 1.0 - value / math.sqrt(2.0 * math.pi)


def alphas_of(count, rho):
    """Unit vectors with equal correlations: one shared coordinate, one of its own each."""
    return np.concatenate((np.full((count, 1), math.sqrt(rho)), math.sqrt(1.0 - rho) * np.eye(count)), axis=1)


@pytest.mark.parametrize("rho", [0.0, 0.3, 0.7, 0.95])
@pytest.mark.parametrize(
    "betas", [[2.0, 2.0, 2.0], [2.0, 2.5, 3.0, 3.5, 4.0], [1.0, -0.5, 2.0], list(np.linspace(2.5, 4.0, 12))]
)
def test_bounds_hold_an_exact_union(betas, rho):
    bounds = ditlevsen(betas, alphas_of(len(betas), rho))
    exact = equally_tied(betas, rho)
    assert bounds.lower * (1.0 - 1e-9) <= exact <= bounds.upper * (1.0 + 1e-9)
    assert bounds.lower >= bounds.probabilities.max() * (1.0 - 1e-12)
    assert bounds.upper <= min(1.0, bounds.probabilities.sum()) * (1.0 + 1e-12)
    assert np.all(np.diff(bounds.probabilities[bounds.order]) <= 0.0)


def test_two_components_are_exact():
    bounds = ditlevsen([3.0, 2.5], [[1.0, 0.0], [0.6, 0.8]])
    union = float(ndtr(-3.0) + ndtr(-2.5)) - bivariate(-3.0, -2.5, 0.6)
    assert bounds.lower == pytest.approx(union, rel=1e-13)
    assert bounds.upper == pytest.approx(union, rel=1e-13)
    assert bounds.order.tolist() == [1, 0]


def test_one_component_and_fully_dependent_ones():
    assert ditlevsen([2.0], [[1.0]]).upper == pytest.approx(float(ndtr(-2.0)))
    same = ditlevsen([3.0, 2.0, 4.0], [[0.6, 0.8]] * 3)
    assert same.lower == pytest.approx(float(ndtr(-2.0)), rel=1e-12)
    assert same.upper == pytest.approx(float(ndtr(-2.0)), rel=1e-12)


def test_the_order_of_the_components_does_not_matter():
    draw = np.random.default_rng(2)
    betas, directions = draw.uniform(1.0, 4.0, 9), draw.standard_normal((9, 5))
    alphas = directions / np.linalg.norm(directions, axis=1)[:, None]
    shuffle = draw.permutation(9)
    one, other = ditlevsen(betas, alphas), ditlevsen(betas[shuffle], alphas[shuffle])
    assert other.lower == pytest.approx(one.lower, rel=1e-12)
    assert other.upper == pytest.approx(one.upper, rel=1e-12)


def test_more_components_than_are_paired_enter_with_their_whole_probability():
    betas = np.linspace(2.0, 5.0, MOST_COMPONENTS + 10)
    bounds = ditlevsen(betas, alphas_of(len(betas), 0.5))
    few = ditlevsen(betas[:MOST_COMPONENTS], alphas_of(MOST_COMPONENTS, 0.5))
    assert bounds.lower == pytest.approx(few.lower, rel=1e-12)
    assert bounds.upper == pytest.approx(few.upper + float(ndtr(-betas[MOST_COMPONENTS:]).sum()), rel=1e-12)
    assert bounds.lower <= equally_tied(betas, 0.5) <= bounds.upper


@pytest.mark.parametrize(
    ("betas", "alphas"),
    [([], np.zeros((0, 2))), ([1.0], [[1.0], [1.0]]), ([1.0, 2.0], [[1.0, 0.0], [1.0, 1.0]])],
)
def test_ill_shaped_components_are_refused(betas, alphas):
    with pytest.raises(ValueError, match=r"wanted|length one"):
        ditlevsen(betas, alphas)
