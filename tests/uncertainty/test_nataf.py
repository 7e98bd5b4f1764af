"""Correlation of the scores: closed forms, double integrals, openturns, published factors."""

from __future__ import annotations

import math

import numpy as np
import openturns as ot
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import dblquad

from riskcut.uncertainty.joint import DependenceError, normal_correlation, normal_correlation_of_rank
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform

NORMAL = Normal(mean=2.0, sd=0.7)
LOGNORMAL = Lognormal(mean=30.0, sd=9.0)
UNIFORM = Uniform(low=-1.0, high=4.0)
GUMBEL = Gumbel(mean=1.1, sd=0.35)
RHOS = [-0.45, -0.1, 0.2, 0.6, 0.85]


@pytest.mark.parametrize("rho", RHOS)
def test_closed_forms(rho):
    assert normal_correlation(NORMAL, Normal(mean=0.0, sd=3.0), rho) == rho
    v, zeta = 0.3, math.sqrt(math.log(1.09))
    assert normal_correlation(NORMAL, LOGNORMAL, rho) == pytest.approx(rho * v / zeta, rel=1e-14)
    assert normal_correlation(LOGNORMAL, NORMAL, rho) == pytest.approx(rho * v / zeta, rel=1e-14)
    w = 0.5
    other = Lognormal(mean=8.0, sd=4.0)
    exact = math.log1p(rho * v * w) / (zeta * math.sqrt(math.log(1.25)))
    assert normal_correlation(LOGNORMAL, other, rho) == pytest.approx(exact, rel=1e-13)
    # the quadrature's pairs that have a closed form all the same
    exact = 2 * math.sin(math.pi * rho / 6)
    assert normal_correlation(UNIFORM, Uniform(low=0.0, high=1.0), rho) == pytest.approx(exact, abs=1e-11)
    exact = rho * math.sqrt(math.pi / 3)
    assert normal_correlation(UNIFORM, NORMAL, rho) == pytest.approx(exact, abs=1e-11)
    assert normal_correlation(NORMAL, UNIFORM, rho) == pytest.approx(exact, abs=1e-11)


def peer_value(marginal, z: float) -> float:
    """Value at a score, by scipy.stats and from the nearer tail."""
    tail = stats.norm.cdf(-abs(z))
    if marginal.kind == "normal":
        return marginal.mean + marginal.sd * z
    if marginal.kind == "lognormal":
        zeta = math.sqrt(math.log(1 + (marginal.sd / marginal.mean) ** 2))
        return marginal.mean * math.exp(zeta * z - zeta**2 / 2)
    if marginal.kind == "uniform":
        return marginal.low + (marginal.high - marginal.low) * stats.norm.cdf(z)
    scale = marginal.sd * math.sqrt(6) / math.pi
    return (
        marginal.mean
        - 0.5772156649015329 * scale
        - scale * math.log(-(math.log1p(-tail) if z > 0 else math.log(tail)))
    )


PAIRS = [(UNIFORM, GUMBEL), (GUMBEL, Gumbel(mean=0.0, sd=1.0)), (LOGNORMAL, UNIFORM), (LOGNORMAL, GUMBEL)]


@pytest.mark.parametrize(("a", "b"), PAIRS, ids=lambda marginal: marginal.kind)
def test_the_result_gives_the_correlation_back(a, b):
    rho = 0.55
    r = normal_correlation(a, b, rho)
    assert r == pytest.approx(normal_correlation(b, a, rho), abs=1e-10)
    # A and B tabulated on a grid of scores, the density by its formula, the trapezium rule: exponentially
    # accurate for smooth integrands that vanish at the ends.
    z = np.linspace(-9.5, 9.5, 761)
    left = (np.array([peer_value(a, v) for v in z]) - a.mean) / a.sd
    right = (np.array([peer_value(b, v) for v in z]) - b.mean) / b.sd
    x, y = np.meshgrid(z, z, indexing="ij")
    density = np.exp(-(x * x - 2 * r * x * y + y * y) / (2 * (1 - r * r))) / (
        2 * math.pi * math.sqrt(1 - r * r)
    )
    back = float((left[:, None] * right[None, :] * density).sum()) * (z[1] - z[0]) ** 2
    assert back == pytest.approx(rho, abs=1e-9)


def test_adaptive_double_integral_of_one_pair():
    r = normal_correlation(UNIFORM, GUMBEL, 0.4)

    def integrand(y: float, x: float) -> float:
        density = math.exp(-(x * x - 2 * r * x * y + y * y) / (2 * (1 - r * r)))
        left = (UNIFORM.from_normal(np.array([x]))[0] - UNIFORM.mean) / UNIFORM.sd
        right = (GUMBEL.from_normal(np.array([y]))[0] - GUMBEL.mean) / GUMBEL.sd
        return left * right * density / (2 * math.pi * math.sqrt(1 - r * r))

    assert dblquad(integrand, -7, 7, -7, 7, epsabs=1e-6)[0] == pytest.approx(0.4, abs=1e-5)


@pytest.mark.parametrize(
    ("a", "b"), [(LOGNORMAL, UNIFORM), (UNIFORM, GUMBEL)], ids=lambda marginal: marginal.kind
)
def test_against_openturns(a, b):
    def peer(marginal):
        if marginal.kind == "lognormal":
            return ot.ParametrizedDistribution(ot.LogNormalMuSigma(marginal.mean, marginal.sd, 0.0))
        if marginal.kind == "gumbel":
            return ot.ParametrizedDistribution(ot.GumbelMuSigma(marginal.mean, marginal.sd))
        return ot.Uniform(marginal.low, marginal.high)

    matrix = ot.CorrelationMatrix(2)
    matrix[0, 1] = normal_correlation(a, b, 0.5)
    joint = ot.JointDistribution([peer(a), peer(b)], ot.NormalCopula(matrix))
    # by sampling: its own integral of the covariance is off by some 1 %
    ot.RandomGenerator.SetSeed(5)
    sample = np.asarray(joint.getSample(400_000))
    assert np.corrcoef(sample, rowvar=False)[0, 1] == pytest.approx(0.5, abs=5 / math.sqrt(400_000))


