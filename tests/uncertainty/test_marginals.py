"""Marginals against mpmath (50 digits), openturns and their own definitions."""

from __future__ import annotations

import math

import mpmath as mp
import numpy as np
import openturns as ot
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from riskcut.uncertainty.marginals import Gumbel, Lognormal, MarginalError, Normal, Uniform, make

SCORES = np.array(
    [-37.0, -20.0, -8.0, -4.5, -3.0, -1.0, -0.3, -0.0, 0.0, 0.3, 1.0, 3.0, 4.5, 8.0, 20.0, 37.0]
)


def phi(z: float) -> mp.mpf:
    """Phi(z) to 50 digits."""
    return mp.erfc(-mp.mpf(z) / mp.sqrt(2)) / 2


def relative(ours: float, exact: mp.mpf) -> float:
    return float(abs((mp.mpf(float(ours)) - exact) / exact))


@pytest.fixture(autouse=True)
def _digits():
    with mp.workdps(60):
        yield


@pytest.mark.parametrize("z", SCORES)
def test_normal_from_score(z):
    exact = mp.mpf(12) + mp.mpf("2.5") * mp.mpf(float(z))
    assert relative(Normal(mean=12.0, sd=2.5).from_normal(np.array([z]))[0], exact) < 1e-15


@pytest.mark.parametrize("z", SCORES)
@pytest.mark.parametrize(("mean", "sd"), [(18.0, 0.7), (25.0, 10.0), (1.0, 3.0)])
def test_lognormal_from_score(z, mean, sd):
    zeta = mp.sqrt(mp.log(1 + (mp.mpf(sd) / mp.mpf(mean)) ** 2))
    exact = mp.exp(mp.log(mp.mpf(mean)) - zeta**2 / 2 + zeta * mp.mpf(float(z)))
    assert relative(Lognormal(mean=mean, sd=sd).from_normal(np.array([z]))[0], exact) < 2e-14


@pytest.mark.parametrize("z", SCORES)
def test_uniform_keeps_its_resolution_at_both_ends(z):
    # from zero upwards, and from zero downwards: the relative error is that of Phi's argument, z^2 eps
    allowed = 2e-15 + z * z * 2.3e-16
    assert relative(Uniform(low=0.0, high=3.0).from_normal(np.array([z]))[0], 3 * phi(z)) < allowed
    assert relative(Uniform(low=-3.0, high=0.0).from_normal(np.array([z]))[0], -3 * phi(-z)) < allowed
    inside = Uniform(low=40.0, high=60.0).from_normal(np.array([z]))[0]
    assert relative(inside, 40 + 20 * phi(z)) < 3e-16
    assert 40.0 <= inside <= 60.0


def gumbel_value(z: float) -> mp.mpf:
    z = mp.mpf(float(z))
    tail = mp.erfc(abs(z) / mp.sqrt(2)) / 2
    return -mp.log(-(mp.log1p(-tail) if z > 0 else mp.log(tail)))


def test_gumbel_from_score_in_the_bulk_and_both_tails():
    rng = np.random.default_rng(20)
    edges = [9.0, -9.0, np.nextafter(9.0, 0.0), np.nextafter(-9.0, -10.0), np.nextafter(-9.0, 0.0)]
    z = np.concatenate((SCORES, edges, rng.uniform(-9.5, 9.5, 400), rng.standard_normal(400)))
    standard = Gumbel(mean=float(np.euler_gamma), sd=math.pi / math.sqrt(6.0))  # location 0, scale 1
    ours = standard.from_normal(z)
    exact = np.array([float(gumbel_value(one)) for one in z])
    np.testing.assert_allclose(ours, exact, rtol=1e-15, atol=5e-14)


@pytest.mark.parametrize(
    "marginal",
    [
        Normal(mean=3.0, sd=0.4),
        Lognormal(mean=2.0, sd=1.0),
        Uniform(low=-1.0, high=0.0),
        Uniform(low=0.0, high=1.0),
        Gumbel(mean=1.1, sd=0.35),
    ],
    ids=lambda marginal: marginal.kind,
)
def test_finite_and_without_plateau_to_37(marginal):
    z = np.linspace(-37.0, 37.0, 1481)
    x = marginal.from_normal(z)
    assert np.all(np.isfinite(x))
    steps = np.diff(x)
    assert np.all(steps >= 0.0)
    if marginal.kind != "uniform":
        assert np.all(steps > 0.0)
    # The uniform rises without a plateau on the side where its end is zero.
    elif marginal.low == 0.0:
        assert np.all(steps[z[:-1] < 0.0] > 0.0)
    else:
        assert np.all(steps[z[1:] > 0.0] > 0.0)


