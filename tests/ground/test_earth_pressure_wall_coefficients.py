"""Coefficients of a stratum by method: they agree where the methods do, and each is its own formula's."""

from __future__ import annotations

import numpy as np
import pytest

from riskcut.ground import annex_c, coulomb, wall_coefficients
from riskcut.study.block import Stratum

SAND = Stratum(name="sand", top=0.0, unit_weight=18.0, friction_angle=np.array([30.0, 35.0]), cohesion=2.0)
CLAY = Stratum(name="clay", top=0.0, unit_weight=18.0, su_at_top=40.0, friction_angle=25.0)
SIDES = [wall_coefficients.active, wall_coefficients.passive]
METHODS = ["rankine", "coulomb", "annex_c"]


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("method", METHODS)
def test_smooth_walls_are_rankine_by_every_method(side, method) -> None:
    sign = 1.0 if side is wall_coefficients.passive else -1.0
    tangent = np.tan(np.radians(45.0 + sign * 0.5 * SAND.friction_angle))
    found = side(SAND, method=method)
    np.testing.assert_allclose(found.stress, tangent**2, rtol=1e-12)
    np.testing.assert_allclose(found.cohesion, 2.0 * tangent, rtol=1e-12)
    assert side(CLAY, method=method) == (1.0, pytest.approx(2.0))


@pytest.mark.parametrize("side", SIDES)
def test_rankine_reads_no_friction_and_no_adhesion(side) -> None:
    for stratum in (SAND, CLAY):
        rough = side(stratum, method="rankine", friction_ratio=0.5, adhesion_ratio=0.5)
        np.testing.assert_array_equal(rough, side(stratum, method="rankine"))


def test_rough_walls_by_their_own_formulas() -> None:
    """30 and 35 degrees at two thirds: the horizontal part, and the cohesion of the closed form or the procedure."""
    delta = SAND.friction_angle * 2.0 / 3.0
    adhesion = np.tan(np.radians(delta)) / np.tan(np.radians(SAND.friction_angle))
    for side, plane, procedure in (
        (wall_coefficients.active, coulomb.coulomb_active, annex_c.active),
        (wall_coefficients.passive, coulomb.coulomb_passive, annex_c.passive),
    ):
        angles = {"friction_angle": SAND.friction_angle, "wall_friction": delta}
        found = side(SAND, method="coulomb", friction_ratio=2.0 / 3.0)
        np.testing.assert_allclose(found.stress, plane(**angles) * np.cos(np.radians(delta)))
        np.testing.assert_allclose(
            found.cohesion, np.sqrt(found.stress) * np.minimum(2.0 * np.sqrt(1.0 + adhesion), 2.56)
        )
        found = side(SAND, method="annex_c", friction_ratio=2.0 / 3.0)
        np.testing.assert_allclose(found.stress, procedure(**angles).weight)
        np.testing.assert_allclose(found.cohesion, procedure(**angles).cohesion)


@pytest.mark.parametrize("side", SIDES)
def test_undrained_ground_has_the_adhesion(side) -> None:
    """At half the strength: 1 + pi/6 + sqrt(3)/2 exactly, 2 sqrt(1.5) in the closed form."""
    exact = side(CLAY, method="annex_c", adhesion_ratio=0.5)
    assert exact == (1.0, pytest.approx(1.0 + np.pi / 6.0 + np.sqrt(0.75)))
    closed = side(CLAY, method="coulomb", adhesion_ratio=np.array([0.5, 1.0]))
    np.testing.assert_allclose(closed.cohesion, [2.0 * np.sqrt(1.5), 2.56])


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("method", METHODS)
def test_ground_that_loses_its_friction_keeps_its_cohesion(side, method) -> None:
    loose = Stratum(name="silt", top=0.0, unit_weight=18.0, friction_angle=np.array([0.0, 1e-5]))
    found = side(loose, method=method)
    np.testing.assert_allclose(found.stress, 1.0, rtol=1e-6)
    np.testing.assert_allclose(found.cohesion, 2.0, rtol=1e-6)


@pytest.mark.parametrize("side", SIDES)
def test_ground_without_strength_is_refused(side) -> None:
    with pytest.raises(ValueError, match="stratum 'fill' states neither"):
        side(Stratum(name="fill", top=0.0, unit_weight=18.0), method="annex_c")
