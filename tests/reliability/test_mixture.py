"""The mixture: its density against mpmath and scipy, its counts, its weights' moments."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from riskcut.reliability.mixture import Centre, Mixture, equal_weights, log_weights, mixture_of

CENTRES = np.array([[3.0, 0.0, 0.0], [0.0, -2.0, 1.0], [0.5, 0.5, 4.0]])
WEIGHTS = np.array([0.15, 0.2, 0.05, 0.2, 0.3, 0.02, 0.08])


def density(u, shares):
    """h by scipy: the nominal density, its copies, and its tails beyond the planes through the centres."""
    nominal = stats.multivariate_normal(np.zeros(3)).pdf(u)
    copies = [stats.multivariate_normal(centre).pdf(u) for centre in CENTRES]
    distances = np.linalg.norm(CENTRES, axis=1)
    tails = [
        nominal * (u @ centre > b * b) / stats.norm.sf(b)
        for centre, b in zip(CENTRES, distances, strict=True)
    ]
    return np.array(shares) @ np.array([nominal, *copies, *tails]), nominal


def test_the_weight_is_the_ratio_of_the_densities():
    draw = Mixture(CENTRES, WEIGHTS).draw(seed=1, purpose="a", index=5, rows=700)
    h, nominal = density(draw.u, draw.counts / 700)
    np.testing.assert_allclose(np.exp(draw.log_weight), nominal / h, rtol=1e-11)
    assert np.exp(draw.log_weight).max() <= 700 / draw.counts[0]


@pytest.mark.parametrize("distance", [5.0, 40.0, 200.0])
def test_stable_however_far_the_centres_are(distance):
    mixture = Mixture([[distance, 0.0], [0.0, -distance]], [0.2, 0.3, 0.3, 0.2, 0.0])
    places = np.array(
        [[0.0, 0.0], [1.1 * distance, 0.3], [0.5 * distance, -0.5 * distance], [-distance, distance]]
    )
    got = log_weights(mixture.log_ratios(places), mixture.weights)
    assert np.all(np.isfinite(got))
    with mp.workdps(50):
        for u, value in zip(places, got, strict=True):
            half = mp.mpf(distance) ** 2 / 2
            a, b = mp.mpf(u[0]) * distance - half, -mp.mpf(u[1]) * distance - half
            beyond = 2 / mp.erfc(mp.mpf(distance) / mp.sqrt(2)) if u[0] > distance else 0
            total = mp.mpf(0.2) + mp.mpf(0.3) * (mp.exp(a) + mp.exp(b)) + mp.mpf(0.2) * beyond
            assert float(value) == pytest.approx(float(-mp.log(total)), rel=1e-13, abs=1e-13)


def test_a_part_without_rows_counts_for_nothing():
    logs = np.array([[0.0, 0.0], [800.0, -800.0], [-np.inf, 9.0]])
    np.testing.assert_array_equal(log_weights(logs, np.array([1.0, 0.0, 0.0])), [0.0, 0.0])


@settings(deadline=None, max_examples=60)
@given(
    shares=st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)), min_size=1, max_size=20),
    nominal=st.floats(0.1, 0.9),
    rows=st.integers(10, 8192),
    index=st.integers(0, 10**6),
)
def test_counts_are_the_shares_rounded_up_or_down(shares, nominal, rows, index):
    rest = np.array(shares).T.ravel() + 1e-3
    weights = np.concatenate(([nominal], (1.0 - nominal) * rest / rest.sum()))
    counts = Mixture(np.ones((len(shares), 2)), weights).counts(rows, index)
    assert counts.sum() == rows
    assert counts[0] == np.ceil(nominal * rows - 1e-9)
    left = (rows - counts[0]) * weights[1:] / weights[1:].sum()
    assert np.all(np.abs(counts[1:] - left) < 1.0 + 1e-6)


def test_over_many_blocks_the_shares_are_the_weights():
    # 1,024 blocks of 100 rows; the fourth part has a share of a third of a row a block
    weights = np.array([0.25, 0.5, 0.2467, 0.0033, 0.0, 0.0, 0.0])
    total = sum(Mixture(np.eye(3), weights).counts(100, index) for index in range(1024))
    np.testing.assert_allclose(total / 102_400, weights, atol=2.0 / 102_400)


def test_rows_of_a_tail_are_distributed_as_the_tail():
    """Kolmogorov-Smirnov: truncated normal along the centre's direction, standard normal across it."""
    for distance in (0.3, 3.0, 8.0):
        direction = np.array([0.6, 0.0, -0.8])
        mixture = Mixture([distance * direction], [0.1, 0.0, 0.9])
        draw = mixture.draw(seed=5, purpose="tail", index=0, rows=8192)
        u = draw.u[draw.counts[0] :]
        along = u @ direction
        assert along.min() > distance
        share = stats.norm.sf(along) / stats.norm.sf(distance)
        assert stats.kstest(share, "uniform").pvalue > 1e-3
        for across in (u[:, 1], u @ np.array([0.8, 0.0, 0.6])):
            assert stats.kstest(across, "norm").pvalue > 1e-3


