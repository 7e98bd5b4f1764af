"""Bounded and extreme-value families against scipy.stats, openturns and their own definitions."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import openturns as ot
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from riskcut.uncertainty.marginals import (
    KINDS,
    Beta,
    Exponential,
    Frechet,
    Gamma,
    Gev,
    Gumbel,
    MarginalError,
    Triangular,
    TruncatedNormal,
    Weibull,
    make,
)


def weibull_parameters(mean: float, sd: float) -> tuple[float, float]:
    """Scale and shape, by openturns' own solution."""
    own = ot.WeibullMinMuSigma(mean, sd, 0.0).evaluate()
    return own[0], own[1]


WEIBULL = weibull_parameters(24.0, 6.0)

# marginal, the same in scipy.stats, the same in openturns
CASES = [
    (
        TruncatedNormal(parent_mean=1.0, parent_sd=2.0, low=0.0),
        stats.truncnorm(-0.5, np.inf, 1.0, 2.0),
        ot.TruncatedDistribution(ot.Normal(1.0, 2.0), 0.0, ot.TruncatedDistribution.LOWER),
    ),
    (
        TruncatedNormal(parent_mean=1.0, parent_sd=2.0, high=3.5),
        stats.truncnorm(-np.inf, 1.25, 1.0, 2.0),
        ot.TruncatedDistribution(ot.Normal(1.0, 2.0), 3.5, ot.TruncatedDistribution.UPPER),
    ),
    (
        TruncatedNormal(parent_mean=32.0, parent_sd=4.0, low=25.0, high=38.0),
        stats.truncnorm(-1.75, 1.5, 32.0, 4.0),
        ot.TruncatedNormal(32.0, 4.0, 25.0, 38.0),
    ),
    (
        Triangular(low=1.0, mode=2.0, high=6.0),
        stats.triang(0.2, 1.0, 5.0),
        ot.Triangular(1.0, 2.0, 6.0),
    ),
    (Triangular(low=0.0, mode=0.0, high=2.0), stats.triang(0.0, 0.0, 2.0), ot.Triangular(0.0, 0.0, 2.0)),
    (Triangular(low=-2.0, mode=0.0, high=0.0), stats.triang(1.0, -2.0, 2.0), ot.Triangular(-2.0, 0.0, 0.0)),
    # mean 0.3, variance 0.01: a + b = 0.21/0.01 - 1 = 20
    (Beta(mean=0.3, sd=0.1, low=0.0, high=1.0), stats.beta(6.0, 14.0), ot.Beta(6.0, 14.0, 0.0, 1.0)),
    # mean 1/4, variance 3/32: a + b = (3/16)/(3/32) - 1 = 1; U-shaped, over 10 to 18
    (
        Beta(mean=12.0, sd=8.0 * math.sqrt(3.0 / 32.0), low=10.0, high=18.0),
        stats.beta(0.25, 0.75, 10.0, 8.0),
        ot.Beta(0.25, 0.75, 10.0, 18.0),
    ),
    (Gamma(mean=12.0, sd=4.0), stats.gamma(9.0, scale=4.0 / 3.0), ot.Gamma(9.0, 0.75)),
    (Gamma(mean=1.0, sd=2.0), stats.gamma(0.25, scale=4.0), ot.Gamma(0.25, 0.25)),
    (Exponential(mean=3.0), stats.expon(0.0, 3.0), ot.Exponential(1.0 / 3.0)),
    (Exponential(mean=3.0, low=1.0), stats.expon(1.0, 2.0), ot.Exponential(0.5, 1.0)),
    (
        Weibull(mean=24.0, sd=6.0),
        stats.weibull_min(WEIBULL[1], scale=WEIBULL[0]),
        ot.WeibullMin(WEIBULL[0], WEIBULL[1]),
    ),
    (
        Weibull(mean=29.0, sd=6.0, low=5.0),
        stats.weibull_min(WEIBULL[1], 5.0, WEIBULL[0]),
        ot.WeibullMin(WEIBULL[0], WEIBULL[1], 5.0),
    ),
    # scipy has the opposite sign of the shape
    (
        Gev(location=3.87, scale=0.2, shape=-0.15),
        stats.genextreme(0.15, 3.87, 0.2),
        ot.GeneralizedExtremeValue(3.87, 0.2, -0.15),
    ),
    (
        Gev(location=1.0, scale=2.0, shape=0.3),
        stats.genextreme(-0.3, 1.0, 2.0),
        ot.GeneralizedExtremeValue(1.0, 2.0, 0.3),
    ),
    (Gev(location=1.0, scale=2.0, shape=0.0), stats.gumbel_r(1.0, 2.0), ot.Gumbel(2.0, 1.0)),
    (Frechet(location=1.0, scale=2.0, shape=4.0), stats.invweibull(4.0, 1.0, 2.0), ot.Frechet(2.0, 4.0, 1.0)),
]


