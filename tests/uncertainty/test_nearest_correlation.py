"""Nearest correlation matrix: published examples, optimality, what a joint distribution says."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.uncertainty.joint import DependenceError, Joint
from riskcut.uncertainty.marginals import Normal
from riskcut.uncertainty.nearest_correlation import nearest_correlation

ONE = Normal(mean=0.0, sd=1.0)


def test_published_examples():
    # Higham (2002), IMA J. Numer. Anal. 22(3), sections 1 and 4 (recalled), printed to four decimals
    first = np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 1.0], [0.0, 1.0, 1.0]])
    nearest = nearest_correlation(first, least_eigenvalue=1e-9)
    printed = [[1.0, 0.7607, 0.1573], [0.7607, 1.0, 0.7607], [0.1573, 0.7607, 1.0]]
    np.testing.assert_allclose(nearest, printed, atol=5e-5)
    assert np.linalg.norm(nearest - first) == pytest.approx(0.5278, abs=5e-5)
    second = 2.0 * np.eye(4) - np.eye(4, k=1) - np.eye(4, k=-1)
    nearest = nearest_correlation(second, least_eigenvalue=1e-9)
    printed = [
        [1.0, -0.8084, 0.1916, 0.1068],
        [-0.8084, 1.0, -0.6562, 0.1916],
        [0.1916, -0.6562, 1.0, -0.8084],
        [0.1068, 0.1916, -0.8084, 1.0],
    ]
    np.testing.assert_allclose(nearest, printed, atol=5e-5)
    assert np.linalg.norm(nearest - second) == pytest.approx(2.1337, abs=5e-5)


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10**6), size=st.integers(2, 7))
def test_a_correlation_matrix_and_none_is_nearer(seed, size):
    rng = np.random.default_rng(seed)
    half = np.triu(rng.uniform(-1.0, 1.0, (size, size)), 1)
    stated = half + half.T + np.eye(size)
    nearest = nearest_correlation(stated)
    assert np.all(np.diagonal(nearest) == 1.0)
    np.testing.assert_array_equal(nearest, nearest.T)
    assert np.linalg.eigvalsh(nearest)[0] > 0.9e-6
    Joint([ONE] * size, correlation=nearest)
    # nearest in a convex set: the angle to any other member is not acute
    gap = stated - nearest
    for _ in range(10):
        rows = rng.standard_normal((size, size))
        rows /= np.linalg.norm(rows, axis=1)[:, None]
        other = rows @ rows.T
        assert (gap * (other - nearest)).sum() <= 1e-4 * np.linalg.norm(gap)
    np.testing.assert_allclose(nearest_correlation(nearest, least_eigenvalue=0.5e-6), nearest, atol=1e-15)


@pytest.mark.parametrize(
    "matrix", [np.ones((2, 3)), np.array([[1.0, 0.2], [0.3, 1.0]]), np.array([[1.0, np.nan], [np.nan, 1.0]])]
)
def test_refusals(matrix):
    with pytest.raises(ValueError, match="square, symmetric matrix of finite numbers"):
        nearest_correlation(matrix)
    with pytest.raises(ValueError, match="between 0 and 1"):
        nearest_correlation(np.eye(2), least_eigenvalue=0.0)


def test_contradicting_correlations_are_refused_with_the_nearest_at_hand():
    matrix = np.eye(4)
    for i, j, value in ((0, 1, 0.9), (1, 3, 0.9), (0, 3, -0.5)):
        matrix[i, j] = matrix[j, i] = value
    smallest = np.linalg.eigvalsh(matrix)[0]
    with pytest.raises(DependenceError) as caught:
        Joint([ONE] * 4, correlation=matrix)
    text = str(caught.value)
    assert "drivers 0, 1, 3 contradict each other" in text
    assert f"its smallest eigenvalue is {smallest:.3g}" in text
    nearest = caught.value.nearest
    change = np.abs(nearest - matrix)
    assert f"the nearest correlation matrix differs by up to {change.max():.2g}" in text
    assert np.all(nearest[2] == matrix[2])
    Joint([ONE] * 4, correlation=nearest)
