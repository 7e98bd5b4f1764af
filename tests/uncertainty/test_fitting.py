"""Maximum likelihood: published fits, scipy's maxima, analytic standard errors, refusals."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from scipy.special import polygamma

from riskcut.uncertainty.fitting import FittingError, fit
from riskcut.uncertainty.likelihood import FAMILIES
from riskcut.uncertainty.marginals import MarginalError, make

SEA_LEVELS = np.loadtxt(
    Path(__file__).parent / "data" / "annual_maximum_sea_level.csv", delimiter=",", skiprows=2, usecols=1
)


def test_gev_of_port_pirie():
    # Coles (2001), section 3.4.1: printed to two or three digits, here as published and read
    found = fit("gev", SEA_LEVELS)
    assert found.n == 65
    published = {"location": (3.8747, 0.0279), "scale": (0.1980, 0.0202), "shape": (-0.0501, 0.0983)}
    for key, (value, error) in published.items():
        assert found.parameters[key] == pytest.approx(value, abs=5.1e-5), key
        assert found.standard_errors[key] == pytest.approx(error, abs=5.1e-5), key
    assert found.log_likelihood == pytest.approx(4.34, abs=0.005)
    ten, hundred = found.marginal.quantile(np.array([0.9, 0.99]))
    assert (round(ten, 2), round(hundred, 2)) == (4.30, 4.69)
    # the printed covariance matrix of the same page (recalled)
    printed = [
        [0.000780, 0.000197, -0.00107],
        [0.000197, 0.000410, -0.000778],
        [-0.00107, -0.000778, 0.00965],
    ]
    np.testing.assert_allclose(found.covariance, printed, rtol=6e-3)
    # the ten-year level's variance by the delta method, as printed: 0.00303 (recalled)
    y, shape, scale = -math.log(0.9), found.parameters["shape"], found.parameters["scale"]
    grown = y**-shape
    slope = np.array(
        [1.0, (grown - 1) / shape, -scale * (grown - 1) / shape**2 - scale * grown * math.log(y) / shape]
    )
    assert slope @ found.covariance @ slope == pytest.approx(0.00303, abs=5e-6)


def test_gumbel_of_port_pirie():
    # Coles (2001), section 3.4.1: 3.87 (0.03) and 0.195 (0.019), log-likelihood 4.22 (recalled)
    found = fit("gumbel", SEA_LEVELS)
    assert found.parameters["location"] == pytest.approx(3.8694, abs=5.1e-5)
    assert found.parameters["scale"] == pytest.approx(0.1949, abs=5.1e-5)
    assert found.standard_errors["location"] == pytest.approx(0.03, abs=0.005)
    assert found.standard_errors["scale"] == pytest.approx(0.019, abs=5e-4)
    assert found.log_likelihood == pytest.approx(4.22, abs=0.005)
    # its information is exact in closed form at the maximum: the sum of exp(-y) is n there
    location, scale = found.parameters["location"], found.parameters["scale"]
    y = (SEA_LEVELS - location) / scale
    e = np.exp(-y)
    information = np.array(
        [[65.0, (y * e).sum()], [(y * e).sum(), (y * y * e).sum() + 65.0]]
    )  # the second by sum of y - y exp(-y) = n
    assert e.sum() == pytest.approx(65.0, rel=1e-12)
    np.testing.assert_allclose(found.covariance, scale**2 * np.linalg.inv(information), rtol=1e-5)


def sample(kind: str, size: int, seed: int = 5) -> np.ndarray:
    marginal = {
        "normal": make("normal", mean=-3.0, sd=2.0),
        "lognormal": make("lognormal", mean=60.0, sd=25.0),
        "gumbel": make("gumbel", mean=2.0, sd=0.5),
        "gev": make("gev", location=2.0, scale=0.5, shape=0.15),
        "exponential": make("exponential", mean=3.0),
        "gamma": make("gamma", mean=8.0, sd=3.0),
        "weibull": make("weibull", mean=24.0, sd=6.0),
    }[kind]
    return marginal.from_normal(np.random.default_rng(seed).standard_normal(size))


PEERS = {
    "normal": (stats.norm, {}, ("mean", "sd")),
    "gumbel": (stats.gumbel_r, {}, ("location", "scale")),
    "gev": (stats.genextreme, {}, ("shape", "location", "scale")),
    "exponential": (stats.expon, {"floc": 0.0}, ("low", "mean")),
    "gamma": (stats.gamma, {"floc": 0.0}, ("shape", "low", "scale")),
    "weibull": (stats.weibull_min, {"floc": 0.0}, ("shape", "low", "scale")),
}


@pytest.mark.parametrize("kind", sorted(FAMILIES))
@pytest.mark.parametrize("size", [8, 300])
def test_no_other_parameters_are_likelier(kind, size):
    x = sample(kind, size)
    found = fit(kind, x)
    assert found.log_likelihood == pytest.approx(
        float(found.marginal.log_density(x).sum()), rel=1e-9, abs=1e-9
    )
    if kind in PEERS:
        family, fixed, names = PEERS[kind]
        theirs = family.fit(x, **fixed)
        # never less likely than the library's own search, which ends early now and then
        assert found.log_likelihood >= family.logpdf(x, *theirs).sum() - 1e-9
        parameters = {"low": 0.0, **found.parameters}
        if kind == "gev":
            parameters["shape"] *= -1.0
        ours = family.logpdf(x, *(parameters[key] for key in names)).sum()
        assert ours == pytest.approx(found.log_likelihood, rel=1e-9, abs=1e-9)
    best = np.array(list(found.parameters.values()))
    errors = np.array(list(found.standard_errors.values()))
    for k in range(len(best)):
        for side in (-0.05, 0.05):
            near = best.copy()
            near[k] += side * errors[k]
            assert FAMILIES[kind].log_likelihood(near, np.sort(x)) < found.log_likelihood


@pytest.mark.parametrize("size", [8, 300])
def test_standard_errors_in_closed_form(size):
    root = math.sqrt(size)
    x = sample("normal", size)
    found = fit("normal", x)
    assert found.parameters == pytest.approx({"mean": x.mean(), "sd": x.std()}, rel=1e-14)
    expected = {"mean": x.std() / root, "sd": x.std() / root / math.sqrt(2)}
    assert found.standard_errors == pytest.approx(expected, rel=1e-6)
    logarithm = np.log(sample("lognormal", size))
    found = fit("lognormal", np.exp(logarithm))
    expected = {"log_mean": logarithm.std() / root, "log_sd": logarithm.std() / root / math.sqrt(2)}
    assert found.standard_errors == pytest.approx(expected, rel=1e-6)
    x = sample("exponential", size)
    assert fit("exponential", x).standard_errors == pytest.approx({"mean": x.mean() / root}, rel=1e-6)
    x = sample("gamma", size)
    found = fit("gamma", x)
    shape, scale = found.parameters["shape"], found.parameters["scale"]
    assert shape * scale == pytest.approx(x.mean(), rel=1e-13)
    information = size * np.array([[polygamma(1, shape), 1 / scale], [1 / scale, shape / scale**2]])
    np.testing.assert_allclose(found.covariance, np.linalg.inv(information), rtol=2e-4)
    x = sample("weibull", size)
    found = fit("weibull", x)
    shape, scale = found.parameters["shape"], found.parameters["scale"]
    y = np.log(x / scale)
    power = np.exp(shape * y)
    cross = -(size - (power * (1 + shape * y)).sum()) / scale
    information = np.array(
        [[size * shape**2 / scale**2, -cross], [-cross, size / shape**2 + (power * y * y).sum()]]
    )
    np.testing.assert_allclose(found.covariance, np.linalg.inv(information), rtol=1e-5)


@pytest.mark.parametrize("kind", sorted(FAMILIES))
def test_distances_are_those_of_scipy(kind):
    x = sample(kind, 40)
    found = fit(kind, x)
    assert found.kolmogorov_smirnov == pytest.approx(stats.kstest(x, found.marginal.cdf).statistic, rel=1e-12)
    u = np.sort(found.marginal.cdf(x))
    i = np.arange(1, 41)
    squared = -40 - np.mean((2 * i - 1) * (np.log(u) + np.log1p(-u[::-1])))
    assert found.anderson_darling == pytest.approx(squared, rel=1e-9)
    if kind == "normal":
        # scipy standardises by the unbiased sd
        shares = stats.norm.cdf(np.sort((x - x.mean()) / x.std(ddof=1)))
        theirs = -40 - np.mean((2 * i - 1) * (np.log(shares) + np.log1p(-shares[::-1])))
        assert squared == pytest.approx(theirs, rel=0.05)
    assert f"{found.kolmogorov_smirnov:.3f} in probability at most" in found.meaning
    assert f"the distance is {found.anderson_darling:.3f}" in found.meaning


def test_intervals_cover_as_they_should():
    # 200 samples of 50: the true location lies within 1.96 standard errors in 95 % of them (+-3 sd of counting)
    inside = 0
    for seed in range(200):
        found = fit("gumbel", sample("gumbel", 50, seed))
        scale = 0.5 * math.sqrt(6) / math.pi
        true = 2.0 - float(np.euler_gamma) * scale
        inside += abs(found.parameters["location"] - true) < 1.96 * found.standard_errors["location"]
    assert 200 * 0.95 - 12 <= inside <= 200


@pytest.mark.parametrize("factor", [1e-6, 1.0, 1e6])
def test_the_unit_does_not_matter(factor):
    for kind in FAMILIES:
        found, scaled = fit(kind, SEA_LEVELS), fit(kind, factor * SEA_LEVELS)
        assert scaled.marginal.mean == pytest.approx(factor * found.marginal.mean, rel=1e-6)
        assert scaled.marginal.sd == pytest.approx(factor * found.marginal.sd, rel=1e-6)


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        ("uniform", SEA_LEVELS, "always too narrow and have no standard errors"),
        ("triangular", SEA_LEVELS, "by judgement"),
        ("beta", SEA_LEVELS, "its ends are not known from data"),
        ("truncated_normal", SEA_LEVELS, "its ends are not known from data"),
        ("frechet", SEA_LEVELS, "fit gev"),
        (
            "cauchy",
            SEA_LEVELS,
            "'cauchy' is not fitted; normal, lognormal, gumbel, gev, exponential, gamma, weibull",
        ),
        ("normal", SEA_LEVELS[:4], "4 values are too few to fit; 5 or more"),
        ("normal", np.full(9, 2.0), "all values are 2; a certain number is not a variable"),
        ("gumbel", [1.0, 2.0, 3.0, math.nan, 5.0], "a value is not a finite number"),
        ("lognormal", [1.0, 2.0, 3.0, 0.0, 5.0], "lognormal: the least value is 0; all are above zero"),
        ("gamma", [1.0, 2.0, 3.0, -4.0, 5.0], "gamma: the least value is -4"),
        ("gev", 1.0 - np.linspace(0.0, 1.0, 40) ** 2, "press against an upper end"),
    ],
)
def test_refusals(kind, values, words):
    with pytest.raises(FittingError, match=words):
        fit(kind, values)


def test_a_tail_without_standard_deviation_is_refused():
    heavy = stats.genextreme.rvs(-0.9, size=200, random_state=3)
    with pytest.raises(MarginalError, match="no standard deviation"):
        fit("gev", heavy)


@pytest.mark.parametrize("kind", sorted(FAMILIES))
def test_values_alike_to_nine_digits_are_not_fitted(kind):
    with pytest.raises(FittingError, match="certain number"):
        fit(kind, 20.0 + 1e-9 * np.arange(8))


def test_a_gamma_number_that_cannot_be_told_from_a_normal_one_is_not_fitted():
    with pytest.raises(FittingError, match="fit normal"):
        fit("gamma", 20.0 + 1e-3 * np.arange(8))


@pytest.mark.parametrize("kind", ["weibull", "gev", "gumbel"])
def test_values_many_powers_of_ten_apart_are_fitted_or_refused_in_words(kind):
    for size in (6, 9, 14):
        values = 10.0 ** np.linspace(-9.0, 11.0, size)
        try:
            found = fit(kind, values)
        except (FittingError, MarginalError) as error:
            assert kind in str(error)  # noqa: PT017 - either answer will do
        else:
            assert math.isfinite(found.log_likelihood)