def peer(marginal) -> ot.Distribution:
    """Build the same distribution in openturns from its own definitions."""
    if marginal.kind == "normal":
        return ot.Normal(marginal.mean, marginal.sd)
    if marginal.kind == "lognormal":
        return ot.ParametrizedDistribution(ot.LogNormalMuSigma(marginal.mean, marginal.sd, 0.0))
    if marginal.kind == "gumbel":
        return ot.ParametrizedDistribution(ot.GumbelMuSigma(marginal.mean, marginal.sd))
    return ot.Uniform(marginal.low, marginal.high)


CASES = [
    Normal(mean=-4.0, sd=1.5),
    Lognormal(mean=60.0, sd=18.0),
    Lognormal(mean=1.0, sd=2.5),
    Uniform(low=2.0, high=5.0),
    Gumbel(mean=3.9, sd=0.25),
]


@pytest.mark.parametrize("marginal", CASES, ids=lambda marginal: marginal.kind)
def test_against_openturns(marginal):
    other = peer(marginal)
    assert marginal.mean == pytest.approx(other.getMean()[0], rel=1e-12)
    assert marginal.sd == pytest.approx(other.getStandardDeviation()[0], rel=1e-12)
    z = np.array([-8.0, -5.0, -2.0, -0.5, 0.0, 0.7, 2.0, 5.0, 8.0])
    x = marginal.from_normal(z)
    # the tail nearer to each score, so that the peer is not asked for 1 - 1e-15
    lower = [other.computeQuantile(ot.DistFunc.pNormal(s), False)[0] for s in z[z <= 0]]
    upper = [other.computeQuantile(ot.DistFunc.pNormal(-s), True)[0] for s in z[z > 0]]
    np.testing.assert_allclose(x, lower + upper, rtol=1e-9)
    inner = x[np.abs(z) < 6]
    np.testing.assert_allclose(marginal.cdf(inner), [other.computeCDF(v) for v in inner], rtol=1e-9)
    np.testing.assert_allclose(
        marginal.log_density(inner), [other.computeLogPDF(v) for v in inner], rtol=1e-9
    )
    p = np.array([1e-9, 0.01, 0.5, 0.9, 0.999])
    np.testing.assert_allclose(marginal.quantile(p), [other.computeQuantile(q)[0] for q in p], rtol=1e-9)


