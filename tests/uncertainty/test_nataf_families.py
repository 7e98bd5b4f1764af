"""Correlation of the scores for bounded and extreme-value families, against series and closed forms."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from riskcut.uncertainty.empirical import Empirical
from riskcut.uncertainty.marginals import (
    Beta,
    Exponential,
    Frechet,
    Gamma,
    Gev,
    Lognormal,
    Normal,
    Triangular,
    TruncatedNormal,
    Uniform,
    Weibull,
)
from riskcut.uncertainty.nataf import DependenceError, normal_correlation
from riskcut.uncertainty.nataf_quadrature import CorrelationOfValues

# marginal, and the same in scipy.stats
PEERS = [
    (TruncatedNormal(parent_mean=1.0, parent_sd=2.0, low=0.0), stats.truncnorm(-0.5, np.inf, 1.0, 2.0)),
    (Triangular(low=1.0, mode=2.0, high=6.0), stats.triang(0.2, 1.0, 5.0)),
    (Triangular(low=0.0, mode=0.0, high=2.0), stats.triang(0.0, 0.0, 2.0)),
    (Beta(mean=0.3, sd=0.1, low=0.0, high=1.0), stats.beta(6.0, 14.0)),
    (Beta(mean=0.5, sd=math.sqrt(1 / 8), low=0.0, high=1.0), stats.beta(0.5, 0.5)),
    (Gamma(mean=12.0, sd=4.0), stats.gamma(9.0, scale=4.0 / 3.0)),
    (Gamma(mean=1.0, sd=2.0), stats.gamma(0.25, scale=4.0)),
    (Exponential(mean=3.0), stats.expon(0.0, 3.0)),
    (Gev(location=3.87, scale=0.2, shape=-0.15), stats.genextreme(0.15, 3.87, 0.2)),
    (Gev(location=1.0, scale=2.0, shape=0.3), stats.genextreme(-0.3, 1.0, 2.0)),
    (Frechet(location=1.0, scale=2.0, shape=4.0), stats.invweibull(4.0, 1.0, 2.0)),
    (Uniform(low=0.0, high=1.0), stats.uniform()),
]
TERMS = 90


def hermite_coefficients(peer: stats.rv_continuous) -> np.ndarray:
    """E[A(z) He_n(z)]/sqrt(n!), n = 1..90, the value A by scipy.stats, on a fine grid of panels."""
    points, weights = np.polynomial.legendre.leggauss(20)
    edges = np.linspace(-14.0, 14.0, 701)
    # the kinks of both triangles: Phi^-1(0.2); the grid's own edges serve the others
    edges = np.unique(np.append(edges, stats.norm.ppf(0.2)))
    width = np.diff(edges)[:, None]
    z = (edges[:-1, None] + width * 0.5 * (points + 1.0)).ravel()
    w = (width * 0.5 * weights).ravel() * stats.norm.pdf(z)
    value = np.where(z < 0, peer.ppf(stats.norm.cdf(z)), peer.isf(stats.norm.sf(z)))
    weighted = w * (value - peer.mean()) / peer.std()
    before, now, result = np.ones_like(z), z.copy(), []
    for n in range(1, TERMS + 1):
        result.append(float((weighted * now).sum()))
        before, now = now, (z * now - math.sqrt(n) * before) / math.sqrt(n + 1)
    return np.array(result)


COEFFICIENTS = {}


def series(a: int, b: int, r: float) -> float:
    """rho of the values by Mehler's expansion: the sum of a_n b_n r^n (Kendall & Stuart; Lancaster 1957)."""
    for k in (a, b):
        if k not in COEFFICIENTS:
            COEFFICIENTS[k] = hermite_coefficients(PEERS[k][1])
    return float((COEFFICIENTS[a] * COEFFICIENTS[b] * r ** np.arange(1, TERMS + 1)).sum())


@pytest.mark.parametrize(("a", "b"), [*combinations(range(len(PEERS)), 2), (1, 1), (4, 4), (6, 6), (10, 10)])
def test_series_of_mehler(a, b):
    curve = CorrelationOfValues(PEERS[a][0], PEERS[b][0])
    for r in (-0.7, 0.4):
        assert curve(r) == pytest.approx(series(a, b, r), abs=2e-9)


@pytest.mark.parametrize(("a", "b"), [(0, 1), (4, 5), (6, 7), (9, 10), (2, 8)])
def test_the_solved_correlation(a, b):
    for rho in (-0.3, 0.5):
        r = normal_correlation(PEERS[a][0], PEERS[b][0], rho)
        if abs(r) < 0.75:
            assert series(a, b, r) == pytest.approx(rho, abs=1e-8)
        assert normal_correlation(PEERS[b][0], PEERS[a][0], rho) == pytest.approx(r, abs=1e-10)


