"""Pore pressures along a wall with seepage round its toe: exact limits, and finite differences."""

from __future__ import annotations

import math

import numpy as np
import pytest
from finite_differences import along_the_wall
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipk, ellipkinc

from riskcut.ground.straight import value_at
from riskcut.ground.wall_seepage import OnTheWall, head_share, on_the_wall

GAMMA = 9.81
FEW = settings(deadline=None, max_examples=40)


@FEW
@given(st.floats(0.01, 0.99), st.floats(0.1, 0.9), st.floats(1.0, 20.0))
def test_the_fragments_own_head_is_legendres_integral(part: float, ratio: float, embedment: float) -> None:
    """A layer without end: F(phi, m)/K(m) with m = sin(pi s/2T), sin(phi) = sin(pi z/2T)/m."""
    m = math.sin(0.5 * math.pi * ratio)
    phi = math.asin(math.sin(0.5 * math.pi * ratio * part) / m)
    share = head_share(depth=part * embedment, embedment=embedment, thickness=embedment / ratio)
    assert share == pytest.approx(ellipkinc(phi, m * m) / ellipk(m * m), rel=1e-10)


def test_in_deep_ground_it_is_an_arc_and_in_a_slot_a_straight_line() -> None:
    for part in (0.1, 0.5, 0.9):
        deep = head_share(depth=4.0 * part, embedment=4.0, thickness=4e5)
        assert deep == pytest.approx(2.0 / math.pi * math.asin(part), rel=1e-6)
        slot = head_share(depth=40.0 * part, embedment=40.0, thickness=400.0, half_width=0.5)
        assert slot == pytest.approx(part, abs=0.01)
    assert head_share(depth=4.0, embedment=4.0, thickness=9.0, half_width=3.0) == pytest.approx(1.0)


def wall(pieces: int = 1, **changes) -> OnTheWall:
    """Return a wall 12 m deep outside and 6 m inside, 6 m of head, on a base 20 m below the entry."""
    plain = {
        "water_outside": -2.0,
        "entry": -2.0,
        "water_inside": -8.0,
        "formation": -8.0,
        "toe": -14.0,
        "thickness": 14.0,
        "half_width": 1e4,
    }
    return on_the_wall(**plain | changes, pieces=pieces)


def test_straight_heads_by_hand() -> None:
    def form_factor(ratio: float) -> float:
        parameter = math.sin(0.5 * math.pi * ratio) ** 2
        return float(ellipk(parameter) / ellipk(1.0 - parameter))

    outside, inside = form_factor(12.0 / 20.0), form_factor(6.0 / 14.0)
    toe = -8.0 + 6.0 * inside / (outside + inside)
    found = wall()
    assert found.toe == pytest.approx(toe, rel=1e-6)
    at_toe = GAMMA * (toe + 14.0)
    for face, start, level in ((found.outside, -2.0, -2.0), (found.inside, -8.0, -8.0)):
        assert value_at(face, level=start) == pytest.approx(0.0, abs=1e-12)
        assert value_at(face, level=-14.0) == pytest.approx(at_toe, rel=1e-6)
        middle = 0.5 * (start - 14.0)
        assert value_at(face, level=middle) == pytest.approx(GAMMA * (0.5 * (level + toe) - middle), rel=1e-6)


def test_without_a_difference_of_level_the_water_is_at_rest() -> None:
    found = wall(pieces=4, water_inside=-2.0)
    for face, levels in ((found.outside, (-2.0, -7.0, -14.0)), (found.inside, (-8.0, -11.3, -14.0))):
        for z in levels:
            assert value_at(face, level=z) == pytest.approx(GAMMA * (-2.0 - z), abs=1e-10)


def test_a_flood_and_a_crust_outside() -> None:
    """Water above the entry presses on it; below clay the aquifer's level does."""
    assert value_at(wall(entry=-5.0, water_outside=1.0).outside, level=-5.0) == pytest.approx(6.0 * GAMMA)


def test_rows_are_rows() -> None:
    rng = np.random.default_rng(2)
    water, toe, width = rng.uniform(-6.0, 2.0, 40), rng.uniform(-20.0, -12.0, 40), rng.uniform(2.0, 30.0, 40)
    together = wall(pieces=3, water_outside=water, entry=np.minimum(water, -1.0), toe=toe, half_width=width)
    for i in range(0, 40, 7):
        more = {"toe": float(toe[i]), "half_width": float(width[i]), "water_outside": float(water[i])}
        alone = wall(pieces=3, entry=min(float(water[i]), -1.0), **more)
        for z in (-7.0, -9.5, -11.9):
            for rows, one in ((together.outside, alone.outside), (together.inside, alone.inside)):
                assert np.broadcast_to(value_at(rows, level=z), 40)[i] == pytest.approx(
                    value_at(one, level=z)
                )


SHAPES = [
    (0.0, 4.0, 16.0, 30.0),
    (4.0, 4.0, 12.0, 20.0),
    (8.0, 4.0, 24.0, 20.0),
    (8.0, 4.0, 40.0, 4.0),
    (12.0, 4.0, 40.0, 4.0),
    (8.0, 8.0, 32.0, 4.0),
    (0.0, 4.0, 30.0, 4.0),
]


@pytest.mark.parametrize(("step", "inside", "thickness", "half_width"), SHAPES)
def test_heads_along_the_wall_by_finite_differences(
    step: float, inside: float, thickness: float, half_width: float
) -> None:
    """What the docstring claims of the error, in shares of the head lost; 100 m of water keep all wet."""
    depth_out, head_out, depth_in, head_in = along_the_wall(
        step=step,
        inside=inside,
        thickness=thickness,
        half_width=half_width,
        reach=max(2.0 * thickness, 40.0),
        cell=0.25,
    )

    def error(pieces: int) -> tuple[np.ndarray, np.ndarray]:
        found = on_the_wall(
            water_outside=101.0,
            entry=0.0,
            water_inside=100.0,
            formation=-step,
            toe=-step - inside,
            thickness=thickness - step,
            half_width=half_width,
            pieces=pieces,
        )
        outer = np.array([value_at(found.outside, level=-d) for d in depth_out]) / GAMMA - depth_out - 100.0
        inner = np.array([value_at(found.inside, level=-d) for d in depth_in]) / GAMMA - depth_in - 100.0
        return outer - head_out, inner - head_in

    straight, several = error(1), error(6)
    assert -0.15 < straight[0].min() < -0.05
    assert straight[0].max() < 0.03
    assert straight[1].min() > -0.001
    assert 0.05 < straight[1].max() < 0.17
    assert several[0].min() > -0.055
    assert several[0].max() < 0.04
    assert several[1].min() > -0.02
    assert several[1].max() < 0.10
