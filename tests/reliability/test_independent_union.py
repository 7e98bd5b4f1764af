"""Union of independent parts, against mpmath and the definition."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.reliability.system import independent_union, independent_union_bounds

probabilities = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=12)


@settings(deadline=None, max_examples=60)
@given(p=probabilities)
def test_against_mpmath(p):
    with mp.workdps(700):  # 1 - 5e-324 in full
        product = mp.mpf(1)
        for one in p:
            product *= 1 - mp.mpf(one)
        exact = 1 - product
        ours = mp.mpf(float(independent_union(p)))
        assert abs(ours - exact) <= mp.mpf("1e-14") * exact


@settings(deadline=None, max_examples=60)
@given(p=probabilities)
def test_between_the_greatest_and_the_sum(p):
    union = float(independent_union(p))
    assert max(p) * (1 - 1e-14) <= union <= min(1.0, sum(p)) * (1 + 1e-14)


def test_small_probabilities_keep_their_digits():
    assert float(independent_union([1e-18, 2e-18])) == pytest.approx(3e-18, rel=1e-15)
    assert float(independent_union([0.0, 0.0])) == 0.0
    assert float(independent_union([0.3, 1.0])) == 1.0
    assert float(independent_union([])) == 0.0
    np.testing.assert_allclose(independent_union([[0.1, 0.2], [0.5, 0.5]]), [0.28, 0.75], rtol=1e-15)


def test_bounds_hold_the_union():
    p = np.array([1e-3, 4e-5, 0.2])
    bounds = np.stack((p * 0.9, p * 1.2), axis=-1)
    result = independent_union_bounds(bounds)
    exact = [1 - np.prod(1 - p * 0.9), 1 - np.prod(1 - p * 1.2)]
    np.testing.assert_allclose(result, exact, rtol=1e-13)
    assert result[0] < independent_union(p) < result[1]


@pytest.mark.parametrize("p", [[-0.1], [1.1], [np.nan]])
def test_no_probability(p):
    with pytest.raises(ValueError, match="between 0 and 1"):
        independent_union(p)
