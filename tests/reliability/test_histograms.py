"""The histograms: exact quantiles to the grid's resolution, counts against numpy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reliability_cases import single
from scipy import stats

from riskcut.reliability.histograms import RATIO_BINS, MarginGrid, count_ratios, ratio_quantiles
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.problem import Response


def counted(ratio):
    counts = np.zeros((1, RATIO_BINS), dtype=np.int64)
    count_ratios(np.asarray(ratio, dtype=float), counts[0])
    return counts


@pytest.mark.parametrize(("median", "zeta"), [(1.2, 0.1), (2.0, 0.5), (0.7, 0.3), (30.0, 0.4)])
def test_lognormal_quantiles_to_the_resolution_of_the_grid(median, zeta):
    # a sample without noise: the exact quantiles at evenly spread probabilities
    n = 200_000
    sample = median * np.exp(zeta * stats.norm.ppf((np.arange(n) + 0.5) / n))
    p = np.array([0.001, 0.05, 0.25, 0.5, 0.75, 0.95, 0.999])
    exact = median * np.exp(zeta * stats.norm.ppf(p))
    # dr = (1 + r)^2 dt, dt one bin
    resolution = (1 + exact) ** 2 / RATIO_BINS
    assert np.all(np.abs(ratio_quantiles(counted(sample), p)[0] - exact) <= resolution)


def test_ratio_of_two_lognormals_by_simulation():
    zr, zs = 0.2, 0.3

    def respond(x, _which):
        resistance, action = 2.0 * np.exp(zr * x[:, :1]), np.exp(zs * x[:, 1:])
        return Response(margin=resistance - action, ratio=resistance / action)

    one = simulate(single(respond, 2), seed=1, blocks=32, purpose="a").components["one"]
    zeta = np.hypot(zr, zs)
    p = np.array([0.05, 0.5, 0.95])
    exact = 2.0 * np.exp(zeta * stats.norm.ppf(p))
    noise = 5 * np.sqrt(p * (1 - p) / one.rows) / stats.norm.pdf(stats.norm.ppf(p)) * zeta * exact
    assert np.all(np.abs(one.ratio_quantiles(p)[0] - exact) <= noise + (1 + exact) ** 2 / RATIO_BINS)


def test_places_at_the_ends():
    counts = counted([-np.inf, -3.0, -1.0, -0.0, 0.0, np.nan, 1.0, np.inf, 1e300, 9000.0])
    places = np.flatnonzero(counts[0])
    np.testing.assert_array_equal(places, [0, RATIO_BINS // 2, RATIO_BINS - 1])
    np.testing.assert_array_equal(counts[0, places], [6, 1, 3])
    np.testing.assert_array_equal(
        ratio_quantiles(counts, [0.0, 0.5, 0.8, 1.0])[0], [0.0, 0.0, np.inf, np.inf]
    )
    assert np.isnan(ratio_quantiles(np.zeros((2, RATIO_BINS), dtype=np.int64), [0.5])).all()
    with pytest.raises(ValueError, match="between 0 and 1"):
        ratio_quantiles(counts, [1.1])


@settings(deadline=None, max_examples=40)
@given(
    ratio=st.lists(st.floats(0.01, 50.0), min_size=1, max_size=60),
    p=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5),
)
def test_quantiles_against_numpy(ratio, p):
    quantiles = ratio_quantiles(counted(ratio), p)[0]
    for ours, probability in zip(quantiles, p, strict=True):
        low = np.quantile(ratio, probability, method="inverted_cdf")
        resolution = (1 + low) ** 2 / RATIO_BINS * 1.1
        assert low - resolution <= ours <= low + resolution
    order = np.argsort(p)
    assert np.all(np.diff(quantiles[order]) >= 0.0)


@pytest.mark.parametrize(
    "edges",
    [
        np.linspace(-3.0, 3.0, 61),
        0.125 * (np.arange(50) - 7),
        1e6 + 1e-3 * np.arange(33),
        np.array([-2.0, -1.5, 0.0, 0.3, 4.0]),
        np.linspace(5.0, 7.0, 11),
        np.linspace(-7.0, -5.0, 11),
    ],
)
def test_margins_against_numpy(edges):
    rng = np.random.default_rng(4)
    spread = edges[-1] - edges[0]
    margin = rng.normal((edges[0] + edges[-1]) / 2, spread / 3, 20_000)
    grid = MarginGrid.on(edges)
    counts = np.zeros(grid.bins + 2, dtype=np.int64)
    grid.count(margin, counts)
    expected = np.histogram(margin, bins=np.concatenate(([-np.inf], edges, [np.inf])))[0]
    np.testing.assert_array_equal(counts, expected)
    counts[:] = 0
    grid.count(np.array([-np.inf, np.inf, edges[0], edges[-1], -1e308, 1e308]), counts)
    assert counts[0] == 2
    assert counts[1] == 1
    assert counts[-1] == 3


@settings(deadline=None, max_examples=50)
@given(width=st.floats(1e-6, 1e6), below=st.integers(0, 40), tiny=st.floats(1e-300, 1e-9))
def test_failure_begins_on_the_edge_at_zero(width, below, tiny):
    grid = MarginGrid.on(width * (np.arange(61) - below))
    assert grid.width is not None
    counts = np.zeros(62, dtype=np.int64)
    grid.count(np.array([-tiny * width, -0.0, 0.0, tiny * width]), counts)
    assert counts[: below + 1].sum() == 1
    assert counts[below + 1] == 3


@pytest.mark.parametrize("edges", [[1.0], [1.0, 1.0], [0.0, np.nan], [[0.0, 1.0]], [2.0, 1.0]])
def test_edges_that_are_none(edges):
    with pytest.raises(ValueError, match="two or more finite, increasing numbers"):
        MarginGrid.on(edges)
