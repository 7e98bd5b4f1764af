"""Several design points, kinks and strongly curved surfaces, against exact places."""

from __future__ import annotations

import numpy as np
import pytest
from form_cases import betas, space_of

from riskcut.reliability.design_points import find

ROOT = np.sqrt(0.5)


def four_branches(x):
    a, b = x[:, 0], x[:, 1]
    bent = 3.0 + 0.1 * (a - b) ** 2
    return np.min(
        [bent - ROOT * (a + b), bent + ROOT * (a + b), a - b + 7.0 * ROOT, b - a + 7.0 * ROOT], axis=0
    )


def two_modes(x):
    first = np.where(x[:, 0] <= 3.5, 0.85 - 0.1 * x[:, 0], 4.0 - x[:, 0])
    return np.minimum(first, np.where(x[:, 1] <= 2.0, 2.3 - x[:, 1], 0.5 - 0.1 * x[:, 1]))


@pytest.mark.parametrize(
    ("margin", "columns", "exact"),
    [
        pytest.param(four_branches, 2, [3.0, 3.0, 3.5, 3.5], id="four branches"),
        # a saddle at the origin, where the slope is zero
        pytest.param(lambda x: 12.5 - np.abs(x[:, 0] * x[:, 1]), 2, [5.0] * 4, id="four alike"),
        pytest.param(lambda x: 3.0 - x[:, 0] * x[:, 1], 2, [6.0**0.5] * 2, id="product"),
        pytest.param(two_modes, 2, [4.0, 5.0], id="two modes, one of them flat"),
        pytest.param(
            lambda x: np.minimum(3.0 * 3.0**0.5 - x.sum(axis=1), 3.0 - x[:, 2]),
            3,
            [3.0, 3.0],
            id="two planes",
        ),
        pytest.param(
            lambda x: np.minimum(3.0 - x[:, :6].sum(axis=1) / 6.0**0.5, 3.3 + x[:, 3:].sum(axis=1) / 3.0),
            12,
            [3.0, 3.3],
            id="two planes of twelve variables",
        ),
        # 20 = a^4 + 2 b^4: on the axes, where the curvature of the surface is zero
        pytest.param(
            lambda x: 20.0 - x[:, 0] ** 4 - 2.0 * x[:, 1] ** 4,
            2,
            [10.0**0.25] * 2 + [20.0**0.25] * 2,
            id="quartic",
        ),
        # the point ahead, at 3, is a saddle; (5/6, +-(65/18)^(1/2)) are the nearest
        pytest.param(
            lambda x: 3.0 - x[:, 0] - 0.6 * x[:, 1] ** 2,
            2,
            [(25.0 / 36.0 + 65.0 / 18.0) ** 0.5] * 2,
            id="saddle",
        ),
    ],
)
def test_all_points_are_found(margin, columns, exact):
    search = find(space_of(margin, columns), 0, 0)
    assert search.converged
    np.testing.assert_allclose(betas(search), exact, atol=2e-5)
    for i, one in enumerate(search.points):
        assert one.kind == "point"
        for other in search.points[:i]:
            assert one.alpha @ other.alpha < 0.95
    assert "further point" in search.reason
    assert search.rows <= 120 * (columns + 1)


def test_points_that_do_not_matter_are_left_out():
    """Phi(-5) is less than a thousandth of Phi(-2)."""
    search = find(space_of(lambda x: np.minimum(2.0 - x[:, 0], 5.0 + x[:, 1]), 2), 0, 0)
    np.testing.assert_allclose(betas(search), [2.0], atol=1e-9)


def test_the_product_of_two_normals_bends_back():
    """(6.667 + a)(6.667 + b) = 8: the place with a = b is a saddle of the distance, though its slope is right."""
    m, n = 78064.4 / 11709.7, 0.0104 / 0.00156
    search = find(space_of(lambda x: (m + x[:, 0]) * (n + x[:, 1]) - 146.14 / (11709.7 * 0.00156), 2), 0, 0)
    a = np.linspace(-6.5, -1.0, 2_000_001)
    distance = np.hypot(a, 146.14 / (11709.7 * 0.00156) / (m + a) - n)
    assert betas(search)[0] == pytest.approx(distance.min(), abs=1e-5)
    assert len(search.points) == 2
    assert search.points[0].u[0] - search.points[0].u[1] == pytest.approx(
        search.points[1].u[1] - search.points[1].u[0], abs=0.05
    )


