"""Tension cracks and the least pressure, by hand; crossings of straight pieces."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from riskcut.ground import earth_pressure, effective_stress, envelope, lateral_pressure, wall_coefficients
from riskcut.ground.resultant import resultant
from riskcut.ground.straight import Piece, value
from riskcut.study.block import Stratum

FEW = settings(deadline=None, max_examples=80)
GAMMA = 9.81
ACTIVE = partial(wall_coefficients.active, method="rankine")


def clay(*, height: float, strength=30.0, weight=20.0, growth=0.0, load=0.0):
    """Return the layers of a uniform clay from level 0."""
    of = Stratum(name="clay", top=0.0, unit_weight=weight, su_at_top=strength, su_per_metre=growth)
    dry = (Piece(0.0, -height, 0.0, 0.0),)
    return effective_stress.layers((of,), dry, load=load)


def thrust(parts, **options):
    return resultant(lateral_pressure.active(parts, coefficients=ACTIVE, **options), about=0.0)


def test_dry_crack_by_hand() -> None:
    """Depth 2 su/gamma = 3 m, then a triangle of 20 (5 - 3) = 40 kPa over 2 m."""
    found = thrust(clay(height=5.0))
    assert found.force == pytest.approx(0.5 * 40.0 * 2.0)
    assert found.moment == pytest.approx(40.0 * (3.0 + 2.0 * 2.0 / 3.0))


def test_crack_flooded_to_the_surface_by_hand() -> None:
    """Water over the 3 m of the crack, with 29.43 kPa at its end, then the same triangle of clay."""
    found = thrust(clay(height=5.0), crack_water=0.0)
    water = 0.5 * GAMMA * 3.0**2
    assert found.force == pytest.approx(water + 40.0)
    assert found.moment == pytest.approx(water * 2.0 + 40.0 * (3.0 + 4.0 / 3.0))
    pressed = lateral_pressure.active(clay(height=5.0), coefficients=ACTIVE, crack_water=0.0)
    assert [float(p.lower) for p in pressed] == pytest.approx([-3.0, -5.0])
    assert pressed[0].at_lower == pytest.approx(3.0 * GAMMA)
    assert pressed[1].at_upper == pytest.approx(0.0)


def test_crack_with_a_stated_level_by_hand() -> None:
    """Water from -1: 2 m of it. From -4, below the end of the crack: none."""
    assert thrust(clay(height=5.0), crack_water=-1.0).force == pytest.approx(0.5 * GAMMA * 4.0 + 40.0)
    rows = thrust(clay(height=5.0), crack_water=np.array([0.0, -1.0, -4.0]))
    water = 0.5 * GAMMA * np.array([9.0, 4.0, 0.0])
    np.testing.assert_allclose(rows.force, water + 40.0)


def test_load_closes_the_crack_by_hand() -> None:
    """A load of 20 kPa takes 1 m off the crack; of 60 or more all of it, and then water finds no way in."""
    loads = np.array([20.0, 60.0, 80.0])
    found = thrust(clay(height=5.0, load=loads), crack_water=0.0)
    expected = [0.5 * GAMMA * 4.0 + 0.5 * 20.0 * 9.0, 0.5 * 20.0 * 25.0, 20.0 * 5.0 + 250.0]
    np.testing.assert_allclose(found.force, expected)


def test_least_pressure_by_hand() -> None:
    """5 kPa a metre meets 20 z - 60 at z = 4 m: 40 kN/m above, then from 20 to 40 kPa over 1 m."""
    found = thrust(clay(height=5.0), least=5.0)
    assert found.force == pytest.approx(0.5 * 20.0 * 4.0 + 30.0)
    assert found.moment == pytest.approx(40.0 * 8.0 / 3.0 + 20.0 * 4.5 + 10.0 * (4.0 + 2.0 / 3.0))
    deep = thrust(clay(height=5.0, strength=np.array([30.0, 100.0])), least=5.0)
    np.testing.assert_allclose(deep.force, [70.0, 0.5 * 25.0 * 5.0])


def test_least_pressure_with_a_flooded_crack_by_hand() -> None:
    """Water from -1 passes 5 z at z = 9.81/4.81 m; below the crack, 3 m deep, 5 z again until the clay's 4 m."""
    found = thrust(clay(height=5.0), least=5.0, crack_water=-1.0)
    meet = GAMMA / (GAMMA - 5.0)
    above = 0.5 * 5.0 * meet**2
    water = 0.5 * GAMMA * (2.0**2 - (meet - 1.0) ** 2)
    assert found.force == pytest.approx(above + water + 0.5 * (15.0 + 20.0) + 30.0)


def test_least_pressure_counts_from_the_surface_and_in_undrained_ground_alone() -> None:
    """3 m of sand over stiff clay: at -3 it is 15 kPa already; the sand is as it was."""
    strata = (
        Stratum(name="sand", top=0.0, unit_weight=18.0, friction_angle=50.0),
        Stratum(name="clay", top=-3.0, unit_weight=20.0, su_at_top=200.0),
    )
    parts = effective_stress.layers(strata, (Piece(0.0, -7.0, 0.0, 0.0),))
    found = thrust(parts, least=5.0)
    ka = earth_pressure.rankine_active(friction_angle=50.0)
    assert found.force == pytest.approx(0.5 * ka * 18.0 * 9.0 + 0.5 * (15.0 + 35.0) * 4.0)


