"""Reading columns family by family gives the numbers that reading them one by one gives, to the last bit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import gumbel_r, lognorm, norm

from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Marginal, make
from riskcut.uncertainty.reader import FEW, Reader

MARGINALS: list[Marginal] = [
    make("normal", mean=3.0, sd=0.5),
    make("lognormal", mean=20.0, sd=6.0),
    make("gumbel", mean=1.2, sd=0.3),
    make("uniform", low=-1.0, high=2.0),
    make("gamma", mean=4.0, sd=1.0),
    make("lognormal", mean=1.0, sd=0.25),
    make("gumbel", mean=-8.0, sd=2.0),
    make("normal", mean=-5.0, sd=2.0),
    make("truncated_normal", parent_mean=1.0, parent_sd=1.0, low=0.0),
]
DRIVER = [0, 1, 2, 3, 4, 5, 1, 6, 0]
JOINT = Joint(MARGINALS, DRIVER)


@settings(deadline=None, max_examples=60)
@given(
    columns=st.lists(st.integers(0, len(MARGINALS) - 1), max_size=12),
    rows=st.sampled_from([0, 1, 2, 3, 7, 60, FEW, FEW + 1]),
    spread=st.sampled_from([1.0, 4.0, 15.0]),
    seed=st.integers(0, 2**32 - 1),
    order=st.sampled_from(["C", "F"]),
)
def test_the_same_bits_as_a_column_at_a_time(
    columns: list[int], rows: int, spread: float, seed: int, order: str
) -> None:
    z = np.array(np.random.default_rng(seed).normal(0.0, spread, (rows, JOINT.drivers)), order=order)
    before = z.copy()
    read = Reader(JOINT, columns)(z)
    assert read.shape == (rows, len(columns))
    np.testing.assert_array_equal(read, JOINT.physical(z, columns))
    np.testing.assert_array_equal(z, before)


def test_a_row_does_not_hang_on_the_others() -> None:
    z = np.random.default_rng(5).normal(0.0, 6.0, (FEW, JOINT.drivers))
    reader = Reader(JOINT, range(len(MARGINALS)))
    alone = np.concatenate([reader(z[row : row + 1]) for row in range(FEW)])
    np.testing.assert_array_equal(reader(z), alone)


def test_the_values_are_the_quantiles() -> None:
    z = np.linspace(-3.0, 3.0, 13)[:, np.newaxis] * np.ones(JOINT.drivers)
    x = Reader(JOINT, [0, 1, 2])(z)
    p = norm.cdf(z[:, 0])
    assert x[:, 0] == pytest.approx(norm.ppf(p, 3.0, 0.5), rel=1e-9)
    s2 = np.log(1.0 + 0.3**2)
    assert x[:, 1] == pytest.approx(lognorm.ppf(p, np.sqrt(s2), scale=20.0 * np.exp(-s2 / 2.0)), rel=1e-9)
    scale = 0.3 * np.sqrt(6.0) / np.pi
    assert x[:, 2] == pytest.approx(gumbel_r.ppf(p, 1.2 - np.euler_gamma * scale, scale), rel=1e-9)