@pytest.mark.parametrize("r", [-1.0, -0.999, -0.5, 0.2, 0.9, 0.99999, 1.0])
def test_two_uniform_numbers(r):
    curve = CorrelationOfValues(Uniform(low=0.0, high=1.0), Uniform(low=2.0, high=7.0))
    assert curve(r) == pytest.approx(6 / math.pi * math.asin(r / 2), abs=1e-12)
    # a beta number with a = b = 1 is one too
    curve = CorrelationOfValues(
        Beta(mean=0.5, sd=math.sqrt(1 / 12), low=0.0, high=1.0), Uniform(low=0.0, high=1.0)
    )
    assert curve(r) == pytest.approx(6 / math.pi * math.asin(r / 2), abs=1e-9)


@pytest.mark.parametrize("r", [-0.98, -0.3, 0.6, 0.999])
def test_two_lognormal_numbers(r):
    v = 0.8
    curve = CorrelationOfValues(Lognormal(mean=1.0, sd=v), Lognormal(mean=3.0, sd=3.0 * v))
    assert curve(r) == pytest.approx((math.exp(r * math.log1p(v * v)) - 1) / (v * v), abs=1e-11)


@pytest.mark.parametrize(("marginal", "peer"), PEERS, ids=lambda item: getattr(item, "kind", ""))
def test_with_a_normal_number_it_is_a_factor(marginal, peer):
    # cov(Z, X) is the integral of phi(z(F)) over F's range: E[Z A] by scipy.stats' quantiles
    index = [case[0] for case in PEERS].index(marginal)
    COEFFICIENTS.setdefault(index, hermite_coefficients(peer))
    factor = COEFFICIENTS[index][0]
    r = normal_correlation(Normal(mean=1.0, sd=2.0), marginal, 0.6 * factor)
    assert r == pytest.approx(0.6, abs=1e-8)
    with pytest.raises(DependenceError) as caught:
        normal_correlation(marginal, Normal(mean=1.0, sd=2.0), factor + 1e-6)
    assert caught.value.attainable == pytest.approx((-factor, factor), abs=1e-8)


def test_attainable_range_of_mirrored_and_equal_shapes():
    exponential = Exponential(mean=3.0)
    # opposed exponentials: 1 - pi^2/6 (Frechet-Hoeffding bound: the integral of ln u ln(1 - u) less one)
    with pytest.raises(DependenceError) as caught:
        normal_correlation(exponential, Exponential(mean=1.0), -0.7)
    assert caught.value.attainable == pytest.approx((1 - math.pi**2 / 6, 1.0), abs=1e-10)
    # a triangle that is even about its mode: -1 can be had
    even = Triangular(low=-1.0, mode=0.0, high=1.0)
    assert normal_correlation(even, even, -1.0) == pytest.approx(-1.0)
    # a right-angled triangle: E[(1 - sqrt(u)) (1 - sqrt(1 - u))] = 2/3 * ... the integral of sqrt(u (1 - u)) is pi/8
    right = Triangular(low=0.0, mode=0.0, high=1.0)
    with pytest.raises(DependenceError) as caught:
        normal_correlation(right, right, -0.99)
    least = (1 - 4 / 3 + math.pi / 8 - 1 / 9) * 18
    assert caught.value.attainable == pytest.approx((least, 1.0), abs=1e-10)


@pytest.mark.parametrize("rho", [-0.4, 0.2, 0.5, 0.8])
def test_published_factors(rho):
    # Liu & Der Kiureghian (1986), Tables 4 to 6 (recalled): F = normal correlation / rho, and largest error
    v = 0.3
    exponential, gamma = Exponential(mean=2.0), Gamma(mean=2.0, sd=2.0 * v)
    weibull, frechet = Weibull(mean=2.0, sd=2.0 * v), Frechet.of_moments(mean=2.0, sd=2.0 * v)
    normal, uniform = Normal(mean=0.0, sd=1.0), Uniform(low=0.0, high=1.0)
    rows = [
        (exponential, normal, 1.107, 0.002),
        (gamma, normal, 1.001 - 0.007 * v + 0.118 * v**2, 0.002),
        (weibull, normal, 1.031 - 0.195 * v + 0.328 * v**2, 0.002),
        (frechet, normal, 1.030 + 0.238 * v + 0.364 * v**2, 0.002),
        (exponential, uniform, 1.133 + 0.029 * rho**2, 0.002),
        (exponential, exponential, 1.229 - 0.367 * rho + 0.153 * rho**2, 0.017),
        (gamma, uniform, 1.023 - 0.007 * v + 0.002 * rho**2 + 0.127 * v**2, 0.003),
    ]
    for a, b, factor, error in rows:
        if a is exponential and b is exponential and rho < 0:
            continue  # the fit is poor near the end of the range
        assert normal_correlation(a, b, rho) / rho == pytest.approx(factor, rel=error), (a.kind, b.kind)


def test_what_cannot_be_solved_for_is_refused():
    sample = Empirical(np.random.default_rng(1).standard_normal(50))
    with pytest.raises(DependenceError, match="a rank correlation will do"):
        normal_correlation(sample, PEERS[0][0], 0.3)
    heavy = Frechet(location=0.0, scale=1.0, shape=2.0000001)
    with pytest.raises(DependenceError, match="so few values; a rank correlation will do"):
        normal_correlation(heavy, PEERS[0][0], 0.1)