@pytest.mark.parametrize("rho", [-0.4, 0.2, 0.5, 0.8])
def test_published_factors(rho):
    # Liu & Der Kiureghian (1986), Tables 4 to 6 (recalled): F = normal correlation / rho, and largest error
    v = 0.3
    rows = [
        (UNIFORM, NORMAL, 1.023, 0.002),
        (GUMBEL, NORMAL, 1.031, 0.002),
        (UNIFORM, UNIFORM, 1.047 - 0.047 * rho**2, 0.003),
        (UNIFORM, GUMBEL, 1.055 + 0.015 * rho**2, 0.002),
        (GUMBEL, GUMBEL, 1.064 - 0.069 * rho + 0.005 * rho**2, 0.002),
        (LOGNORMAL, UNIFORM, 1.019 + 0.014 * v + 0.010 * rho**2 + 0.249 * v**2, 0.008),
        (
            LOGNORMAL,
            GUMBEL,
            1.029 + 0.001 * rho + 0.014 * v + 0.004 * rho**2 + 0.233 * v**2 - 0.197 * rho * v,
            0.004,
        ),
    ]
    for a, b, factor, error in rows:
        assert normal_correlation(a, b, rho) / rho == pytest.approx(factor, rel=error), (a.kind, b.kind)


def test_attainable_range_is_told():
    wide = Lognormal(mean=1.0, sd=3.0)
    zeta = math.sqrt(math.log(10.0))
    with pytest.raises(DependenceError, match=r"lognormal \(mean 1, sd 3\)") as caught:
        normal_correlation(wide, wide, -0.5)
    assert caught.value.attainable == pytest.approx(((math.exp(-(zeta**2)) - 1) / 9.0, 1.0))
    assert "from -0.1 to 1 will do" in str(caught.value)
    with pytest.raises(DependenceError) as caught:
        normal_correlation(NORMAL, wide, 0.9)
    assert caught.value.attainable == pytest.approx((-zeta / 3.0, zeta / 3.0))
    with pytest.raises(DependenceError) as caught:
        normal_correlation(GUMBEL, GUMBEL, -0.95)
    # E[X X'] for opposed extremes: the integral of ln(-ln u) ln(-ln(1 - u)) over (0, 1)
    u = np.polynomial.legendre.leggauss(400)
    t = 0.5 * (u[0] + 1.0)
    shape = t**3 * (10 - 15 * t + 6 * t * t)  # bends both ends, where the integrand is singular
    slope = 30 * (t * (1 - t)) ** 2
    product = float((0.5 * u[1] * slope * np.log(-np.log(shape)) * np.log(-np.log1p(-shape))).sum())
    exact = (product - np.euler_gamma**2) * 6 / math.pi**2
    assert caught.value.attainable == pytest.approx((exact, 1.0), abs=1e-8)


@pytest.mark.parametrize(
    ("a", "b"), [*PAIRS, (NORMAL, LOGNORMAL), (LOGNORMAL, LOGNORMAL)], ids=lambda m: m.kind
)
def test_the_ends_of_the_range_can_be_had_and_no_more(a, b):
    with pytest.raises(DependenceError) as caught:
        normal_correlation(a, b, 1.0) if a.kind != b.kind else normal_correlation(a, b, -1.0)
    low, high = caught.value.attainable
    assert normal_correlation(a, b, low) == pytest.approx(-1.0, abs=1e-6)
    assert normal_correlation(a, b, high) == pytest.approx(1.0, abs=1e-6)
    with pytest.raises(DependenceError):
        normal_correlation(a, b, low - 1e-6)


@settings(deadline=None, max_examples=25)
@given(rho=st.floats(-0.6, 0.6))
def test_keeps_the_sign_and_grows(rho):
    for a, b in ((UNIFORM, GUMBEL), (LOGNORMAL, GUMBEL), (LOGNORMAL, NORMAL)):
        r = normal_correlation(a, b, rho)
        assert r * rho >= 0.0 or abs(rho) < 1e-12
        # an increasing transformation never ties values more than it ties scores (Lancaster 1957)
        assert abs(r) >= abs(rho) - 1e-9
        assert normal_correlation(a, b, rho + 0.01) > r


def test_independence_stays_exact():
    assert normal_correlation(UNIFORM, GUMBEL, 0.0) == 0.0
    assert normal_correlation_of_rank(0.0) == 0.0


@pytest.mark.parametrize("rho", [1.5, -2.0, math.nan])
def test_no_correlation_at_all(rho):
    with pytest.raises(DependenceError, match="between -1 and 1"):
        normal_correlation(UNIFORM, GUMBEL, rho)
    with pytest.raises(DependenceError, match="between -1 and 1"):
        normal_correlation_of_rank(rho)


@pytest.mark.parametrize("rho_s", [-1.0, -0.5, 0.3, 0.9, 1.0])
def test_rank_correlation_against_openturns(rho_s):
    r = normal_correlation_of_rank(rho_s)
    if abs(rho_s) == 1.0:
        assert r == pytest.approx(rho_s)
        return
    matrix = ot.CorrelationMatrix(2)
    matrix[0, 1] = r
    assert ot.NormalCopula(matrix).getSpearmanCorrelation()[0, 1] == pytest.approx(rho_s, abs=1e-12)
