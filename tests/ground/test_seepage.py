"""Seepage round a wall: limits, mpmath's elliptic functions, an exact stepped wall, finite differences."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from finite_differences import limit
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from riskcut.ground.fragment import fragment, image
from riskcut.ground.prism_head import mean_share, prism_share
from riskcut.ground.seepage import FELT, exit_gradient_deep, exit_gradient_layer, into_a_cut

FEW = settings(deadline=None, max_examples=40)
ratios = st.floats(0.02, 0.95)


@pytest.mark.parametrize("shape", [8.0, 2.0, 1.0001, 0.9999, 0.4, 0.15])
@pytest.mark.parametrize("point", [0.1 + 0.0j, 0.6 + 0.0j, 0.95 + 0.0j, 0.5 + 0.1j, 0.3 + 0.9j])
def test_the_image_is_mpmaths_elliptic_sine(shape: float, point: complex) -> None:
    """A rectangle of thickness 1 and half width ``shape``; the point's distance is a share of that width."""
    where = complex(point.real, point.imag * shape)
    with mpmath.workdps(40):
        m = mpmath.mfrom(q=mpmath.exp(-mpmath.pi * shape))
        quarter = mpmath.ellipk(m)
        sine = mpmath.ellipfun("sn", quarter * mpmath.mpc(where), m=m)
        at, rest, scale = complex(sine**2), complex(1 - sine**2), float(quarter)
    ours = image(depth=where if where.imag else where.real, thickness=1.0, half_width=shape)
    assert ours.at == pytest.approx(at, rel=1e-11)
    assert ours.rest == pytest.approx(rest, rel=1e-11)
    assert ours.scale == pytest.approx(scale, rel=1e-12)


@FEW
@given(ratios, st.floats(1.0, 30.0), st.floats(0.1, 20.0))
def test_without_end_the_fragment_is_harrs(ratio: float, thickness: float, loss: float) -> None:
    side = fragment(embedment=ratio * thickness, thickness=thickness)
    harr = exit_gradient_layer(head_loss=loss, embedment=ratio * thickness, thickness=thickness)
    assert 0.5 * loss * side.exit_gradient == pytest.approx(harr, rel=1e-12)
    wide = fragment(embedment=ratio * thickness, thickness=thickness, half_width=15.0 * thickness)
    assert wide == pytest.approx(side, rel=1e-9)


def test_half_way_down_the_form_factor_is_one() -> None:
    assert fragment(embedment=6.0, thickness=12.0).form_factor == pytest.approx(1.0, rel=1e-14)


@pytest.mark.parametrize(("embedment", "half_width"), [(8.0, 2.0), (20.0, 1.0), (150.0, 1.0)])
def test_in_a_narrow_cut_the_water_flows_straight_up(embedment: float, half_width: float) -> None:
    """Deep ground: s/b, and what it costs to turn into the slot, (2/pi) ln 2."""
    side = fragment(embedment=embedment, thickness=500.0, half_width=half_width)
    turn = 2.0 * math.log(2.0) / math.pi
    assert side.form_factor == pytest.approx(embedment / half_width + turn, rel=1e-5)
    assert side.exit_gradient == pytest.approx(1.0 / (embedment + turn * half_width), rel=1e-5)


def test_deep_ground_is_the_limit_of_a_layer() -> None:
    thick = exit_gradient_layer(head_loss=3.0, embedment=2.0, thickness=2e4)
    assert thick == pytest.approx(exit_gradient_deep(head_loss=3.0, embedment=2.0), rel=1e-7)
    assert exit_gradient_deep(head_loss=0.0, embedment=2.0) == 0.0
    assert exit_gradient_deep(head_loss=np.pi, embedment=2.0) == pytest.approx(0.5)


@FEW
@given(ratios, st.floats(0.3, 8.0))
def test_equal_levels_lose_half_outside_where_the_ground_has_no_end(ratio: float, embedment: float) -> None:
    flow = into_a_cut(outside=embedment, inside=embedment, thickness=embedment / ratio, half_width=np.inf)
    assert flow.toe == pytest.approx(0.5, rel=1e-12)
    counted = min(embedment / ratio, FELT * embedment)
    exact = exit_gradient_layer(head_loss=1.0, embedment=embedment, thickness=counted)
    assert flow.exit_gradient == pytest.approx(exact, rel=1e-12)


def test_rows_and_floats_agree_whichever_side_is_shorter() -> None:
    rng = np.random.default_rng(3)
    outside = rng.uniform(6.0, 20.0, 200)
    inside = outside * rng.uniform(0.2, 1.0, 200)
    thickness = np.where(rng.random(200) < 0.2, np.inf, inside + rng.uniform(0.1, 40.0, 200))
    half_width = rng.uniform(1.0, 40.0, 200)
    rows = into_a_cut(outside=outside, inside=inside, thickness=thickness, half_width=half_width)
    for i in range(0, 200, 7):
        alone = into_a_cut(
            outside=float(outside[i]),
            inside=float(inside[i]),
            thickness=float(thickness[i]),
            half_width=float(half_width[i]),
        )
        assert [float(part[i]) for part in rows] == pytest.approx(list(alone), rel=1e-12)