def test_drained_cohesion_cannot_pull_and_keeps_its_water() -> None:
    """c' 10, phi' 30, dry to -4, then wet: cracked to 2 c'/(gamma sqrt(Ka)); flooded cracks put water there too."""
    of = Stratum(name="silt", top=0.0, unit_weight=20.0, friction_angle=30.0, cohesion=10.0)
    parts = effective_stress.layers((of,), (Piece(0.0, -4.0, 0.0, 0.0), Piece(-4.0, -6.0, 0.0, 2 * GAMMA)))
    deep = 2.0 * 10.0 * np.sqrt(3.0) / 20.0
    dry = 0.5 * 20.0 / 3.0 * (4.0 - deep) ** 2
    start = 20.0 / 3.0 * (4.0 - deep)
    wet = 2.0 * start + 0.5 * (20.0 - GAMMA) / 3.0 * 4.0 + 0.5 * GAMMA * 4.0
    assert thrust(parts).force == pytest.approx(dry + wet)
    assert thrust(parts, crack_water=0.0).force == pytest.approx(dry + wet + 0.5 * GAMMA * deep**2)


def test_cracked_ground_below_water_has_the_greater_of_the_two_waters() -> None:
    """Strong c', water from -1, crack water from -2 and from 0: nowhere less than the pore pressure."""
    of = Stratum(name="till", top=0.0, unit_weight=20.0, friction_angle=30.0, cohesion=500.0)
    parts = effective_stress.layers((of,), (Piece(0.0, -1.0, 0.0, 0.0), Piece(-1.0, -6.0, 0.0, 5 * GAMMA)))
    assert thrust(parts).force == pytest.approx(0.5 * GAMMA * 25.0)
    waters = thrust(parts, crack_water=np.array([-2.0, 0.0]))
    np.testing.assert_allclose(waters.force, [0.5 * GAMMA * 25.0, 0.5 * GAMMA * 36.0])


@FEW
@given(st.floats(5.0, 80.0), st.floats(15.0, 22.0))
def test_height_at_which_the_thrust_is_nothing_is_the_critical_height(strength: float, weight: float) -> None:
    """Tension counted, 4 su/gamma; with a dry crack the ground presses from half of it on."""
    height = earth_pressure.critical_height(strength=strength, unit_weight=weight)

    def unbroken(h: float) -> float:
        parts = clay(height=h, strength=strength, weight=weight)
        return float(resultant(lateral_pressure.active_unbroken(parts, coefficients=ACTIVE), about=0.0).force)

    assert brentq(unbroken, 0.1 * height, 3.0 * height, xtol=1e-12) == pytest.approx(height, rel=1e-9)
    assert thrust(clay(height=0.5 * height, strength=strength, weight=weight)).force == pytest.approx(
        0.0, abs=1e-9
    )
    assert thrust(clay(height=0.51 * height, strength=strength, weight=weight)).force > 0.0


ends = st.integers(-40, 40).map(lambda n: n / 4.0)


@FEW
@given(ends, ends, ends, ends, st.integers(0, 8).map(lambda n: n / 2.0))
def test_the_larger_of_two_lines_at_points(a: float, b: float, c: float, d: float, extent: float) -> None:
    first, second = Piece(0.0, -extent, a, b), Piece(0.0, -extent, c, d)
    found = envelope.larger(first, second)
    assert len(found) == (2 if (a - c) * (b - d) < 0.0 else 1)
    assert found[0].upper == 0.0
    assert found[-1].lower == -extent
    for part in found:
        for share in (0.0, 0.3, 0.5, 0.9, 1.0):
            level = part.upper - share * (part.upper - part.lower)
            whole = max(value(first, level=level), value(second, level=level))
            if part.upper > part.lower:
                assert value(part, level=level) == pytest.approx(whole, abs=1e-12)


def test_each_row_is_cut_at_its_own_crossing() -> None:
    piece = Piece(0.0, -4.0, np.array([-1.0, 3.0, 1.0, -2.0]), np.array([3.0, -1.0, 2.0, -1.0]))
    upper, lower = envelope.parted(piece)
    np.testing.assert_allclose(upper.lower, [-1.0, -3.0, 0.0, 0.0])
    np.testing.assert_array_equal(upper.lower, lower.upper)
    np.testing.assert_array_equal(lower.at_lower, piece.at_lower)
    np.testing.assert_array_equal(lower.at_upper, [0.0, 0.0, 1.0, -2.0])
    assert envelope.parted(Piece(0.0, -1.0, 0.0, 5.0)) == (Piece(0.0, -1.0, 0.0, 5.0),)
    assert len(envelope.present((upper, Piece(np.zeros(4), np.zeros(4), 1.0, 1.0)))) == 1
