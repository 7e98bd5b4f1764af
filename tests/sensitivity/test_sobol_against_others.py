"""The same design and the same indices as SALib, and the indices of a polynomial chaos by chaospy."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import chaospy
import numpoly
import numpy as np
import pytest
from numpy.typing import NDArray
from SALib.analyze import sobol as salib_analysis
from SALib.sample import sobol as salib_sampling
from scipy.special import ndtri

from riskcut.reliability.streams import EDGE, standard_normal
from riskcut.sensitivity.design import base_points, scramble_seed
from riskcut.sensitivity.sobol import analyse

Array = NDArray[np.float64]
GROUPINGS = [
    pytest.param(1, [[0]], id="one driver"),
    pytest.param(2, [[0], [1]], id="two drivers"),
    pytest.param(5, [[0], [1], [2], [3], [4]], id="alone"),
    pytest.param(5, [[0, 1], [2], [3, 4]], id="neighbours"),
    pytest.param(5, [[1, 4], [0, 2], [3]], id="scattered"),
]
N, SCRAMBLES, SEED = 64, 3, 11


def problem(drivers: int, groups: Sequence[Sequence[int]]) -> dict[str, Any]:
    """State the problem as SALib wants it; its groups come in order of first member."""
    of = {j: f"g{g}" for g, members in enumerate(groups) for j in members}
    names = [f"x{j}" for j in range(drivers)]
    stated: dict[str, Any] = {"num_vars": drivers, "names": names, "bounds": [[0.0, 1.0]] * drivers}
    if len(groups) < drivers:
        stated["groups"] = [of[j] for j in range(drivers)]
    return stated


def in_salib_order(groups: Sequence[Sequence[int]]) -> list[int]:
    return sorted(range(len(groups)), key=lambda g: min(groups[g]))


def models(z: Array) -> Array:
    """Four margins, smooth and not, one far from zero."""
    last = z[:, -1]
    return np.stack(
        [
            z.sum(axis=1),
            np.exp(0.5 * z).prod(axis=1),
            np.maximum(z[:, 0], last) + 0.1 * z[:, 0] * last,
            1e5 + (z[:, 0] > 1) + 0.3 * last**2,
        ],
        axis=1,
    )


def salib_rows(drivers: int, groups: Sequence[Sequence[int]], replicate: int) -> Array:
    rows: Array = salib_sampling.sample(
        problem(drivers, groups), N, calc_second_order=False, seed=scramble_seed(SEED, replicate)
    )
    return rows


@pytest.mark.parametrize(("drivers", "groups"), GROUPINGS)
def test_the_rows_are_those_of_salib(drivers: int, groups: list[list[int]]) -> None:
    seen: list[Array] = []

    def respond(z: Array) -> Array:
        seen.append(z.copy())
        return z[:, :1]

    analyse(
        drivers=drivers,
        groups=groups,
        respond=respond,
        margins=1,
        base_rows=N,
        scrambles=SCRAMBLES,
        seed=SEED,
    )
    matrices = len(groups) + 2
    ours = np.vstack(seen).reshape(SCRAMBLES, matrices, N, drivers)
    for replicate in range(SCRAMBLES):
        theirs = salib_rows(drivers, groups, replicate).reshape(N, matrices, drivers).swapaxes(0, 1)
        expected = ndtri(np.clip(theirs, EDGE, 1 - EDGE))
        a, swapped, b = expected[0], expected[1:-1], expected[-1]
        np.testing.assert_array_equal(ours[replicate, 0], a)
        np.testing.assert_array_equal(ours[replicate, 1], b)
        np.testing.assert_array_equal(ours[replicate, 2:][in_salib_order(groups)], swapped)


@pytest.mark.parametrize(("drivers", "groups"), GROUPINGS)
def test_the_indices_are_those_of_salib(drivers: int, groups: list[list[int]]) -> None:
    """The mean over the scrambles of what SALib makes of each of them."""
    found = analyse(
        drivers=drivers, groups=groups, respond=models, margins=4, base_rows=N, scrambles=SCRAMBLES, seed=SEED
    )
    assert found.refusal == (None,) * 4
    first, total = np.zeros((2, SCRAMBLES, 4, len(groups)))
    for replicate in range(SCRAMBLES):
        z = ndtri(np.clip(salib_rows(drivers, groups, replicate), EDGE, 1 - EDGE))
        for k, y in enumerate(models(z).T):
            theirs = salib_analysis.analyze(
                problem(drivers, groups), y, calc_second_order=False, num_resamples=2, seed=1
            )
            first[replicate, k], total[replicate, k] = theirs["S1"], theirs["ST"]
    order = in_salib_order(groups)
    # 1e5 + ... loses five digits to the offset before either program sees it
    np.testing.assert_allclose(found.first[:3, order], first.mean(axis=0)[:3], atol=1e-12)
    np.testing.assert_allclose(found.total[:3, order], total.mean(axis=0)[:3], atol=1e-12)
    np.testing.assert_allclose(found.first[3, order], first.mean(axis=0)[3], atol=1e-9)
    np.testing.assert_allclose(found.total[3, order], total.mean(axis=0)[3], atol=1e-9)


def test_a_point_on_the_edge_stays_finite() -> None:
    corners = np.array([[0.0, 1.0], [0.5, 2.0**-30], [1 - 2.0**-30, 0.5]])
    z = standard_normal(corners)
    assert np.isfinite(z).all()
    assert z.flags.f_contiguous
    assert z[0, 0] < z[1, 1], "an exact 0 stays below the first step of the grid"
    np.testing.assert_array_equal(z[1, 0], 0.0)
    assert corners[0, 0] == 0.0, "the points themselves are left alone"


def test_the_scrambles_differ_and_their_seeds_are_never_zero() -> None:
    seeds = {scramble_seed(seed, replicate) for seed in range(20) for replicate in range(16)}
    assert len(seeds) == 320
    assert min(seeds) > 0
    first, again, second = (base_points(drivers=3, base_rows=8, seed=0, replicate=r)[0] for r in (0, 0, 1))
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, second)


def test_a_polynomial_against_its_chaos_coefficients() -> None:
    """Indices read off the coefficients of an orthonormal expansion (Sudret 2008): exact for this model."""

    def model(x: Array) -> Array:
        value: Array = 2 * x[0] + x[0] * x[1] + 0.8 * x[1] ** 2 - 0.3 * x[2] ** 3 + 0.5 * x[0] * x[2] + x[3]
        return value

    joint = chaospy.J(*[chaospy.Normal(0, 1) for _ in range(4)])
    expansion = chaospy.generate_expansion(3, joint, normed=True)
    nodes, weights = chaospy.generate_quadrature(4, joint, rule="gaussian")
    _, coefficients = chaospy.fit_quadrature(expansion, nodes, weights, model(nodes), retall=1)
    powers = numpoly.lead_exponent(expansion, graded=True)
    part = np.asarray(coefficients) ** 2
    variance = part[powers.any(axis=1)].sum()
    first, total = [], []
    for j in range(4):
        with_j = powers[:, j] > 0
        only_j = with_j & ~np.delete(powers, j, axis=1).any(axis=1)
        first.append(part[only_j].sum() / variance)
        total.append(part[with_j].sum() / variance)
    assert sum(first) < 0.95, "the model has interactions"

    found = analyse(
        drivers=4, groups=[[0], [1], [2], [3]], respond=lambda z: model(z.T)[:, None], margins=1, seed=4
    )
    np.testing.assert_allclose(found.first[0], first, atol=0.01)
    np.testing.assert_allclose(found.total[0], total, atol=0.01)
    half = np.ptp(found.total_bounds[0], axis=1) / 2
    assert np.all(np.abs(found.total[0] - total) <= 2.5 * half)
