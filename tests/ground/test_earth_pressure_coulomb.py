"""Coulomb's and Rankine's coefficients against each other and against the search over planes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from limit_analysis import bound

from riskcut.ground import coulomb, earth_pressure, sloping_ground

FEW = settings(deadline=None, max_examples=60)
SOME = settings(deadline=None, max_examples=25)
SIDES = [(1, coulomb.coulomb_passive), (-1, coulomb.coulomb_active)]


@FEW
@given(st.floats(0.0, 60.0))
def test_smooth_vertical_wall_in_level_ground_is_rankine(friction: float) -> None:
    active = coulomb.coulomb_active(friction_angle=friction)
    passive = coulomb.coulomb_passive(friction_angle=friction)
    assert active == pytest.approx(earth_pressure.rankine_active(friction_angle=friction), rel=1e-12)
    assert passive == pytest.approx(earth_pressure.rankine_passive(friction_angle=friction), rel=1e-12)


@FEW
@given(st.floats(0.0, 60.0))
def test_rankine_active_times_passive_is_one(friction: float) -> None:
    passive = earth_pressure.rankine_passive(friction_angle=friction)
    assert passive * earth_pressure.rankine_active(friction_angle=friction) == pytest.approx(1.0, rel=1e-12)
    assert passive == pytest.approx(np.tan(np.radians(45.0 + 0.5 * friction)) ** 2, rel=1e-12)
    for slope in (0.0, np.zeros(2)):
        level = sloping_ground.rankine_passive(friction_angle=friction, slope=slope)
        np.testing.assert_allclose(level, passive, rtol=1e-12)


@FEW
@given(st.floats(5.0, 50.0), st.floats(0.0, 1.0))
def test_coulomb_with_friction_along_the_slope_is_rankine(friction: float, share: float) -> None:
    """An identity of the active state (Taylor 1948): delta = beta on a vertical plane; in the passive one -beta."""
    slope = share * friction
    active = coulomb.coulomb_active(friction_angle=friction, wall_friction=slope, slope=slope)
    # At slope = friction the root is the root of a rounding error: 1e-8 of it.
    assert active == pytest.approx(
        sloping_ground.rankine_active(friction_angle=friction, slope=slope), rel=1e-6
    )
    passive = coulomb.coulomb_passive(friction_angle=friction, wall_friction=-slope, slope=slope)
    assert passive == pytest.approx(
        sloping_ground.rankine_passive(friction_angle=friction, slope=slope), rel=1e-6
    )


@pytest.mark.parametrize(("sign", "side"), SIDES)
@SOME
@given(st.floats(20.0, 40.0), st.floats(0.0, 0.5), st.floats(-0.5, 0.5), st.floats(-12.0, 12.0))
def test_the_worst_of_all_planes(
    sign, side, friction: float, ratio: float, share: float, batter: float
) -> None:
    """Planes tried one by one, by the work of the forces: least passive, greatest active thrust."""
    on_wall, slope = ratio * friction, share * friction
    found = side(friction_angle=friction, wall_friction=on_wall, slope=slope, batter=batter)
    normal = bound(
        sign, friction=friction, on_wall=on_wall, slope=slope, batter=batter, plane=True, weight=2.0
    )
    assert found * np.cos(np.radians(on_wall)) == pytest.approx(normal, rel=1e-8)


def test_planes_against_curves() -> None:
    """How far Coulomb's planes are from curved slip surfaces, as the documentation has it."""
    for friction, ratio, over in [
        (20.0, 2 / 3, 0.04),
        (30.0, 1 / 3, 0.02),
        (30.0, 2 / 3, 0.12),
        (30.0, 1.0, 0.42),
        (40.0, 1 / 3, 0.06),
        (40.0, 2 / 3, 0.43),
    ]:
        on_wall = ratio * friction
        share = np.cos(np.radians(on_wall))
        passive = coulomb.coulomb_passive(friction_angle=friction, wall_friction=on_wall) * share
        assert passive / bound(1, friction=friction, on_wall=on_wall, weight=2.0) - 1.0 == pytest.approx(
            over, abs=0.006
        )
        active = coulomb.coulomb_active(friction_angle=friction, wall_friction=on_wall) * share
        assert -0.02 <= active / bound(-1, friction=friction, on_wall=on_wall, weight=2.0) - 1.0 <= 1e-9


@pytest.mark.parametrize(("sign", "side"), SIDES)
@pytest.mark.parametrize("friction", [20.0, 30.0, 40.0])
def test_planes_are_the_bound_where_the_wall_friction_is_the_other_way(sign, side, friction: float) -> None:
    for share in (1.0 / 3.0, 2.0 / 3.0):
        on_wall = -share * friction
        found = side(friction_angle=friction, wall_friction=on_wall) * np.cos(np.radians(on_wall))
        assert found == pytest.approx(bound(sign, friction=friction, on_wall=on_wall, weight=2.0), rel=1e-3)


def test_no_answer_is_nan() -> None:
    slopes = np.array([29.0, 30.0, 31.0])
    for active in (
        coulomb.coulomb_active(friction_angle=30.0, slope=slopes),
        sloping_ground.rankine_active(friction_angle=30.0, slope=slopes),
        sloping_ground.rankine_passive(friction_angle=30.0, slope=slopes),
    ):
        np.testing.assert_array_equal(np.isnan(active), [False, False, True])
    assert np.isnan(coulomb.coulomb_passive(friction_angle=45.0, wall_friction=45.0)), "the root is above 1"
    assert np.isnan(coulomb.coulomb_passive(friction_angle=30.0, wall_friction=20.0, slope=-31.0))
    assert not np.isnan(coulomb.coulomb_passive(friction_angle=30.0, slope=-30.0))
