"""Margins that never fail, always fail, do not vary, are impossible somewhere or jump: answers, never exceptions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from form_cases import betas, space_of
from hypothesis import example, given, settings
from hypothesis import strategies as st

from riskcut.reliability.design_points import Limits, find
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint


@pytest.mark.parametrize(
    ("margin", "words"),
    [
        (lambda x: 1.0 + x[:, 0] ** 2, "are safe: never fails"),
        (lambda x: np.exp(x[:, 0]), "are safe: never fails"),
        (lambda x: 30.0 - x[:, 0], "up to 12 standard deviations"),
        (lambda x: -np.exp(x[:, 0]), "are failed: always fails"),
        (lambda x: 0.0 * x[:, 0] + 4.0, "The margin is 4 wherever it was tried"),
        (lambda x: 0.0 * x[:, 0] - 4.0, "The margin is -4 wherever it was tried"),
        (lambda x: 0.0 * x[:, 0], "does not vary"),
        (lambda x: 0.0 * x[:, 0] + np.nan, "None of the"),
        (lambda x: 0.0 * x[:, 0] + np.inf, "None of the"),
    ],
)
def test_no_point_has_a_reason(margin, words):
    search = find(space_of(margin, 3), 0, 0)
    assert search.points == ()
    assert not search.converged
    assert words in search.reason
    assert search.origin == pytest.approx(float(margin(np.zeros((1, 3)))[0]), nan_ok=True) or math.isinf(
        margin(np.zeros((1, 3)))[0]
    )


def test_nothing_uncertain():
    def respond(x, which):
        return Response(margin=np.full((len(x), len(which)), 2.0))

    space = StandardSpace(Problem(Joint([]), (Component("one", (), (), ("g",), (True,), respond),)))
    search = find(space, 0, 0)
    assert search.points == ()
    assert search.origin == 2.0
    assert search.reason == "Nothing is uncertain."
    assert search.rows == 1


@pytest.mark.parametrize("beta", [-0.5, -3.0])
def test_an_origin_that_fails_has_a_negative_index(beta):
    search = find(space_of(lambda x: beta - 0.6 * x[:, 0] + 0.8 * x[:, 1], 2), 0, 0)
    point = search.points[0]
    assert search.converged
    assert search.origin == beta
    assert point.beta == pytest.approx(beta)
    np.testing.assert_allclose(point.alpha, [0.6, -0.8], atol=1e-8)
    np.testing.assert_allclose(point.u, beta * point.alpha, atol=1e-8)
    assert point.first_order_probability > 0.5
    assert "the origin fails" in search.reason


def where(condition, function):
    return lambda x: np.where(condition(x), np.nan, function(x))


def test_impossible_rows_beside_the_way_do_not_matter():
    search = find(space_of(where(lambda x: x[:, 1] < -1.0, lambda x: 3.0 - x[:, 0] - 0.5 * x[:, 1]), 2), 0, 0)
    assert search.converged
    assert betas(search)[0] == pytest.approx(3.0 / math.hypot(1.0, 0.5), abs=1e-6)
    assert search.impossible > 0
    assert "impossible" in search.reason


def test_an_impossible_design_point_is_approached():
    """u_1 beyond 2 is impossible: the nearest possible place of the plane is (10/3, 2)."""
    search = find(
        space_of(where(lambda x: np.abs(x[:, 1]) > 2.0, lambda x: 3.0 - 0.3 * x[:, 0] - x[:, 1]), 2), 0, 0
    )
    assert search.points[0].kind == "local"
    assert not search.converged
    assert search.points[0].beta == pytest.approx(math.hypot(10.0 / 3.0, 2.0), rel=0.05)
    assert f"{search.impossible:,} of the rows tried are impossible" in search.reason


def test_differences_astride_an_impossible_border_are_taken_on_the_other_side():
    search = find(space_of(where(lambda x: x[:, 1] > 0.0, lambda x: 3.0 - x[:, 0] + 0.1 * x[:, 1]), 2), 0, 0)
    assert search.converged
    np.testing.assert_allclose(
        search.points[0].alpha, np.array([1.0, -0.1]) / math.hypot(1.0, 0.1), atol=1e-6
    )


def test_an_impossible_origin():
    search = find(
        space_of(where(lambda x: np.abs(x[:, 1]) < 0.1, lambda x: 3.0 - 0.3 * x[:, 0] - x[:, 1]), 2), 0, 0
    )
    assert math.isnan(search.origin)
    assert betas(search)[0] == pytest.approx(3.0 / math.hypot(0.3, 1.0), abs=1e-6)


def test_a_failure_set_that_is_impossible():
    margin = where(lambda x: x[:, 0] + x[:, 1] > 3.0, lambda x: 3.1 - x[:, 0] - x[:, 1])
    search = find(space_of(margin, 2), 0, 0)
    assert search.points == ()
    assert "impossible" in search.reason


def test_a_jump_without_slopes_is_met_along_a_ray():
    search = find(space_of(lambda x: np.where(x[:, 0] + x[:, 1] > 3.0, -1.0, 1.0), 2), 0, 0)
    assert not search.converged
    assert search.points[0].kind == "local"
    assert search.points[0].beta == pytest.approx(3.0 / math.sqrt(2.0), abs=1e-3)
    assert "ray" in search.reason


def test_a_failure_set_all_about_the_origin():
    """9 - |u|^2 fails everywhere beyond 3: any point will do, a few are kept."""
    search = find(space_of(lambda x: 9.0 - (x**2).sum(axis=1), 3), 0, 0)
    assert search.converged
    assert 2 <= len(search.points) <= Limits().points
    np.testing.assert_allclose(betas(search), 3.0, atol=1e-4)


@settings(deadline=None, max_examples=40)
@given(
    coefficients=st.lists(st.floats(-3.0, 3.0), min_size=8, max_size=8),
    shape=st.integers(0, 5),
    holes=st.booleans(),
)
# two searches, the second of which comes nearer; slopes whose squares vanish
@example(coefficients=[1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0], shape=4, holes=False)
@example(coefficients=[0.0, 1.0, 0.0, 1.5, -2.625, 0.0, 0.0, 0.0], shape=5, holes=False)
def test_nothing_raises(coefficients, shape, holes):
    a, b, c, d, e, f, g, h = coefficients

    def margin(x):
        s, t = x[:, 0], x[:, 1]
        value = a + b * s + c * t + d * s * t + e * s**2 + f * np.sin(g * t) + h * np.abs(s)
        value = (
            value,
            np.floor(value),
            np.sign(value),
            np.maximum(value, t),
            value**3,
            np.exp(np.minimum(value, 700.0)),
        )[shape]
        return np.where(holes & (np.sin(3.0 * s + t) > 0.9), np.nan, value)

    search = find(space_of(margin, 3), 0, 0)
    assert search.reason
    assert search.rows < 3000
    for point in search.points:
        assert np.all(np.isfinite(point.u))
        assert math.isfinite(point.beta)
        if point.kind == "point":
            assert np.linalg.norm(point.alpha) == pytest.approx(1.0)
            assert point.distance <= 1.1e-5 * max(1.0, abs(point.beta))
            assert point.sine <= 1.1e-3
