"""Lateral pressure of loads beside the wall, against Boussinesq's point load summed by quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad

from riskcut.ground.edge_load import patch_pressure, strip_pressure


def point_load(x: float, y: float, z: float) -> float:
    """Horizontal stress along x from a unit point load, Poisson's ratio 0.5 (Boussinesq 1885)."""
    return 3.0 * x * x * z / (2.0 * np.pi * (x * x + y * y + z * z) ** 2.5)


@pytest.mark.parametrize(
    ("a", "b", "length", "z"), [(1, 3, 6, 0.5), (0.5, 2, 4, 2), (2, 5, 20, 6), (4, 1, 1, 3)]
)
def test_patch_is_the_sum_of_point_loads(a, b, length, z):
    half, _ = dblquad(lambda y, x: point_load(x, y, z), a, a + b, -length / 2, length / 2, epsabs=1e-10)
    found = patch_pressure(
        depth=float(z), pressure=20.0, distance=float(a), width=float(b), length=float(length)
    )
    assert found == pytest.approx(2.0 * 20.0 * half, rel=1e-6)


@pytest.mark.parametrize(("a", "b", "z"), [(0, 2, 1), (1, 3, 0.2), (2, 5, 8)])
def test_strip_is_the_sum_of_line_loads(a, b, z):
    # Line load along the wall: sigma_h = 2 q x^2 z / (pi (x^2 + z^2)^2).
    line, _ = quad(lambda x: 2.0 * x * x * z / (np.pi * (x * x + z * z) ** 2), a, a + b, epsabs=1e-12)
    found = strip_pressure(depth=float(z), pressure=15.0, distance=float(a), width=float(b))
    assert found == pytest.approx(2.0 * 15.0 * line, rel=1e-8)


def test_a_strip_to_infinity_presses_with_its_whole_weight():
    assert strip_pressure(depth=5.0, pressure=10.0, distance=0.0, width=1e9) == pytest.approx(10.0, rel=1e-6)


FEW = settings(deadline=None, max_examples=60)


@FEW
@given(st.floats(0, 10), st.floats(0.1, 10), st.floats(0.1, 10))
def test_a_long_patch_is_a_strip_and_a_short_one_less(a, b, z):
    load = {"depth": z, "pressure": 12.0, "distance": a, "width": b}
    strip = strip_pressure(**load)
    assert patch_pressure(**load, length=1e5) == pytest.approx(strip, rel=1e-4, abs=1e-9)
    assert 0 < patch_pressure(**load, length=2.0) <= strip * (1 + 1e-12)


@FEW
@given(st.floats(0, 8), st.floats(0.2, 8), st.floats(0.2, 8), st.floats(0.1, 10))
def test_loads_side_by_side_add_up(a, b, c, z):
    both = strip_pressure(depth=z, pressure=1.0, distance=a, width=b + c)
    apart = strip_pressure(depth=z, pressure=1.0, distance=a, width=b)
    apart += strip_pressure(depth=z, pressure=1.0, distance=a + b, width=c)
    assert both == pytest.approx(apart, rel=1e-9, abs=1e-12)


def test_at_the_surface_a_load_beside_the_wall_presses_with_its_whole_weight_and_one_apart_with_none():
    """The limits from below: no NaN on the way, and no jump."""
    for distance, expected in ((0.0, 10.0), (0.5, 0.0)):
        load = {"depth": np.array([0.0, 1e-7]), "pressure": 10.0, "distance": distance, "width": 2.0}
        np.testing.assert_allclose(patch_pressure(**load, length=3.0), expected, atol=1e-5)
        np.testing.assert_allclose(strip_pressure(**load), expected, atol=1e-5)