def test_the_mean_over_the_prism_in_deep_ground_is_exact() -> None:
    """Single wall of depth 1 in deep ground: the head at x + iy is Re arccos(sqrt(1 + (x - iy)^2))/pi."""

    def head(x: float) -> float:
        return float((np.arccos(np.sqrt(1.0 + (x - 1.0j) ** 2))).real / np.pi)

    mean, _ = quad(head, 0.0, 0.5, epsabs=1e-10)
    mean /= 0.5
    assert 0.35 < mean < 0.36
    assert 0.5 * mean_share(embedment=1.0, thickness=1e5, half_width=1e7) == pytest.approx(mean, rel=1e-6)


@FEW
@given(st.floats(0.0005, 0.95), st.floats(0.01, 15.0))
def test_the_grid_stands_for_the_integral(ratio: float, narrowness: float) -> None:
    shape = {"embedment": 2.0, "thickness": 2.0 / ratio, "half_width": 2.0 / narrowness}
    assert prism_share(**shape) == pytest.approx(mean_share(**shape), abs=5e-4)


def test_next_to_the_base_the_prism_is_judged_on_the_safe_side() -> None:
    close = {"embedment": 4.0, "thickness": 4.04, "half_width": 6.0}
    assert prism_share(**close) > mean_share(**close)
    assert prism_share(embedment=4.0, thickness=9.0, half_width=1e-9) == pytest.approx(1.0, abs=1e-6)


def stepped(ratio: float) -> tuple[float, float]:
    """Return the loss inside and i D/h of a wall in deep ground, D inside over s_o outside being ``ratio``.

    Exact: dz/dw = C (w - t)/sqrt(w^2 - 1) maps the half-plane onto the ground, the wall being -1 to 1 and its
    toe t; the head is arccos(w)/pi.
    """

    def sides(t: float) -> tuple[float, float]:
        root = math.sqrt(1.0 - t * t)
        return t * (math.asin(t) + math.pi / 2.0) + root, root - t * math.acos(t)

    t = 0.0
    if ratio < 1.0:
        t = brentq(lambda t: sides(t)[1] / sides(t)[0] - ratio, 0.0, 0.999, xtol=1e-13)
    return math.acos(t) / math.pi, sides(t)[1] / (math.pi * (1.0 - t))


@pytest.mark.parametrize("ratio", [0.25, 0.35, 0.5, 0.75, 1.0])
def test_a_stepped_wall_in_deep_ground(ratio: float) -> None:
    flow = into_a_cut(outside=10.0, inside=10.0 * ratio, thickness=np.inf, half_width=np.inf)
    toe, gradient = stepped(ratio)
    assert -0.001 < flow.toe / toe - 1.0 < 0.11
    assert -0.04 < flow.exit_gradient * 10.0 * ratio / gradient - 1.0 < 0.06


@pytest.mark.parametrize("ratio", [0.25, 0.5])
def test_a_single_wall_by_finite_differences(ratio: float) -> None:
    thickness = 4.0 / ratio
    fine, found = limit(
        step=0.0, inside=4.0, thickness=thickness, half_width=2.5 * thickness, reach=2.5 * thickness, cell=0.5
    )
    exact = exit_gradient_layer(head_loss=1.0, embedment=4.0, thickness=thickness)
    assert fine.exit_gradient == pytest.approx(exact, rel=0.03)
    assert found.exit_gradient == pytest.approx(exact, rel=0.002)
    mean = 0.5 * mean_share(embedment=4.0, thickness=thickness, half_width=np.inf)
    assert found.prism == pytest.approx(mean, rel=0.002)
    assert abs(found.exit_gradient - exact) < abs(fine.exit_gradient - exact)
    assert abs(found.prism - mean) < abs(fine.prism - mean)


@pytest.mark.parametrize(
    ("step", "inside", "thickness", "half_width"),
    [
        (4.0, 4.0, 12.0, 20.0),
        (8.0, 4.0, 24.0, 20.0),
        (8.0, 4.0, 40.0, 8.0),
        (8.0, 4.0, 40.0, 4.0),
        (12.0, 4.0, 24.0, 8.0),
        (12.0, 4.0, 40.0, 4.0),
        (8.0, 8.0, 32.0, 4.0),
        (0.0, 4.0, 30.0, 4.0),
    ],
)
def test_a_cut_by_finite_differences(step: float, inside: float, thickness: float, half_width: float) -> None:
    """What the docstring of ``into_a_cut`` claims of the method's error."""
    _, found = limit(
        step=step,
        inside=inside,
        thickness=thickness,
        half_width=half_width,
        reach=max(2.0 * thickness, 40.0),
        cell=0.5,
    )
    flow = into_a_cut(outside=step + inside, inside=inside, thickness=thickness - step, half_width=half_width)
    assert -0.02 < flow.toe / found.toe - 1.0 < 0.20
    assert -0.06 < flow.prism / found.prism - 1.0 < 0.12
    assert -0.07 < flow.exit_gradient / found.exit_gradient - 1.0 < 0.11