def test_the_origin_as_a_centre_is_the_nominal_density_again():
    draw = Mixture(np.zeros((1, 2)), [0.2, 0.4, 0.4]).draw(seed=1, purpose="a", index=0, rows=50)
    np.testing.assert_allclose(draw.log_weight, np.zeros(50), atol=1e-15)


@pytest.mark.parametrize("rows", [37, 1000])
def test_weights_give_back_the_nominal_moments(rows):
    """E[W] = 1, E[W u] = 0, E[W u u'] = I: each block by itself is unbiased, so their spread is the error."""
    mixture = Mixture(0.4 * CENTRES, WEIGHTS)
    means = []
    for index in range(400):
        draw = mixture.draw(seed=3, purpose="moments", index=index, rows=rows)
        weight = np.exp(draw.log_weight)
        one = np.column_stack([np.ones(rows), draw.u, draw.u * draw.u, draw.u[:, 0] * draw.u[:, 1]])
        means.append(weight @ one / rows)
    means = np.array(means)
    error = means.std(axis=0, ddof=1) / np.sqrt(len(means))
    exact = np.array([1.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 0.0])
    assert np.all(np.abs(means.mean(axis=0) - exact) < 4.0 * error)


def test_rows_stand_by_part_about_their_centres():
    draw = Mixture(CENTRES, WEIGHTS).draw(seed=1, purpose="a", index=0)
    stop = np.cumsum(draw.counts)
    for first, last, centre in zip(stop[:3], stop[1:4], CENTRES, strict=True):
        apart = draw.u[first:last].mean(axis=0) - centre
        assert np.all(np.abs(apart) < 5.0 / np.sqrt(last - first))
    for first, last, centre in zip(stop[3:6], stop[4:], CENTRES, strict=True):
        assert np.all(draw.u[first:last] @ centre > centre @ centre)


def test_a_row_has_the_same_bits_whatever_stands_beside_it():
    mixture = Mixture(np.random.default_rng(1).standard_normal((7, 5)))
    u = np.random.default_rng(2).standard_normal((1001, 5))
    whole = mixture.log_ratios(np.asfortranarray(u))
    for part in (slice(0, 1), slice(3, 500), slice(500, 1001)):
        np.testing.assert_array_equal(mixture.log_ratios(u[part]), whole[:, part])


def test_no_centre_is_plain_sampling():
    draw = Mixture(np.zeros((0, 2))).draw(seed=1, purpose="a", index=0, rows=50)
    np.testing.assert_array_equal(draw.log_weight, np.zeros(50))
    np.testing.assert_array_equal(draw.counts, [50])


def test_streams_differ_by_seed_purpose_and_block():
    mixture = Mixture(CENTRES)
    seen = [
        mixture.draw(seed=seed, purpose=purpose, index=index, rows=8).u.tobytes()
        for seed, purpose, index in [(1, "a", 0), (1, "a", 1), (1, "b", 0), (2, "a", 0)]
    ]
    assert len(set(seen)) == 4
    assert mixture.draw(seed=1, purpose="a", index=0, rows=8).u.tobytes() == seen[0]


def test_nonsense_is_refused():
    with pytest.raises(ValueError, match=r"share of 0\.1 or more, not 0\.05"):
        Mixture(CENTRES, [0.05, 0.55, 0.2, 0.2])
    with pytest.raises(ValueError, match="shares of one"):
        Mixture(CENTRES, [0.2, 0.5, 0.25, 0.2])
    with pytest.raises(ValueError, match="shares of one"):
        Mixture(CENTRES, [0.5, 0.6, -0.1, 0.0])
    with pytest.raises(ValueError, match="3 centres want 7 weights"):
        Mixture(CENTRES, [0.5, 0.5])
    with pytest.raises(ValueError, match="not finite"):
        Mixture([[np.nan, 1.0]])
    with pytest.raises(ValueError, match=r"\(J, m\)"):
        Mixture([1.0, 2.0])
    with pytest.raises(ValueError, match="8,192 rows"):
        Mixture(CENTRES).draw(seed=1, purpose="a", index=0, rows=8193)
    with pytest.raises(ValueError, match="the space has 3"):
        mixture_of([Centre(np.zeros(2), (0, 0), 0.1)], 3)
    assert equal_weights(9).tolist() == pytest.approx([0.1] + [0.05] * 18)
