"""A sample as its own distribution: numpy's quantiles, round trips, what it may not be asked."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from riskcut.uncertainty.empirical import Empirical
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import KINDS, MarginalError

DATA = np.random.default_rng(4).gumbel(3.0, 0.5, 60)


def test_quantiles_are_those_of_numpy():
    p = np.array([0.0, 0.013, 0.25, 0.5, 0.977, 1.0])
    np.testing.assert_allclose(Empirical(DATA).quantile(p), np.quantile(DATA, p), rtol=1e-14)
    with pytest.raises(ValueError, match="between 0 and 1"):
        Empirical(DATA).quantile(np.array([1.5]))


def test_moments_are_those_of_the_polygon():
    marginal = Empirical(DATA)
    ordered = np.sort(DATA)
    mean = quad(lambda p: np.quantile(DATA, p), 0, 1, points=np.linspace(0, 1, 60)[1:-1], limit=500)[0]
    assert marginal.mean == pytest.approx(mean, rel=1e-10)
    square = sum((a * a + a * b + b * b) / 3 for a, b in pairwise(ordered)) / 59
    assert marginal.sd == pytest.approx(np.sqrt(square - mean**2), rel=1e-8)


@settings(deadline=None, max_examples=50)
@given(z=st.floats(-2.0, 2.0))
def test_there_and_back(z):
    marginal = Empirical(DATA)
    x = marginal.from_normal(np.array([z]))
    assert marginal.to_normal(x)[0] == pytest.approx(z, abs=1e-9)
    # the density is the slope of the polygon
    h = 1e-7
    if marginal.log_density(x - h)[0] == marginal.log_density(x + h)[0]:
        slope = (marginal.cdf(x + h)[0] - marginal.cdf(x - h)[0]) / (2 * h)
        assert np.exp(marginal.log_density(x))[0] == pytest.approx(slope, rel=1e-5)


def test_ends_and_ties():
    values = np.repeat([1.0, 2.0, 3.0, 4.0], 10)
    marginal = Empirical(values)
    np.testing.assert_array_equal(marginal.cdf(np.array([0.5, 4.5])), [0.0, 1.0])
    np.testing.assert_array_equal(marginal.log_density(np.array([0.5, 4.5])), [-np.inf, -np.inf])
    np.testing.assert_array_equal(marginal.to_normal(np.array([0.5, 4.5])), [-np.inf, np.inf])
    # ten values up to 1 and the polygon to the eleventh: 9/39
    assert marginal.cdf(np.array([1.0]))[0] == pytest.approx(9 / 39)
    x = marginal.from_normal(np.linspace(-40, 40, 801))
    assert np.all(np.diff(x) >= 0.0)
    assert (x[0], x[-1]) == (1.0, 4.0)
    assert np.isnan(marginal.from_normal(np.array([np.nan]))[0])
    assert np.isnan(marginal.cdf(np.array([np.nan]))[0])


def test_it_says_how_far_it_reaches_and_is_had_only_on_request():
    marginal = Empirical(DATA)
    assert marginal.least_probability == 10 / 60
    assert "empirical" not in KINDS
    assert repr(marginal).startswith("Empirical(60 values")
    assert marginal == Empirical(DATA[::-1])
    assert hash(marginal) == hash(Empirical(DATA[::-1]))
    z = np.random.default_rng(1).standard_normal((50, 1))
    np.testing.assert_array_equal(Joint([marginal]).physical(z)[:, 0], marginal.from_normal(z[:, 0]))
    inside = z[:, 0].copy()
    assert marginal.from_normal(inside, out=inside) is inside


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (DATA[:19], "19 values are too few; 20 or more will do"),
        (np.ones(30), "all values are 1; a certain number is not a variable"),
        (np.append(DATA, np.nan), "not a finite number"),
    ],
)
def test_refusals(values, words):
    with pytest.raises(MarginalError, match=words):
        Empirical(values)
