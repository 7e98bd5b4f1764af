"""Clopper-Pearson against scipy.stats and by exact enumeration; the reliability index against mpmath."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from riskcut.reliability.estimates import estimate
from riskcut.reliability.intervals import proportion, reliability_index


@pytest.mark.parametrize("level", [0.9, 0.95, 0.999])
@pytest.mark.parametrize(
    ("k", "n"), [(1, 10), (5, 10), (9, 10), (3, 131_072), (700, 4_194_304), (999_999, 1_000_000)]
)
def test_against_scipy(k, n, level):
    exact = stats.binomtest(k, n).proportion_ci(confidence_level=level, method="exact")
    lower, upper = proportion(k, n, level)
    # found there by a root search
    np.testing.assert_allclose([lower, upper], [exact.low, exact.high], rtol=1e-8)
    # what the bounds are defined by: the count is just as unlikely as the tail allows
    tail = (1 - level) / 2
    np.testing.assert_allclose(stats.binom.sf(k - 1, n, lower), tail, rtol=1e-9)
    # a bound near one is known to the last digit of one
    np.testing.assert_allclose(stats.binom.cdf(k, n, upper), tail, rtol=1e-9 + 1e-14 / (1 - upper))
    # its complement as well, where the upper bound is near one
    lower, upper = proportion(n - k, n, level)
    np.testing.assert_allclose([1 - upper, 1 - lower], [exact.low, exact.high], rtol=1e-6)


def test_a_zero_count_is_one_sided_and_everything_failing_its_mirror_image():
    for n in (1, 30, 131_072, 10**9):
        lower, upper = proportion(0, n)
        assert lower == 0.0
        assert upper == pytest.approx(stats.beta.ppf(0.95, 1, n), rel=1e-12)
        low, high = proportion(n, n)
        assert high == 1.0
        assert low == pytest.approx(1.0 - upper, rel=1e-12)
    assert proportion(0, 1_000_000)[1] == pytest.approx(3.0 / 1e6, rel=0.0015)  # the rule of three
    np.testing.assert_array_equal(proportion(0, 0), [0.0, 1.0])


def test_vectorised():
    bounds = proportion([[0, 1, 2], [10, 9, 0]], [10, 10, 10])
    assert bounds.shape == (2, 3, 2)
    for i, row in enumerate([[0, 1, 2], [10, 9, 0]]):
        for j, k in enumerate(row):
            np.testing.assert_array_equal(bounds[i, j], proportion(k, 10))


@settings(deadline=None, max_examples=50)
@given(n=st.integers(1, 10**8), share=st.floats(0, 1), more=st.integers(0, 1000))
def test_holds_the_estimate_and_grows_with_the_count(n, share, more):
    k = int(share * n)
    lower, upper = proportion(k, n)
    assert lower <= k / n <= upper
    if k > 0 and k + more < n:
        above = proportion(k + more, n)
        assert above[0] >= lower
        assert above[1] >= upper


@pytest.mark.parametrize("n", [10, 50, 400])
def test_coverage_by_exact_enumeration(n):
    """Sum the binomial probabilities of the counts whose interval holds p, over a fine grid of p."""
    k = np.arange(n + 1)
    bounds = proportion(k, n)
    two_sided = np.stack((stats.beta.ppf(0.025, k, n - k + 1), stats.beta.ppf(0.975, k + 1, n - k)), axis=1)
    rule = 1.0 - 0.05 ** (1.0 / n)
    seen = []
    for p in np.concatenate((np.linspace(1e-4, 0.5, 1500), rule * np.linspace(1.0001, 1.25, 300))):
        mass = stats.binom.pmf(k, n, p)
        covered = float(mass[(bounds[:, 0] <= p) & (p <= bounds[:, 1])].sum())
        seen.append(covered)
        # only between the one-sided and the two-sided bound of a zero count is less than 95 % covered
        if not rule < p < two_sided[0, 1]:
            assert covered >= 0.95 - 1e-9
    assert min(seen) >= 0.925 - 1e-9
    print(f"n {n}: least coverage {min(seen):.4f}")


@pytest.mark.parametrize(
    ("failures", "rows", "level"),
    [(-1, 10, 0.95), (11, 10, 0.95), (np.nan, 10, 0.95), (1, 10, 0.0), (1, 10, 1.0)],
)
def test_nonsense_is_refused(failures, rows, level):
    with pytest.raises(ValueError, match="between"):
        proportion(failures, rows, level)


@pytest.mark.parametrize("p", [1e-300, 1e-100, 1e-20, 1e-9, 1e-4, 0.3, 0.7, 0.9999])
def test_index_against_mpmath(p):
    with mp.workdps(400):
        beta = mp.findroot(
            lambda b: mp.log(mp.erfc(b / mp.sqrt(2)) / 2) - mp.log(mp.mpf(p)), float(reliability_index(p))
        )
    assert float(reliability_index(p)) == pytest.approx(float(beta), rel=1e-14, abs=1e-14)


def test_index_of_published_pairs_and_ends():
    # EN 1990 Table C1: failure probability and reliability index
    table = {1e-1: 1.28, 1e-2: 2.32, 1e-3: 3.09, 1e-4: 3.72, 1e-5: 4.27, 1e-6: 4.75, 1e-7: 5.20}
    for p, beta in table.items():
        assert float(reliability_index(p)) == pytest.approx(beta, abs=0.0065)
    np.testing.assert_array_equal(reliability_index([0.0, 0.5, 1.0]), [np.inf, 0.0, -np.inf])
    assert not np.signbit(reliability_index(0.5))


def test_estimate_with_impossible_rows():
    result = estimate([20, 0, 0], [5, 5, 0], 1000)
    np.testing.assert_allclose(result.failure_probability, [20 / 995, 0.0, 0.0])
    np.testing.assert_allclose(result.bounds[:, 0], [stats.beta.ppf(0.025, 20, 981), 0.0, 0.0])
    # never called safe: the upper bound takes them for failures
    exact = [stats.beta.ppf(0.975, 26, 975), stats.beta.ppf(0.975, 6, 995), stats.beta.ppf(0.95, 1, 1000)]
    np.testing.assert_allclose(result.bounds[:, 1], exact)
    np.testing.assert_allclose(
        result.coefficient_of_variation, [np.sqrt((1 - 20 / 995) / 20), np.inf, np.inf]
    )
    np.testing.assert_allclose(result.reliability_index, stats.norm.isf(result.failure_probability))
    np.testing.assert_allclose(result.reliability_index_bounds, stats.norm.isf(result.bounds[:, ::-1]))


@settings(deadline=None, max_examples=50)
@given(n=st.integers(1, 10**7), data=st.data())
def test_estimate_lies_within_its_bounds(n, data):
    k = data.draw(st.integers(0, n))
    i = data.draw(st.integers(0, n - k))
    result = estimate(k, i, n)
    if i < n:
        assert result.bounds[0] <= result.failure_probability <= result.bounds[1]
    else:
        assert np.isnan(result.failure_probability)
        np.testing.assert_array_equal(result.bounds, [0.0, 1.0])


def test_estimate_of_everything_failing():
    result = estimate(8192, 0, 8192)
    assert result.failure_probability == 1.0
    assert result.bounds[0] == pytest.approx(0.05 ** (1 / 8192))
    assert result.bounds[1] == 1.0
    assert result.coefficient_of_variation == 0.0


def test_estimate_refuses_more_than_there_are():
    with pytest.raises(ValueError, match="between none and all"):
        estimate(8, 3, 10)