@pytest.mark.parametrize("marginal", CASES, ids=lambda marginal: marginal.kind)
def test_stated_moments_are_those_of_the_transformed_score(marginal):
    def moment(power: int) -> float:
        def integrand(z: float) -> float:
            x = float(marginal.from_normal(np.array([z]))[0])
            return (x - power // 2 * marginal.mean) ** power * math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)

        return sum(quad(integrand, a, b, epsabs=0, epsrel=1e-11)[0] for a, b in ((-12, 0), (0, 4), (4, 20)))

    assert moment(1) == pytest.approx(marginal.mean, rel=1e-9)
    assert math.sqrt(moment(2)) == pytest.approx(marginal.sd, rel=1e-9)


spreads = st.floats(0.01, 1.5)
scores = st.floats(-37.0, 37.0)


@settings(deadline=None, max_examples=60)
@given(z=scores, v=spreads, mean=st.floats(0.1, 1e4))
def test_round_trip_of_the_score(z, v, mean):
    score = np.array([z])
    eps = np.finfo(float).eps
    for marginal in (Normal(mean=mean, sd=v * mean), Lognormal(mean=mean, sd=v * mean)):
        back = marginal.to_normal(marginal.from_normal(score))[0]
        # the rounding of x (or of ln x), over the slope
        assert back == pytest.approx(z, abs=4 * eps * (abs(z) + (10 + abs(math.log(mean))) / v))
    gumbel = Gumbel(mean=mean, sd=v * mean)
    x = gumbel.from_normal(score)
    slope = gumbel.scale * (2 / (1 + abs(z)) if z < 0 else 0.4)
    allowed = 8 * eps * (abs(mean) + abs(x[0])) / slope + 1e-12
    assert gumbel.to_normal(x)[0] == pytest.approx(z, abs=allowed)


@settings(deadline=None, max_examples=60)
@given(z=st.floats(0.0, 37.0), width=st.floats(0.01, 1e4))
def test_round_trip_of_the_uniform_at_an_end_at_zero(z, width):
    allowed = 1e-12
    low = Uniform(low=0.0, high=width)
    assert low.to_normal(low.from_normal(np.array([-z])))[0] == pytest.approx(-z, abs=allowed)
    high = Uniform(low=-width, high=0.0)
    assert high.to_normal(high.from_normal(np.array([z])))[0] == pytest.approx(z, abs=allowed)


@settings(deadline=None, max_examples=60)
@given(share=st.floats(0.0, 1.0), low=st.floats(-100, 100), width=st.floats(0.1, 100))
def test_round_trip_of_a_uniform_value(share, low, width):
    marginal = Uniform(low=low, high=low + width)
    x = min(low + share * width, low + width)
    assert marginal.from_normal(marginal.to_normal(np.array([x])))[0] == pytest.approx(x, abs=1e-12)


@settings(deadline=None, max_examples=40)
@given(z=st.lists(st.floats(-37, 37), min_size=2, max_size=30), v=spreads)
def test_never_falls(z, v):
    z = np.sort(np.array(z))
    apart = z[:-1][np.diff(z) > 1e-9], z[1:][np.diff(z) > 1e-9]
    for marginal in (
        Normal(mean=2, sd=v),
        Lognormal(mean=2, sd=v),
        Gumbel(mean=2, sd=v),
        Uniform(low=2, high=2 + v),
    ):
        assert np.all(marginal.from_normal(apart[0]) <= marginal.from_normal(apart[1]))


@pytest.mark.parametrize("marginal", CASES, ids=lambda marginal: marginal.kind)
def test_arrays_of_any_shape_in_place_and_not(marginal):
    z = np.random.default_rng(3).standard_normal((5, 7)) * 4.0
    z[2, 3] = np.nan
    kept = z.copy()
    x = marginal.from_normal(z)
    np.testing.assert_array_equal(z, kept)
    assert x.shape == z.shape
    assert np.isnan(x[2, 3])
    assert np.isfinite(x).sum() == 34
    single = np.array([[marginal.from_normal(np.array([v]))[0] for v in row] for row in z])
    assert single.tobytes() == x.tobytes()
    inside = z.copy()
    assert marginal.from_normal(inside, out=inside) is inside
    assert inside.tobytes() == x.tobytes()
    assert marginal.from_normal(np.empty(0)).shape == (0,)
    assert float(marginal.from_normal(np.array(0.25))) == marginal.from_normal(np.array([0.25]))[0]


def test_ends_of_the_support():
    x = np.array([-1.0, 0.0, 2.0, 5.0, 9.0])
    np.testing.assert_array_equal(
        Uniform(low=2, high=5).to_normal(x), [-np.inf, -np.inf, -np.inf, np.inf, np.inf]
    )
    np.testing.assert_array_equal(Uniform(low=2, high=5).cdf(x), [0, 0, 0, 1, 1])
    np.testing.assert_array_equal(Lognormal(mean=1, sd=1).to_normal(x[:2]), [-np.inf, -np.inf])
    np.testing.assert_array_equal(Lognormal(mean=1, sd=1).log_density(x[:2]), [-np.inf, -np.inf])
    np.testing.assert_array_equal(Uniform(low=2, high=5).log_density(x[:2]), [-np.inf, -np.inf])
    gumbel = Gumbel(mean=1.0, sd=0.1)
    assert gumbel.to_normal(np.array([-1e6]))[0] == -np.inf
    assert gumbel.cdf(np.array([-1e6]))[0] == 0.0
    np.testing.assert_array_equal(gumbel.quantile(np.array([0.0, 1.0])), [-np.inf, np.inf])
    np.testing.assert_array_equal(Normal(mean=1, sd=1).quantile(np.array([0.0, 1.0])), [-np.inf, np.inf])


@pytest.mark.parametrize("marginal", CASES, ids=lambda marginal: marginal.kind)
@pytest.mark.parametrize("p", [-0.1, 1.1, math.nan])
def test_a_quantile_wants_a_probability(marginal, p):
    with pytest.raises(ValueError, match="between 0 and 1"):
        marginal.quantile(np.array([0.5, p]))


@pytest.mark.parametrize(
    ("kind", "parameters", "words"),
    [
        (
            "cauchy",
            {"mean": 1.0},
            "no distribution is called 'cauchy'; there are normal, lognormal, uniform, gumbel, truncated_normal",
        ),
        ("normal", {"mean": 1.0}, "normal: sd is missing; it takes mean and sd"),
        ("normal", {"mean": "high", "sd": 1.0}, "normal: mean is 'high', not a number"),
        ("normal", {"mean": 1.0, "sd": None}, "normal: sd is None, not a number"),
        ("uniform", {"mean": 1.0, "low": 0.0}, "high is missing, mean is not one of its parameters"),
        ("normal", {"mean": 1.0, "sd": 0.0}, "a certain number is not a variable"),
        ("lognormal", {"mean": 1.0, "sd": 0.0}, "a certain number is not a variable"),
        ("gumbel", {"mean": 1.0, "sd": 0.0}, "a certain number is not a variable"),
        ("uniform", {"low": 2.0, "high": 2.0}, "a certain number is not a variable"),
        ("uniform", {"low": 3.0, "high": 2.0}, "low 3 is above high 2"),
        ("normal", {"mean": 1.0, "sd": -1.0}, "sd is -1; a spread is above zero"),
        ("lognormal", {"mean": -1.0, "sd": 1.0}, "a lognormal number is above zero"),
        ("lognormal", {"mean": 1.0, "sd": 1e-200}, "no spread is left"),
        ("gumbel", {"mean": math.nan, "sd": 1.0}, "mean is nan, not a finite number"),
        ("uniform", {"low": -1e308, "high": 1e308}, "not a finite number"),
    ],
)
def test_refusals(kind, parameters, words):
    with pytest.raises(MarginalError, match=words) as caught:
        make(kind, **parameters)
    assert isinstance(caught.value, ValueError)


def test_make_gives_what_was_asked_for():
    assert make("normal", mean=1, sd=2) == Normal(mean=1.0, sd=2.0)
    assert make("lognormal", mean=1, sd=2) == Lognormal(mean=1.0, sd=2.0)
    assert make("uniform", low=1, high=2) == Uniform(low=1.0, high=2.0)
    assert make("gumbel", mean=1, sd=2) == Gumbel(mean=1.0, sd=2.0)


def test_lognormal_of_huge_variation():
    # ln(1 + V^2) = 2 ln V to rounding; V^2 itself overflows for V = 1e200
    marginal = Lognormal(mean=1.0, sd=1e200)
    assert marginal.log_sd == pytest.approx(math.sqrt(2 * 200 * math.log(10)), rel=1e-15)


@pytest.mark.parametrize("periods", [1.0, 2.0, 12.5, 50.0, 1000.0])
def test_maximum_of_independent_periods_is_the_power_of_the_cdf(periods):
    yearly = Gumbel(mean=1.1, sd=0.35)
    longest = yearly.of_maximum(periods)
    x = np.linspace(0.5, 6.0, 56)
    np.testing.assert_allclose(longest.cdf(x), yearly.cdf(x) ** periods, rtol=1e-12, atol=1e-300)
    assert longest.sd == yearly.sd
    other = ot.MaximumDistribution(peer(yearly), int(periods)) if periods == int(periods) else None
    if other is not None:
        assert longest.quantile(np.array([0.95]))[0] == pytest.approx(
            other.computeQuantile(0.95)[0], rel=1e-9
        )


def test_maxima_of_maxima_and_of_one_period():
    yearly = Gumbel(mean=1.1, sd=0.35)
    assert yearly.of_maximum(1.0) == yearly
    assert yearly.of_maximum(5.0).of_maximum(10.0).mean == pytest.approx(
        yearly.of_maximum(50.0).mean, rel=1e-14
    )


@pytest.mark.parametrize("periods", [0.0, 0.5, -2.0, math.nan, math.inf])
def test_a_share_of_a_period_is_refused(periods):
    with pytest.raises(MarginalError, match="1 or more will do"):
        Gumbel(mean=1.1, sd=0.35).of_maximum(periods)


def test_lognormal_factor_of_safety_of_duncan():
    # Duncan (2000), J. Geotech. Geoenviron. Eng. 126(4): Pf in per cent for a lognormal factor of safety
    for factor, variation, percent in (
        (1.5, 0.1, 0.00297),
        (1.5, 0.2, 2.57),
        (1.5, 0.3, 10.9),
        (2.0, 0.2, 0.0336),
    ):
        ours = 100.0 * Lognormal(mean=factor, sd=variation * factor).cdf(np.array([1.0]))[0]
        assert f"{ours:.3g}" == f"{percent:.3g}"
    assert 100.0 * Lognormal(mean=1.5, sd=0.17 * 1.5).cdf(np.array([1.0]))[0] == pytest.approx(1.0, abs=0.2)
