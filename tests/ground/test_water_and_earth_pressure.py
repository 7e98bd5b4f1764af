"""Water at rest and earth pressure coefficients against definitions and other forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.ground import earth_pressure, water
from riskcut.study.block import Stratum

levels = st.integers(-3_000, 1_000).map(lambda z: z / 100.0)


def test_pressure_is_never_negative() -> None:
    pressure = water.pressure(head=np.array([2.0, -5.0, 1.0]), elevation=np.array([-3.0, -3.0, 1.0]))
    np.testing.assert_allclose(pressure, [49.05, 0.0, 0.0])
    assert water.pressure(head=12.0, elevation=0.0, unit_weight=62.4) == pytest.approx(748.8)


@settings(deadline=None, max_examples=60)
@given(levels, levels, levels)
def test_thrust_is_the_sum_of_the_pressures(head: float, a: float, b: float) -> None:
    upper, lower = max(a, b), min(a, b)
    cells = 2000
    width = (upper - lower) / cells
    middles = lower + (np.arange(cells) + 0.5) * width
    summed = float(np.sum(water.pressure(head=head, elevation=middles)) * width)
    thrust = water.thrust(head=head, upper=upper, lower=lower)
    # One cell may hold the water level: there the middle is off by a quarter of a cell at most.
    assert thrust == pytest.approx(summed, rel=1e-9, abs=9.81 * width * width)


@settings(deadline=None, max_examples=30)
@given(levels, levels, levels, levels)
def test_net_thrust_changes_sign_with_the_sides(outside: float, inside: float, a: float, b: float) -> None:
    face = {"upper": max(a, b), "lower": min(a, b)}
    one = water.net_thrust(outside=outside, inside=inside, **face)
    other = water.net_thrust(outside=inside, inside=outside, **face)
    assert one == pytest.approx(-other, abs=1e-9)
    assert one * (outside - inside) >= -1e-9


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 60.0))
def test_rankine_in_its_tangent_form(angle: float) -> None:
    tangent = np.tan(np.radians(45.0 - 0.5 * angle)) ** 2
    assert earth_pressure.rankine_active(friction_angle=angle) == pytest.approx(tangent, rel=1e-12)


def test_active_coefficient_reads_the_kind_of_stratum() -> None:
    clay = Stratum(name="clay", top=0.0, unit_weight=17.0, su_at_top=20.0, friction_angle=25.0)
    sand = Stratum(name="sand", top=0.0, unit_weight=17.0, friction_angle=np.array([30.0, 0.0]))
    neither = Stratum(name="fill", top=0.0, unit_weight=17.0)
    assert earth_pressure.active_coefficient(clay) == 1.0
    np.testing.assert_allclose(earth_pressure.active_coefficient(sand), [1 / 3, 1.0])
    with pytest.raises(ValueError, match="stratum 'fill' states neither"):
        earth_pressure.active_coefficient(neither)


def test_critical_height_of_rows() -> None:
    heights = earth_pressure.critical_height(strength=np.array([24.0, 48.0]), unit_weight=17.6)
    np.testing.assert_allclose(heights, [5.4545454545, 10.909090909])