def name(case):
    return case.kind if hasattr(case, "kind") and hasattr(case, "from_normal") else ""


every = pytest.mark.parametrize("marginal", [case[0] for case in CASES], ids=repr)


@pytest.mark.parametrize(("marginal", "peer", "other"), CASES, ids=name)
def test_against_scipy_stats(marginal, peer, other):
    del other
    assert marginal.mean == pytest.approx(float(peer.mean()), rel=1e-11)
    assert marginal.sd == pytest.approx(float(peer.std()), rel=1e-10)
    x = peer.ppf(np.array([0.01, 0.2, 0.5, 0.9, 0.999]))
    np.testing.assert_allclose(marginal.cdf(x), peer.cdf(x), rtol=1e-10)
    np.testing.assert_allclose(marginal.log_density(x), peer.logpdf(x), rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(marginal.quantile(peer.cdf(x)), x, rtol=1e-10)
    z = np.array([-4.0, -3.0, -1.0, -0.2])
    np.testing.assert_allclose(marginal.from_normal(z), peer.ppf(stats.norm.cdf(z)), rtol=2e-10)
    np.testing.assert_allclose(marginal.from_normal(-z), peer.isf(stats.norm.cdf(z)), rtol=2e-10)


@pytest.mark.parametrize(("marginal", "peer", "other"), CASES, ids=name)
def test_against_openturns(marginal, peer, other):
    del peer
    assert marginal.mean == pytest.approx(other.getMean()[0], rel=1e-9)
    assert marginal.sd == pytest.approx(other.getStandardDeviation()[0], rel=1e-9)
    z = np.array([-5.0, -2.0, -0.5, 0.0, 0.7, 2.0, 5.0])
    x = marginal.from_normal(z)
    lower = [other.computeQuantile(ot.DistFunc.pNormal(s), False)[0] for s in z[z <= 0]]
    upper = [other.computeQuantile(ot.DistFunc.pNormal(-s), True)[0] for s in z[z > 0]]
    # openturns searches some of its quantiles to an absolute error of its own
    np.testing.assert_allclose(x, lower + upper, rtol=1e-8, atol=1e-12 * marginal.sd)
    inner = x[np.abs(z) < 4]
    np.testing.assert_allclose(marginal.cdf(inner), [other.computeCDF(v) for v in inner], rtol=1e-9)
    np.testing.assert_allclose(
        marginal.log_density(inner), [other.computeLogPDF(v) for v in inner], rtol=1e-9, atol=1e-11
    )


@every
def test_finite_and_rising_to_37(marginal):
    z = np.linspace(-37.0, 37.0, 1481)
    x = marginal.from_normal(z)
    assert np.all(np.isfinite(x))
    steps = np.diff(x)
    assert np.all(steps >= 0.0)
    # no plateau where there is room: towards no end, or towards an end at zero (but for numbers below 1e-308)
    low, high = marginal.quantile(np.array([0.0, 1.0]))
    if math.isinf(high) or high == 0.0:
        assert np.all(steps[z[1:] > 0.0] > 0.0)
    if math.isinf(low) or low == 0.0:
        assert np.all(steps[(z[:-1] < 0.0) & (x[:-1] > 0.0)] > 0.0)
    assert low <= x[0]
    assert x[-1] <= high


@every
def test_far_tails_by_their_own_probability(marginal):
    """Score and value agree where Phi(z) is 1e-290: to_normal goes another way than from_normal."""
    z = np.array([-36.0, -25.0, -12.0, -9.1, 9.1, 12.0, 25.0, 36.0])
    x = marginal.from_normal(z)
    low, high = marginal.quantile(np.array([0.0, 1.0]))
    # as far as the value is not lost in the rounding of an end
    told = x != 0.0
    for end in (low, high):
        if math.isfinite(end):
            told &= np.abs(x - end) > 1e-3 * abs(end)
    assert told.any() or (low != 0.0 and high != 0.0)
    np.testing.assert_allclose(marginal.to_normal(x)[told], z[told], rtol=1e-9)


@every
def test_arrays_of_any_shape_in_place_and_row_by_row(marginal):
    z = np.random.default_rng(3).standard_normal((5, 7)) * 4.0
    z[2, 3] = np.nan
    kept = z.copy()
    x = marginal.from_normal(z)
    np.testing.assert_array_equal(z, kept)
    assert np.isnan(x[2, 3])
    assert np.isfinite(x).sum() == 34
    single = np.array([[marginal.from_normal(np.array([v]))[0] for v in row] for row in z])
    assert single.tobytes() == x.tobytes()
    inside = z.copy()
    assert marginal.from_normal(inside, out=inside) is inside
    assert inside.tobytes() == x.tobytes()
    assert marginal.from_normal(np.empty(0)).shape == (0,)
    assert float(marginal.from_normal(np.array(0.25))) == marginal.from_normal(np.array([0.25]))[0]


@every
def test_ends_of_the_support(marginal):
    low, high = marginal.quantile(np.array([0.0, 1.0]))
    assert low < marginal.mean < high
    outside = [end for end in (low - 1.0, high + 1.0) if math.isfinite(end)]
    np.testing.assert_array_equal(marginal.log_density(np.array(outside)), [-np.inf] * len(outside))
    if math.isfinite(low):
        assert marginal.to_normal(np.array([low - 1.0]))[0] == -np.inf
        assert marginal.cdf(np.array([low - 1.0]))[0] == 0.0
    if math.isfinite(high):
        assert marginal.to_normal(np.array([high + 1.0]))[0] == np.inf
        assert marginal.cdf(np.array([high + 1.0]))[0] == 1.0
    with pytest.raises(ValueError, match="between 0 and 1"):
        marginal.quantile(np.array([1.1]))


@every
def test_stated_moments_are_those_of_the_transformed_score(marginal):
    def moment(power: int) -> float:
        def integrand(z: float) -> float:
            x = float(marginal.from_normal(np.array([z]))[0])
            return (x - power // 2 * marginal.mean) ** power * math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)

        cuts = (-12.0, -3.0, 0.0, 4.0, 20.0)
        return sum(quad(integrand, a, b, epsabs=1e-12, limit=200)[0] for a, b in pairwise(cuts))

    assert moment(1) == pytest.approx(marginal.mean, rel=1e-8)
    assert math.sqrt(moment(2)) == pytest.approx(marginal.sd, rel=1e-8)


@settings(deadline=None, max_examples=40)
@given(mean=st.floats(0.1, 100.0), v=st.floats(0.02, 2.0), p=st.floats(0.01, 0.99))
def test_two_moments_give_back_themselves(mean, v, p):
    for kind in ("gamma", "weibull", "frechet"):
        marginal = make(kind, mean=mean, sd=v * mean)
        assert marginal.mean == pytest.approx(mean, rel=1e-12)
        assert marginal.sd == pytest.approx(v * mean, rel=1e-10)
        x = marginal.quantile(np.array([p]))
        assert marginal.cdf(x)[0] == pytest.approx(p, rel=1e-9)
        z = marginal.to_normal(x)
        assert marginal.from_normal(z)[0] == pytest.approx(x[0], rel=1e-9)


@settings(deadline=None, max_examples=40)
@given(shape=st.floats(-1e-3, 1e-3), z=st.floats(-8.0, 8.0))
def test_a_small_shape_is_nearly_a_gumbel(shape, z):
    gumbel = Gumbel(mean=float(np.euler_gamma), sd=math.pi / math.sqrt(6.0))
    gev = Gev(location=0.0, scale=1.0, shape=shape)
    g = gumbel.from_normal(np.array([z]))[0]
    # exp(shape g)/shape by its series: g + shape g^2/2 + ...
    assert gev.from_normal(np.array([z]))[0] == pytest.approx(
        g + shape * g**2 / 2 + shape**2 * g**3 / 6, abs=abs(shape) ** 3 * g**4 / 20 + 1e-12
    )
    # dE/dshape at 0 is E[g^2]/2
    assert gev.mean == pytest.approx(gumbel.mean + shape * (gumbel.sd**2 + gumbel.mean**2) / 2, abs=1e-5)


def test_special_cases_of_one_another():
    z = np.linspace(-8.0, 8.0, 33)
    exponential = Exponential(mean=2.0).from_normal(z)
    np.testing.assert_allclose(Gamma(mean=2.0, sd=2.0).from_normal(z), exponential, rtol=1e-10)
    np.testing.assert_allclose(Weibull(mean=2.0, sd=2.0).from_normal(z), exponential, rtol=1e-12)
    uniform = make("uniform", low=2.0, high=5.0).from_normal(z)
    np.testing.assert_allclose(
        Beta(mean=3.5, sd=math.sqrt(0.75), low=2.0, high=5.0).from_normal(z), uniform, rtol=1e-10
    )
    frechet = Frechet(location=0.0, scale=2.0, shape=4.0)
    np.testing.assert_allclose(
        Gev(location=2.0, scale=0.5, shape=0.25).from_normal(z), frechet.from_normal(z), rtol=1e-12
    )
    # a parent cut far out in its tail is exponential: of mean 1/50 to some 1/50^2
    far = TruncatedNormal(parent_mean=-50.0, parent_sd=1.0, low=0.0)
    assert far.mean == pytest.approx(1 / 50, rel=1e-3)
    assert far.sd == pytest.approx(1 / 50, rel=2e-3)
    # and one hardly cut is normal
    whole = TruncatedNormal(parent_mean=3.0, parent_sd=0.1, low=0.0)
    np.testing.assert_allclose(whole.from_normal(z), 3.0 + 0.1 * z, rtol=1e-10)


@pytest.mark.parametrize("periods", [1.0, 3.0, 50.0])
@pytest.mark.parametrize(
    "yearly",
    [
        Gev(location=3.87, scale=0.2, shape=-0.15),
        Gev(location=3.87, scale=0.2, shape=0.0),
        Gev(location=1.0, scale=2.0, shape=0.3),
        Frechet(location=1.0, scale=2.0, shape=4.0),
    ],
    ids=repr,
)
def test_maximum_of_independent_periods_is_the_power_of_the_cdf(yearly, periods):
    x = yearly.from_normal(np.linspace(-3.0, 6.0, 40))
    longest = yearly.of_maximum(periods)
    np.testing.assert_allclose(longest.cdf(x), yearly.cdf(x) ** periods, rtol=1e-11)
    other = ot.MaximumDistribution(
        ot.GeneralizedExtremeValue(yearly.location, yearly.scale, yearly.shape)
        if isinstance(yearly, Gev)
        else ot.Frechet(yearly.scale, yearly.shape, yearly.location),
        int(periods),
    )
    assert longest.quantile(np.array([0.95]))[0] == pytest.approx(other.computeQuantile(0.95)[0], rel=1e-9)
    with pytest.raises(MarginalError, match="1 or more will do"):
        yearly.of_maximum(0.5)


@pytest.mark.parametrize(
    ("kind", "parameters", "words"),
    [
        ("truncated_normal", {"parent_mean": 1.0, "parent_sd": 0.0, "low": 0.0}, "a certain number is not"),
        ("truncated_normal", {"parent_mean": 1.0, "parent_sd": -1.0, "low": 0.0}, "a spread is above zero"),
        ("truncated_normal", {"parent_mean": 1.0, "parent_sd": 1.0}, "neither low nor high is stated"),
        (
            "truncated_normal",
            {"parent_mean": 1.0, "parent_sd": 1.0, "low": 2.0, "high": 2.0},
            "a certain number",
        ),
        (
            "truncated_normal",
            {"parent_mean": 1.0, "parent_sd": 1.0, "low": 3.0, "high": 2.0},
            "low 3 is above",
        ),
        ("truncated_normal", {"parent_mean": 1.0, "parent_sd": 1.0, "low": math.nan}, "low is nan"),
        ("truncated_normal", {"parent_mean": 1.0, "parent_sd": 1.0, "low": 200.0}, "next to nothing"),
        ("truncated_normal", {"mean": 1.0, "sd": 1.0, "low": 0.0}, "parent_mean is missing"),
        ("triangular", {"low": 1.0, "mode": 1.0, "high": 1.0}, "a certain number is not a variable"),
        ("triangular", {"low": 1.0, "mode": 3.0, "high": 2.0}, "mode 3 is not between low, 1, and high, 2"),
        ("triangular", {"low": 1.0, "high": 2.0}, "mode is missing; it takes low, mode and high"),
        ("beta", {"mean": 0.5, "sd": 0.0, "low": 0.0, "high": 1.0}, "a certain number is not a variable"),
        ("beta", {"mean": 1.5, "sd": 0.1, "low": 0.0, "high": 1.0}, "mean 1.5 is not between"),
        ("beta", {"mean": 0.5, "sd": 0.5, "low": 0.0, "high": 1.0}, "it stays below 0.5"),
        ("beta", {"mean": 0.001, "sd": 0.02, "low": 0.0, "high": 1.0}, "next to all values at low"),
        ("beta", {"mean": 0.5, "sd": 1e-6, "low": 0.0, "high": 1.0}, "no spread is left"),
        ("gamma", {"mean": 0.0, "sd": 1.0}, "a gamma number is above zero"),
        ("gamma", {"mean": 1.0, "sd": 0.0}, "a certain number is not a variable"),
        ("gamma", {"mean": 1.0, "sd": 1e-4}, "from 0.005 to 30"),
        ("exponential", {"mean": 1.0, "low": 1.0}, "mean 1 is not above low, 1"),
        (
            "exponential",
            {"mean": 1.0, "sd": 1.0},
            "sd is not one of its parameters; it takes mean .and may have low",
        ),
        ("weibull", {"mean": 1.0, "sd": 0.0}, "a certain number is not a variable"),
        ("weibull", {"mean": 1.0, "sd": 0.2, "low": 2.0}, "mean 1 is not above low, 2"),
        ("gev", {"location": 1.0, "scale": 0.0, "shape": 0.1}, "a certain number is not a variable"),
        ("gev", {"location": 1.0, "scale": -1.0, "shape": 0.1}, "a scale is above zero"),
        ("gev", {"location": 1.0, "scale": 1.0, "shape": 0.5}, "no standard deviation"),
        ("gev", {"location": 1.0, "scale": 1.0}, "shape is missing"),
        ("frechet", {"mean": 1.0, "sd": 0.0}, "a certain number is not a variable"),
        ("frechet", {"location": 0.0, "scale": 1.0, "shape": 2.0}, "shapes above 2 have"),
        ("frechet", {"mean": -1.0, "sd": 1.0}, "mean -1 is not above low, 0"),
        ("frechet", {"mean": 1.0, "scale": 1.0}, "it takes mean and sd .and may have low., or location"),
    ],
)
def test_refusals(kind, parameters, words):
    with pytest.raises(MarginalError, match=words):
        make(kind, **parameters)


def test_all_kinds_are_made_by_name():
    assert {case[0].kind for case in CASES} <= set(KINDS)
    assert make("frechet", mean=3.0, sd=1.0).kind == "frechet"
    assert make("frechet", location=1.0, scale=2.0, shape=4.0) == Frechet(location=1.0, scale=2.0, shape=4.0)
    assert make("exponential", mean=3.0) == Exponential(mean=3.0, low=0.0)
    assert make("truncated_normal", parent_mean=1, parent_sd=2, low=0) == CASES[0][0]