@pytest.mark.parametrize(
    ("margin", "columns", "exact"),
    [
        pytest.param(
            lambda x: np.max([3.0 - x[:, 0], 3.0 - x[:, 1] + 0.2 * x[:, 0]], axis=0),
            3,
            [3.0, 3.6, 0.0],
            id="two planes",
        ),
        pytest.param(
            lambda x: np.max(
                [4.0 - x[:, 0] - x[:, 1], 4.0 - x[:, 0] + 0.5 * x[:, 1] - x[:, 2], 3.5 - x[:, 2]], axis=0
            ),
            3,
            [2.0, 2.0, 3.5],
            id="three planes, one idle",
        ),
        pytest.param(
            lambda x: np.max([3.0 - x[:, 0], 2.0 - x[:, 1], 1.0 - x[:, 2]], axis=0),
            5,
            [3.0, 2.0, 1.0, 0.0, 0.0],
            id="corner",
        ),
    ],
)
def test_the_greater_of_planes_has_its_point_in_the_kink(margin, columns, exact):
    search = find(space_of(margin, columns), 0, 0)
    assert not search.converged
    assert "kink" in search.reason
    point = search.points[0]
    assert point.kind == "local"
    np.testing.assert_allclose(point.u, exact, atol=2e-3)
    assert point.beta == pytest.approx(np.linalg.norm(exact), abs=1e-3)
    np.testing.assert_allclose(point.alpha, point.u / np.linalg.norm(point.u), atol=1e-12)


def test_the_greater_of_two_curves():
    """max(a^2 - 8 b + 16, b^2 - 16 a + 32): the corner of the two, by its own equations."""
    search = find(
        space_of(lambda x: np.maximum(x[:, 0] ** 2 - 8 * x[:, 1] + 16, -16 * x[:, 0] + x[:, 1] ** 2 + 32), 2),
        0,
        0,
    )
    a, b = search.points[0].u
    assert a**2 - 8.0 * b + 16.0 == pytest.approx(0.0, abs=2e-3)
    assert b**2 - 16.0 * a + 32.0 == pytest.approx(0.0, abs=2e-3)
    # the origin lies in the cone of the two slopes: nothing on the surface is nearer
    weights = np.linalg.solve(np.array([[2.0 * a, -16.0], [-8.0, 2.0 * b]]), -np.array([a, b]))
    assert np.all(weights > 0.0)


@pytest.mark.parametrize("beta", [2.0, 4.0, -2.5])
def test_the_lesser_of_planes_has_a_point_on_the_nearer(beta):
    def margin(x):
        return np.minimum(beta - x[:, 0], beta + 0.4 - x[:, 1])

    point = find(space_of(margin, 4), 0, 0).points[0]
    if beta > 0.0:
        assert point.beta == pytest.approx(beta, abs=1e-8)
    else:
        # safe only where both are: the corner is the nearest safe place
        np.testing.assert_allclose(point.u, [beta, beta + 0.4, 0.0, 0.0], atol=3e-3)
        assert point.beta == pytest.approx(-np.hypot(beta, beta + 0.4), abs=1e-3)


@pytest.mark.parametrize("bend", [256.0, 4.0])
def test_strongly_curved(bend):
    search = find(space_of(lambda x: 2.0 - x[:, 1] + bend * x[:, 0] ** 4, 2), 0, 0)
    assert betas(search) == [pytest.approx(2.0, abs=1e-6)]


def test_a_margin_that_decays():
    """exp(-5 u) - 1e-8: Newton steps gain 1/5 each, and the surface is at 8 ln(10)/5."""
    search = find(space_of(lambda x: np.exp(-5.0 * x[:, 0]) - 1e-8, 2), 0, 0)
    assert search.converged
    assert betas(search)[0] == pytest.approx(8.0 * np.log(10.0) / 5.0, abs=1e-4)


def test_a_margin_that_saturates():
    """min(1, 4 - u): no slope at the origin."""
    search = find(space_of(lambda x: np.minimum(1.0, 4.0 - x[:, 0]), 3), 0, 0)
    assert search.converged
    assert betas(search)[0] == pytest.approx(4.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(24))
def test_nothing_on_a_grid_is_nearer(seed):
    """Quadratic and wavy margins of two variables, and the lesser of two, against every place of a polar grid."""
    a, b, c, d, e, f, g, h = np.random.default_rng(seed).uniform(-1.0, 1.0, 8) * [
        6.0,
        2.0,
        2.0,
        0.6,
        0.5,
        1.0,
        2.0,
        1.0,
    ]

    def margin(x):
        s, t = x[:, 0], x[:, 1]
        one = a + b * s + c * t + d * s * t + e * s**2 + f * np.sin(g * t)
        other = 2.0 + h * s - 3.0 * d * t + 0.3 * f * t**2
        return np.minimum(one, other) if seed % 2 else one

    radius, angle = np.arange(0.02, 6.0, 0.02), np.linspace(0.0, 2.0 * np.pi, 721)
    far, round_ = np.meshgrid(radius, angle, indexing="ij")
    grid = margin(np.stack([(far * np.cos(round_)).ravel(), (far * np.sin(round_)).ravel()], axis=1)).reshape(
        far.shape
    )
    origin = margin(np.zeros((1, 2)))[0]
    other_side = ((grid < 0.0) != (origin < 0.0)).any(axis=1)
    search = find(space_of(margin, 2), 0, 0)
    if other_side.any():
        assert abs(search.points[0].beta) <= radius[other_side.argmax()] + 1e-6
        assert abs(search.points[0].beta) >= radius[other_side.argmax()] - 0.06
        assert (search.points[0].beta < 0.0) == (origin < 0.0)
    else:
        assert not search.points or abs(search.points[0].beta) > 5.9
